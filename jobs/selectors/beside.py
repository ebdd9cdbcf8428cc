"""What is worked out beside the answer of a cover check and kept with it: why it is short, what other jobs have
reserved day by day, and what runs composed one by one would take."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from jobs.models import CoverCheck, Job
from jobs.planning.answer import CoverAnswer
from jobs.planning.checker import measures_of
from jobs.planning.explain import SharedDays, ShortDay, reasons_short
from jobs.planning.findings import metres
from jobs.planning.one_by_one import compose_one_by_one, gear_cost, greatest_use
from jobs.planning.remedies.words import listed
from jobs.planning.request import CoverRequest
from jobs.selectors.plans import days_between, span_of
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import claims_of_others, whereabouts

# So many further days that fall behind a proof names.
MOST_DAYS = 6


def beside_of(job: Job, request: CoverRequest, answer: CoverAnswer, today: date) -> dict[str, Any]:
    """All of it as plain values."""
    return {
        "why": [_reason_as_json(reason) for reason in reasons_short(request, answer)] if answer.short else [],
        "reserved": reserved_by_others(job, request, today),
        "one_by_one": _one_by_one(request),
    }


def reserved_by_others(job: Job, request: CoverRequest, today: date) -> dict[str, list[list[Any]]]:
    """By section, steps (day, mm): what other jobs have reserved or hold on the days of this one."""
    lengths = {piece.code: (piece.section_mm, piece.length_mm) for piece in request.pieces}
    span = span_of(request.runs)
    calendar = job_calendar(job, today, *span)
    found = whereabouts(job, lengths, today, calendar)
    claims = claims_of_others(job, lengths, found, today, calendar)
    steps: dict[str, list[list[Any]]] = defaultdict(list)
    for day in days_between(*span):
        taken: Counter[int] = Counter()
        for claim in claims:
            section, length = lengths[claim.code]
            taken[section] += claim.taken_on(day) * length
        for section in {section for section, _ in lengths.values()}:
            known = steps[str(section)]
            if not known or known[-1][1] != taken[section]:
                known.append([day.isoformat(), taken[section]])
    return dict(steps)


def _one_by_one(request: CoverRequest) -> dict[str, int]:
    composed = compose_one_by_one(request)
    use = greatest_use(request, composed)
    return {
        "pieces": sum(use.values()),
        "cost_mm": gear_cost(request, composed, use),
        "short_mm": measures_of(request, composed).short_mm,
    }


def _reason_as_json(reason: ShortDay | SharedDays) -> dict[str, Any]:
    if isinstance(reason, ShortDay):
        return {
            "section_mm": reason.section_mm,
            "day": reason.day.isoformat(),
            "wanted": reason.wanted,
            "can_make": reason.can_make,
            "wanted_mm": reason.wanted_mm,
            "on_hand_mm": reason.on_hand_mm,
            "also": [[each.day.isoformat(), each.wanted, each.can_make] for each in reason.also],
        }
    return {
        "section_mm": reason.section_mm,
        "days": [day.isoformat() for day in reason.days],
        "short_mm": reason.short_mm,
    }


def proof_sentences(check: CoverCheck) -> list[str]:
    """Why the check is short, in words and numbers that can be checked by hand."""
    if "why" not in check.beside:
        return []  # answered before reasons were kept
    why = check.beside["why"]
    told = {reason["section_mm"] for reason in why}
    return [_proof(reason) for reason in why] + [_untold(check, at) for at in _short_sections(check) if at not in told]


def _short_sections(check: CoverCheck) -> list[int]:
    section_of = {piece["code"]: piece["section_mm"] for piece in check.request["pieces"]}
    return sorted({section_of[short["code"]] for short in (check.answer or {}).get("short", [])})


def _untold(check: CoverCheck, section_mm: int) -> str:
    """For a section whose lack no day shows in numbers: it comes of pieces being whole, or is not proved."""
    answer = check.answer or {}
    if answer["short_bound_mm"] == answer["short_mm"]:
        return (
            f"In section {section_mm} mm every day could be met if pieces could be shared in parts. They are whole, "
            "and the search has proved that no choice of whole pieces lacks less than this plan."
        )
    return (
        f"In section {section_mm} mm this plan lacks some, but no day proves that it must: a longer search may find a "
        "plan that lacks less, or nothing."
    )


def _proof(reason: Mapping[str, Any]) -> str:
    section = f"section {reason['section_mm']} mm"
    if "day" in reason:
        many, few = reason["wanted"], reason["can_make"]
        made = f"at most {few}" if few else "none"
        return (
            f"On {_said(reason['day'])}, {many} run{'s need' if many > 1 else ' needs'} {section} at once; "
            f"{made} can be made, whatever way the lengths are joined. {_in_metres(reason)}{_also(reason)}"
        )
    days = ", ".join(_said(day) for day in reason["days"])
    return (
        f"Each day alone could be met in {section}, but a run keeps its pieces from day to day: taken together, "
        f"{days} lack at least {metres(reason['short_mm'])}, whatever way the lengths are joined."
    )


def _also(reason: Mapping[str, Any]) -> str:
    """Other days that fall behind, those on which most is set; none in what was answered before they were kept."""
    days = [
        f"{_said(day)} ({wanted} needed, {f'at most {few}' if few else 'none'} made)"
        for day, wanted, few in reason.get("also", ())
    ]
    if not days:
        return ""
    return f" Other days fall behind too, among them {listed(days[:MOST_DAYS])}."


def _in_metres(reason: Mapping[str, Any]) -> str:
    """What they need against what there is; where that is enough, why it does not help."""
    need, there = metres(reason["wanted_mm"]), metres(reason["on_hand_mm"])
    if reason["on_hand_mm"] < reason["wanted_mm"]:
        return f"They need at least {need} of it, and {there} is on hand that day."
    return f"In metres there is enough, {there} on hand for {need}; but too few of its lengths make these runs."


def _said(day: str) -> str:
    found = date.fromisoformat(day)
    return f"{found:%a} {found.day} {found:%B %Y}"


def instead_of(check: CoverCheck) -> str:
    """What the plan of least gear would have lacked, where another was taken for that."""
    lacking = check.beside.get("instead") or []
    if not lacking:
        return ""
    said = listed([f"{count:,} x {name}" for name, count in lacking])
    return f"The runs are put together so that nothing is lacking: those of least gear would be short of {said}."


@dataclass(frozen=True)
class Saving:
    """A plan beside the same runs composed one by one, fewest joints first."""

    pieces: int
    plain_pieces: int
    cost_mm: int
    plain_cost_mm: int
    short_mm: int
    plain_short_mm: int

    @property
    def sentence(self) -> str:
        plain = f"Composed one by one, fewest joints first, these runs would take {self.plain_pieces:,} pieces"
        if self.plain_cost_mm > self.cost_mm:
            share = (self.plain_cost_mm - self.cost_mm) / self.plain_cost_mm
            plain += f"; this plan takes {self.pieces:,}, with {share:.0%} less gear"
        else:
            plain += f" and this plan {self.pieces:,}: there is nothing to save in gear"
        if self.plain_short_mm > self.short_mm:
            less = metres(self.plain_short_mm - self.short_mm)
            plain += f". One by one they would be called short by {less} more than they are"
        return plain + "."


def saving_of(check: CoverCheck) -> Saving | None:
    """None for a check that was answered before this was kept."""
    plain, answer = check.beside.get("one_by_one"), check.answer or {}
    if not plain:
        return None
    return Saving(
        pieces=sum(load["count"] for load in answer["load"]),
        plain_pieces=plain["pieces"],
        cost_mm=answer["cost_mm"],
        plain_cost_mm=plain["cost_mm"],
        short_mm=answer["short_mm"],
        plain_short_mm=plain["short_mm"],
    )
