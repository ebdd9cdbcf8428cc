"""Over which months, and grouped by what."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from inventory.selectors.periods import Period, month_after
from jobs.selectors.figures import BY

LONGEST_MONTHS = 120


class MonthInput(forms.DateInput):
    """The browser's own month picker; where it has none, a month is typed as 2026-11."""

    input_type = "month"

    def __init__(self) -> None:
        super().__init__(attrs={"placeholder": "2026-11"}, format="%Y-%m")


class FiguresForm(forms.Form):
    by = forms.ChoiceField(choices=[(name, f"by {words}") for name, words in BY.items()], label="Grouped")
    first = forms.DateField(input_formats=["%Y-%m"], widget=MonthInput(), label="From the month")
    last = forms.DateField(input_formats=["%Y-%m"], widget=MonthInput(), label="To the month")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        first, last = said.get("first"), said.get("last")
        if first and last and last < first:
            self.add_error("last", "The last month is not before the first.")
        elif first and last and last >= month_after(first, LONGEST_MONTHS):
            self.add_error("first", f"At most {LONGEST_MONTHS} months at once.")
        return said

    @property
    def period(self) -> Period:
        """As asked for, but not beyond today: nothing has been out or owned tomorrow."""
        said = self.cleaned_data
        after = min(month_after(said["last"]), timezone.localdate() + timedelta(days=1))
        return Period(said["first"], max(said["first"], after))

    @classmethod
    def of_the_last_year(cls) -> Period:
        form = cls(usual(timezone.localdate()))
        form.is_valid()
        return form.period


def usual(today: date) -> dict[str, str]:
    """The last twelve months, this one included."""
    return {"by": "type", "first": f"{month_after(today, -11):%Y-%m}", "last": f"{today:%Y-%m}"}
