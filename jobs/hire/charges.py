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
from jobs.hire.lines import Due, Entry
from jobs.hire.pricing import NIL, Part
from jobs.hire.rounding import rounded
from jobs.hire.stays import Charge, StandDown, Stay, day_of
from jobs.hire.terms import ALL, Tax, Terms, narrowest

Key = tuple[str, str, int]


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
        for piece, by_use in _entries(book, stay, period_end):
            if stay.end == "sold" and not by_use and not has_time_rate(book.rate(piece.terms, stay)):
                continue
            into = uses if by_use and not _is_either(book, stay, piece.terms) else time
            amount = piece.amount * (1 if by_use else stay.count)
            entry = Entry(stay, piece, amount, by_use)
            into.setdefault((stay.group, stay.type, piece.terms), []).append(entry)
    short = _line_minimum(book, time, period_end)
    for key, entries in time.items():
        yield _time_due(book, key, entries, short.get(key, NIL), period_end, places)
    for key, entries in uses.items():
        yield _use_due(book, key, entries, places)


def _entries(book: Book, stay: Stay, period_end: date) -> Iterator[tuple[Piece, bool]]:
    used = _uses(book, stay, period_end)
    for piece in book.pieces(stay, period_end):
        cast = used.pop(piece.terms, None)
        if cast and _is_either(book, stay, piece.terms):
            rate = book.rate(piece.terms, stay)
            cheaper = cast.amount < piece.amount * stay.count or not has_time_rate(rate)
            yield (cast, True) if cheaper else (piece, False)
            continue
        if _is_either(book, stay, piece.terms):
            yield piece._replace(amount=NIL, parts=()), False
            continue
        yield piece, False
        if cast:
            yield cast, True
    for cast in used.values():
        yield cast, True


def _is_either(book: Book, stay: Stay, number: int) -> bool:
    rate = book.rate(number, stay)
    return rate is not None and rate.uses == "cheaper" and rate.use is not None


def _uses(book: Book, stay: Stay, period_end: date) -> dict[int, Piece]:
    """The charge for a stay's uses (all its pieces together) by set of terms; `days` counts pieces cast."""
    found: dict[int, Piece] = {}
    started = day_of(stay.out, book.zone)
    for use in book.uses.get(stay.id, ()):
        day = day_of(use.date, book.zone)
        number = book.version_on(day, started)
        rate = book.rate(number, stay) if number >= 0 else None
        if day >= period_end or rate is None or rate.use is None:
            continue
        if day < started or (stay.back is not None and day > day_of(stay.back, book.zone)):
            book.warn(f"{stay.id} was cast on {day.isoformat()}, when it was not out: charged, but look at it.")
        had = found.get(number)
        count = use.count + (had.days if had else 0)
        exact = Fraction(rate.use) * count
        part = Part("use", Fraction(count), rate.use, 0, exact)
        found[number] = Piece(number, count, (part,), exact * book.kept(number, stay))
    return found


def _line_minimum(book: Book, time: dict[Key, list[Entry]], period_end: date) -> dict[Key, Fraction]:
    """What lines with a minimum amount of their own fall short of it, put on the line's last terms."""
    if all(one.minimum.per == "piece" or not one.minimum.amount for one in book.versions):
        return {}
    groups: dict[tuple[str, str], list[Key]] = {}
    for key in time:
        groups.setdefault(key[:2], []).append(key)
    short = {}
    for keys in groups.values():
        last = max(keys, key=lambda key: key[2])
        least = book.versions[last[2]].minimum
        entries = [one for key in keys for one in time[key]]
        over = all(_is_over(book, one.stay, period_end) for one in entries)
        lacks = Fraction(least.amount) - sum((one.amount for one in entries), NIL)
        if least.per == "line" and over and lacks > 0:
            short[last] = lacks
    return short


def _is_over(book: Book, stay: Stay, period_end: date) -> bool:
    span = book.span(stay, period_end)
    return span is not None and span.ended


def _time_due(book: Book, key: Key, entries: list[Entry], short: Fraction, period_end: date, places: int) -> Due:
    stay, terms = entries[0].stay, book.versions[key[2]]
    parts = [part for one in entries for part in one.piece.parts]
    rate, per = _one((part.rate, part.per) for part in parts)
    exact = sum((one.amount for one in entries), NIL) + short
    return Due(
        line=_named(book, "hire", key, stay),
        kind="hire",
        type=stay.type,
        amount=rounded(exact, places),
        tax=terms.tax_for("hire"),
        entries=tuple(entries),
        quantity=Decimal(sum(one.stay.count for one in entries)),
        rate=rate,
        per=per,
        topped_up=rounded(short, places),
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
    first = book.versions[key[2]].holds_from
    name = f"{kind}:{key[0]}" + (f":{key[1]}" if stay.line else "")
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
