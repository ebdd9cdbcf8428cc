"""Summaries that the figures are made of: each piece's life as numbers, where it stayed, what happened month by month.

A cache of the ledger, brought up to date piece by piece beside it, never while events are recorded; `figures` proves
that it equals a summary of the whole ledger.
"""

from __future__ import annotations

from django.db import models


class Lot(models.Model):
    """Pieces alike in all that the figures group them by and price them at; made as pieces are summed.

    `year` is the year they were bought, or (not `dated`) came on the books; `ours` is false for gear hired in; a
    `part` was cut from a longer length. `key` says all of it in one text, so that a lot stands once.
    """

    key = models.CharField(max_length=120, unique=True)
    type = models.ForeignKey("inventory.GearType", models.CASCADE, related_name="lots")
    maker_batch = models.CharField(max_length=40, blank=True)
    year = models.PositiveIntegerField(null=True)
    dated = models.BooleanField(default=False)
    cost = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    ours = models.BooleanField(default=True)
    part = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.key


class LotMonth(models.Model):
    """What happened to a lot in one month at one yard or site: sums over its pieces, kept as each of them is summed.

    Beside the counts of `PieceMonth`: pieces that came to the place and left it, and pieces that came on the books and
    went off them (there `place` is empty); each with the days from then to the month's end. Piece-days within whole
    months follow from these alone, whatever day it is (`inventory.selectors.figures`). Pieces that became dirty there
    (`soiled`) and that were cleaned or taken away (`shed`) likewise say how many were dirty at each month's end.
    """

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="months")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    month = models.DateField()
    casts = models.IntegerField(default=0)
    damaged = models.IntegerField(default=0)
    unfit = models.IntegerField(default=0)
    lost = models.IntegerField(default=0)
    cleans = models.IntegerField(default=0)
    uncleaned = models.IntegerField(default=0)
    came = models.IntegerField(default=0)
    came_days = models.BigIntegerField(default=0)
    left = models.IntegerField(default=0)
    left_days = models.BigIntegerField(default=0)
    bought = models.IntegerField(default=0)
    bought_days = models.BigIntegerField(default=0)
    gone = models.IntegerField(default=0)
    gone_days = models.BigIntegerField(default=0)
    soiled = models.IntegerField(default=0)
    shed = models.IntegerField(default=0)

    class Meta:
        ordering = ["lot", "month", "id"]

    def __str__(self) -> str:
        return f"{self.lot_id} in {self.month:%Y-%m}"


class PieceLife(models.Model):
    """One piece's life in numbers; the fields are those of `inventory.figures.life.Life`.

    Days are stored as their ordinals (date.toordinal), so that either database adds them up as whole numbers.
    """

    piece = models.OneToOneField("inventory.Piece", models.CASCADE, primary_key=True, related_name="life")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="lives")
    entered_anew = models.BooleanField(default=False, help_text="Its cost, batch or owner was put right since.")
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
        indexes = [
            # what sales and scrap brought
            models.Index(
                fields=["lot", "proceeds"], condition=models.Q(proceeds__gt=0), name="piece_life_with_proceeds"
            ),
        ]

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
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="+")
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


class PieceRun(models.Model):
    """Uses of one piece made at one yard or site without a use elsewhere between: from `entry` uses to `exit`.

    `ended` says that it was worn out or broken after the last of them.
    """

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="runs")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="+")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    entry = models.PositiveIntegerField()
    exit = models.PositiveIntegerField()
    ended = models.BooleanField(default=False)

    class Meta:
        ordering = ["piece", "entry"]

    def __str__(self) -> str:
        return f"{self.piece_id} from {self.entry} to {self.exit} uses"


class PieceDirty(models.Model):
    """One piece dirty at one yard or site, from coming so until cleaned, or until it was taken away dirty."""

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="dirty_spells")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True)

    class Meta:
        ordering = ["piece", "since", "id"]
        indexes = [
            # what was dirty within the last months
            models.Index(fields=["until", "place"], name="piece_dirty_until"),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} dirty from {self.since:%Y-%m-%d}"


class FiguresMark(models.Model):
    """How far the summaries reach: every batch up to `batch` is in them. One row."""

    batch = models.BigIntegerField(default=0)
    as_of = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_row_of_figures_mark")]

    def __str__(self) -> str:
        return f"figures to batch {self.batch}"
