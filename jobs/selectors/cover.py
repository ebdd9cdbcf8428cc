"""The question of a cover check, built from the job, its panels, its dates and the stock over time."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from inventory.models import GearType
from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.planning.availability import Steps
from jobs.planning.panels import Panel
from jobs.planning.pours import PourDays
from jobs.planning.request import CoverRequest, PieceType, Rules, Run
from jobs.planning.runs import runs_of_all
from jobs.selectors.cutlist import run_rules, site_made
from jobs.selectors.goods import goods_for
from jobs.selectors.panels import planned_panels, sections
from jobs.selectors.plans import Plan, read_plan
from jobs.selectors.pours import days_of, job_calendar
from jobs.selectors.stock import stock_for


def build_request(job: Job, today: date) -> CoverRequest:
    """What the engine is asked about the pours that still need their gear; sides made up on site are left out.

    Raises Refused ("nothing-to-check").
    """
    calendar = job_calendar(job, today)
    days = days_of(job, calendar)
    panels = [panel for panel in planned_panels(job) if days[panel.pour].free > today]
    if not panels:
        raise Refused("nothing-to-check", "This job has no panel still to be cast. Bring in its panel schedule first.")
    runs = _runs(job, panels, days, site_made(job, panels))
    if not runs:
        raise Refused("nothing-to-check", "No side of these panels takes an edge form: there is nothing to check.")
    return CoverRequest(_rules(job), _pieces(job, panels, runs, today, calendar), runs)


def _rules(job: Job) -> Rules:
    return Rules(
        corner_allowance_mm=job.corner_allowance_mm,
        max_overrun_mm=job.max_overrun_mm,
        max_pieces_per_run=job.max_pieces_per_run,
        piece_handling_mm=job.piece_handling_mm,
        joint_handling_mm=job.joint_handling_mm,
    )


def _runs(job: Job, panels: Sequence[Panel], days: dict[str, PourDays], left_out: Collection[str]) -> tuple[Run, ...]:
    pour_of = {panel.mark: panel.pour for panel in panels}
    return tuple(
        Run(
            pour=pour_of[run.panel],
            side=run.key,
            section_mm=run.section_mm,
            length_mm=run.length_mm,
            start=days[pour_of[run.panel]].set,
            until=days[pour_of[run.panel]].free,
            seats=run.seats,
            corner_allowance_mm=run.corner_allowance_mm,
            max_overrun_mm=run.max_overrun_mm,
        )
        for run in runs_of_all(panels, run_rules(job))
        if run.key not in left_out
    )


def _pieces(
    job: Job, panels: Sequence[Panel], runs: Sequence[Run], today: date, calendar: WorkingCalendar
) -> tuple[PieceType, ...]:
    """Every edge form of the sections that are needed, those with none on hand included: one may be short of them."""
    forms = GearType.objects.filter(kind=GearType.Kind.EDGE_FORM, withdrawn=False, section_mm__in=sections(panels))
    forms = forms.order_by("section_mm", "length_mm", "code")
    span = (min(run.start for run in runs), max(run.until for run in runs)) if runs else (today, today)
    stock = stock_for(job, [form.code for form in forms], span, today, calendar)
    return tuple(
        PieceType(form.code, form.section_mm or 0, form.length_mm or 0, form.splayed_ends, _nonzero(stock[form.code]))
        for form in forms
    )


def _nonzero(steps: Steps) -> Steps:
    """Before its first step nothing is on hand, so a first step of none says nothing."""
    return steps[1:] if steps and steps[0][1] == 0 else steps


def request_as_json(request: CoverRequest) -> dict[str, Any]:
    """As the published schema of the request has it."""
    rules = request.rules
    return {
        "rules": {
            "corner_allowance_mm": rules.corner_allowance_mm,
            "max_overrun_mm": rules.max_overrun_mm,
            "max_pieces_per_run": rules.max_pieces_per_run,
            "piece_handling_mm": rules.piece_handling_mm,
            "joint_handling_mm": rules.joint_handling_mm,
            "ends": rules.ends,
        },
        "pieces": [_piece_as_json(piece) for piece in request.pieces],
        "runs": [_run_as_json(run) for run in request.runs],
    }


def _piece_as_json(piece: PieceType) -> dict[str, Any]:
    return {
        "code": piece.code,
        "section_mm": piece.section_mm,
        "length_mm": piece.length_mm,
        "splayed_ends": piece.splayed_ends,
        "on_hand": [[day.isoformat(), count] for day, count in piece.on_hand],
    }


def _run_as_json(run: Run) -> dict[str, Any]:
    return {
        "pour": run.pour,
        "side": run.side,
        "section_mm": run.section_mm,
        "length_mm": run.length_mm,
        "from": run.start.isoformat(),
        "until": run.until.isoformat(),
        "seats": run.seats,
        "corner_allowance_mm": run.corner_allowance_mm,
        "max_overrun_mm": run.max_overrun_mm,
    }


def digest_of(request: dict[str, Any]) -> str:
    """Two requests with one digest ask the same."""
    return hashlib.sha256(json.dumps(request, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def is_stale(check: CoverCheck, today: date, plan: Plan | None = None) -> bool:
    """Whether the question asked now would be another one. `plan` is the check's, where it is read already."""
    try:
        if digest_of(request_as_json(build_request(check.job, today))) != check.digest:
            return True
    except Refused:
        return True
    return bool(check.answer) and goods_of(check, today, plan) != check.goods


def goods_of(check: CoverCheck, today: date, plan: Plan | None = None) -> list[dict[str, Any]]:
    """What the composed runs of an answer need beside the edge forms, and what there is of it now."""
    return [goods.as_json() for goods in goods_for(check.job, (plan or read_plan(check)).cut_list(), today)]
