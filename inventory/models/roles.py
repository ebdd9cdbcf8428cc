"""Who may do what: the five roles, kept as Django groups so that the admin can give them out."""

from __future__ import annotations

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser, Group, User
from django.db import connection, models

from inventory.models.people import Person


class Role(models.TextChoices):
    """The value is the group's name, the label what a sentence calls its holder."""

    HAND = "hand", "yard hand"
    SITE_LEAD = "site lead", "site lead"
    MANAGER = "manager", "yard manager"
    PLANNER = "planner", "planner"
    HIRE_DESK = "hire desk", "hire desk"


def roles_of(user: AbstractBaseUser | AnonymousUser) -> frozenset[Role]:
    """The roles of this user, read once per request. A superuser owns the installation and has them all."""
    if not user.is_authenticated or not getattr(user, "is_active", False):
        return frozenset()
    cached = getattr(user, "_pourback_roles", None)
    if cached is None:
        cached = _read_roles(user)
        user._pourback_roles = cached  # type: ignore[attr-defined]
    return cached


def _read_roles(user: AbstractBaseUser) -> frozenset[Role]:
    if getattr(user, "is_superuser", False):
        return frozenset(Role)
    sql = (
        f'SELECT g."name", p."id" FROM "{User.groups.through._meta.db_table}" ug '
        f'JOIN "{Group._meta.db_table}" g ON g."id" = ug."group_id" '
        f'LEFT JOIN "{Person._meta.db_table}" p ON p."user_id" = ug."user_id" WHERE ug."user_id" = %s'
    )
    with connection.cursor() as cursor:  # every request asks this; the ORM takes ten times as long to put it
        cursor.execute(sql, [user.pk])
        rows = cursor.fetchall()
    user._pourback_person = rows[0][1] if rows else None  # type: ignore[attr-defined]
    names = {name for name, _ in rows}
    return frozenset(role for role in Role if role.value in names)


def make_role_groups(**_: object) -> None:
    """After every migrate (and every flush), so that a role can never be missing from the admin's list."""
    for role in Role:
        Group.objects.get_or_create(name=role.value)
