"""How far our yards are apart, so that a load takes from the nearest."""

from __future__ import annotations

from django.db import models


class YardRoad(models.Model):
    """The road between two yards, the same both ways; `one` is the yard with the lower id."""

    one = models.ForeignKey("inventory.Place", models.CASCADE, related_name="+")
    other = models.ForeignKey("inventory.Place", models.CASCADE, related_name="+")
    km = models.PositiveIntegerField("kilometres by road")

    class Meta:
        ordering = ["one", "other"]
        constraints = [
            models.UniqueConstraint(fields=["one", "other"], name="two_yards_are_one_road_apart"),
            models.CheckConstraint(condition=models.Q(one__lt=models.F("other")), name="a_road_is_kept_once"),
        ]

    def __str__(self) -> str:
        return f"{self.one_id} to {self.other_id}: {self.km} km"
