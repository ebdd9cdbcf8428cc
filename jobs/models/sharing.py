"""Links by which a customer sees one bill without an account."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import models


class BillLink(models.Model):
    """One link to one bill. The address carries this row's id, signed; the row says until when it holds."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    bill = models.ForeignKey("jobs.Bill", models.PROTECT, related_name="links")
    sent_to = models.CharField(max_length=120, help_text="Who gets it.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    opened = models.PositiveIntegerField(default=0, help_text="How often the bill was opened by it.")
    last_opened_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")), name="a_link_holds_for_some_time"
            ),
        ]

    def __str__(self) -> str:
        return f"link to {self.bill_id} for {self.sent_to}"

    def state(self, now: datetime) -> str:
        """holds, expired or revoked."""
        if self.revoked_at is not None:
            return "revoked"
        return "expired" if self.expires_at <= now else "holds"
