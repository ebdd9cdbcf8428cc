"""What if: one thing that may go wrong, or several at once."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from inventory.models import GearType, Place
from jobs.models import Job
from jobs.planning.fleet import Return


class YardForm(forms.Form):
    """Whose stock and jobs are looked at."""

    yard = forms.ModelChoiceField(Place.objects.yards().in_use(), required=False, empty_label="all yards together")
    asked = forms.BooleanField(required=False, label="Count jobs only asked for, as they were last checked")


class WhatIfForm(forms.Form):
    job = forms.ModelChoiceField(
        Job.objects.under_way(), required=False, empty_label="no job", label="This job runs late"
    )
    late = forms.IntegerField(min_value=1, max_value=250, required=False, label="by working days")
    not_back = forms.ChoiceField(required=False, label="This return does not come")
    type = forms.ModelChoiceField(
        GearType.objects.filter(withdrawn=False).exclude(kind=GearType.Kind.CRATE),
        required=False,
        empty_label="no type",
        label="Pieces of this type fail",
    )
    fail = forms.IntegerField(min_value=1, max_value=100_000, required=False, label="how many")

    def __init__(self, *args: Any, returns: list[Return], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        listed = [(f"{back.job}|{back.day.isoformat()}", f"{back.job}, {back.day:%a %d %b %Y}") for back in returns]
        self.fields["not_back"].choices = [("", "every one comes"), *listed]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for first, second in (("job", "late"), ("type", "fail")):
            if bool(said.get(first)) != bool(said.get(second)) and not self.errors:
                self.add_error(second if said.get(first) else first, "Give both, or neither.")
        return said

    def clean_not_back(self) -> tuple[str, date] | None:
        code, _, day = self.cleaned_data["not_back"].rpartition("|")
        return (code, date.fromisoformat(day)) if code else None
