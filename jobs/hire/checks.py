"""What is wrong with terms or facts: a list of findings, so that a user sees every fault at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import available_timezones

from jobs.hire.adjust import Period
from jobs.hire.stays import Facts, Stay, When, day_of
from jobs.hire.terms import Rate, Terms

FIRST_DAY, LAST_DAY = date(1990, 1, 1), date(2190, 1, 1)


class Finding(NamedTuple):
    """One fault: the field it is in, and a sentence that says what to do."""

    path: str
    sentence: str


def check_terms(terms: Iterable[Terms], path: str = "terms") -> list[Finding]:
    """Faults in sets of terms; the path has no number when there is only one set."""
    every = list(terms)
    found: list[Finding] = []
    for place, one in enumerate(every):
        where = path if len(every) == 1 else f"{path}[{place}]"
        found += [*_zone(one, where), *_rates(one, where), *_steps(one, where), *_grades(one, where)]
        found += _doubles((step.after_days for step in one.steps), f"{where}.steps[{{}}].after_days", "the same day")
        known = {other.id for other in every if other.id}
        if one.replaces and (one.replaces not in known or one.replaces == one.id):
            found.append(Finding(f"{where}.replaces", f"names no other terms here: {one.replaces!r}."))
    return found + _doubles((one.id for one in every), f"{path}[{{}}].id", "the same id")


def _zone(terms: Terms, path: str) -> Iterator[Finding]:
    if terms.time_zone and terms.time_zone not in available_timezones():
        yield Finding(f"{path}.time_zone", "is not an IANA time zone. Give one such as Australia/Sydney.")


def _rates(terms: Terms, path: str) -> Iterator[Finding]:
    for name, rates in (("rates", terms.rates), ("hired_in_costs", terms.hired_in_costs)):
        for place, rate in enumerate(rates):
            yield from _rate(rate, f"{path}.{name}[{place}]")


def _rate(rate: Rate, path: str) -> Iterator[Finding]:
    if rate.day is None and rate.week is None and rate.month is None and rate.use is None:
        yield Finding(path, "has no price. Give at least one of day, week, month and use.")
    if rate.choose != "cheapest" and getattr(rate, rate.choose) is None:
        yield Finding(f"{path}.{rate.choose}", f"is missing, though choose asks for the {rate.choose} rate.")


def _steps(terms: Terms, path: str) -> Iterator[Finding]:
    days = [one.after_days for one in terms.steps]
    if days != sorted(days):
        yield Finding(f"{path}.steps", "must be in order of after_days.")


def _grades(terms: Terms, path: str) -> Iterator[Finding]:
    for place, one in enumerate(terms.damage.grades):
        if (one.amount is None) == (one.share is None):
            where = f"{path}.damage.grades[{place}]"
            yield Finding(where, "needs either an amount or a share of the replacement value.")
    yield from _doubles(
        (one.grade for one in terms.damage.grades), f"{path}.damage.grades[{{}}].grade", "the same grade"
    )


def check_period(period: Period) -> list[Finding]:
    """A period that ends before it begins, or lies where no hire can."""
    found = [*_sensible(period.from_, "period.from"), *_sensible(period.until, "period.until")]
    if period.until <= period.from_:
        found.append(Finding("period.until", "must be after period.from: it is the first day not billed."))
    return found


def _sensible(when: When | None, path: str) -> Iterator[Finding]:
    """A slip of the keyboard in a year would otherwise bill eight thousand years of hire."""
    if when is not None and not FIRST_DAY <= day_of(when) <= LAST_DAY:
        yield Finding(path, f"is {day_of(when)}: give a day between {FIRST_DAY.year} and {LAST_DAY.year}.")


def check_facts(facts: Facts) -> list[Finding]:
    """Faults in facts: terms, and stays, uses and stand-downs that cannot be as told."""
    stays = {stay.id: stay for stay in facts.stays}
    found = check_terms(facts.terms)
    found += _doubles((stay.id for stay in facts.stays), "stays[{}].id", "the same id")
    found += _doubles((stay.continues for stay in facts.stays), "stays[{}].continues", "the same stay continued")
    for place, stay in enumerate(facts.stays):
        found += _stay(stay, stays, f"stays[{place}]")
    for place, use in enumerate(facts.uses):
        found += _sensible(use.date, f"uses[{place}].date")
        if use.stay not in stays:
            found.append(Finding(f"uses[{place}].stay", f"names no stay in the request: {use.stay!r}."))
    for place, down in enumerate(facts.stand_downs):
        found += [*_sensible(down.from_, f"stand_downs[{place}].from")]
        found += [*_sensible(down.until, f"stand_downs[{place}].until")]
        if down.until <= down.from_:
            found.append(Finding(f"stand_downs[{place}].until", "must be after its from: it is the first full day."))
        for name in down.stays:
            if name not in stays:
                found.append(Finding(f"stand_downs[{place}].stays", f"names no stay in the request: {name!r}."))
    for place, charge in enumerate(facts.charges):
        found += _sensible(charge.date, f"charges[{place}].date")
    ids = (charge.id and f"{charge.kind}:{charge.id}" for charge in facts.charges)
    return found + _doubles(ids, "charges[{}].id", "the same kind and id")


def _before(when: When, out: When) -> bool:
    if isinstance(when, datetime) and isinstance(out, datetime):
        return when < out
    return day_of(when) < day_of(out)


def _stay(stay: Stay, stays: dict[str, Stay], path: str) -> Iterator[Finding]:
    for name in ("back", "received", "off_hire", "collected", "settled"):
        when = getattr(stay, name)
        yield from _sensible(when, f"{path}.{name}")
        if when is not None and _before(when, stay.out):
            yield Finding(f"{path}.{name}", f"is {when.isoformat()}, before it went out on {stay.out.isoformat()}.")
    yield from _sensible(stay.out, f"{path}.out")
    if stay.end != "returned" and stay.back is None:
        yield Finding(f"{path}.back", f"is missing: the stay ended {stay.end}, so give the day it did.")
    if stay.continues:
        yield from _continues(stay, stays.get(stay.continues), f"{path}.continues")


def _continues(stay: Stay, before: Stay | None, path: str) -> Iterator[Finding]:
    if before is None:
        yield Finding(path, f"names no stay in the request: {stay.continues!r}.")
    elif (before.type, before.count) != (stay.type, stay.count):
        yield Finding(path, "must name a stay of the same type and count: an exchange is one for one.")
    elif day_of(before.out) > day_of(stay.out) or before.id == stay.id:
        yield Finding(path, "must name a stay that went out earlier.")


def _doubles(values: Iterable[object], path: str, what: str) -> list[Finding]:
    """Values that were had before, each at its place in `path`; empty ones may be had often."""
    seen: set[object] = set()
    found = []
    for place, one in enumerate(values):
        if one in seen:
            found.append(Finding(path.format(place), f"has {what} as another: {one}. Give each once."))
        if one != "":
            seen.add(one)
    return found
