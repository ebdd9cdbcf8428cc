"""What is known of a hire: stays, uses, stand-downs, other charges and terms; and what was known at a moment.

A stay is `count` alike pieces' time on one job: `out` to `back`. Times are days, or instants with an
offset. `recorded` times say when the office came to know of a thing; where one is left out, a thing is
known from when it happened. Everything here is a frozen value; nothing reads a clock.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal
from zoneinfo import ZoneInfo

from jobs.hire.fields import needed, said
from jobs.hire.terms import Terms

When = date | datetime
KNOWN = "When it was recorded; null: known from when it happened."


@dataclass(frozen=True, slots=True)
class Stay:
    """Alike pieces on one job from `out` to `back`."""

    id: str = needed("The stay's id.", filled=True)
    type: str = needed("Catalogue code.", filled=True)
    count: int = needed("How many pieces.", least=1, most=10_000_000)
    out: When = needed("When it left the yard.")
    back: When | None = said(None, "When it was counted back, lost or sold; null: still out.")
    end: Literal["returned", "lost", "sold"] = said("returned", "How it ended.")
    kind: str = said("", "Kind of gear, for rates by kind.")
    line: str = said("", "Stays with the same line are charged on one line; empty: a line of its own.")
    received: When | None = said(None, "When the site received it.")
    off_hire: When | None = said(None, "The off-hire date given by the customer.")
    collected: When | None = said(None, "When it was collected from site.")
    settled: When | None = said(None, "When a loss was settled.")
    continues: str = said("", "Id of the stay whose gear this replaced in an exchange for damage.")
    hired_in: bool = said(False, "Gear that we have hired in ourselves.")
    cost_day: Decimal | None = said(
        None, "What a hired-in piece costs us for a charged day; null: as hired_in_costs in the terms.", least=0
    )
    replacement: Decimal | None = said(None, "Replacement value of a piece, before the terms' own.", least=0)
    out_recorded: datetime | None = said(None, KNOWN)
    back_recorded: datetime | None = said(None, KNOWN)
    out_event: str = said("", "Id of the event that sent it, named in adjustments.")
    back_event: str = said("", "Id of the event that ended it, named in adjustments.")

    @property
    def group(self) -> str:
        """The line it is charged on."""
        return self.line or self.id


@dataclass(frozen=True, slots=True)
class Use:
    """Pieces of a stay that were in a pour when it was cast."""

    stay: str = needed("Id of the stay.", filled=True)
    date: When = needed("When the pour was cast.")
    count: int = needed("How many pieces.", least=1, most=10_000_000)
    recorded: datetime | None = said(None, KNOWN)
    event: str = said("", "Id of the event, named in adjustments.")


@dataclass(frozen=True)
class StandDown:
    """Days on which only a share of the hire is charged, as agreed."""

    from_: date = needed("First day.")
    until: date = needed("First day that is charged in full again.")
    share: Fraction = needed("Share charged: 0 nothing, 0.5 half, 2/3 two thirds.", least=0, most=1)
    reason: str = said("", "Why, such as weather.")
    agreed_by: str = said("", "Who agreed it.")
    stays: tuple[str, ...] = said((), "Ids of the stays it is for; empty: all.")
    recorded: datetime | None = said(None, "When it was recorded; null: always known.")


@dataclass(frozen=True)
class Charge:
    """Anything charged once: delivery, cleaning, damage, a sale."""

    kind: str = needed("delivery, cleaning, damage, loss, sale or a word of your own.", filled=True)
    description: str = said("", "What the customer reads.")
    quantity: Decimal = said(Decimal(1), "How many; negative gives back.", numbers=True)
    unit_amount: Decimal | None = said(None, "Price of one; null: the price in the terms.", least=0)
    tax: Decimal | None = said(None, "Tax in per cent; null: the rate in the terms.", least=0, most=100, numbers=True)
    tax_category: Literal["", "S", "Z", "E", "AE", "O", "K", "G", "L", "M"] = said(
        "", "Category code; empty: S for a rate given here, else the one in the terms."
    )
    id: str = said("", "Its own id; empty: made from its kind and its place among those of that kind.")
    type: str = said("", "Catalogue code, for prices by type.")
    gear: str = said("", "Kind of gear, for prices by kind.")
    leg: Literal["out", "back"] = said("out", "Which way a delivery went, for the price in the terms.")
    grade: str = said("", "Grade of damage, for the price in the terms.")
    date: When | None = said(None, "When it arose: charged in the period that holds it; null: at once.")
    stays: tuple[str, ...] = said((), "Ids of the stays it is about.")
    recorded: datetime | None = said(None, "When it was recorded; null: known from its date.")
    event: str = said("", "Id of the event, named in adjustments.")


@dataclass(frozen=True)
class Facts:
    """All that one customer's hire on one job is computed from."""

    terms: tuple[Terms, ...] = (Terms(),)
    stays: tuple[Stay, ...] = ()
    uses: tuple[Use, ...] = ()
    stand_downs: tuple[StandDown, ...] = ()
    charges: tuple[Charge, ...] = ()


