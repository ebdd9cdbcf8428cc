"""Reads a cover check's request from JSON, refusing what is unsound with the field named.

>>> from jobs.errors import BadRequest
>>> try:
...     read_request('{"rules": {}, "pieces": [], "runs": []}')
... except BadRequest as fault:
...     print(fault)
rules.corner_allowance_mm: is missing; give it.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from jobs.errors import BadRequest
from jobs.planning.request import CoverRequest, PieceType, Rules, Run
from jobs.planning.schemas import read_json, require_valid


def read_request(text: str | bytes) -> CoverRequest:
    """The request in a JSON text."""
    return parse_request(read_json(text))


def parse_request(data: Any) -> CoverRequest:
    """The request in a JSON value, checked against its schema and against what a schema cannot say."""
    require_valid("check_cover.request", data)
    request = stored_request(data)
    _refuse_second_codes(request)
    _refuse_second_sides(request)
    return request


def stored_request(data: Any) -> CoverRequest:
    """A request that was sound when it was stored. Of 800 runs the schema takes a second to go through."""
    return CoverRequest(
        rules=_rules(data["rules"]),
        pieces=tuple(_piece(item, f"pieces[{at}]") for at, item in enumerate(data["pieces"])),
        runs=tuple(_run(item, f"runs[{at}]") for at, item in enumerate(data["runs"])),
        ask=data.get("ask", "plan"),
    )


def _rules(item: dict[str, Any]) -> Rules:
    return Rules(
        corner_allowance_mm=int(item["corner_allowance_mm"]),
        max_overrun_mm=int(item["max_overrun_mm"]),
        max_pieces_per_run=int(item["max_pieces_per_run"]),
        piece_handling_mm=int(item["piece_handling_mm"]),
        joint_handling_mm=int(item["joint_handling_mm"]),
        ends=item.get("ends", "splayed"),
    )


def _piece(item: dict[str, Any], field: str) -> PieceType:
    steps: dict[date, int] = {}
    for at, (text, count) in enumerate(item["on_hand"]):
        since = _day(text, f"{field}.on_hand[{at}][0]")
        if since in steps:
            raise BadRequest(f"{field}.on_hand[{at}][0]", f"{since} already has a step; give one count a day.")
        steps[since] = int(count)
    return PieceType(
        code=item["code"],
        section_mm=int(item["section_mm"]),
        length_mm=int(item["length_mm"]),
        splayed_ends=int(item["splayed_ends"]),
        on_hand=tuple(sorted(steps.items())),
    )


def _run(item: dict[str, Any], field: str) -> Run:
    start, until = _day(item["from"], f"{field}.from"), _day(item["until"], f"{field}.until")
    if until <= start:
        raise BadRequest(f"{field}.until", f"must be after from, {start}; a run holds its gear at least a day.")
    allowance, overrun = item.get("corner_allowance_mm"), item.get("max_overrun_mm")
    return Run(
        pour=item["pour"],
        side=item["side"],
        section_mm=int(item["section_mm"]),
        length_mm=int(item["length_mm"]),
        start=start,
        until=until,
        seats=int(item.get("seats", 1)),
        corner_allowance_mm=None if allowance is None else int(allowance),
        max_overrun_mm=None if overrun is None else int(overrun),
    )


def _day(text: str, field: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadRequest(field, f"{text} is not a day in the calendar.") from None


def _refuse_second_codes(request: CoverRequest) -> None:
    seen: dict[str, int] = {}
    for at, piece in enumerate(request.pieces):
        if piece.code in seen:
            raise BadRequest(f"pieces[{at}].code", f"{piece.code} is already the code of pieces[{seen[piece.code]}].")
        seen[piece.code] = at


def _refuse_second_sides(request: CoverRequest) -> None:
    seen: dict[tuple[str, str], int] = {}
    for at, run in enumerate(request.runs):
        key = (str(run.pour), str(run.side))
        if key in seen:
            raise BadRequest(
                f"runs[{at}].side",
                f"pour {run.pour} side {run.side} is already runs[{seen[key]}]; name sides apart.",
            )
        seen[key] = at
