"""Summaries that the figures are made of: each piece's life as numbers, where it stayed, what happened month by month.

A cache of the ledger, brought up to date piece by piece beside it, never while events are recorded; `figures` proves
that it equals a summary of the whole ledger.
"""

from __future__ import annotations

from django.db import models


class PieceLife(models.Model):
    """One piece's life in numbers; the fields are those of `inventory.figures.life.Life`.

    Days are stored as their ordinals (date.toordinal), so that either database adds them up as whole numbers.
    """

    piece = models.OneToOneField("inventory.Piece", models.CASCADE, primary_key=True, related_name="life")
    entry_uses = models.PositiveIntegerField(default=0)
    uses = models.PositiveIntegerField(default=0)
    on_books = models.IntegerField(null=True)
    off_books = models.IntegerField(null=True)
    ended = models.CharField(max_length=12, blank=True)
    proceeds = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    inspected_at = models.DateTimeField(null=True)
    uses_since_inspected = models.PositiveIntegerField(default=0)
    dirty_since = models.DateTimeField(null=True)
    unfit_since = models.DateTimeField(null=True)
    site = models.ForeignKey("inventory.Place", models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["piece"]

    def __str__(self) -> str:
        return f"life of {self.piece_id}"


class PieceStay(models.Model):
    """Days [since, until), as ordinals, at one yard or site, or on the road where `place` is empty.

    `until` empty is still there.
    """

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="stays")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    since = models.IntegerField()
    until = models.IntegerField(null=True)

    class Meta:
        ordering = ["piece", "since", "id"]

    def __str__(self) -> str:
        return f"{self.piece_id} at {self.place_id} from {self.since}"


class PieceMonth(models.Model):
    """What happened to one piece in one month at one yard or site; `month` is its first day."""

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="months")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    month = models.DateField()
    casts = models.PositiveIntegerField(default=0)
    damaged = models.PositiveIntegerField(default=0)
    unfit = models.PositiveIntegerField(default=0)
    lost = models.PositiveIntegerField(default=0)
    cleans = models.PositiveIntegerField(default=0)
    uncleaned = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["piece", "month", "id"]
        indexes = [
            # what happened in a stretch of months
            models.Index(fields=["month", "piece"], name="piece_month_by_month"),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} in {self.month:%Y-%m}"


class FiguresMark(models.Model):
    """How far the summaries reach: every batch up to `batch` is in them. One row."""

    batch = models.BigIntegerField(default=0)
    as_of = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_row_of_figures_mark")]

    def __str__(self) -> str:
        return f"figures to batch {self.batch}"
