"""Phones and handhelds: a phone names itself when it first reports; a handheld is given a key by the manager."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import datetime

from inventory.errors import Refused
from inventory.models import Device
from inventory.selectors.messages import Questions

KEY_BYTES = 32


def key_digest(key: str) -> str:
    """SHA-256 in hex. The key has 256 random bits, so that no slow hash is needed: there is nothing to guess."""
    return hashlib.sha256(key.encode()).hexdigest()


def make_device(name: str) -> tuple[Device, str]:
    """A device with a key of its own. The key is given back this once; only its digest is stored."""
    key = secrets.token_urlsafe(KEY_BYTES)
    device = Device.objects.create(code=f"key-{secrets.token_hex(8)}", name=name.strip(), key_digest=key_digest(key))
    return device, key


def revoke(device: Device, *, now: datetime) -> None:
    """From now on its key opens nothing. What it reported stays."""
    if device.revoked_at is None:
        device.revoked_at = now
        device.save(update_fields=["revoked_at"])


def device_with_key(key: str) -> Device:
    """Refused: key-unknown, key-revoked."""
    found = Device.objects.filter(key_digest=key_digest(key)).first() if key else None
    if found is None:
        raise Refused("key-unknown", "This key opens nothing. Ask the yard manager for a new one; keep the scans.")
    if found.revoked_at is not None:
        raise Refused("key-revoked", "This key was withdrawn. Ask the yard manager for a new one; keep the scans.")
    return found


def device_called(code: str, questions: Questions) -> Callable[[], Device]:
    """The phone that calls itself so; made when it first reports. Refused: device-has-a-key."""
    names = ("id", "code", "key_digest", "clock_off_s")
    columns = ", ".join(f'"{name}"' for name in names)
    asked = questions.rows(f'SELECT {columns} FROM "{Device._meta.db_table}" WHERE "code" = %s', [code])

    def read() -> Device:
        found = asked()
        device = Device(**dict(zip(names, found[0], strict=True))) if found else _new_phone(code)
        if device.key_digest:
            raise Refused("device-has-a-key", "That device reports with its own key. Give this phone another name.")
        return device

    return read


def _new_phone(code: str) -> Device:
    return Device.objects.get_or_create(code=code)[0]
