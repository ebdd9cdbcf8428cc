"""A page with one form and one press."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from jobs.errors import Refused


def one_form(request: HttpRequest, form: BaseForm, does: Callable[[], tuple[str, str]], **context: Any) -> HttpResponse:
    """Shows the form; sent and valid, `does` acts on it and gives what to say and where to go then.

    What it refuses is said at the form. `context` has title, press, up and up_words, and a `template` that extends
    the usual one where the page shows more.
    """
    if request.method == "POST" and form.is_valid():
        try:
            said, then = does()
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            messages.success(request, said)
            return redirect(then)
    return render(request, context.pop("template", "jobs/form.html"), {"form": form, **context})
