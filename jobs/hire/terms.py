"""Hire terms: every rate and rule that was agreed, as data, each with a stated default.

Sources disagree on nearly every rule of hire, so none is built in: terms say which holds, and the source
of each rule stands beside its test. Money is Decimal in the currency of the bill; a share is a Fraction
of the full charge (1 is all of it, 0 is none); days are whole days. Terms are frozen: new terms are a new
`Terms` with its own `holds_from`, and a correction is a new `Terms` that `replaces` the wrong one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Literal, TypeVar
from zoneinfo import ZoneInfo

from jobs.calendars.working import WorkingCalendar
from jobs.hire.fields import needed, said

Money = Decimal | None
ALL, NOTHING = Fraction(1), Fraction(0)
WEEKDAYS = {"calendar": "1111111", "six_day": "1111110", "five_day": "1111100"}
TYPE = "The catalogue code it is for; empty for any."
KIND = "The kind of gear it is for, such as edge_form; empty for any."


@dataclass(frozen=True)
class Rate:
    """What one piece costs. The narrowest rate that fits a stay is used: its type, then its kind, then any."""

    type: str = said("", TYPE)
    kind: str = said("", KIND)
    hired_in: bool = said(False, "Only for gear that we have hired in ourselves.")
    day: Money = said(None, "Price of a piece for a charged day.", least=0)
    week: Money = said(None, "Price of a piece for a week of charged days.", least=0)
    month: Money = said(None, "Price of a piece for a month.", least=0)
    use: Money = said(None, "Price of a piece for a use: a pour that was cast.", least=0)
    choose: Literal["cheapest", "day", "week", "month"] = said(
        "cheapest",
        "cheapest: the cheapest mix of whole months from the start, whole weeks and days that covers the days "
        "charged; else always that unit.",
    )
    odd_days: Literal["pro_rata", "whole"] = said(
        "pro_rata", "Days short of a week or month where there is no smaller rate: a share of it, or all of it."
    )
    uses: Literal["added", "cheaper"] = said(
        "added", "Charge for uses beside the charge for time, or whichever of the two is less."
    )


@dataclass(frozen=True)
class Minimum:
    """The least a hire costs, charged once the gear is back. An exchange for damage continues the same hire."""

    days: int = said(0, "Charged days that are charged at least, as if the gear had stayed.", least=0, most=3660)
    amount: Decimal = said(Decimal(0), "Charge for time that is made at least.", least=0)
    per: Literal["piece", "line", "delivery"] = said(
        "piece",
        "The amount is for each piece, for a whole line, or for a delivery: all stays that name one `line`, whatever "
        "their type, made up on a line of its own.",
    )


@dataclass(frozen=True)
class Step:
    """A lower (or higher) rate for long hire."""

    after_days: int = needed("It holds beyond this many charged days.", least=0)
    share: Fraction = needed("The share of the rates that is charged from there.", least=0)


@dataclass(frozen=True)
class Discount:
    """Off the charge for time and uses. The narrowest that fits is used, once."""

    per_cent: Decimal = needed("Per cent taken off.", least=0, most=100, numbers=True)
    type: str = said("", TYPE)
    kind: str = said("", KIND)


@dataclass(frozen=True)
class Price:
    """A price by type or kind."""

    amount: Decimal = needed("Price of one piece.", least=0)
    type: str = said("", TYPE)
    kind: str = said("", KIND)


@dataclass(frozen=True)
class Delivery:
    """What a truck costs."""

    out: Money = said(None, "Price of a load out.", least=0)
    back: Money = said(None, "Price of a load back.", least=0)


@dataclass(frozen=True)
class Grade:
    """A grade of damage: a price, or a share of the replacement value."""

    grade: str = needed("The grade's name, such as bent.", filled=True)
    amount: Money = said(None, "Price of the damage on one piece.", least=0)
    share: Fraction | None = said(None, "Share of the replacement value.", least=0)


@dataclass(frozen=True)
class Damage:
    """Damage found in the yard belongs to the last job if found soon enough and before the next send."""

    grades: tuple[Grade, ...] = said((), "The grades and their prices.")
    within_days: int = said(
        14, "Days after the return within which damage belongs to the last job.", least=0, most=3660
    )


@dataclass(frozen=True)
class Loss:
    """What lost gear costs."""

    share: Fraction = said(ALL, "Share of the replacement value charged.", least=0)
    until_settled: Fraction = said(NOTHING, "Share of the hire charged from the loss until it is settled.", least=0)


@dataclass(frozen=True)
class Tax:
    """A tax rate and its category (UNCL 5305 as EN 16931 uses it: S standard, Z zero, E exempt, O outside)."""

    rate: Decimal = needed("Per cent.", least=0, most=100, numbers=True)
    category: Literal["S", "Z", "E", "AE", "O", "K", "G", "L", "M"] = said("S", "Category code.")
    of: tuple[str, ...] = said((), "Kinds of line it is for: hire, use, delivery, loss ...; empty for every kind.")


@dataclass(frozen=True)
class Terms:
    """One set of terms. Every field may be left out; the default is the one stated."""

    id: str = said("", "A name for these terms, for others to replace.")
    holds_from: date | None = said(None, "First day these terms hold; null: from the beginning.")
    recorded: datetime | None = said(None, "When they were recorded; null: always known.")
    replaces: str = said("", "The id of wrong terms that these correct, as if those had never been.")
    running_stays: Literal["change", "keep"] = said(
        "change",
        "For gear already out on holds_from: change to these terms from that day (weeks and months are counted "
        "anew; minimum and steps run on), or keep the terms it went out under.",
    )
    rates: tuple[Rate, ...] = said((), "Rates; with none, hire is charged at nothing and a warning says so.")
    hired_in_costs: tuple[Rate, ...] = said(
        (),
        "What hired-in gear costs us, by the same days in full (no stand-downs, no steps); shown beside its earnings.",
    )
    starts: Literal["left_yard", "received"] = said("left_yard", "What starts hire.")
    ends: Literal["yard_count", "collected", "off_hire"] = said(
        "yard_count", "What ends hire; where that is not recorded, the next thing that is."
    )
    off_hire_notice_days: int = said(0, "Days that hire runs on after an off-hire date.", least=0, most=366)
    off_hire_notice: Literal["calendar", "working"] = said(
        "calendar", "Whether days of notice are calendar days or days of the charged week."
    )
    days_charged: Literal["out", "back", "both", "neither"] = said(
        "out", "Which of the day out and the day back counts, where no cut-off hour decides."
    )
    cut_off_out: time | None = said(
        None, "Gear that goes out at this hour or later is not charged for that day; earlier, it is."
    )
    cut_off_back: time | None = said(None, "Gear that is back by this hour is not charged for that day; later, it is.")
    time_zone: str = said("", "IANA zone in which instants become days; empty: as written, by their own offset.")
    week: Literal["calendar", "six_day", "five_day"] = said(
        "calendar", "Charged days: all seven (a week is 7), Monday to Saturday (6), Monday to Friday (5)."
    )
    holidays: frozenset[date] = said(frozenset(), "Days that are not charged.")
    month: Literal["calendar", "28", "30"] = said(
        "calendar", "A month: from a date to the same date of the next month, or 28 or 30 calendar days."
    )
    minimum: Minimum = said(Minimum(), "The least a hire costs.")
    steps: tuple[Step, ...] = said((), "Rate steps for long hire.")
    steps_for: Literal["beyond", "whole"] = said(
        "beyond", "A step holds for the days beyond it, or once reached for the whole hire."
    )
    discounts: tuple[Discount, ...] = said((), "Discounts.")
    delivery: Delivery = said(Delivery(), "Trucks.")
    cleaning: tuple[Price, ...] = said((), "Cleaning, by type or kind.")
    damage: Damage = said(Damage(), "Damage.")
    loss: Loss = said(Loss(), "Loss.")
    replacement: tuple[Price, ...] = said((), "Replacement values, by type or kind.")
    sales: tuple[Price, ...] = said((), "Sale prices, by type or kind; without one, the replacement value.")
    tax: tuple[Tax, ...] = said((), "The first that fits a line's kind; with none, 0 per cent, category O.")

    @cached_property
    def calendar(self) -> WorkingCalendar:
        """The days that are charged."""
        return WorkingCalendar(weekdays=WEEKDAYS[self.week], holidays=self.holidays)

    @cached_property
    def week_days(self) -> int:
        """Charged days in a week: 7, 6 or 5."""
        return WEEKDAYS[self.week].count("1")

    @cached_property
    def zone(self) -> ZoneInfo | None:
        """The zone in which instants become days, if one is stated."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    def rate_for(self, type: str, kind: str, hired_in: bool = False) -> Rate | None:
        """The narrowest rate that fits; a rate for hired-in gear goes before one that is not."""
        if hired_in:
            found = narrowest([one for one in self.rates if one.hired_in], type, kind)
            if found:
                return found
        return narrowest([one for one in self.rates if not one.hired_in], type, kind)

    def tax_for(self, line_kind: str) -> Tax:
        """The tax on a kind of line."""
        for one in self.tax:
            if not one.of or line_kind in one.of:
                return one
        return NO_TAX


NO_TAX = Tax(rate=Decimal(0), category="O")


ForGear = TypeVar("ForGear", Rate, Discount, Price)


def narrowest(choices: Iterable[ForGear], type: str, kind: str) -> ForGear | None:
    """The first choice for this type, else for this kind, else for any gear, else none."""
    best, rank = None, 0
    for one in choices:
        fits = one.type in ("", type) and one.kind in ("", kind)
        narrow = 1 + (2 if one.type else 0) + (1 if one.kind else 0)
        if fits and narrow > rank:
            best, rank = one, narrow
    return best
