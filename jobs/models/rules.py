"""Take-off rules as data, so that a yard can fit them to its own gear."""

from __future__ import annotations

from django.db import models

from inventory.models import GearType


class TakeOffRule(models.Model):
    """So many of a kind (or one type) per run, corner, joint ... on which levels; or at what spacing."""

    class Per(models.TextChoices):
        RUN = "run"
        PIECE = "piece"
        CORNER = "corner"
        JOINT = "joint"
        BRACKET = "bracket position"
        METRE = "metre"
        PANEL = "panel"
        CREW = "crew"

    class Levels(models.TextChoices):
        ALL = "all"
        FIRST = "first"
        ABOVE_FIRST = "above the first"
        ALL_BUT_TOP = "all but the top"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=20, choices=GearType.Kind.choices)
    type = models.ForeignKey(
        GearType,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="One type instead of the kind.",
    )
    per = models.CharField(max_length=20, choices=Per.choices)
    levels = models.CharField(max_length=20, choices=Levels.choices, default=Levels.ALL)
    quantity = models.DecimalField(max_digits=8, decimal_places=3, default=1)
    spacing_mm = models.PositiveIntegerField(null=True, blank=True, help_text="Greatest; the maker's figure.")
    end_distance_mm = models.PositiveIntegerField(null=True, blank=True)
    spare_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    off = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name
