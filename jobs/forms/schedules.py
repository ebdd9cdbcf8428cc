"""Bringing in a panel schedule, and moving a pour."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from jobs.errors import Refused
from jobs.services.schedule_files import Rows, read_rows


class ScheduleForm(forms.Form):
    file = forms.FileField(
        label="Panel schedule", help_text="CSV or XLSX, one row a panel, under a heading. Lengths in mm."
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        try:
            self.rows: Rows = read_rows(file.name, file.read())
        except Refused as refused:
            raise forms.ValidationError(refused.sentence, refused.code) from refused
        return file


class MoveForm(forms.Form):
    cast_on = forms.DateField(label="Cast on instead", widget=DayInput())
