"""Where more gear can be had, the mill's bars, and what a site promised."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.models import Awaited, GearType, YardSettings
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
        help_texts = {
            "lead_days": "",
            "most": "Empty for any number. To buy, how many there are in all: every order not called off is taken off. "
            "To hire in, how many we may have at any one time: an order is taken off until it goes back.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["type"].queryset = GearType.objects.filter(withdrawn=False)  # type: ignore[attr-defined]


class OrderChoice(forms.ModelMultipleChoiceField):
    def label_from_instance(self, order: Awaited) -> str:
        what = f"{order.quantity:,} to {order.place}, due {order.due_on:%a} {order.due_on.day} {order.due_on:%b %Y}"
        return f"{what}: {order.note}" if order.note else what


class SupplyOrdersForm(forms.Form):
    """Which of the open orders of a type are from one supply."""

    orders = OrderChoice(
        Awaited.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Orders from it",
        help_text="Open orders of this type that count against no other supply.",
    )

    def __init__(self, open_ones: Mapping[int, bool], *args: Any, **kwargs: Any) -> None:
        """`open_ones` say of each open order, by number, whether it counts now."""
        kwargs["initial"] = {"orders": [pk for pk, counts in open_ones.items() if counts]}
        super().__init__(*args, **kwargs)
        rows = Awaited.objects.filter(pk__in=open_ones).select_related("place__parent")
        self.fields["orders"].queryset = rows  # type: ignore[attr-defined]


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
