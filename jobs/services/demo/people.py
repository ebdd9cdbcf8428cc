"""One account a role. Their passwords are made when the demo is filled, and lie in a file only the owner can read."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import NamedTuple

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group

from inventory.models import Person
from inventory.models.roles import Role


class Login(NamedTuple):
    role: str
    username: str
    password: str


ACCOUNTS = {
    "hand": (Role.HAND, "Demo Hand"),
    "lead": (Role.SITE_LEAD, "Demo Lead"),
    "manager": (Role.MANAGER, "Demo Manager"),
    "planner": (Role.PLANNER, "Demo Planner"),
    "desk": (Role.HIRE_DESK, "Demo Desk"),
}


def _file() -> Path:
    return Path(settings.VAR_DIR) / "demo-logins.txt"


def demo_logins() -> list[Login]:
    """The accounts with their passwords, as they were made; empty when the file is gone."""
    if not _file().exists():
        return []
    rows = (line.split("\t") for line in _file().read_text().splitlines())
    return [Login(*row) for row in rows if len(row) == 3]


def make_people() -> dict[str, Person]:
    """Persons by the short name of their role; the passwords are written down for `demo_logins`."""
    people, logins = {}, []
    for username, (role, name) in ACCOUNTS.items():
        password = f"pour-{secrets.token_hex(4)}"
        first, last = name.split()
        user = get_user_model().objects.create_user(username, password=password, first_name=first, last_name=last)
        user.groups.add(Group.objects.get(name=role.value))
        people[username] = Person.objects.create(name=name, user=user)
        logins.append(Login(str(role.label), username, password))
    _write(logins)
    return people


def _write(logins: list[Login]) -> None:
    path = _file()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(mode=0o600)
    path.write_text("".join("\t".join(login) + "\n" for login in logins))
