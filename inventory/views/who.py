"""The person behind a request: events point to a person's row, never to an account."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from inventory.models import Person


def person_of(request: HttpRequest) -> Person:
    user: Any = request.user  # every page that reports asks for a sign-in first
    name = user.get_full_name() or user.get_username()
    return Person.objects.get_or_create(user=user, defaults={"name": name})[0]


def person_id(request: HttpRequest) -> int:
    """The same person's id, found together with the roles where those have been asked for."""
    return getattr(request.user, "_pourback_person", None) or person_of(request).pk
