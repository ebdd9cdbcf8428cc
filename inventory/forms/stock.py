"""Counting goods, packing crates, handing in a file, choosing labels."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.pieces import places_for_gear
from inventory.lifecycle.kinds import Fitness
from inventory.models import GearType, Place
from inventory.tags import code as tag_code
from inventory.tags.sheet import USUAL, Sheet, faults

COUNTED = GearType.objects.filter(tracked=GearType.Tracked.BY_COUNT, withdrawn=False)
TAGGED = GearType.objects.filter(tracked=GearType.Tracked.BY_TAG)


class RecountForm(forms.Form):
    type = forms.ModelChoiceField(COUNTED)
    place = forms.ModelChoiceField(Place.objects.none(), label="Where they were counted")
    condition = forms.ChoiceField(choices=[(f.value, f.value) for f in Fitness])
    quantity = forms.IntegerField(min_value=0, max_value=10_000_000, label="How many there are")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]


class CodesField(forms.CharField):
    """Tag codes, one after another as a scanner types them; out come the codes as stored, each once."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=200_000, widget=forms.Textarea(attrs={"rows": 5}), **kwargs)

    def clean(self, value: Any) -> list[str]:
        text = super().clean(value) or ""
        wrong: list[str] = []
        codes: dict[str, None] = {}
        for line in text.replace(",", "\n").replace(";", "\n").split("\n"):
            if not line.strip():
                continue
            try:
                codes[tag_code.validate(tag_code.from_scan(line))] = None
            except Refused as refused:
                wrong.append(f"“{line.strip()[:40]}”: {refused.sentence}")
        if wrong:
            raise forms.ValidationError(wrong[:10])
        return list(codes)


class PackForm(forms.Form):
    codes = CodesField(label="Tags to pack", help_text="One a line, as the scanner types them.")


class FileForm(forms.Form):
    file = forms.FileField(
        label="File", widget=forms.ClearableFileInput(attrs={"accept": ".csv,.xlsx,.txt"}), help_text="CSV or XLSX."
    )


def _mm(label: str, initial: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(0), max_digits=6, decimal_places=2, required=False, initial=Decimal(initial)
    )


class LabelForm(forms.Form):
    WHAT = (
        ("pieces", "pieces, by place and type"),
        ("codes", "these tags, one a line"),
        ("new", "new tags, to be fixed to pieces later"),
    )
    what = forms.ChoiceField(choices=WHAT, widget=forms.RadioSelect, initial="pieces", label="Print labels for")
    place = forms.ModelChoiceField(Place.objects.none(), required=False, empty_label="every place")
    type = forms.ModelChoiceField(TAGGED, required=False, empty_label="every type")
    codes = CodesField(required=False, label="Tags")
    count = forms.IntegerField(min_value=1, max_value=5000, required=False, label="How many new tags")
    copies = forms.ChoiceField(choices=[("1", "one a piece"), ("2", "two a piece, one for each end")], label="Labels")
    skip = forms.IntegerField(
        min_value=1, max_value=5000, initial=1, label="Start at label", help_text="For a sheet already begun."
    )
    sheet = forms.ChoiceField(
        choices=[*((name, words) for name, (words, _) in USUAL.items()), ("other", "another sheet, by its measures")]
    )
    page_width, page_height = _mm("Page width (mm)", "210"), _mm("Page height (mm)", "297")
    columns = forms.IntegerField(required=False, initial=3, label="Columns")
    rows = forms.IntegerField(required=False, initial=8, label="Rows")
    label_width, label_height = _mm("Label width (mm)", "70"), _mm("Label height (mm)", "37")
    margin_left, margin_top = _mm("Left margin (mm)", "0"), _mm("Top margin (mm)", "0")
    gap_across, gap_down = _mm("Gap across (mm)", "0"), _mm("Gap down (mm)", "0")
    MEASURES = (
        "page_width",
        "page_height",
        "columns",
        "rows",
        "label_width",
        "label_height",
        "margin_left",
        "margin_top",
        "gap_across",
        "gap_down",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("what") == "new" and not said.get("count"):
            self.add_error("count", "Say how many new tags.")
        if said.get("what") == "codes" and not said.get("codes") and "codes" not in self.errors:
            self.add_error("codes", "Give the tags to print.")
        if not self.errors:
            said["geometry"] = self._geometry(said)
        return said

    def _geometry(self, said: dict[str, Any]) -> Sheet | None:
        if said["sheet"] != "other":
            return USUAL[said["sheet"]][1]
        missing = [name for name in self.MEASURES if said.get(name) is None]
        for name in missing:
            self.add_error(name, "Needed for a sheet by its measures.")
        if missing:
            return None
        sheet = Sheet(**{name: said[name] for name in self.MEASURES})
        for sentence in faults(sheet):
            self.add_error("sheet", sentence)
        return sheet

    @property
    def measures(self) -> list[Any]:
        return [self[name] for name in self.MEASURES]

    @property
    def choices(self) -> list[Any]:
        return [self[name] for name in self.fields if name not in self.MEASURES]
