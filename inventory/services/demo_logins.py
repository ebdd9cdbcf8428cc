"""One sign-in a role for the demonstration yard. Their password is made once per demo folder and never shared."""

from __future__ import annotations

import secrets
from pathlib import Path

from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group

from inventory.models import Person
from inventory.models.roles import Role

NAMES = {
    Role.HAND: "hand",
    Role.SITE_LEAD: "site",
    Role.MANAGER: "manager",
    Role.PLANNER: "planner",
    Role.HIRE_DESK: "hire",
}


def demo_password(folder: Path) -> str:
    path = folder / "demo-password"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text("-".join(secrets.token_hex(2) for _ in range(3)))
    return path.read_text()


def ensure_demo_logins(password: str) -> dict[Role, str]:
    """The sign-in name of each role. Accounts that exist keep their password unless it is the demo's own."""
    users = get_user_model().objects
    for role, name in NAMES.items():
        user, made = users.get_or_create(username=name)
        if made or not user.check_password(password):
            user.set_password(password)
            user.save(update_fields=["password"])
        user.groups.add(Group.objects.get(name=role.value))
        Person.objects.get_or_create(user=user, defaults={"name": f"Demo {role.label}"})
    return dict(NAMES)
