"""Short ways to say a hire in a test. March 2026 begins on a Sunday; Monday is the 2nd."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from jobs.hire.adjust import BilledBefore, Period, Statement, statement
from jobs.hire.stays import Charge, Facts, StandDown, Stay, Use
from jobs.hire.terms import Rate, Terms

FAR = date(2027, 1, 1)


def day(month: int, number: int, year: int = 2026) -> date:
    return date(year, month, number)


def at(month: int, number: int, hour: int = 7, minute: int = 0) -> datetime:
    return datetime(2026, month, number, hour, minute, tzinfo=UTC)


def rate(**prices: str) -> Rate:
    """A rate for anything: rate(day="0.35")."""
    money = ("day", "week", "month", "use")
    return Rate(**{name: Decimal(value) if name in money else value for name, value in prices.items()})


def stay(out, back=None, count=1, id="S1", type="EF-3000", **more) -> Stay:
    return Stay(id=id, type=type, count=count, out=out, back=back, **more)


def bill(
    *stays: Stay,
    terms: Terms | tuple[Terms, ...] = (),
    until: date = FAR,
    since: date = date(2026, 1, 1),
    known_at=None,
    before: tuple[BilledBefore, ...] = (),
    uses: tuple[Use, ...] = (),
    downs: tuple[StandDown, ...] = (),
    charges: tuple[Charge, ...] = (),
    currency: str = "AUD",
) -> Statement:
    several = terms if isinstance(terms, tuple) else (terms,)
    facts = Facts(several, stays, uses, downs, charges)
    return statement(facts, Period(since, until), currency, known_at, before)


def net(*stays: Stay, **more) -> str:
    """What some stays come to, as text."""
    return str(bill(*stays, **more).net)
