"""Where more gear can be had, the mill's bars, and what a site promised."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.models import GearType, YardSettings
from jobs.models import Chase, MillBar, Supply


class PricedForm(forms.ModelForm):
    """Says which currency its cost is in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cost"].label = f"{self.fields['cost'].label}, {YardSettings.current().currency}"


class SupplyForm(PricedForm):
    class Meta:
        model = Supply
        fields = ("type", "way", "cost", "lead_days", "most", "note")
        labels = {"cost": "Cost of one", "lead_days": "Working days until it is in our yard", "most": "How many"}
        help_texts = {"lead_days": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["type"].queryset = GearType.objects.filter(withdrawn=False)  # type: ignore[attr-defined]


class MillBarForm(PricedForm):
    class Meta:
        model = MillBar
        fields = ("section_mm", "length_mm", "cost", "count", "lead_days")
        labels = {
            "cost": "Cost of a bar",
            "count": "How many",
            "lead_days": "Working days until forms cut from it are ready",
        }
        help_texts = {"lead_days": ""}


class ChaseForm(forms.ModelForm):
    """What the site says; settled when it is back, or no longer wanted."""

    settled = forms.BooleanField(required=False, label="It is back, or no longer wanted")

    class Meta:
        model = Chase
        fields = ("promised_on",)
        labels = {"promised_on": "The day it leaves the site, as the site says"}
        help_texts = {"promised_on": ""}
        widgets = {"promised_on": DayInput()}
