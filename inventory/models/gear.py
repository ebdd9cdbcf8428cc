"""The catalogue and the pieces. State columns cache the fold of a piece's events; one writer fills them."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.db import models

from inventory.lifecycle.kinds import Fitness, Phase, Standing
from inventory.lifecycle.world import About
from inventory.models.words import Words

if TYPE_CHECKING:
    from inventory.models.places import Place


def _choices(kinds: type[StrEnum]) -> list[tuple[str, str]]:
    return [(kind.value, kind.value or "none") for kind in kinds]


class GearType(models.Model):
    """A row of the catalogue: any maker's or home-made gear can be entered."""

    class Kind(Words):
        EDGE_FORM = "edge form"
        FORM_BRACKET = "form bracket"
        STACK_BRACKET = "stack bracket"
        CORNER_CLAMP = "corner clamp"
        SPLICE_PLATE = "splice plate"
        INSERT = "insert"
        BOLT = "bolt"
        SCREW = "screw"
        WASHER = "washer"
        FIXING = "slab fixing"
        TOOL = "tool"
        CRATE = "crate"
        OTHER = "other"

    class Tracked(Words):
        BY_TAG = "by tag"
        BY_COUNT = "by count"

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    tracked = models.CharField(max_length=10, choices=Tracked.choices, default=Tracked.BY_TAG)
    section_mm = models.PositiveIntegerField("section (mm)", null=True, blank=True)
    length_mm = models.PositiveIntegerField("length (mm)", null=True, blank=True)
    splayed_ends = models.PositiveSmallIntegerField(default=0)
    mass_kg = models.DecimalField("mass (kg)", max_digits=9, decimal_places=3, default=0)
    replacement_value = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    rate_day = models.DecimalField("hire a day", max_digits=10, decimal_places=4, null=True, blank=True)
    rate_week = models.DecimalField("hire a week", max_digits=10, decimal_places=4, null=True, blank=True)
    rate_month = models.DecimalField("hire a month", max_digits=10, decimal_places=4, null=True, blank=True)
    rate_use = models.DecimalField("hire a use", max_digits=10, decimal_places=4, null=True, blank=True)
    rated_uses = models.PositiveIntegerField(null=True, blank=True, help_text="The maker's figure, if there is one.")
    clean_after_every_pour = models.BooleanField(default=False)
    inspect_every_uses = models.PositiveIntegerField(
        "inspect every so many uses", null=True, blank=True, help_text="The maker's data and the local code decide."
    )
    inspect_every_days = models.PositiveIntegerField(
        "inspect every so many days", null=True, blank=True, help_text="Whichever of the two comes first."
    )
    used_up = models.BooleanField(default=False, help_text="Stays in the concrete, such as an insert.")
    withdrawn = models.BooleanField(default=False, help_text="Hidden from choices; pieces of this type stay.")

    class Meta:
        ordering = ["kind", "section_mm", "length_mm", "code"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(kind="edge form")
                # a comparison with NULL would pass the database's check
                | models.Q(section_mm__isnull=False, length_mm__isnull=False, section_mm__gt=0, length_mm__gt=0),
                name="an_edge_form_has_a_section_and_a_length",
                violation_error_message="An edge form needs its section and its length in mm.",
            ),
            models.CheckConstraint(
                condition=models.Q(splayed_ends__lte=2),
                name="a_length_has_at_most_two_splayed_ends",
                violation_error_message="A length has two ends: give 0, 1 or 2 splayed ends.",
            ),
            models.CheckConstraint(
                condition=models.Q(mass_kg__gte=0, replacement_value__gte=0),
                name="mass_and_value_are_not_negative",
                violation_error_message="Mass and replacement value cannot be below nought.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def place_in_lists(self) -> tuple[int, int, int, str]:
        """Where it stands on load lists, pick lists and dockets alike, so that they can be held side by side: edge
        forms first, by section and length, then the kinds as they are named here."""
        return self.Kind.values.index(self.kind), self.section_mm or 0, self.length_mm or 0, self.code

    def clean(self) -> None:
        if self.kind == self.Kind.EDGE_FORM and not (self.section_mm and self.length_mm):
            missing = "length_mm" if self.section_mm else "section_mm"
            raise ValidationError({missing: "An edge form needs its section and its length in mm."})

    @property
    def is_crate(self) -> bool:
        return self.kind == self.Kind.CRATE

    def about(self, piece: int) -> About:
        """What the fold must know of a piece of this type."""
        return About(piece, self.clean_after_every_pour, self.is_crate, self.kind not in NEVER_SET)


NEVER_SET = frozenset({GearType.Kind.CRATE, GearType.Kind.TOOL})
"""Kinds that lie beside a pour: setting everything from a docket passes them over."""


class PieceQuerySet(models.QuerySet["Piece"]):
    def held(self) -> PieceQuerySet:
        return self.filter(standing=Standing.HELD)

    def fit(self) -> PieceQuerySet:
        return self.held().exclude(fitness=Fitness.UNFIT)

    def dirty(self) -> PieceQuerySet:
        return self.held().filter(dirty=True)

    def unfit(self) -> PieceQuerySet:
        return self.held().filter(fitness=Fitness.UNFIT)

    def within(self, place: Place) -> PieceQuerySet:
        """At the place or at one of its parts: a yard and its wash bay, a site and its pours."""
        return self.filter(models.Q(place=place) | models.Q(place__parent=place))

    def on_the_road(self) -> PieceQuerySet:
        return self.held().filter(place=None)


class Piece(models.Model):
    """One tagged article. Everything below `note` is a cache of its events."""

    type = models.ForeignKey(GearType, models.PROTECT, related_name="pieces")
    label = models.CharField(max_length=20, unique=True, help_text="The code of its newest tag.")
    cut_from = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="parts")
    own_number = models.CharField(
        max_length=40, null=True, blank=True, unique=True, help_text="Your own number on it, if it has one."
    )
    giai = models.CharField("GS1 asset identifier", max_length=30, null=True, blank=True, unique=True)
    bought_on = models.DateField(null=True, blank=True)
    cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    maker_batch = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=200, blank=True)

    standing = models.CharField(max_length=20, choices=_choices(Standing), default=Standing.UNREGISTERED)
    place = models.ForeignKey("inventory.Place", models.PROTECT, null=True, blank=True, related_name="pieces")
    docket = models.ForeignKey("inventory.Docket", models.PROTECT, null=True, blank=True, related_name="pieces")
    pour = models.ForeignKey("inventory.Place", models.PROTECT, null=True, blank=True, related_name="+")
    phase = models.CharField(max_length=20, choices=_choices(Phase), default=Phase.NONE, blank=True)
    crate = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="contents")
    dirty = models.BooleanField(default=False)
    fitness = models.CharField(max_length=10, choices=_choices(Fitness), default=Fitness.SOUND)
    uses = models.PositiveIntegerField(default=0)
    uses_since_clean = models.PositiveIntegerField(default=0)
    since = models.DateTimeField(null=True, blank=True)
    last_happened = models.DateTimeField(null=True, blank=True)
    last_device = models.CharField(max_length=40, blank=True)
    last_seq = models.BigIntegerField(default=0)
    last_event = models.UUIDField(null=True, blank=True)

    objects = PieceQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["standing", "place", "type"], name="piece_stock_at_a_place"),
            # how many of a type are on the books, and unfit: the catalogue
            models.Index(fields=["type", "standing", "fitness"], name="piece_stock_of_a_type"),
            models.Index(fields=["standing", "dirty", "fitness"], name="piece_to_clean_or_mend"),
            # how many are dirty at each place
            models.Index(fields=["standing", "place"], condition=models.Q(dirty=True), name="piece_dirty_at_a_place"),
            models.Index(fields=["docket", "standing"], name="piece_on_a_docket"),
            models.Index(fields=["pour", "phase"], name="piece_in_a_pour"),
        ]

    def __str__(self) -> str:
        return self.label


