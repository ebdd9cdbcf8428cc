"""Opening a stocktake, and closing it: which of the missing pieces are written off."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Place, Stocktake


class OpenForm(forms.Form):
    place = forms.ModelChoiceField(
        Place.objects.none(), label="Yard or site", help_text="Its wash bay, workshop and pours are counted with it."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = Place.objects.in_use().exclude(stocktakes__in=Stocktake.objects.open())
        there = free.filter(kind__in=[PlaceKind.YARD, PlaceKind.SITE]).order_by("kind", "name")
        self.fields["place"].queryset = there  # type: ignore[attr-defined]


class CloseForm(forms.Form):
    charge = forms.ChoiceField(
        choices=[("no", "charge nobody"), ("yes", "charge the job whose site this is, at what its terms say")],
        initial="no",
        required=False,
        widget=forms.RadioSelect,
        label="What is written off",
        help_text="“Charge nobody” makes it the yard’s own loss, at its replacement value.",
    )
    sure = forms.BooleanField(label="Every phone's queue is empty, and this is what was found")
