"""Goods on order."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.models import Awaited, GearType, Place


class AwaitForm(forms.ModelForm):
    class Meta:
        model = Awaited
        fields = ("type", "place", "quantity", "due_on", "leaves_on", "note")
        widgets = {"due_on": DayInput(), "leaves_on": DayInput()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        types = GearType.objects.filter(withdrawn=False).exclude(kind=GearType.Kind.CRATE)
        self.fields["type"].queryset = types  # type: ignore[attr-defined]
        self.fields["place"].queryset = Place.objects.yards().in_use()  # type: ignore[attr-defined]


class CameForm(forms.Form):
    """What has become of an order: so many came, another day, or called off."""

    DONE = (("came", "they came"), ("later", "they come on another day"), ("off", "called off"))
    done = forms.ChoiceField(choices=DONE, widget=forms.RadioSelect, initial="came", label="What is it")
    quantity = forms.IntegerField(min_value=1, required=False, label="How many came")
    due_on = forms.DateField(required=False, widget=DayInput(), label="On which day instead")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for done, name in (("came", "quantity"), ("later", "due_on")):
            if said.get("done") == done and not said.get(name) and name not in self.errors:
                self.add_error(name, "Needed for that.")
        return said