class Tag(models.Model):
    """A printed code on a piece, or on the paper of a place such as a pour. Several per piece; never reused;
    resolved as of when the scan happened."""

    code = models.CharField(max_length=20, unique=True)
    piece = models.ForeignKey(Piece, models.PROTECT, null=True, blank=True, related_name="tags")
    place = models.ForeignKey("inventory.Place", models.PROTECT, null=True, blank=True, related_name="tags")
    fixed_at = models.DateTimeField(null=True, blank=True, help_text="From when it is on the piece.")
    printed_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True, help_text="When it was replaced; old scans still work.")

    class Meta:
        ordering = ["piece", "fixed_at", "code"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(piece=None) | models.Q(place=None), name="a_tag_is_on_a_piece_or_a_place"
            ),
        ]

    def __str__(self) -> str:
        return self.code


class HiredIn(models.Model):
    """A piece that belongs to somebody else: never cut, sold or retired as ours."""

    piece = models.OneToOneField(Piece, models.PROTECT, related_name="hired_in")
    owner = models.CharField(max_length=120)
    their_number = models.CharField(max_length=60, blank=True)
    due_back = models.DateField(null=True, blank=True)
    cost_day = models.DecimalField(max_digits=10, decimal_places=4, default=0)

    class Meta:
        ordering = ["due_back", "id"]

    def __str__(self) -> str:
        return f"{self.piece} of {self.owner}"
