"""Gear cleaned in bulk."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.forms.pieces import places_for_gear
from inventory.forms.stock import CodesField
from inventory.models import Piece, Place


class CleanForm(forms.Form):
    """Marked in the list, or scanned one after another."""

    pieces = forms.ModelMultipleChoiceField(Piece.objects.dirty(), required=False, widget=forms.MultipleHiddenInput)
    codes = CodesField(required=False, label="Scanned clean", help_text="One a line, as the scanner types them.")
    place = forms.ModelChoiceField(
        Place.objects.none(), required=False, empty_label="where the record has them", label="Cleaned at"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = places_for_gear()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not said.get("pieces") and not said.get("codes") and not self.errors:
            self.add_error("codes", "Scan what is clean, or mark it in the list below.")
        return said
