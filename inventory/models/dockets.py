"""Dockets: what one truck carries, from place to place."""

from __future__ import annotations

from django.db import models

from inventory.lifecycle.kinds import Fitness
from inventory.models.words import Words


class DocketQuerySet(models.QuerySet["Docket"]):
    def open(self) -> DocketQuerySet:
        return self.filter(closed_at=None, cancelled_at=None)

    def loading(self) -> DocketQuerySet:
        return self.open().filter(left_at=None)

    def on_the_road(self) -> DocketQuerySet:
        return self.open().filter(left_at__isnull=False, received_at=None)


class Docket(models.Model):
    """Out from a yard to a site, back from a site to a yard, or across from one to another of the same kind."""

    class Direction(Words):
        OUT = "out"
        BACK = "back"
        ACROSS = "across"

    number = models.CharField(max_length=20, unique=True)
    direction = models.CharField(max_length=10, choices=Direction.choices)
    from_place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="dockets_from")
    to_place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="dockets_to")
    vehicle = models.CharField(max_length=40, blank=True)
    payload_limit_kg = models.PositiveIntegerField(null=True, blank=True)
    driver = models.CharField(max_length=80, blank=True)
    planned_on = models.DateField(null=True, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    left_at = models.DateTimeField(null=True, blank=True)
    left_signed_by = models.CharField(max_length=80, blank=True)
    left_signature = models.TextField(blank=True, help_text="Strokes as an SVG path, as drawn.")
    received_at = models.DateTimeField(null=True, blank=True)
    received_signed_by = models.CharField(max_length=80, blank=True)
    received_signature = models.TextField(blank=True)
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Counted at both ends and settled.")
    cancelled_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = DocketQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(from_place=models.F("to_place")), name="a_docket_goes_somewhere_else"
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def stage(self) -> str:
        if self.cancelled_at:
            return "cancelled"
        if self.closed_at:
            return "closed"
        if self.received_at:
            return "received"
        return "on the road" if self.left_at else "loading"


class DocketLine(models.Model):
    """What is wanted on the docket, by type; filled from a load list, or by hand."""

    docket = models.ForeignKey(Docket, models.CASCADE, related_name="lines")
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="+")
    wanted = models.PositiveIntegerField()

    class Meta:
        ordering = ["docket", "type"]
        constraints = [
            models.UniqueConstraint(fields=["docket", "type"], name="a_type_stands_once_on_a_docket"),
        ]

    def __str__(self) -> str:
        return f"{self.docket}: {self.wanted} x {self.type_id}"


class HandCount(models.Model):
    """What one person counted by type on a docket: driver's, yard's and site's counts stand side by side."""

    class By(Words):
        DRIVER = "driver"
        YARD = "yard"
        SITE = "site"

    docket = models.ForeignKey(Docket, models.CASCADE, related_name="counts")
    by = models.CharField(max_length=10, choices=By.choices)
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="+")
    condition = models.CharField(max_length=10, choices=[(f.value, f.value) for f in Fitness], default=Fitness.SOUND)
    quantity = models.PositiveIntegerField()

    class Meta:
        ordering = ["docket", "by", "type"]
        constraints = [
            models.UniqueConstraint(
                fields=["docket", "by", "type", "condition"], name="each_counter_counts_a_type_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.docket} {self.by}: {self.quantity} x {self.type_id}"
