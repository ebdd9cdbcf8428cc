"""What the manager says when settling a card: each way asks for what it needs and no more."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from inventory.forms.dockets import MomentInput
from inventory.lifecycle.kinds import Fitness
from inventory.models import Piece, Tag
from inventory.services.reviewing import Way
from inventory.tags.code import compact, format

MOST_CANDIDATES = 200


class SettleForm(forms.Form):
    """The fields one way needs; a reason may always be given."""

    def __init__(self, way: Way, candidates: QuerySet[Piece], data: Any = None) -> None:
        super().__init__(data, prefix=way.code)
        self.way = way
        if "piece" in way.needs:
            self.fields["piece"] = PieceField(candidates)
        if "when" in way.needs:
            self.fields["when"] = forms.DateTimeField(label="When", widget=MomentInput())
        if "grade" in way.needs:
            grades = [(g.value, g.value) for g in (Fitness.SOUND, Fitness.WATCH, Fitness.UNFIT)]
            self.fields["grade"] = forms.ChoiceField(label="Found", choices=grades)
        wanted = "reason" in way.needs
        self.fields["reason"] = forms.CharField(
            label="Why" if wanted else "Note", max_length=150, required=wanted, help_text="It stays with the record."
        )


class PieceField(forms.CharField):
    """The code of a piece, typed or scanned; those it may have been are offered."""

    def __init__(self, candidates: QuerySet[Piece]) -> None:
        labels = candidates.order_by("label").values_list("label", flat=True)[:MOST_CANDIDATES]
        self.candidates: Iterable[str] = [format(label) for label in labels]
        attrs = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        super().__init__(label="Tag", max_length=120, widget=forms.TextInput(attrs=attrs))
        if self.candidates:
            self.help_text = f"It may have been {', '.join(list(self.candidates)[:8])}."

    def clean(self, value: Any) -> Piece:
        code = compact(str(super().clean(value)).rstrip("/").rsplit("/", 1)[-1])
        tag = Tag.objects.select_related("piece").filter(code=code, piece__isnull=False).first()
        if tag is None or tag.piece is None:
            raise ValidationError("No piece carries this code. Read the tag again.")
        return tag.piece
