"""A bill's lines: the charge to the period's end as now known, less what was billed before.

Nothing issued is ever changed. What a later scan, a found piece or a correction of terms changes is on
the next bill, apart from what the period itself adds, with its cause. A line that was billed and is no longer
known is given back whole. So the sum of all bills is the charge as now known, whatever happened between.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from jobs.currencies import minor_units
from jobs.hire.book import Book
from jobs.hire.causes import differences
from jobs.hire.charges import dues
from jobs.hire.fields import needed, said
from jobs.hire.lines import Due, Line
from jobs.hire.stays import Facts, When, as_known
from jobs.hire.tax import TaxGroup, plain_rate, tax_groups
from jobs.hire.terms import NO_TAX, Tax, Terms
from jobs.hire.words import because, day_words

NIL = Decimal(0)


@dataclass(frozen=True)
class BilledBefore:
    """A line of an earlier bill."""

    line: str = needed("The line's id on that bill.", filled=True)
    net: Decimal = needed("Its net.")
    tax: Decimal | None = said(
        None, "Tax it was billed at, in per cent; null: the tax of the line now.", least=0, most=100, numbers=True
    )
    tax_category: Literal["", "S", "Z", "E", "AE", "O", "K", "G", "L", "M"] = said(
        "", "Category it was billed at; empty: S for a rate above 0, else Z."
    )
    known_at: datetime | None = said(None, "What that bill was made from; lets an adjustment name its cause.")
    bill: str = said("", "The bill's number, named in adjustments.")


@dataclass(frozen=True)
class Period:
    """Days [from, until): until is the first day not billed."""

    from_: date = needed("First day.")
    until: date = needed("First day after the period.")


@dataclass(frozen=True)
class Statement:
    """A bill's worth: its lines, its tax by rate, and what a reader must look at."""

    currency: str
    lines: tuple[Line, ...]
    net: Decimal
    tax: tuple[TaxGroup, ...]
    gross: Decimal
    warnings: tuple[str, ...]


def statement(
    facts: Facts,
    period: Period,
    currency: str,
    known_at: When | None = None,
    billed_before: Iterable[BilledBefore] = (),
    then: Facts | None = None,
) -> Statement:
    """The bill for a period from the facts as known at `known_at`, after what was billed before.

    `then` is what the last bill was made from, if that is kept: adjustments name what differs from it.
    Without it, that is worked out from the facts' own recorded times and each `BilledBefore.known_at`.
    Raises BadRequest for a currency without minor units, or a charge that nothing prices.
    """
    places = minor_units(currency)
    lines, warnings = bill_lines(facts, period, places, known_at, tuple(billed_before), then)
    groups = tax_groups(((one.tax, one.net) for one in lines), places)
    net = sum((one.net for one in lines), NIL).quantize(Decimal(1).scaleb(-places))
    gross = net + sum((one.amount for one in groups), NIL)
    return Statement(currency, lines, net, groups, gross, warnings)


