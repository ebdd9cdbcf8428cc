"""Keeping the gear fit: repair orders and the goods that went into them, and pieces missing and asked after."""

from __future__ import annotations

from django.db import models

from inventory.lifecycle.kinds import Fitness


class RepairOrderQuerySet(models.QuerySet["RepairOrder"]):
    def open(self) -> RepairOrderQuerySet:
        """Neither done nor given up."""
        return self.filter(done_at=None, given_up_at=None)

    def to_inspect(self) -> RepairOrderQuerySet:
        """Done, and nobody has said yet that it is fit."""
        return self.filter(done_at__isnull=False, inspected_at=None, given_up_at=None)


class RepairOrder(models.Model):
    """Work on one piece: what, where, what it cost. Done is not fit: an inspection says that."""

    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="repairs")
    what = models.CharField("what is to be done", max_length=200)
    place = models.ForeignKey(
        "inventory.Place", models.PROTECT, null=True, blank=True, related_name="+", verbose_name="where"
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    ready_on = models.DateField(
        "ready by", null=True, blank=True, help_text="From this day on, planning counts the piece again."
    )
    estimate = models.DecimalField("estimated cost", max_digits=12, decimal_places=2, null=True, blank=True)
    work_cost = models.DecimalField("cost of the work", max_digits=12, decimal_places=2, default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    done_words = models.CharField("what was done", max_length=200, blank=True)
    inspected_at = models.DateTimeField(null=True, blank=True)
    given_up_at = models.DateTimeField(null=True, blank=True)
    why_given_up = models.CharField(max_length=200, blank=True)

    objects = RepairOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"],
                condition=models.Q(done_at=None, given_up_at=None),
                name="a_piece_is_on_one_open_repair_order",
            ),
            models.CheckConstraint(
                condition=models.Q(work_cost__gte=0) & (models.Q(estimate=None) | models.Q(estimate__gte=0)),
                name="repair_costs_are_not_negative",
            ),
        ]
        indexes = [models.Index(fields=["done_at", "ready_on"], name="repair_by_when_it_is_ready")]

    def __str__(self) -> str:
        return f"R{self.pk:05}"

    @property
    def stage(self) -> str:
        if self.given_up_at:
            return "given up"
        if self.inspected_at:
            return "inspected"
        return "done, to inspect" if self.done_at else "open"


class RepairPart(models.Model):
    """Counted goods that went into a repair; the event took them off the shelf."""

    order = models.ForeignKey(RepairOrder, models.PROTECT, related_name="parts")
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="+")
    place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="+")
    condition = models.CharField(max_length=10, choices=[(f.value, f.value) for f in Fitness], default=Fitness.SOUND)
    quantity = models.PositiveIntegerField()
    unit_cost = models.DecimalField(max_digits=12, decimal_places=2)
    event_id = models.UUIDField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.type_id} in {self.order_id}"


class MissingQuerySet(models.QuerySet["Missing"]):
    def open(self) -> MissingQuerySet:
        return self.filter(closed_at=None)


class Missing(models.Model):
    """A piece that should have been there and was not: asked after until it is found or written off."""

    class Missed(models.TextChoices):
        RETURN = "return", "on a return"
        STOCKTAKE = "stocktake", "in a stocktake"
        OTHER = "other", "otherwise"

    class Outcome(models.TextChoices):
        FOUND = "found"
        WRITTEN_OFF = "written off"

    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="missed")
    missed = models.CharField("missed", max_length=10, choices=Missed.choices)
    place = models.ForeignKey(
        "inventory.Place", models.PROTECT, null=True, related_name="+", verbose_name="where it should be"
    )
    docket = models.ForeignKey("inventory.Docket", models.PROTECT, null=True, blank=True, related_name="+")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=12, choices=Outcome.choices, blank=True)

    objects = MissingQuerySet.as_manager()

    class Meta:
        ordering = ["opened_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=models.Q(closed_at=None), name="a_piece_is_missed_once_at_a_time"
            ),
        ]

    def __str__(self) -> str:
        return f"missing: {self.piece_id}"


class MissingNote(models.Model):
    """Who was asked, and what they said."""

    missing = models.ForeignKey(Missing, models.CASCADE, related_name="notes")
    at = models.DateTimeField()
    by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    words = models.CharField("who was asked, and what they said", max_length=300)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return self.words
