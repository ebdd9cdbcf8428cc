"""What would make a short job fit: the search for it, and what was set going by a press on what it found."""

from __future__ import annotations

from django.db import models

from inventory.models.words import Words
from inventory.models.work import LongWork


class RemedySearch(LongWork):
    """Remedies for a check that is short. Stale when the question put now would have another digest."""

    check_asked = models.ForeignKey("jobs.CoverCheck", models.CASCADE, related_name="remedy_searches")
    digest = models.CharField(max_length=64)
    question = models.JSONField()
    answer = models.JSONField(null=True)
    applied = models.JSONField(default=dict, help_text="When each remedy was set going, by its name.")

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"Remedies for {self.check_asked}"


class FitFirst(models.Model):
    """A piece that a job waits for: to be cleaned or mended before others, in the yard by that day."""

    class Need(Words):
        CLEAN = "clean"
        MEND = "mend"

    piece = models.ForeignKey("inventory.Piece", models.CASCADE, related_name="wanted_fit")
    job = models.ForeignKey("jobs.Job", models.CASCADE, related_name="wants_fit")
    need = models.CharField(max_length=5, choices=Need.choices)
    by_day = models.DateField(help_text="The day it is loaded.")
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["by_day", "id"]
        constraints = [models.UniqueConstraint(fields=["piece", "job"], name="a_job_wants_a_piece_fit_once")]

    def __str__(self) -> str:
        return f"{self.piece} for {self.job.code} by {self.by_day}"


class Chase(models.Model):
    """Gear that another job holds and that is asked back. What the site promises dates it anew."""

    holder = models.ForeignKey("jobs.Job", models.CASCADE, related_name="chased")
    wanted_for = models.ForeignKey("jobs.Job", models.CASCADE, related_name="chases")
    lines = models.JSONField(default=list, help_text="Type code, count and the day each is wanted in the yard.")
    by_day = models.DateField(help_text="The first day any of it is loaded for the other job.")
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    promised_on = models.DateField(null=True, blank=True, help_text="The day the site says it comes back.")
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["by_day", "id"]

    def __str__(self) -> str:
        return f"{self.holder.code} for {self.wanted_for.code}"

    @property
    def count(self) -> int:
        """How many pieces are asked back."""
        return sum(line["count"] for line in self.lines)


class Supply(models.Model):
    """Where more of a type can be had: bought, or hired in, for how much and how soon."""

    class Way(Words):
        BUY = "buy"
        HIRE = "hire in"

    type = models.ForeignKey("inventory.GearType", models.CASCADE, related_name="supplies")
    way = models.CharField(max_length=10, choices=Way.choices, default=Way.BUY)
    cost = models.DecimalField(
        max_digits=12, decimal_places=2, help_text="Of one: its price, or what it costs a day hired in."
    )
    lead_days = models.PositiveSmallIntegerField(default=0, help_text="Working days until it is in our yard.")
    most = models.PositiveIntegerField(null=True, blank=True, help_text="How many can be had; empty for any number.")
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["type", "cost", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(cost__gte=0),
                name="a_supply_costs_nothing_or_more",
                violation_error_message="A cost cannot be below nought.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.way} {self.type_id}"


class Ordered(models.Model):
    """Goods on order from a supply: until called off, they are not to be had from it a second time."""

    supply = models.ForeignKey(Supply, models.CASCADE, related_name="ordered")
    awaited = models.OneToOneField("inventory.Awaited", models.CASCADE, related_name="+")
    quantity = models.PositiveIntegerField(
        help_text="As many as were ordered: what has come is no longer in the row of what is awaited."
    )

    class Meta:
        ordering = ["awaited__due_on", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(quantity__gte=1), name="something_is_ordered_of_a_supply")
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.supply}"


class MillBar(models.Model):
    """A length of profile as the mill sells it, from which edge forms are cut."""

    section_mm = models.PositiveIntegerField("section (mm)")
    length_mm = models.PositiveIntegerField("length (mm)")
    cost = models.DecimalField(max_digits=12, decimal_places=2)
    count = models.PositiveIntegerField(null=True, blank=True, help_text="How many there are; empty for any number.")
    lead_days = models.PositiveSmallIntegerField(default=0, help_text="Working days until forms cut from it are ready.")

    class Meta:
        ordering = ["section_mm", "length_mm", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(section_mm__gt=0, length_mm__gt=0, cost__gte=0),
                name="a_bar_has_its_figures",
                violation_error_message="Section and length are above nought, and a cost is not below it.",
            ),
            models.UniqueConstraint(fields=["section_mm", "length_mm"], name="a_bar_is_listed_once"),
        ]

    def __str__(self) -> str:
        return f"{self.section_mm} x {self.length_mm}"
