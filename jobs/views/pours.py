"""Moving a pour: what would move with it, before it is moved."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.views.access import allow
from jobs.errors import Refused
from jobs.forms.schedules import MoveForm
from jobs.models import Pour
from jobs.services.pours import move_pour, preview_pour_move
from jobs.views.jobs import PLANNERS


@allow(*PLANNERS)
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """GET with a day shows what it does; POST with the same day does it."""
    pour = get_object_or_404(Pour.objects.select_related("job"), pk=pk)
    form = MoveForm(request.POST or request.GET or None)
    context = {"title": f"Move {pour.name}", "pour": pour, "form": form, "move": None}
    if form.is_bound and form.is_valid():
        day = form.cleaned_data["cast_on"]
        try:
            if request.method == "POST":
                moved = move_pour(pour=pour, cast_on=day)
                some = "1 pour is" if len(moved.moved) == 1 else f"{len(moved.moved)} pours are"
                messages.success(request, f"{some} moved. A cover check made before is out of date.")
                return redirect("job", pour.job_id)
            context |= {
                "move": preview_pour_move(pour=pour, cast_on=day),
                "day": day,
                "past": day < timezone.localdate(),
            }
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return render(request, "jobs/move.html", context)
