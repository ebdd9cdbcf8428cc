"""Take-off rules as data, so that a yard can fit them to its own gear."""

from __future__ import annotations

from django.db import models

from inventory.models import GearType
from inventory.models.words import Words


class TakeOffRule(models.Model):
    """So many of an article per run, corner, joint ... on which levels; or at what greatest spacing."""

    class Per(Words):
        RUN = "run"
        PIECE = "piece"
        CORNER = "corner"
        JOINT = "joint"
        BRACKET = "bracket position"
        BRACKET_ABOVE = "bracket position above"
        METRE = "metre"
        PANEL = "panel"
        CREW = "crew"

    class Levels(Words):
        ALL = "all"
        FIRST = "first"
        ABOVE_FIRST = "above first"
        ALL_BUT_TOP = "all but top"

    name = models.CharField(max_length=80, unique=True)
    what = models.CharField(
        "what it counts", max_length=40, help_text="A kind of gear, or an article in words, such as stud bolt."
    )
    type = models.ForeignKey(
        GearType,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="type sent for it",
        help_text="Needed where the catalogue has more than one type of this kind, or none of that name.",
    )
    per = models.CharField("counted per", max_length=30, choices=Per.choices)
    levels = models.CharField("on levels", max_length=20, choices=Levels.choices, default=Levels.ALL)
    quantity = models.DecimalField(max_digits=8, decimal_places=3, default=1)
    spacing_mm = models.PositiveIntegerField(
        "greatest spacing (mm)", null=True, blank=True, help_text="The maker's and the engineer's figure."
    )
    end_distance_mm = models.PositiveIntegerField(
        "greatest end distance (mm)",
        null=True,
        blank=True,
        help_text="Likewise; from an end and from a joint.",
    )
    clear_of_joint_mm = models.PositiveIntegerField("least distance from a joint (mm)", default=50)
    least = models.PositiveSmallIntegerField("least on a run", default=2)
    sets_positions = models.BooleanField(
        default=False, help_text="Its articles are the bracket positions that other rules count."
    )
    used_up = models.BooleanField(default=False, help_text="Stays in the concrete, such as an insert.")
    spare_percent = models.DecimalField("spares (per cent)", max_digits=5, decimal_places=2, default=0)
    off = models.BooleanField("switched off", default=False)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name