def day_of(when: When, zone: ZoneInfo | None = None) -> date:
    """The day of a time: in `zone` if given, else as written by the time's own offset."""
    if not isinstance(when, datetime):
        return when
    return (when.astimezone(zone) if zone else when).date()


def known(when: When | None, recorded: datetime | None, at: When, zone: ZoneInfo | None = None) -> bool:
    """Whether a thing of that time was known at `at`: by its record, else by when it happened.

    `at` as a day is to its end, and instants fall on the day that `day_of` says. `at` as an instant knows a bare day
    from the start of that day in the offset of `at`.
    """
    said = recorded or when
    if said is None:
        return True
    if not isinstance(at, datetime):
        return day_of(said, zone) <= at
    return said <= at if isinstance(said, datetime) else said <= at.date()


def as_known(facts: Facts, at: When | None) -> Facts:
    """The facts as the office knew them at `at`, a day being to its end; None is everything known."""
    if at is None:
        return facts
    held = holding(facts.terms)
    zone = held[-1].zone if held else None
    return Facts(
        terms=tuple(one for one in facts.terms if known(None, one.recorded, at, zone)),
        stays=tuple(_stays_known(facts.stays, at, zone)),
        uses=tuple(one for one in facts.uses if known(one.date, one.recorded, at, zone)),
        stand_downs=tuple(one for one in facts.stand_downs if known(None, one.recorded, at, zone)),
        charges=tuple(one for one in facts.charges if known(one.date, one.recorded, at, zone)),
    )


def _stays_known(stays: Iterable[Stay], at: When, zone: ZoneInfo | None) -> Iterable[Stay]:
    for stay in stays:
        if known(stay.out, stay.out_recorded, at, zone):
            yield _stay_known(stay, at, zone)


def _stay_known(stay: Stay, at: When, zone: ZoneInfo | None) -> Stay:
    unknown: dict[str, Any] = {
        name: None
        for name in ("received", "off_hire", "collected", "settled")
        if getattr(stay, name) is not None and not known(getattr(stay, name), None, at, zone)
    }
    if stay.back is not None and not known(stay.back, stay.back_recorded, at, zone):
        return replace(stay, back=None, end="returned", back_event="", **unknown)
    return replace(stay, **unknown) if unknown else stay


def holding(terms: Iterable[Terms]) -> tuple[Terms, ...]:
    """The terms that hold, in order of their first day: those replaced by a correction are gone.

    Of two with the same first day the later one in the list holds.
    """
    every = list(terms)
    replaced = {one.replaces for one in every if one.replaces}
    by_day = {one.holds_from: one for one in every if not one.id or one.id not in replaced}
    return tuple(by_day[day] for day in sorted(by_day, key=lambda day: day or date.min))
