"""Photos of damage, stored outside the web root and served only to those allowed."""

from __future__ import annotations

import uuid

from django.db import models


class Photo(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    event_id = models.UUIDField(db_index=True, help_text="The event it belongs to, arrived or not.")
    image = models.ImageField(upload_to="%Y/%m/")
    taken_at = models.DateTimeField(null=True, blank=True)
    stored_at = models.DateTimeField()
    person = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["stored_at", "id"]

    def __str__(self) -> str:
        return f"photo {self.id}"
