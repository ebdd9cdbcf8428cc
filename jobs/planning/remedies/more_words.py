"""What cutting and replanning came to, in a sentence, with the lines that the page and the press need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from jobs.planning.remedies.counting import codes_of
from jobs.planning.remedies.cut_down import CutDownAnswer, Recut
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.mixing import Mixed
from jobs.planning.remedies.new_bars import BarCut, BarsAnswer
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.replan import NewLoads, ReplanAnswer
from jobs.planning.remedies.words import (
    COVERED,
    NOT_PROVED,
    back_lines,
    buy_lines,
    capital,
    fewest,
    fit_lines,
    fit_words,
    listed,
    many,
    money_of,
    no_use,
    price_words,
)


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
        lines=cut_lines(answer.lines),
        runs=codes_of(found.runs),
    )


def cut_lines(lines: Sequence[Recut]) -> tuple[dict[str, Any], ...]:
    """As they are stored."""
    return tuple(
        {
            "code": line.code,
            "into": list(line.into),
            "count": line.count,
            "offcut_mm": line.offcut_mm,
            "splay": line.splay,
            "day": line.day.isoformat(),
        }
        for line in lines
    )


def mix_words(answer: Mixed, currency: str) -> Remedy:
    """Several at once. Lines carry what they are in `do`."""
    found = answer.found
    if answer.days is None:
        enough = "Not enough even all together"
        if answer.looked:
            enough += f", up to {many(answer.looked, 'working day')} later"
        had = "what can be cleaned, asked back, cut down, cut from mill bars and bought"
        return no_use("mix", found, "", f"{enough}: {had}.")
    bars, in_bars = sum(bar.times for bar in answer.bars), sum(bar.cents * bar.times for bar in answer.bars)
    cents, money = money_of(answer.bought, currency, in_bars)
    bought = sum(line.count for line in answer.bought)
    cut, back = sum(line.count for line in answer.cuts), sum(line.count for line in answer.back)
    parts = [
        f"start {many(answer.days, 'working day')} later" if answer.days else "",
        fit_words(answer.clean),
        f"ask back {many(back, 'piece')} from {listed(sorted({o.holder for o in answer.back}))}" if back else "",
        f"cut {many(cut, 'surplus length')} down" if cut else "",
        f"cut new ones from {many(bars, 'mill bar')}" if bars else "",
        f"buy or hire in {many(bought, 'piece')}" if bought else "",
    ]
    what = listed([part for part in parts if part]) + (money if bars or bought else "")
    sure = "Proved: no mix of these costs less." if found.proved else "Not proved: a cheaper mix is not ruled out."
    if answer.days and found.proved:
        sure = "Proved: no earlier start is covered, whatever is done, and no mix for this one costs less."
    if answer.into is not None and found.proved:
        sure = f"{sure[:-1]}, with bars cut into at most {many(answer.into, 'form')} each."
    return Remedy(
        "mix",
        True,
        found.proved,
        f"{capital(what)}: {COVERED}.",
        sure,
        cents=cents,
        days=answer.days,
        effort=len(answer.clean) + back + cut + bars + bought,
        lines=tuple(_mixed_lines(answer)),
        runs=codes_of(found.runs),
    )


def _mixed_lines(answer: Mixed) -> Iterator[dict[str, Any]]:
    if answer.days:
        yield {"do": "wait", "days": answer.days}
    groups = {
        "clean": fit_lines(answer.clean),
        "chase": back_lines(answer.back),
        "cut": cut_lines(answer.cuts),
        "bars": bar_lines(answer.bars),
        "buy": buy_lines(answer.bought),
    }
    for do, lines in groups.items():
        yield from ({"do": do, **line} for line in lines)


def bars_words(answer: BarsAnswer, currency: str, others: Sequence[str] = ()) -> Remedy:
    """New forms from mill bars. `others` are the articles that stay short, whatever forms are cut."""
    if answer.reason:
        return Remedy("bars", False, True, answer.reason, "")
    if others:
        return no_use("bars", Taken(False, True, {}, 0, 0, without=tuple(others)), "", "Bars make edge forms only.")
    sure = "Proved: no bars for these forms cost less; other lengths in their place might."
    price = price_words(answer.cents, currency)
    return Remedy(
        "bars",
        True,
        answer.proved,
        f"Cut what is lacking from {many(answer.bars, 'mill bar')} for {price}: {COVERED}.",
        sure if answer.proved else NOT_PROVED,
        cents=answer.cents,
        effort=answer.bars,
        lines=bar_lines(answer.cuts),
    )


def bar_lines(cuts: Sequence[BarCut]) -> tuple[dict[str, Any], ...]:
    """As they are stored."""
    return tuple(
        {
            "section_mm": cut.section_mm,
            "bar_mm": cut.bar_mm,
            "times": cut.times,
            "pieces": [form.length_mm for form in cut.forms],
            "codes": [form.code for form in cut.forms],
            "splayed_ends": [form.splayed_ends for form in cut.forms],
            "start": cut.start.isoformat(),
            "cents": cut.cents,
        }
        for cut in cuts
    )


def replan_words(answer: ReplanAnswer, others: int, short: Sequence[str] = ()) -> Remedy:
    """Plan it together with other jobs. `short` are the articles that stay short, however runs are composed."""
    if answer.loads is None:
        which = many(others, "job that is accepted and not sent yet", "jobs that are accepted and not sent yet")
        words = f"Composing the runs of {which} anew beside this one does not make all fit."
        return Remedy("replan", False, answer.proved, words, "Proved." if answer.proved else NOT_PROVED)
    if short:
        said = "Composing runs anew frees edge forms only."
        return no_use("replan", Taken(False, True, {}, 0, 0, without=tuple(short)), "", said)
    changed = [loads for loads in answer.loads if _changes(loads)]
    names = listed([loads.job.name for loads in changed]) or "no load list"
    return Remedy(
        "replan",
        True,
        True,
        f"Compose the runs of {names} anew together with this job: {COVERED}, and so are they.",
        "Each plan has passed the independent check. Of all such plans it changes the load lists least, within what "
        "whole pieces allow.",
        effort=len(changed),
        lines=tuple(_line(loads) for loads in changed),
        runs=codes_of(answer.runs),
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
