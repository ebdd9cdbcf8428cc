"""The ledger: append-only rows of what devices sent and what happened. Only services.recording writes here.

UPDATE and DELETE of events and submissions are refused by the database itself.
"""

from __future__ import annotations

import uuid

from django.db import models

from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.models.words import Words


class Batch(models.Model):
    """One delivery from a device or the desk: when the device said it was, and when we had it."""

    device = models.ForeignKey("inventory.Device", models.PROTECT, null=True, blank=True, related_name="batches")
    person = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="batches")
    version = models.PositiveSmallIntegerField(default=1)
    device_now = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    clock_off_ms = models.BigIntegerField(default=0, help_text="Device clock minus ours, in milliseconds.")

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "batches"

    def __str__(self) -> str:
        return f"batch {self.pk}"


class Submission(models.Model):
    """One report as it came, with the first answer it got; unmatched and refused ones included."""

    class Answer(Words):
        RECORDED = "recorded"
        ALREADY_HAD = "already had"
        IN_REVIEW = "kept for review"
        REFUSED = "refused"

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="submissions")
    event_id = models.UUIDField(db_index=True)
    digest = models.CharField(max_length=64)
    raw = models.JSONField(help_text="Word for word as it came.")
    said = models.JSONField(default=dict, help_text="As it was understood, where that is not the same.")
    answer = models.CharField(max_length=20, choices=Answer.choices)
    code = models.CharField(max_length=40, blank=True)
    sentence = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.event_id}: {self.answer}"


class Event(models.Model):
    """One thing that happened. The id was made where it happened."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=20, choices=[(k.value, k.value) for k in Kind])
    version = models.PositiveSmallIntegerField(default=1)
    happened_at = models.DateTimeField(help_text="The fold's time: the device's, corrected; never in the future.")
    said_at = models.DateTimeField(help_text="The time exactly as the device sent it.")
    recorded_at = models.DateTimeField()
    device = models.CharField(max_length=40, blank=True)
    seq = models.BigIntegerField(default=0)
    person = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="events")
    batch = models.ForeignKey(Batch, models.PROTECT, null=True, related_name="events", db_index=False)
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, null=True, related_name="events", db_index=False)
    group_kind = models.CharField(max_length=10, blank=True, choices=[(g.value, g.value) for g in GroupKind])
    group_id = models.BigIntegerField(null=True)
    type = models.ForeignKey("inventory.GearType", models.PROTECT, null=True, related_name="events", db_index=False)
    place = models.ForeignKey("inventory.Place", models.PROTECT, null=True, related_name="events", db_index=False)
    docket = models.ForeignKey("inventory.Docket", models.PROTECT, null=True, related_name="events", db_index=False)
    seen = models.CharField(max_length=10, choices=[(s.value, s.value) for s in Seen])
    quantity = models.IntegerField(null=True)
    target = models.UUIDField(null=True, help_text="For a reversal: the event it takes back, arrived or not.")
    data = models.JSONField(default=dict)

    class Meta:
        ordering = ["happened_at", "device", "seq", "id"]
        indexes = [
            # the fold of one piece, and its history page
            models.Index(fields=["piece", "happened_at"], name="event_of_a_piece"),
            # the fold of a group; the pour, crate and docket pages
            models.Index(
                fields=["group_kind", "group_id", "happened_at"],
                name="event_of_a_group",
                condition=~models.Q(group_kind=""),
            ),
            # counted goods of one type
            models.Index(
                fields=["type", "happened_at"], name="event_of_a_type", condition=models.Q(type__isnull=False)
            ),
            # "is this event reversed?"
            models.Index(fields=["target"], name="event_reversing", condition=models.Q(target__isnull=False)),
            # reversals for one piece, which may come before what they take back
            models.Index(fields=["piece"], name="event_reversing_for_a_piece", condition=models.Q(kind=Kind.REVERSED)),
            # what a docket's page lists
            models.Index(fields=["docket", "kind"], name="event_on_a_docket", condition=models.Q(docket__isnull=False)),
            # what was recorded since a moment: late arrivals, bills as known
            models.Index(fields=["recorded_at"], name="event_as_recorded"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind=Kind.REVERSED, target__isnull=False) | ~models.Q(kind=Kind.REVERSED),
                name="a_reversal_says_what_it_takes_back",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.id}"


class GroupMember(models.Model):
    """A cache of the fold: this piece was in that pour, crate or docket at some time, so a late event may reach it.

    It may list more than is true now (an event since reversed), never less.
    """

    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="group_memberships")
    group_kind = models.CharField(max_length=10, choices=[(g.value, g.value) for g in GroupKind])
    group_id = models.BigIntegerField()

    class Meta:
        ordering = ["group_kind", "group_id", "piece"]
        constraints = [
            models.UniqueConstraint(fields=["group_kind", "group_id", "piece"], name="a_piece_joins_a_group_once"),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} in {self.group_kind} {self.group_id}"
