"""A type of gear, a place, and what the yard sets for itself."""

from __future__ import annotations

import re
from typing import Any

import holidays
from django import forms

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import DamageReason, GearType, Place, YardSettings

_HOST = re.compile(r"^https?://[a-z0-9.\-]+(:\d+)?/?$", re.IGNORECASE)


class TypeForm(forms.ModelForm):
    class Meta:
        model = GearType
        fields = [
            "code",
            "name",
            "kind",
            "tracked",
            "section_mm",
            "length_mm",
            "splayed_ends",
            "mass_kg",
            "replacement_value",
            "rate_day",
            "rate_week",
            "rate_month",
            "rate_use",
            "rated_uses",
            "clean_after_every_pour",
            "inspect_every_uses",
            "inspect_every_days",
            "used_up",
            "withdrawn",
        ]

    def clean_tracked(self) -> str:
        tracked = self.cleaned_data["tracked"]
        known = self.instance.pk is not None and tracked != self.initial.get("tracked")
        if known and (self.instance.pieces.exists() or self.instance.counted.exists()):
            raise forms.ValidationError("Gear of this type is on the books, so how it is tracked stays.")
        return tracked


class PlaceForm(forms.ModelForm):
    """Sites and pours come with their jobs; what is entered here is the yard's own ground."""

    KINDS = (PlaceKind.YARD, PlaceKind.WASH_BAY, PlaceKind.WORKSHOP, PlaceKind.SITE)

    class Meta:
        model = Place
        fields = ["name", "kind", "parent", "address", "closed"]
        labels = {"parent": "Part of", "closed": "Closed"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is not None:
            # what happened there was recorded of a place of this kind
            del self.fields["kind"], self.fields["parent"]
            return
        self.fields["kind"].choices = [(kind.value, kind.value) for kind in self.KINDS]  # type: ignore[attr-defined]
        self.fields["parent"].queryset = Place.objects.yards().in_use()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("kind") in (PlaceKind.WASH_BAY, PlaceKind.WORKSHOP) and not said.get("parent"):
            self.add_error("parent", "Say which yard it is part of.")
        if said.get("kind") in (PlaceKind.YARD, PlaceKind.SITE) and said.get("parent"):
            self.add_error("parent", "A yard or a site stands by itself: leave this empty.")
        return said

    def clean_closed(self) -> bool:
        closed = self.cleaned_data["closed"]
        if closed and self.instance.pk and type(self.instance).objects.get(pk=self.instance.pk).pieces.exists():
            raise forms.ValidationError("Gear is still here. Move it first, then close the place.")
        return closed


class YardSettingsForm(forms.ModelForm):
    class Meta:
        model = YardSettings
        fields = [
            "business_name",
            "who_to_call",
            "tag_base",
            "currency",
            "holiday_country",
            "holiday_region",
            "working_days",
            "clock_tolerance_minutes",
            "two_person_lift_kg",
            "two_person_bundle_kg",
            "forklift_bundle_kg",
            "saw_kerf_mm",
            "pick_order",
            "clean_cost",
            "scrap_price_kg",
            "money_cost_percent",
        ]
        labels = {"two_person_lift_kg": "Two people lift from (kg)", "scrap_price_kg": "What a kg of scrap brings"}

    def clean_tag_base(self) -> str:
        base = self.cleaned_data["tag_base"].strip()
        if base and not _HOST.match(base):
            raise forms.ValidationError("Give https, the host, and nothing after it: HTTPS://YARD.EXAMPLE.")
        return base.rstrip("/")

    def clean_currency(self) -> str:
        currency = self.cleaned_data["currency"].upper()
        if not re.fullmatch("[A-Z]{3}", currency):
            raise forms.ValidationError("Give the three letters of ISO 4217, such as EUR.")
        return currency

    def clean_working_days(self) -> str:
        days = self.cleaned_data["working_days"]
        if not re.fullmatch("[01]{7}", days) or "1" not in days:
            raise forms.ValidationError("Give seven figures from Monday on, 1 for worked and 0 for not: 1111100.")
        return days

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        country, region = said.get("holiday_country", "").upper(), said.get("holiday_region", "").upper()
        known = holidays.list_supported_countries(include_aliases=False)
        if country and country not in known:
            self.add_error("holiday_country", f"The calendar knows no country “{country}”. Give its two ISO letters.")
        elif region and region not in known.get(country, []):
            some = ", ".join(known.get(country, [])) or "none"
            self.add_error("holiday_region", f"No region “{region}” in “{country}”. It knows: {some}.")
        return said | {"holiday_country": country, "holiday_region": region}


DamageReasons = forms.modelformset_factory(
    DamageReason, fields=["words", "usual_grade", "withdrawn"], extra=1, can_delete=False
)
