"""Load lists: what a job is to be sent, delivery by delivery. On an accepted job they are its reservation."""

from __future__ import annotations

from django.db import models


class Delivery(models.Model):
    """One planned truck to the job. `back_on` dates a planned partial return instead."""

    job = models.ForeignKey("jobs.Job", models.CASCADE, related_name="deliveries")
    load_on = models.DateField(help_text="Day it is loaded; the gear is held from then.")
    is_return = models.BooleanField(default=False)
    docket = models.OneToOneField("inventory.Docket", models.PROTECT, null=True, blank=True, related_name="delivery")

    class Meta:
        ordering = ["job", "load_on", "id"]

    def __str__(self) -> str:
        return f"{self.job.code}, {self.load_on}"

    @property
    def lines_in_order(self) -> list[LoadLine]:
        return sorted(self.lines.all(), key=lambda line: line.type.place_in_lists)

    @property
    def wants_docket(self) -> bool:
        """Whether one can be opened for it: none was, or that one was cancelled and the truck is still to be loaded."""
        return self.docket is None or self.docket.cancelled_at is not None


class LoadLine(models.Model):
    delivery = models.ForeignKey(Delivery, models.CASCADE, related_name="lines")
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()

    class Meta:
        ordering = ["delivery", "type"]
        constraints = [
            models.UniqueConstraint(fields=["delivery", "type"], name="a_type_stands_once_on_a_load_list"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.type_id}"


class Pick(models.Model):
    """One piece chosen for a truck. It is for no other truck until this one has left without it."""

    delivery = models.ForeignKey(Delivery, models.CASCADE, related_name="picks")
    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="picks")

    class Meta:
        ordering = ["delivery", "piece"]
        constraints = [models.UniqueConstraint(fields=["delivery", "piece"], name="a_piece_is_picked_once_for_a_truck")]

    def __str__(self) -> str:
        return f"{self.piece_id} for {self.delivery}"
