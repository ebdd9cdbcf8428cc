"""Saying yes to a job that the stock does not cover needs a reason."""

from __future__ import annotations

from django import forms


class AcceptShortForm(forms.Form):
    though_short = forms.CharField(
        label="Why it is accepted although short",
        max_length=200,
        help_text="For example what is hired in or bought, and when it comes. The reason stays on the job.",
    )
