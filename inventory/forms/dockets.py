"""What is written on a docket by hand."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils import timezone

from inventory.forms.filters import DayInput
from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import DamageReason, GearType, HandCount, Place

STROKES = re.compile(r"^[ML0-9 .]*$")
LONGEST_SIGNATURE = 20_000


class MomentInput(forms.DateTimeInput):
    input_type = "datetime-local"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M")


class OpenDocketForm(forms.Form):
    from_place = forms.ModelChoiceField(Place.objects.none(), label="From")
    to_place = forms.ModelChoiceField(Place.objects.none(), label="To")
    planned_on = forms.DateField(label="Planned for", required=False, widget=DayInput())
    vehicle = forms.CharField(label="Truck", max_length=40, required=False, help_text="Its plate or its own name.")
    payload_limit_kg = forms.IntegerField(
        label="Payload limit (kg)",
        min_value=1,
        required=False,
        help_text="From the truck's own plate. How a load is spread and tied is the driver's and the local code's.",
    )
    driver = forms.CharField(max_length=80, required=False)
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ends = Place.objects.in_use().filter(kind__in=[PlaceKind.YARD, PlaceKind.SITE])
        for name in ("from_place", "to_place"):
            self.fields[name].queryset = ends  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("from_place") and said.get("from_place") == said.get("to_place"):
            self.add_error("to_place", "A docket goes from one place to another. Choose two different places.")
        return said


class WantForm(forms.Form):
    type = forms.ModelChoiceField(GearType.objects.filter(withdrawn=False), label="Type")
    quantity = forms.IntegerField(min_value=0, max_value=100_000, help_text="Nought takes the line off.")


class SignedForm(forms.Form):
    """A name, a drawn signature (strokes as an SVG path), and when."""

    signed_by = forms.CharField(label="Name of who signs", max_length=80)
    signature = forms.CharField(required=False, widget=forms.HiddenInput, max_length=LONGEST_SIGNATURE)
    at = forms.DateTimeField(label="When", widget=MomentInput(), required=False, help_text="Now, if left empty.")

    def clean_signature(self) -> str:
        strokes = self.cleaned_data["signature"]
        if not STROKES.fullmatch(strokes):
            raise forms.ValidationError("The signature could not be read. Clear it and sign again.")
        return strokes

    def clean_at(self) -> Any:
        at = self.cleaned_data["at"]
        if at is not None and at > timezone.now():
            raise forms.ValidationError("This is in the future. Give the time it happened.")
        return at


class LeaveForm(SignedForm):
    vehicle = forms.CharField(label="Truck", max_length=40)
    driver = forms.CharField(max_length=80)
    overload_reason = forms.CharField(
        label="Reason, if over the limit",
        max_length=200,
        required=False,
        help_text="Only the yard manager, and only where the limit given here is wrong. An overloaded truck stays.",
    )
    field_order = ("vehicle", "driver", "signed_by", "at", "overload_reason", "signature")

    def __init__(self, *args: Any, manager: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not manager:
            del self.fields["overload_reason"]


class ReceiveForm(SignedForm):
    whole = forms.BooleanField(
        label="All that was loaded has come; exceptions follow one by one",
        required=False,
    )
    field_order = ("signed_by", "at", "whole", "signature")


class GoodsForm(forms.Form):
    """Counted goods, onto the truck or off it."""

    type = forms.ModelChoiceField(
        GearType.objects.filter(tracked=GearType.Tracked.BY_COUNT, withdrawn=False), label="Counted goods"
    )
    quantity = forms.IntegerField(min_value=1, max_value=1_000_000)
    condition = forms.ChoiceField(choices=[(word.value, word.value) for word in Fitness], initial=Fitness.SOUND)


class UntaggedForm(forms.Form):
    """A piece whose tag cannot be read: its type, and how it is."""

    type = forms.ModelChoiceField(
        GearType.objects.filter(tracked=GearType.Tracked.BY_TAG, withdrawn=False), label="What it is"
    )
    dirty = forms.ChoiceField(label="Clean or dirty", choices=[("dirty", "dirty"), ("clean", "clean")])
    reason = forms.ModelChoiceField(
        DamageReason.objects.filter(withdrawn=False), label="Damage", required=False, empty_label="none seen"
    )


class CountForm(forms.Form):
    """One number a type, for one of the three who count."""

    who = forms.ChoiceField(label="Whose count", choices=HandCount.By.choices)

    def __init__(self, *args: Any, types: list[GearType], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for type_ in types:
            self.fields[f"type_{type_.pk}"] = forms.IntegerField(
                label=type_.name, min_value=0, max_value=1_000_000, required=False
            )

    def counts(self) -> dict[int, int]:
        given = ((name, value) for name, value in self.cleaned_data.items() if name.startswith("type_"))
        return {int(name[5:]): value for name, value in given if value is not None}
