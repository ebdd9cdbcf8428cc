"""The person behind a request: events point to a person's row, never to an account."""

from __future__ import annotations

from django.http import HttpRequest

from inventory.models import Person


def person_of(request: HttpRequest) -> Person:
    user = request.user
    name = user.get_full_name() or user.get_username()  # type: ignore[union-attr]
    return Person.objects.get_or_create(user=user, defaults={"name": name})[0]
