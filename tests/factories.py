"""One-line builders of what tests need. Fixed values, nothing random."""

from __future__ import annotations

import factory
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group


class UserFactory(factory.django.DjangoModelFactory):
    """`UserFactory(roles=["manager"])`; the password is `PASSWORD`."""

    class Meta:
        model = get_user_model()
        django_get_or_create = ("username",)
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    password = factory.django.Password("pour-back-pass")

    @factory.post_generation
    def roles(self, create, names, **kwargs):
        for name in names or ():
            self.groups.add(Group.objects.get_or_create(name=str(getattr(name, "value", name)))[0])


PASSWORD = "pour-back-pass"
