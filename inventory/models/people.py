"""Who reports, and with what. An event points to a row here, so a person is forgotten by blanking the row."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Person(models.Model):
    name = models.CharField(max_length=120, blank=True)
    user = models.OneToOneField(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="person")
    forgotten_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name or f"forgotten person {self.pk}"


class Device(models.Model):
    """A phone or handheld that reports. The desk is no device: its events carry an empty device code."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80, blank=True)
    key_digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of its key in hex; empty without one.")
    revoked_at = models.DateTimeField(null=True, blank=True)
    clock_off_s = models.BigIntegerField(
        null=True, blank=True, help_text="Its clock minus ours, in seconds: what its times are corrected by now."
    )

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name or self.code
