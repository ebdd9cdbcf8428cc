"""Why a line changed: what the office knew when it billed, against what it knows now, in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from jobs.hire.stays import Charge, Facts, StandDown, Stay, Use
from jobs.hire.terms import Terms
from jobs.hire.words import when_words

DATED = {
    "out": "left the yard",
    "received": "was received on site",
    "off_hire": "was off-hired",
    "collected": "was collected",
    "back": "was back",
    "settled": "was settled",
}
ENDS = {"returned": "was back", "lost": "was lost", "sold": "was sold"}


def differences(then: Facts, now: Facts, stays: Iterable[str], line: str = "") -> tuple[str, ...]:
    """Sentences on how `now` differs from `then`, for some stays and for what holds for all.

    >>> from datetime import date
    >>> out = Stay("S1", "EF-3000", 1, date(2026, 3, 2))
    >>> back = Stay("S1", "EF-3000", 1, date(2026, 3, 2), date(2026, 3, 10), back_event="E9")
    >>> differences(Facts(stays=(out,)), Facts(stays=(back,)), ["S1"])
    ('S1 was back on 10 March 2026 (event E9); the bill had it still out.',)
    """
    wanted = set(stays)
    said = [
        *_stays(
            {one.id: one for one in then.stays if one.id in wanted or one.group in wanted},
            {one.id: one for one in now.stays if one.id in wanted or one.group in wanted},
        ),
        *_uses(then.uses, now.uses, wanted),
        *_stand_downs(then.stand_downs, now.stand_downs, wanted),
        *_terms(then.terms, now.terms),
    ]
    if line.startswith("charge:"):
        said += _charges(then.charges, now.charges, line)
    return tuple(dict.fromkeys(said))


def _stays(then: dict[str, Stay], now: dict[str, Stay]) -> Iterable[str]:
    for name, stay in now.items():
        if name not in then:
            event = _event(stay.out_event)
            yield f"{name} left the yard on {when_words(stay.out)}{event}, which the bill did not have."
        elif then[name] != stay:
            yield from _changes(name, then[name], stay)
    for name in then:
        if name not in now:
            yield f"{name} never went out, as is now known; the bill had it out."


def _changes(name: str, then: Stay, now: Stay) -> Iterable[str]:
    for one in fields(Stay):
        before, after = getattr(then, one.name), getattr(now, one.name)
        if before == after or one.name.endswith(("_event", "_recorded")):
            continue
        if one.name == "end" and then.back != now.back:
            continue
        yield _change(name, one.name, before, after, now)


def _change(name: str, field: str, before: object, after: object, now: Stay) -> str:
    event = _event(now.back_event if field in ("back", "end") else now.out_event if field == "out" else "")
    if field == "end":
        return f"{name} {ENDS[now.end]}{event}; the bill had it {before}."
    if field not in DATED:
        return f"{name}: {field.replace('_', ' ')} is {after}; the bill had {before}."
    verb = ENDS[now.end] if field == "back" else DATED[field]
    had = when_words(before) if before is not None else "still out" if field == "back" else "none recorded"
    if after is None:
        return f"{name} is still out{event}; the bill had {had} as the day it {DATED[field]}."
    had = f"it {had}" if before is None and field == "back" else had
    return f"{name} {verb} on {when_words(after)}{event}; the bill had {had}."


def _uses(then: Iterable[Use], now: Iterable[Use], wanted: set[str]) -> Iterable[str]:
    before, after = list(then), list(now)
    for one in after:
        if one.stay in wanted and one not in before:
            yield f"{one.count} of {one.stay} cast on {when_words(one.date)}{_event(one.event)}, not on the bill."
    for one in before:
        if one.stay in wanted and one not in after:
            yield f"{one.count} of {one.stay} not cast on {when_words(one.date)} after all."


def _stand_downs(then: Iterable[StandDown], now: Iterable[StandDown], wanted: set[str]) -> Iterable[str]:
    before, after = set(then), set(now)
    for one in sorted(before ^ after, key=lambda down: (down.from_, down.until)):
        if not one.stays or wanted & set(one.stays):
            verb = "agreed" if one in after else "withdrawn"
            yield f"A stand-down from {when_words(one.from_)} was {verb} since the bill."


def _terms(then: Iterable[Terms], now: Iterable[Terms]) -> Iterable[str]:
    before = list(then)
    for one in now:
        if one not in before:
            name = one.id or "new terms"
            corrects = f", which correct {one.replaces}" if one.replaces else ""
            since = f" from {when_words(one.holds_from)}" if one.holds_from else ""
            yield f"Terms {name}{corrects} hold{since}."


def _charges(then: Iterable[Charge], now: Iterable[Charge], line: str) -> Iterable[str]:
    kind = line.split(":")[1]
    before, after = list(then), list(now)
    for one in after:
        if one.kind == kind and one not in before:
            yield f"{one.description or one.kind}: recorded since the bill{_event(one.event)}."
    for one in before:
        if one.kind == kind and one not in after:
            yield f"{one.description or one.kind}: no longer on record."


def _event(event: str) -> str:
    return f" (event {event})" if event else ""
