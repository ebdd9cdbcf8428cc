"""Choices that are said as they are stored: plain words, in small letters, the same in code, on screen and in files."""

from __future__ import annotations

import enum

from django.db import models


class Words(models.TextChoices):
    @enum.property
    def label(self) -> str:
        return str(self.value)
