"""What the desk says when it gives bills out."""

from __future__ import annotations

from django import forms

from inventory.forms.filters import DayInput
from jobs.services.bill_links import MOST_DAYS


class LinkForm(forms.Form):
    sent_to = forms.CharField(label="Who gets it", max_length=120, help_text="A name or an address, for the record.")
    days = forms.IntegerField(
        label="For how many days it holds", min_value=1, max_value=MOST_DAYS, initial=30, help_text="At most a year."
    )


class IssuedForm(forms.Form):
    """Bills by day of issue, both days included."""

    first = forms.DateField(label="Issued from", widget=DayInput)
    last = forms.DateField(label="to", widget=DayInput)

    def clean(self) -> dict[str, object]:
        said = super().clean() or {}
        if said.get("first") and said.get("last") and said["last"] < said["first"]:
            self.add_error("last", "The last day lies before the first.")
        return said
