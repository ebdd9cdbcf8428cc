"""Counted goods: how many of a type in what condition at a place or on a docket. A cache of the fold."""

from __future__ import annotations

from django.db import models

from inventory.lifecycle.kinds import Fitness


class CountedStock(models.Model):
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="counted")
    place = models.ForeignKey("inventory.Place", models.PROTECT, null=True, related_name="counted")
    docket = models.ForeignKey("inventory.Docket", models.PROTECT, null=True, related_name="counted")
    condition = models.CharField(max_length=10, choices=[(f.value, f.value) for f in Fitness], default=Fitness.SOUND)
    quantity = models.IntegerField()

    class Meta:
        ordering = ["type", "place", "docket", "condition"]
        constraints = [
            models.UniqueConstraint(
                fields=["type", "place", "condition"],
                condition=models.Q(docket=None),
                name="one_quantity_a_type_place_and_condition",
            ),
            models.UniqueConstraint(
                fields=["type", "docket", "condition"],
                condition=models.Q(place=None),
                name="one_quantity_a_type_docket_and_condition",
            ),
            models.CheckConstraint(
                condition=models.Q(place=None) ^ models.Q(docket=None), name="goods_are_at_a_place_or_on_a_docket"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.type_id}"
