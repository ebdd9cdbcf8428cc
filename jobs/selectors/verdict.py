"""The answer of a cover check in words: the verdict with the day that decides it, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from jobs.planning.findings import metres
from jobs.selectors.goods import stored_goods
from jobs.selectors.plans import Plan, span_of, tightest


@dataclass(frozen=True)
class Verdict:
    """`decides` is the first day the stock falls short, or the day with least to spare."""

    covered: bool
    decides: date | None
    sentence: str
    sure: str

    @property
    def day_words(self) -> str:
        """What `decides` is, in words."""
        return "least to spare" if self.covered else "first short"


def verdict_of(plan: Plan) -> Verdict:
    verdict = _forms_verdict(plan)
    short = [row for row in stored_goods(plan.check.goods) if row.short]
    if not short:
        return verdict
    lacking = ", ".join(f"{row.short} x {row.name}" for row in short)
    first = min(day for row in short if (day := row.first))
    if not verdict.covered:
        decides = min(first, verdict.decides) if verdict.decides else first
        return replace(verdict, decides=decides, sentence=f"{verdict.sentence} Also short of {lacking}.")
    return Verdict(False, first, f"Short of {lacking}; the edge forms are covered.", verdict.sure)


def _forms_verdict(plan: Plan) -> Verdict:
    answer = plan.check.answer or {}
    if answer["covered"]:
        return _covered(plan, answer)
    if answer["impossible"]:
        count = len(answer["impossible"])
        sides = f"{count} side{'s' if count > 1 else ''}"
        return Verdict(False, _first(answer), f"Not covered: no pieces of the catalogue make {sides}.", _sure(answer))
    sentence = f"Short of {_types(answer)}: {metres(answer['short_mm'])} of form in all."
    return Verdict(False, _first(answer), sentence, _sure(answer))


def _covered(plan: Plan, answer: dict) -> Verdict:
    start, _ = span_of(plan.request.runs)
    thin = tightest(plan)
    pieces = sum(load["count"] for load in answer["load"])
    spare = f" Thinnest is {thin.code}, with {thin.spare} to spare." if thin else ""
    sentence = f"Covered: {pieces} pieces of edge form make every run.{spare}"
    return Verdict(True, thin.day if thin else start, sentence, _sure(answer))


def _types(answer: dict) -> str:
    return ", ".join(f"{short['count']} x {short['code']}" for short in answer["short"])


def _first(answer: dict) -> date | None:
    return min((date.fromisoformat(short["first"]) for short in answer["short"]), default=None)


def _sure(answer: dict) -> str:
    """How sure: a proof, or within what."""
    if answer["short_mm"] and answer["short_bound_mm"] == answer["short_mm"]:
        return f"Proved: no choice of pieces lacks less than {metres(answer['short_bound_mm'])}."
    if answer["short_bound_mm"]:
        bound = metres(answer["short_bound_mm"])
        return f"Proved: it cannot be covered. At least {bound} is lacking; whether less than this plan is not proved."
    if answer["short_mm"]:
        return "Not proved: a better choice of pieces may lack less, or nothing."
    if answer["gap"] is None:
        return "Covered by a plan that an independent check has passed."
    if answer["proved"]:
        return "An independent check has passed the plan, and no plan needs noticeably less gear: proved."
    return f"An independent check has passed the plan. One that needs {answer['gap']:.1%} less gear is not ruled out."
