"""A stocktake: a yard or a site walked, everything there scanned, and compared with the record."""

from __future__ import annotations

from django.db import models


class StocktakeQuerySet(models.QuerySet["Stocktake"]):
    def open(self) -> StocktakeQuerySet:
        return self.filter(closed_at=None)


class Stocktake(models.Model):
    """What was seen in it is in the ledger: counts that name it. They move nothing until it is closed."""

    place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="stocktakes")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    found = models.PositiveIntegerField(default=0, help_text="As it was closed.")
    missing = models.PositiveIntegerField(default=0)
    written_off = models.PositiveIntegerField(default=0)
    out_of_place = models.PositiveIntegerField(default=0)

    objects = StocktakeQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["place"], condition=models.Q(closed_at=None), name="a_place_has_one_open_stocktake"
            ),
        ]

    def __str__(self) -> str:
        return f"stocktake {self.pk}"


class StocktakeMark(models.Model):
    """A missing piece that the manager means to write off when the stocktake is closed; kept page by page."""

    stocktake = models.ForeignKey(Stocktake, models.CASCADE, related_name="marks")
    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["stocktake", "piece"], name="a_piece_is_marked_once")]

    def __str__(self) -> str:
        return f"{self.piece_id} in {self.stocktake_id}"
