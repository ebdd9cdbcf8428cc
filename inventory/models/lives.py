"""Summaries that the figures are made of: each piece's life as numbers, and sums and counts of what lives add to them.

A cache of the ledger, brought up to date piece by piece beside it, never while events are recorded;
`manage.py sum_figures --check` proves that it equals a summary of the whole ledger.
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
    pieces = models.BinaryField(default=b"", help_text="Packed, as inventory.selectors.piece_sets has it.")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.key


class LotMonth(models.Model):
    """What happened to a lot in one month at one yard or site: sums over its pieces, kept as each of them is summed.

    Beside the counts of `inventory.figures.life.Month`: pieces that came to the place and left it, and pieces that
    came on the books and went off them (there `place` is empty); each with the days from then to the month's end.
    Piece-days within whole months follow from these alone, whatever day it is (`inventory.selectors.figures`). Pieces
    that became dirty there (`soiled`) and that were cleaned or taken away (`shed`) likewise say how many were dirty at
    each month's end, and with the time from then to it (`_us`, in microseconds) for how long; `stayed_us` is how long
    those shed had been so.
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
    soiled_us = models.BigIntegerField(default=0)
    shed_us = models.BigIntegerField(default=0)
    stayed_us = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["lot", "month", "id"]

    def __str__(self) -> str:
        return f"{self.lot_id} in {self.month:%Y-%m}"


class PieceLife(models.Model):
    """One piece's life in numbers; the fields are those of `inventory.figures.life.Life`.

    Days are stored as their ordinals (date.toordinal). `told` is the rest of it, stays, dirt and months, and where its
    walk stopped, as text (`inventory.selectors.lives`).
    """

    piece = models.OneToOneField("inventory.Piece", models.CASCADE, primary_key=True, related_name="life")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="lives")
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
    told = models.TextField(default="")

    class Meta:
        ordering = ["piece"]
        indexes = [
            # the few that may belong in another lot
            models.Index(fields=["piece"], condition=models.Q(entered_anew=True), name="piece_life_astray"),
            # what sales and scrap brought
            models.Index(
                fields=["lot", "proceeds"], condition=models.Q(proceeds__gt=0), name="piece_life_with_proceeds"
            ),
        ]

    def __str__(self) -> str:
        return f"life of {self.piece_id}"


class PieceRun(models.Model):
    """Uses of one piece made at one yard or site without a use elsewhere between: from `entry` uses to `exit`."""

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="runs")
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    entry = models.PositiveIntegerField()
    exit = models.PositiveIntegerField()

    class Meta:
        ordering = ["piece", "entry"]

    def __str__(self) -> str:
        return f"{self.piece_id} from {self.entry} to {self.exit} uses"


class SpanCount(models.Model):
    """So many of our pieces alike under observation: from `entry` uses to `exit`, and how that ended.

    Counted four times over: `by` type, batch and age (the year bought) over whole lives, where `ended` is the word of
    `inventory.figures.life.Life` and `fit` says that it is held and not unfit; and by place over runs of uses made
    there, where `ended` is said only of the last run of a piece that was worn out or broken. `cell` says all but the
    count in one text, so that a count stands once.
    """

    cell = models.CharField(max_length=120, unique=True)
    by = models.CharField(max_length=8)
    type = models.ForeignKey("inventory.GearType", models.CASCADE, null=True, related_name="+")
    maker_batch = models.CharField(max_length=40, blank=True)
    year = models.PositiveIntegerField(null=True)
    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    entry = models.PositiveIntegerField()
    exit = models.PositiveIntegerField()
    ended = models.CharField(max_length=12, blank=True)
    fit = models.BooleanField(default=False)
    n = models.IntegerField()

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["by"], name="span_count_by")]

    def __str__(self) -> str:
        return f"{self.n} of {self.cell}"


class CastSet(models.Model):
    """Which pieces were cast at one yard or site in one month, packed (`inventory.selectors.piece_sets`): how many
    were in a stretch of months cannot be had from how many were in each."""

    place = models.ForeignKey("inventory.Place", models.CASCADE, null=True, related_name="+")
    month = models.DateField()
    pieces = models.BinaryField()

    class Meta:
        ordering = ["month", "id"]

    def __str__(self) -> str:
        return f"cast at {self.place_id} in {self.month:%Y-%m}"


class FiguresMark(models.Model):
    """How far the summaries reach: every batch up to `batch` is in them. One row."""

    batch = models.BigIntegerField(default=0)
    as_of = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_row_of_figures_mark")]

    def __str__(self) -> str:
        return f"figures to batch {self.batch}"
