"""What can be said about one piece."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.filters import DayInput
from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import GearType, HiredIn, Piece, Place, Tag
from inventory.tags import code as tag_code
from inventory.tags import giai


def places_for_gear() -> Any:
    return Place.objects.in_use().exclude(kind=PlaceKind.POUR).select_related("parent")


class TagField(forms.CharField):
    """A tag code as typed or scanned, with its check character; comes out as stored."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=200, widget=forms.TextInput(attrs={"autocapitalize": "characters"}), **kwargs)

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        if not text:
            return ""
        try:
            return tag_code.validate(tag_code.from_scan(text))
        except Refused as refused:
            raise forms.ValidationError(refused.sentence, code=refused.code) from None


class NoteForm(forms.Form):
    note = forms.CharField(max_length=200, required=False, label="Anything to add")

    def data_said(self) -> dict[str, Any]:
        return {"note": self.cleaned_data["note"]}


class FoundForm(forms.Form):
    place = forms.ModelChoiceField(Place.objects.none(), label="Where it is")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]

    def data_said(self) -> dict[str, Any]:
        return {}


class RetagForm(forms.Form):
    code = TagField(label="Code on the new tag")
    withdraw = forms.ChoiceField(required=False, label="It replaces")

    def __init__(self, piece: Piece, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        live = piece.tags.filter(withdrawn_at=None)
        choices = [(tag.code, tag_code.format(tag.code)) for tag in live]
        self.fields["withdraw"].choices = [*choices, ("", "none: it is a further tag")]  # type: ignore[attr-defined]


class DetailsForm(forms.ModelForm):
    """What is not in the ledger: it may be put right without a trace."""

    class Meta:
        model = Piece
        fields = ["own_number", "giai", "bought_on", "cost", "maker_batch", "note"]
        widgets = {"bought_on": DayInput()}

    def clean_own_number(self) -> str | None:
        return self.cleaned_data["own_number"] or None

    def clean_giai(self) -> str | None:
        try:
            return giai.validate(self.cleaned_data["giai"]) if self.cleaned_data["giai"] else None
        except Refused as refused:
            raise forms.ValidationError(refused.sentence, code=refused.code) from None


class HiredInForm(forms.ModelForm):
    """Whose it is, under what number, until when and at what cost a day."""

    class Meta:
        model = HiredIn
        fields = ["owner", "their_number", "due_back", "cost_day"]
        labels = {"owner": "Whose it is", "due_back": "Due back", "cost_day": "Costs us a day"}
        widgets = {"due_back": DayInput()}


class NewPieceForm(forms.Form):
    type = forms.ModelChoiceField(GearType.objects.filter(tracked=GearType.Tracked.BY_TAG, withdrawn=False))
    code = TagField(label="Code on its tag")
    second = TagField(required=False, label="Code on a second tag", help_text="At the other end, if it has one.")
    own_number = forms.CharField(max_length=40, required=False, label="Your own number")
    place = forms.ModelChoiceField(Place.objects.none(), label="Where it is")
    fitness = forms.ChoiceField(choices=[(f.value, f.value) for f in Fitness], label="Condition")
    dirty = forms.BooleanField(required=False, label="It is dirty")
    uses = forms.IntegerField(min_value=0, max_value=100_000, initial=0, label="Times cast so far")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]

    def clean_code(self) -> str:
        return self._free(self.cleaned_data["code"])

    def clean_second(self) -> str:
        return self._free(self.cleaned_data["second"])

    def _free(self, code: str) -> str:
        if code and Tag.objects.filter(code=code).exclude(piece=None).exists():
            raise forms.ValidationError("This tag is on a piece already. A tag is never used again.")
        return code

    def clean_own_number(self) -> str | None:
        number = self.cleaned_data["own_number"] or None
        if number and Piece.objects.filter(own_number=number).exists():
            raise forms.ValidationError("Another piece has this number.")
        return number
