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
    """`missing` is what the page showed: a piece seen meanwhile makes the close refused, not wrong."""

    lost = forms.TypedMultipleChoiceField(coerce=int, required=False)
    sure = forms.BooleanField(label="Every phone's queue is empty, and this is what was found")

    def __init__(self, missing: list[int], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lost"].choices = [(pk, pk) for pk in missing]  # type: ignore[attr-defined]
