"""How a load is bundled, and how one lift is made."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from inventory.lifting.niosh import Grip, Lift, Spell
from inventory.models import YardSettings


class BundleForm(forms.Form):
    WAYS = [("two", "two people"), ("fork", "the forklift"), ("own", "a mass of its own")]
    way = forms.ChoiceField(choices=WAYS, label="Lifted by")
    own_kg = forms.DecimalField(
        required=False, min_value=Decimal(1), max_value=Decimal(20_000), label="Greatest mass (kg), if of its own"
    )
    most = forms.IntegerField(required=False, min_value=1, max_value=500, label="At most so many in a bundle")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("way") == "own" and not said.get("own_kg"):
            self.add_error("own_kg", "Say how heavy a bundle may be.")
        return said

    def limit(self, settings: YardSettings) -> Decimal:
        said = self.cleaned_data
        limits = {"two": settings.two_person_bundle_kg, "fork": settings.forklift_bundle_kg, "own": said["own_kg"]}
        return Decimal(limits[said["way"]])


class LiftForm(forms.Form):
    """One kind of lift, measured as the published equation wants it."""

    load_kg = forms.DecimalField(min_value=Decimal("0.1"), max_value=Decimal(500), label="Load (kg)")
    people = forms.IntegerField(min_value=1, max_value=4, initial=1, label="People who share it evenly")
    across_cm = forms.DecimalField(
        min_value=0, max_value=200, initial=40, label="Reach (cm)", help_text="From between the ankles to the hands."
    )
    height_cm = forms.DecimalField(min_value=0, max_value=250, initial=10, label="Hands above the ground (cm)")
    travel_cm = forms.DecimalField(min_value=0, max_value=250, initial=65, label="Lifted or lowered by (cm)")
    twist_deg = forms.DecimalField(min_value=0, max_value=180, initial=0, label="Twist (degrees)")
    a_minute = forms.DecimalField(min_value=Decimal("0.1"), max_value=20, initial=1, label="Lifts a minute")
    spell = forms.ChoiceField(choices=[(s.value, s.value) for s in Spell], label="Without a rest for")
    grip = forms.ChoiceField(
        choices=[
            (Grip.GOOD.value, "good: handles"),
            (Grip.FAIR.value, "fair: fingers curl under an edge"),
            (Grip.POOR.value, "poor: neither"),
        ],
        initial=Grip.FAIR.value,
        label="Grip",
    )

    def lift(self) -> Lift:
        said = self.cleaned_data
        measures = {n: float(said[n]) for n in ("across_cm", "height_cm", "travel_cm", "twist_deg", "a_minute")}
        return Lift(**measures, spell=Spell(said["spell"]), grip=Grip(said["grip"]))

    @property
    def share_kg(self) -> float:
        return float(self.cleaned_data["load_kg"]) / int(self.cleaned_data["people"])
