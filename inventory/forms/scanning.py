"""What a scan page sends: what one is doing, where, and the code as it was read."""

from __future__ import annotations

from django import forms
from django.db import models

from inventory.models import DamageReason, Docket, Place


class Doing(models.TextChoices):
    """What the hands are doing, in plain verbs."""

    LOAD = "load", "Load a truck"
    ARRIVE = "arrive", "Count off a truck"
    SET = "set", "Set in a pour"
    STRIP = "strip", "Strip from a pour"
    NOT_IN = "not-in", "Was not in the pour"
    CLEAN = "clean", "Clean"
    DAMAGE = "damage", "Something is bent"
    COUNT = "count", "Count in a stocktake"
    LOOK_UP = "look-up", "Look up"


ON_A_DOCKET = frozenset({Doing.LOAD, Doing.ARRIVE})
AT_A_POUR = frozenset({Doing.SET, Doing.STRIP, Doing.NOT_IN})
AT_A_PLACE = frozenset({Doing.CLEAN, Doing.DAMAGE, Doing.COUNT}) | AT_A_POUR


class ScanForm(forms.Form):
    doing = forms.ChoiceField(choices=Doing.choices)
    code = forms.CharField(max_length=200)
    docket = forms.ModelChoiceField(Docket.objects.open().select_related("from_place", "to_place"), required=False)
    place = forms.ModelChoiceField(Place.objects.in_use(), required=False)
    state = forms.ChoiceField(choices=[("dirty", "dirty"), ("clean", "clean")], required=False)
    reason = forms.ModelChoiceField(DamageReason.objects.filter(withdrawn=False), required=False)
    override = forms.CharField(max_length=200, required=False)
    typed = forms.BooleanField(required=False)

    def clean(self) -> dict[str, object]:
        said = super().clean() or {}
        if said.get("doing") in ON_A_DOCKET and not said.get("docket"):
            raise forms.ValidationError("Choose the docket first. It may have been closed meanwhile.")
        if said.get("doing") in AT_A_PLACE and not said.get("place"):
            raise forms.ValidationError("Say where you are first.")
        if said.get("doing") == Doing.DAMAGE and not said.get("reason"):
            raise forms.ValidationError("Say what is wrong with it, then scan.")
        return said
