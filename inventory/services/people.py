"""Who may sign in, as what; and how a person is forgotten without touching the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.contrib.sessions.models import Session
from django.db import transaction

from inventory.errors import Refused
from inventory.models import Person
from inventory.models.roles import Role


@transaction.atomic
def add_person(*, username: str, name: str, roles: Iterable[Role], password: str) -> Person:
    """A new account and the row that events will point to. Refused: name-taken."""
    users = get_user_model()._default_manager
    if users.filter(username__iexact=username).exists():
        raise Refused("name-taken", f"Somebody signs in as “{username}” already. Choose another sign-in name.")
    user = get_user_model()(username=username)
    user.set_password(password)
    user.save()
    person = Person.objects.create(name=name, user=user)
    _give(user, name, roles)
    return person


@transaction.atomic
def change_person(*, person: Person, name: str, roles: Iterable[Role], may_sign_in: bool, password: str = "") -> Person:
    """Refused: no-account, owner, last-manager."""
    user = _account(person)
    wanted = set(roles)
    if not may_sign_in or Role.MANAGER not in wanted:
        _keep_a_manager(user)
    user.is_active = may_sign_in
    if password:
        user.set_password(password)
    user.save()
    person.name = name
    person.save(update_fields=["name"])
    _give(user, name, wanted)
    return person


@transaction.atomic
def forget_person(*, person: Person, now: datetime) -> None:
    """Blanks the name and the account. Events stay as they are and point to a row that names nobody any more.

    Refused: forgotten, owner, last-manager.
    """
    if person.forgotten_at:
        raise Refused("forgotten", "This person is forgotten already.")
    if person.user is not None:
        user = _account(person)
        _keep_a_manager(user)
        person.user = None
        person.save(update_fields=["user"])
        _end_sessions(user)
        user.delete()
    person.name, person.forgotten_at = "", now
    person.save(update_fields=["name", "forgotten_at"])


def _account(person: Person) -> Any:
    user = person.user
    if user is None:
        raise Refused("no-account", "This person has no account: add one under a new sign-in name.")
    if user.is_superuser:
        raise Refused("owner", "This account owns the installation: it is changed on the server, not here.")
    return user


def _keep_a_manager(user: Any) -> None:
    """Somebody must be able to give out roles."""
    managers = get_user_model()._default_manager.filter(is_active=True, groups__name=Role.MANAGER.value)
    owners = get_user_model()._default_manager.filter(is_active=True, is_superuser=True)
    if managers.filter(pk=user.pk).exists() and not managers.exclude(pk=user.pk).exists() and not owners.exists():
        raise Refused("last-manager", "This is the only yard manager: make somebody else one first.")


def _give(user: Any, name: str, roles: Iterable[Role]) -> None:
    user.first_name, _, user.last_name = name.partition(" ")
    user.save(update_fields=["first_name", "last_name"])
    user.groups.set(Group.objects.filter(name__in=[role.value for role in roles]))


def _end_sessions(user: Any) -> None:
    for session in Session.objects.all().iterator():
        if session.get_decoded().get("_auth_user_id") == str(user.pk):
            session.delete()
