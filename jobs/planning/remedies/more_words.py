"""What cutting and replanning came to, in a sentence, with the lines that the page and the press need."""

from __future__ import annotations

from jobs.planning.remedies.cut_down import CutDownAnswer
from jobs.planning.remedies.new_bars import BarsAnswer
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.replan import NewLoads, ReplanAnswer
from jobs.planning.remedies.words import COVERED, NOT_PROVED, fewest, many, no_use


def cut_words(answer: CutDownAnswer) -> Remedy:
    """Cut down."""
    found = answer.found
    if not found.turns:
        enough = "Not enough: no lengths that nobody has reserved, cut into at most three, make it fit in time."
        return no_use("cut", found, "", enough)
    parts = sum(len(line.into) * line.count for line in answer.lines)
    return Remedy(
        "cut",
        True,
        found.proved,
        f"Cut {many(found.price, 'surplus length')} down into {many(parts, 'part')}: {COVERED}.",
        fewest(found, "lengths cut into at most three"),
        effort=found.price,
        lines=tuple(
            {
                "code": line.code,
                "into": list(line.into),
                "count": line.count,
                "offcut_mm": line.offcut_mm,
                "splay": line.splay,
                "day": line.day.isoformat(),
            }
            for line in answer.lines
        ),
    )


def bars_words(answer: BarsAnswer) -> Remedy:
    """New forms from mill bars."""
    if answer.reason:
        return Remedy("bars", False, True, answer.reason, "")
    sure = "Proved: no bars for these forms cost less; other lengths in their place might."
    return Remedy(
        "bars",
        True,
        answer.proved,
        f"Cut what is lacking from {many(answer.bars, 'mill bar')} for {answer.cents / 100:,.2f}: {COVERED}.",
        sure if answer.proved else NOT_PROVED,
        cents=answer.cents,
        effort=answer.bars,
        lines=tuple(
            {
                "section_mm": cut.section_mm,
                "bar_mm": pattern.bar_mm,
                "times": pattern.times,
                "pieces": list(pattern.pieces),
                "splayed_ends": cut.splayed_ends,
            }
            for cut in answer.cuts
            for pattern in cut.patterns
        ),
    )


def replan_words(answer: ReplanAnswer, others: int) -> Remedy:
    """Plan it together with other jobs."""
    if answer.loads is None:
        which = many(others, "job that is accepted and not sent yet", "jobs that are accepted and not sent yet")
        words = f"Composing the runs of {which} anew beside this one does not make all fit."
        return Remedy("replan", False, answer.proved, words, "Proved." if answer.proved else NOT_PROVED)
    changed = [loads for loads in answer.loads if _changes(loads)]
    names = ", ".join(loads.job.name for loads in changed) or "no load list"
    return Remedy(
        "replan",
        True,
        True,
        f"Compose the runs of {names} anew together with this job: {COVERED}, and so are they.",
        "Each plan has passed the independent check. Of all such plans it changes the load lists least, within what "
        "whole pieces allow.",
        effort=len(changed),
        lines=tuple(_line(loads) for loads in changed),
    )


def _changes(loads: NewLoads) -> dict[str, tuple[list[int], list[int]]]:
    """By code, what the job holds after each truck now and then, where that differs."""
    none = (0,) * len(loads.job.trucks)
    return {
        code: (list(loads.job.present.get(code, none)), list(then))
        for code, then in loads.held.items()
        if tuple(loads.job.present.get(code, none)) != then
    }


def _line(loads: NewLoads) -> dict[str, object]:
    return {
        "job": loads.job.name,
        "trucks": [load.isoformat() for load, _ in loads.job.trucks],
        "changes": {code: {"now": now, "then": then} for code, (now, then) in _changes(loads).items()},
        "held": {code: list(levels) for code, levels in loads.held.items()},
        "answer": loads.answer.as_json(),
    }
