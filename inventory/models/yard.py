"""What one yard sets for itself."""

from __future__ import annotations

from django.db import models

from inventory.lifecycle.kinds import Fitness


class YardSettings(models.Model):
    """One row. Every field has a default that a new yard can start with."""

    business_name = models.CharField(max_length=120, default="Our yard")
    who_to_call = models.CharField(max_length=200, default="the yard whose name is on the gear")
    tag_base = models.CharField(
        "address printed in the QR",
        max_length=120,
        blank=True,
        help_text="For example HTTPS://YARD.EXAMPLE; our own host if empty.",
    )
    currency = models.CharField(max_length=3, default="EUR")
    holiday_country = models.CharField(max_length=2, blank=True, help_text="ISO 3166 code, such as AU")
    holiday_region = models.CharField(max_length=10, blank=True, help_text="Such as NSW")
    working_days = models.CharField(max_length=7, default="1111100", help_text="Monday to Sunday; 1 is worked.")
    clock_tolerance_minutes = models.PositiveSmallIntegerField(default=5)
    saw_kerf_mm = models.PositiveSmallIntegerField(
        "saw cut (mm)", default=4, help_text="What a cut takes off a length; measure your own blade."
    )
    pick_order = models.CharField(
        "pieces are picked",
        max_length=10,
        choices=[("fewest", "fewest uses first"), ("alike", "evenly worn: those of like wear together")],
        default="fewest",
        help_text="Which of many alike a load list takes.",
    )
    two_person_lift_kg = models.PositiveSmallIntegerField(
        default=25, help_text="From this mass on, two people lift. Your local code decides."
    )

    two_person_bundle_kg = models.PositiveSmallIntegerField(
        "heaviest bundle for two (kg)", default=40, help_text="Your local code decides."
    )
    forklift_bundle_kg = models.PositiveIntegerField(
        "heaviest bundle for the forklift (kg)", default=1000, help_text="Its rating plate decides."
    )
    clean_cost = models.DecimalField(
        "cost of one cleaning", max_digits=8, decimal_places=2, default=0, help_text="Counted in the cost of a use."
    )
    scrap_price_kg = models.DecimalField("scrap price a kg", max_digits=8, decimal_places=2, default=0)
    money_cost_percent = models.DecimalField(
        "yearly cost of money (per cent)",
        max_digits=5,
        decimal_places=2,
        default=8,
        help_text="Spreads the price of gear over its years.",
    )

    class Meta:
        verbose_name_plural = "yard settings"
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_row_of_yard_settings")]

    def __str__(self) -> str:
        return self.business_name

    @classmethod
    def current(cls) -> YardSettings:
        return cls.objects.get_or_create(pk=1)[0]


class DamageReason(models.Model):
    words = models.CharField(max_length=60, unique=True)
    usual_grade = models.CharField(max_length=10, choices=[(f.value, f.value) for f in Fitness], default=Fitness.WATCH)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        ordering = ["words"]

    def __str__(self) -> str:
        return self.words
