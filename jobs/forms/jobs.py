"""Customers and jobs, as they are entered."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.models import Place
from jobs.models import Customer, Job
from jobs.models.parties import PARTY_FIELDS

FIGURES = (
    "corner_allowance_mm",
    "max_overrun_mm",
    "max_filler_mm",
    "form_width_mm",
    "max_pieces_per_run",
    "piece_handling_mm",
    "joint_handling_mm",
    "max_step_in_mm",
    "max_overhang_mm",
    "crews",
    "set_days_before_cast",
    "cure_hours",
    "strip_days",
    "reset_same_day",
    "transport_days",
    "transfer_days",
    "turnround_days",
    "clean_first_days",
    "mend_first_days",
    "cycle_days",
    "most_panels_a_day",
    "most_panels_a_crew",
)
LABELS = {
    "corner_allowance_mm": "Corner allowance (mm)",
    "max_overrun_mm": "Greatest overrun (mm)",
    "max_filler_mm": "Greatest filler in a closed run (mm)",
    "form_width_mm": "Form stands out from the face by (mm)",
    "max_pieces_per_run": "Most pieces in a run",
    "piece_handling_mm": "Handling a piece is worth (mm of form)",
    "joint_handling_mm": "Handling a joint is worth (mm of form)",
    "max_step_in_mm": "Greatest step-in (mm)",
    "max_overhang_mm": "Greatest overhang (mm)",
    "set_days_before_cast": "Set before the cast (days)",
    "cure_hours": "Cure (hours)",
    "strip_days": "Strip and clean (days)",
    "transport_days": "Transport each way (days)",
    "transfer_days": "Transfer from another yard (days)",
    "turnround_days": "Count and clean when back (days)",
    "clean_first_days": "Clean a piece that goes first (days)",
    "mend_first_days": "Mend a piece that goes first (days)",
    "cycle_days": "From one level of a stack to the next (days)",
    "most_panels_a_day": "Most panels cast in a day",
    "most_panels_a_crew": "Most panels a crew casts in a day",
    "starts_on": "Starts on",
    "ends_on": "Gear due back on",
    "yard": "Sent from",
}
HELP = {
    "code": "Your own short name for it, such as J-110.",
    "starts_on": "When work on site begins; when gear goes out follows from its pours.",
    "ends_on": "As agreed. Left empty: once the last pour is stripped and cleaned.",
}


class CustomerForm(forms.ModelForm):
    class Meta:
        model = Customer
        fields = (
            *("code", "name", "contact", "email", "phone", "address"),
            *(*PARTY_FIELDS, "buyer_reference", "payment_days"),
        )
        widgets = {"address": forms.Textarea({"rows": 3})}


class JobForm(forms.ModelForm):
    """Everything of a job but its site and its stage."""

    class Meta:
        model = Job
        fields = ("code", "name", "customer", "yard", "starts_on", "ends_on", "note", *FIGURES)
        labels = LABELS
        help_texts = HELP
        widgets = {"starts_on": DayInput(), "ends_on": DayInput(), "note": forms.Textarea({"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["yard"].queryset = Place.objects.yards().in_use()  # type: ignore[attr-defined]


class NewJobForm(JobForm):
    """A job asked for; its own figures keep their defaults until they are changed."""

    site_address = forms.CharField(required=False, widget=forms.Textarea({"rows": 2}))

    class Meta(JobForm.Meta):
        fields = ("code", "name", "customer", "yard", "starts_on", "ends_on", "max_overrun_mm", "cure_hours", "note")  # type: ignore[assignment]
