"""Bringing in files: hand one in, look at what it would do, take it or drop it; and the same columns out again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import islice
from typing import Any, NamedTuple
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django_htmx.http import HttpResponseClientRefresh

from inventory.errors import Refused
from inventory.forms.stock import FileForm
from inventory.models import BroughtIn
from inventory.models.roles import Role
from inventory.services.importing import exporting, keeping
from inventory.services.importing.columns import COLUMNS, FileKind
from inventory.services.importing.findings import Checked, CheckedRow, Outcome
from inventory.services.work import ask_to_cancel
from inventory.tasks import take_file
from inventory.views.access import allow
from inventory.views.exporting import csv_response, xlsx_response
from inventory.views.who import person_of

MOST_SHOWN = 200
SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WORDS = {
    FileKind.TYPES: "the catalogue: each kind of edge form, bracket and bolt, with its measures and mass",
    FileKind.PIECES: "every tagged piece, one a row, known by its tag or by your own number",
    FileKind.COUNTED: "bolts, inserts and the like: how many were counted where",
}


def _kind(name: str) -> FileKind:
    try:
        return FileKind[name.upper()]
    except KeyError:
        raise Http404 from None


@allow(Role.MANAGER)
def imports(request: HttpRequest) -> HttpResponse:
    kinds = [
        {"slug": kind.name.lower(), "kind": kind, "words": WORDS[kind], "form": FileForm(auto_id=f"{kind.name}_%s")}
        for kind in FileKind
    ]
    recent = BroughtIn.objects.select_related("brought_by").defer("content")[:20]
    return render(request, "gear/imports.html", {"title": "Bring in", "kinds": kinds, "recent": recent})


@allow(Role.MANAGER)
def import_kind(request: HttpRequest, kind: str) -> HttpResponse:
    """Hand in a file of one kind."""
    wanted = _kind(kind)
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            held = keeping.keep(wanted, file.name, file.read(), by=person_of(request), now=timezone.now())
            return redirect("import", pk=held.pk)
        except Refused as refused:
            form.add_error("file", refused.sentence)
    context = {
        "title": f"Bring in {wanted.value}",
        "slug": kind,
        "words": WORDS[wanted],
        "form": form,
        "columns": COLUMNS[wanted],
    }
    return render(request, "gear/import_kind.html", context)


@allow(Role.MANAGER)
def import_file(request: HttpRequest, pk: UUID) -> HttpResponse:
    held = get_object_or_404(BroughtIn, pk=pk)
    if request.method == "POST":
        return _settle(request, held)
    taking = held.takings.first()
    context: dict[str, Any] = {"title": held.name, "held": held, "taking": taking}
    busy = taking is not None and not taking.is_over
    if getattr(request, "htmx", False):
        return render(request, "gear/taking.html", context) if busy else HttpResponseClientRefresh()
    if not (held.taken_at or held.dropped_at or busy):
        context |= _look(held)
    return render(request, "gear/import.html", context)


def _look(held: BroughtIn) -> dict[str, Any]:
    checked = keeping.look(held, timezone.now())
    counts = checked.counts
    return {
        "checked": checked,
        "counts": [(outcome.value, counts[outcome]) for outcome in Outcome],
        "faults": checked.all_faults[:MOST_SHOWN],
        "fault_count": len(checked.all_faults),
        "rows": list(islice(shown_rows(checked), MOST_SHOWN)),
        "most_shown": MOST_SHOWN,
    }


def _settle(request: HttpRequest, held: BroughtIn) -> HttpResponse:
    try:
        _SETTLED[request.POST.get("do", "")](request, held)
    except KeyError:
        messages.error(request, "Say whether to take the file or to drop it.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("import", pk=held.pk)


def _take(request: HttpRequest, held: BroughtIn) -> None:
    """A long file goes to the worker, so that neither this page nor anybody's scan waits for it."""
    now, by = timezone.now(), person_of(request)
    if keeping.is_long(held):
        take_file.enqueue(keeping.ask_taking(held, by=by, now=now).pk)
        messages.info(request, "The file is being taken. You may leave this page meanwhile.")
    else:
        messages.success(request, f"Taken: {keeping.accept(held, by=by, now=now)}.")


def _drop(request: HttpRequest, held: BroughtIn) -> None:
    keeping.drop(held, timezone.now())
    messages.success(request, "Dropped. Nothing more is taken from it.")


def _stop(request: HttpRequest, held: BroughtIn) -> None:
    for taking in held.takings.all()[:1]:
        ask_to_cancel(taking)
        messages.info(request, "It is asked to stop. What is on the books already stays there.")


_SETTLED: dict[str, Callable[[HttpRequest, BroughtIn], None]] = {"take": _take, "drop": _drop, "stop": _stop}


class ShownCell(NamedTuple):
    text: str
    faults: list[str]


class ShownRow(NamedTuple):
    row: CheckedRow
    cells: list[ShownCell]
    beside: list[str]


def shown_rows(checked: Checked) -> Iterable[ShownRow]:
    """Faulty rows first, then those that would do something, each cell with what is wrong with it."""
    rank = {Outcome.FAULTY: 0, Outcome.CHANGED: 1, Outcome.NEW: 2, Outcome.SAME: 3}
    headings = [" ".join(text.lower().replace("_", " ").split()) for text in checked.headings]
    for row in sorted(checked.rows, key=lambda row: (rank[row.outcome], row.line)):
        faults: dict[str, list[str]] = {}
        for fault in row.faults:
            faults.setdefault(fault.column.lower(), []).append(fault.sentence)
        texts = [*row.cells, *[""] * len(headings)]
        cells = [ShownCell(text, faults.pop(name, [])) for name, text in zip(headings, texts, strict=False)]
        yield ShownRow(row, cells, [sentence for rest in faults.values() for sentence in rest])


@allow(Role.MANAGER)
def import_template(_request: HttpRequest, kind: str) -> HttpResponse:
    wanted = _kind(kind)
    response = HttpResponse(exporting.template(wanted), content_type=SHEET_TYPE)
    response["Content-Disposition"] = f'attachment; filename="{kind}-template.xlsx"'
    return response


@allow(Role.MANAGER)
def import_export(_request: HttpRequest, kind: str, ending: str) -> HttpResponseBase:
    if ending not in ("csv", "xlsx"):
        raise Http404
    rows = exporting.rows(_kind(kind))
    return csv_response(rows, kind) if ending == "csv" else xlsx_response(rows, kind)
