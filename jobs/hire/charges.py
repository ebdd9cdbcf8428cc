"""Charges up to a day: one `Due` per line, from stays, uses, losses, sales and other charges.

A line is a stay, or all stays of a type that say they share a line. Days under later terms make a line of
their own, "hire:S1@2026-04-01", so that each line has one set of rates and one tax. Line ids never depend on
the period, so that what was billed before can be found again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from fractions import Fraction

from jobs.errors import BadRequest
from jobs.hire.book import Book, Piece, has_time_rate
from jobs.hire.entries import entries_of, is_either
from jobs.hire.lines import Due, Entry
from jobs.hire.minimum import Key, Shortfall, shortfalls
from jobs.hire.pricing import NIL
from jobs.hire.rounding import rounded
from jobs.hire.stays import Charge, StandDown, Stay, day_of
from jobs.hire.terms import ALL, Tax, Terms, narrowest


def dues(book: Book, period_end: date, places: int, undated: bool = True) -> dict[str, Due]:
    """Every charge of the facts in `book` up to `period_end` (the first day not charged), by line id.

    Charges without a date are among them only if `undated`.
    """
    found = [*_hire(book, period_end, places), *_ended(book, period_end, places)]
    found += [one for one in _charges(book, period_end, places) if undated or _dated(one)]
    return {one.line: one for one in found}


def _dated(due: Due) -> bool:
    return due.charge is None or due.charge.date is not None


# Time and uses


def _hire(book: Book, period_end: date, places: int) -> Iterator[Due]:
    time: dict[Key, list[Entry]] = {}
    uses: dict[Key, list[Entry]] = {}
    for stay in book.facts.stays:
        for entry in entries_of(book, stay, period_end):
            number = entry.piece.terms
            if not entry.by_use and _never_by_time(book, stay, number):
                continue
            into = uses if entry.by_use and not is_either(book, stay, number) else time
            into.setdefault((stay.group, stay.type, number), []).append(entry)
    short: dict[Key, Fraction] = {}
    for one in shortfalls(book, time, "line", period_end, places):
        short[one.last_line] = short.get(one.last_line, NIL) + one.lacks
    for key, entries in time.items():
        yield _time_due(book, key, entries, short.get(key, NIL), period_end, places)
    for one in shortfalls(book, time, "delivery", period_end, places):
        yield _minimum_due(book, one, places)
    for key, entries in uses.items():
        yield _use_due(book, key, entries, places)


def _never_by_time(book: Book, stay: Stay, number: int) -> bool:
    """Gear charged by its uses alone has no line for time; gear without any rate has one, at nothing, unless sold."""
    rate = book.rate(number, stay)
    return not has_time_rate(rate) and (rate is not None or stay.end == "sold")


def _time_due(book: Book, key: Key, entries: list[Entry], short: Fraction, period_end: date, places: int) -> Due:
    stay, terms = entries[0].stay, book.versions[key[2]]
    parts = [part for one in entries for part in one.piece.parts]
    rate, per = _one((part.rate, part.per) for part in parts)
    exact = entries[0].amount if len(entries) == 1 else sum((one.amount for one in entries), NIL)
    return Due(
        line=_named(book, "hire", key, stay),
        kind="hire",
        type=stay.type,
        amount=rounded(exact + short if short else exact, places),
        tax=terms.tax_for("hire"),
        entries=tuple(entries),
        quantity=Decimal(sum(one.stay.count for one in entries)),
        rate=rate,
        per=per,
        topped_up=rounded(short, places) if short else Decimal(0),
        cost=_cost(book, entries, key[2], period_end, places),
        terms=terms,
        downs=_downs(book, entries),
    )


def _downs(book: Book, entries: list[Entry]) -> tuple[StandDown, ...]:
    names = {one.stay.id for one in entries}
    first = min(day_of(one.stay.out, book.zone) for one in entries)
    return tuple(
        one for one in book.facts.stand_downs if one.until > first and (not one.stays or names & set(one.stays))
    )


def _cost(book: Book, entries: list[Entry], number: int, period_end: date, places: int) -> Decimal | None:
    ours = [one.stay for one in entries if one.stay.hired_in]
    if not ours or not (book.versions[number].hired_in_costs or any(stay.cost_day is not None for stay in ours)):
        return None
    costs = [
        piece.amount * stay.count
        for stay in ours
        for piece in book.pieces(stay, period_end, costs=True)
        if piece.terms == number
    ]
    return rounded(sum(costs, NIL), places)


def _minimum_due(book: Book, short: Shortfall, places: int) -> Due:
    terms = book.versions[short.terms]
    return Due(
        line=_since(book, f"minimum:{short.group}", short.terms),
        kind="minimum",
        type="",
        amount=rounded(short.lacks, places),
        tax=terms.tax_for("hire"),
        entries=tuple({one.stay.id: one for _, one in short.members}.values()),
        quantity=Decimal(1),
        rate=short.least,
        per="delivery",
        terms=terms,
        had=rounded(short.had, places),
    )


def _use_due(book: Book, key: Key, entries: list[Entry], places: int) -> Due:
    stay, terms = entries[0].stay, book.versions[key[2]]
    uses = sum(one.piece.days for one in entries)
    rate, per = _one((part.rate, part.per) for one in entries for part in one.piece.parts)
    return Due(
        line=_named(book, "use", key, stay),
        kind="use",
        type=stay.type,
        amount=rounded(sum((one.amount for one in entries), NIL), places),
        tax=terms.tax_for("use"),
        entries=tuple(entries),
        quantity=Decimal(uses),
        uses=uses,
        rate=rate,
        per=per,
        terms=terms,
    )


def _named(book: Book, kind: str, key: Key, stay: Stay) -> str:
    return _since(book, f"{kind}:{key[0]}" + (f":{key[1]}" if stay.line else ""), key[2])


def _since(book: Book, name: str, number: int) -> str:
    first = book.versions[number].holds_from
    return f"{name}@{first.isoformat()}" if first else name


def _one(values: Iterable[tuple[Decimal, str]]) -> tuple[Decimal | None, str]:
    every = set(values)
    return every.pop() if len(every) == 1 else (None, "mix" if every else "")


# Losses and sales


def _ended(book: Book, period_end: date, places: int) -> Iterator[Due]:
    groups: dict[tuple[str, str, str, int, Decimal | None], list[Stay]] = {}
    for stay in book.facts.stays:
        if stay.end == "returned" or stay.back is None or day_of(stay.back, book.zone) >= period_end:
            continue
        kind = "loss" if stay.end == "lost" else "sale"
        number = max(0, book.version_on(day_of(stay.back, book.zone), day_of(stay.out, book.zone)))
        groups.setdefault((kind, stay.group, stay.type, number, stay.replacement), []).append(stay)
    for (kind, group, type, number, _), stays in groups.items():
        terms = book.versions[number]
        worth = sale_price(terms, stays[0]) if kind == "sale" else replacement_value(terms, stays[0])
        if worth is None:
            book.warn(f"The terms give no value for {type}: its {kind} is charged at nothing.")
        yield _ended_due(book, kind, (group, type, number), stays, worth or Decimal(0), places)


def _ended_due(book: Book, kind: str, key: Key, stays: list[Stay], worth: Decimal, places: int) -> Due:
    terms = book.versions[key[2]]
    count = sum(stay.count for stay in stays)
    share = terms.loss.share if kind == "loss" else ALL
    name = _named(book, kind, key, stays[0])
    if stays[0].replacement is not None and stays[0].line:
        name += f"={stays[0].replacement.normalize():f}"
    return Due(
        line=name,
        kind=kind,
        type=key[1],
        amount=rounded(Fraction(worth) * share * count, places),
        tax=terms.tax_for(kind),
        entries=tuple(Entry(stay, Piece(key[2], 0, (), NIL), NIL) for stay in stays),
        quantity=Decimal(count),
        rate=worth,
        per="piece",
        terms=terms,
        share=share,
    )


def replacement_value(terms: Terms, stay: Stay) -> Decimal | None:
    """What a piece of a stay costs to replace: its own value, else the terms'."""
    if stay.replacement is not None:
        return stay.replacement
    found = narrowest(terms.replacement, stay.type, stay.kind)
    return found.amount if found else None


