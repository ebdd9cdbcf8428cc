"""Lengths that are to be cut down, and the parts a planner counts on from the day they are ready."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.lifecycle.kinds import Fitness, PlaceKind, Standing


class PlannedCutQuerySet(models.QuerySet["PlannedCut"]):
    def open(self) -> PlannedCutQuerySet:
        return self.filter(done_at=None, called_off_at=None)

    def standing(self) -> PlannedCutQuerySet:
        """Open ones whose length is where it can be cut: held, fit, and at a yard."""
        at_a_yard = Q(piece__place__kind=PlaceKind.YARD) | Q(piece__place__parent__kind=PlaceKind.YARD)
        return self.open().filter(at_a_yard, piece__standing=Standing.HELD).exclude(piece__fitness=Fitness.UNFIT)


class PlannedCut(models.Model):
    """One length to be cut. Until it is cut or called off it counts for nothing else."""

    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="planned_cuts")
    ready_on = models.DateField("parts ready on")
    why = models.CharField("what for", max_length=200)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    done_at = models.DateTimeField(null=True, blank=True)
    called_off_at = models.DateTimeField(null=True, blank=True)

    objects = PlannedCutQuerySet.as_manager()

    class Meta:
        ordering = ["ready_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"],
                condition=Q(done_at=None, called_off_at=None),
                name="a_length_is_planned_to_be_cut_once_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} to be cut"


class PlannedPart(models.Model):
    """One of the lengths it is to be cut into."""

    cut = models.ForeignKey(PlannedCut, models.CASCADE, related_name="parts")
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.type_id} from {self.cut_id}"
