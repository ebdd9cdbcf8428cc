"""A page of one form and one deed: shown, sent, done; or shown again with what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory.errors import Refused


def one_form(
    request: HttpRequest,
    form: forms.Form,
    does: Callable[[dict[str, Any]], str],
    template: str,
    context: dict[str, Any],
) -> HttpResponse:
    """`does` takes what was said, does it, says so, and gives the address to go on to. What it refuses stands above
    the form, with all that was entered."""
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(does(form.cleaned_data))
        except Refused as refused:
            form.add_error(None, refused.sentence)
        except ValidationError as faults:
            form.add_error(None, faults)
    return render(request, template, {"form": form} | context)