def bill_lines(
    facts: Facts,
    period: Period,
    places: int,
    known_at: When | None,
    before: tuple[BilledBefore, ...],
    then: Facts | None = None,
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    """The lines that say something, and the warnings."""
    book = Book(as_known(facts, known_at))
    now = dues(book, period.until, places)
    until_then = dues(book, period.from_, places, undated=False) if before else {}
    billed: dict[str, list[BilledBefore]] = {}
    for one in before:
        billed.setdefault(one.line, []).append(one)
    maker = _Maker(book.facts, facts, period, places, bool(before), then)
    lines = [
        line
        for name, due in now.items()
        for line in maker.lines(due, until_then.get(name), billed.pop(name, []))
        if _says_something(line)
    ]
    lines += [line for name, several in billed.items() for line in maker.given_back(name, several)]
    return tuple(lines), tuple(book.warnings)


def _says_something(line: Line) -> bool:
    if line.net or line.this_period or line.adjustment:
        return True
    shown = line.due is not None and (line.due.kind != "hire" or any(one.by_use for one in line.due.entries))
    return not line.billed_before and bool(line.days or line.uses or shown)


@dataclass(frozen=True)
class _Maker:
    now: Facts
    facts: Facts
    period: Period
    places: int
    follows: bool
    then: Facts | None

    def lines(self, due: Due, earlier: Due | None, billed: list[BilledBefore]) -> Iterable[Line]:
        """A due's line, after giving back what was billed at another tax."""
        other = [one for one in billed if one.tax is not None and _tax(one, due.tax) != _tax(None, due.tax)]
        same = sum((one.net for one in billed if one not in other), NIL)
        yield from self.given_back(due.line, other)
        should = earlier.amount if earlier else NIL
        if billed and due.charge is not None and due.charge.date is None:
            should = due.amount
        adjustment = should - same if self.follows else NIL
        this_period = due.amount - should if self.follows else due.amount
        causes = self._causes(due, billed, adjustment)
        yield Line(
            line=due.line,
            kind=due.kind,
            type=due.type,
            stays=due.stays,
            quantity=due.quantity,
            days=due.days,
            uses=due.uses,
            rate=due.rate,
            per=due.per,
            charged=due.amount,
            billed_before=same,
            this_period=this_period,
            adjustment=adjustment,
            net=due.amount - same,
            tax=_tax(None, due.tax),
            why=because(due, self.period, same, adjustment, causes),
            causes=causes,
            cost=due.cost,
            due=due,
        )

    def _causes(self, due: Due, billed: list[BilledBefore], adjustment: Decimal) -> tuple[str, ...]:
        if not adjustment:
            return ()
        named = self._differences(billed, due.stays, due.line)
        if named:
            return named
        day = day_words(self.period.from_)
        if not billed:
            return (f"It belongs before {day} and was not billed then.",)
        return (f"What is now known of the time before {day} differs from what was billed{_bills(billed)}.",)

    def _differences(self, billed: list[BilledBefore], stays: tuple[str, ...], line: str) -> tuple[str, ...]:
        if self.then is not None:
            return differences(self.then, self.now, stays, line)
        moments = [one.known_at for one in billed if one.known_at]
        return differences(as_known(self.facts, max(moments)), self.now, stays, line) if moments else ()

    def given_back(self, name: str, several: list[BilledBefore]) -> Iterable[Line]:
        """Lines that give back what was billed on a line: all of it, by the tax it was billed at."""
        groups: dict[tuple[Decimal, str], list[BilledBefore]] = {}
        for one in several:
            tax = _tax(one, self._terms_tax(name))
            groups.setdefault((tax.rate, tax.category), []).append(one)
        for billed in groups.values():
            net = -sum((one.net for one in billed), NIL)
            if net:
                yield self._return(name, net, billed)

    def _return(self, name: str, net: Decimal, billed: list[BilledBefore]) -> Line:
        causes = self._differences(billed, stays_in(name), name) or (
            "What it was billed for is no longer on record, or is now charged at another tax.",
        )
        why = f"Billed before{_bills(billed)} and given back: {' '.join(causes)}"
        return Line(
            line=name,
            kind="adjustment",
            type="",
            stays=(),
            quantity=Decimal(1),
            days=None,
            uses=None,
            rate=None,
            per="",
            charged=NIL,
            billed_before=-net,
            this_period=NIL,
            adjustment=net,
            net=net,
            tax=_tax(billed[0], self._terms_tax(name)),
            why=why,
            causes=causes,
        )

    def _terms_tax(self, name: str) -> Tax:
        kind, _, rest = name.partition(":")
        if kind == "charge":
            kind = rest.partition(":")[0]
        kind = "hire" if kind == "minimum" else kind
        terms: Terms | None = self.now.terms[-1] if self.now.terms else None
        return terms.tax_for(kind) if terms else NO_TAX


def _tax(billed: BilledBefore | None, now: Tax) -> Tax:
    if billed is None or billed.tax is None:
        return Tax(plain_rate(now.rate), now.category)
    if not billed.tax_category and billed.tax == now.rate:
        return Tax(plain_rate(now.rate), now.category)
    return Tax(plain_rate(billed.tax), billed.tax_category or ("S" if billed.tax else "Z"))


def _bills(billed: Iterable[BilledBefore]) -> str:
    numbers = sorted({one.bill for one in billed if one.bill})
    return f" on {', '.join(numbers)}" if numbers else ""


def stays_in(line: str) -> tuple[str, ...]:
    """What a line id may name: a stay, or a shared line with or without its type."""
    name = line.partition(":")[2].partition("@")[0]
    return (name, name.rpartition(":")[0])