def sale_price(terms: Terms, stay: Stay) -> Decimal | None:
    """What a piece of a stay is sold at: the terms' sale price, else its replacement value."""
    found = narrowest(terms.sales, stay.type, stay.kind)
    return found.amount if found else replacement_value(terms, stay)


# Everything charged once


def _charges(book: Book, period_end: date, places: int) -> Iterator[Due]:
    numbers: dict[str, int] = {}
    for place, charge in enumerate(book.facts.charges):
        numbers[charge.kind] = numbers.get(charge.kind, 0) + 1
        name = charge.id or str(numbers[charge.kind])
        if charge.date is None or day_of(charge.date, book.zone) < period_end:
            terms = book.terms_on(charge.date or period_end)
            yield _charge_due(charge, f"charge:{charge.kind}:{name}", terms, f"charges[{place}]", places)


def _charge_due(charge: Charge, line: str, terms: Terms, path: str, places: int) -> Due:
    price, share = charge_price(charge, terms)
    if price is None:
        raise BadRequest(
            f"{path}.unit_amount", f"is missing, and the terms give no price for {_what(charge)}. Give one."
        )
    return Due(
        line=line,
        kind=charge.kind,
        type=charge.type,
        amount=rounded(Fraction(price) * share * Fraction(charge.quantity), places),
        tax=_charge_tax(charge, terms),
        quantity=charge.quantity,
        rate=price,
        per="each",
        charge=charge,
        terms=terms,
        share=share,
    )


def _what(charge: Charge) -> str:
    return " ".join(one for one in (charge.kind, charge.grade, "of " + charge.type if charge.type else "") if one)


def charge_price(charge: Charge, terms: Terms) -> tuple[Decimal | None, Fraction]:
    """The price of one and the share of it that is charged: what the charge says, else what the terms say."""
    if charge.unit_amount is not None:
        return charge.unit_amount, ALL
    if charge.kind == "delivery":
        return (terms.delivery.back if charge.leg == "back" else terms.delivery.out), ALL
    if charge.kind == "damage":
        return _damage_price(charge, terms)
    several = {"cleaning": terms.cleaning, "loss": terms.replacement, "sale": terms.sales}.get(charge.kind, ())
    found = narrowest(several, charge.type, charge.gear)
    if found is None and charge.kind == "sale":
        found = narrowest(terms.replacement, charge.type, charge.gear)
    return (found.amount if found else None), terms.loss.share if charge.kind == "loss" else ALL


def _damage_price(charge: Charge, terms: Terms) -> tuple[Decimal | None, Fraction]:
    grade = next((one for one in terms.damage.grades if one.grade == charge.grade), None)
    if grade is None or grade.amount is not None or grade.share is None:
        return (grade.amount if grade else None), ALL
    found = narrowest(terms.replacement, charge.type, charge.gear)
    return (found.amount if found else None), grade.share


def _charge_tax(charge: Charge, terms: Terms) -> Tax:
    stated = terms.tax_for(charge.kind)
    if charge.tax is None:
        return stated
    category = charge.tax_category or ("S" if charge.tax else "Z")
    return Tax(rate=charge.tax, category=category)
