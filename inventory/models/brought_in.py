"""Files that somebody brings in: kept as they came, from the look at them to the press that takes or drops them."""

from __future__ import annotations

import uuid

from django.db import models

from inventory.models.work import LongWork


class BroughtIn(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=120)
    content = models.BinaryField()
    brought_at = models.DateTimeField()
    brought_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    taken_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=120, blank=True, help_text="What taking it came to, in words.")

    class Meta:
        ordering = ["-brought_at", "-id"]
        verbose_name_plural = "files brought in"

    def __str__(self) -> str:
        return self.name


class Taking(LongWork):
    """The taking of a long file by the worker."""

    brought = models.ForeignKey(BroughtIn, models.CASCADE, related_name="takings")

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"{self.brought}: {self.state}"
