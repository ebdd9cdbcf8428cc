"""What a stay is charged for its time and for its uses, under each set of terms that held.

Where a rate asks for whichever of the two is less, that is decided for the hire as a whole: an exchange for damage
goes on with the same hire, so a stay's own charge is the lesser of the whole hire's time and uses up to it, less
the lesser of the two before it. The stays of a hire therefore never come to more than either, nor to less than nought.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from jobs.hire.book import Book, Piece, has_time_rate
from jobs.hire.lines import Entry
from jobs.hire.pricing import NIL, Part
from jobs.hire.stays import Stay, day_of


def entries_of(book: Book, stay: Stay, period_end: date) -> Iterator[Entry]:
    """A stay's shares of the charges up to `period_end`, first those for time."""
    used = _uses(book, stay, period_end)
    for piece in book.pieces(stay, period_end):
        if is_either(book, stay, piece.terms):
            used.pop(piece.terms, None)
            yield _lesser(book, stay, piece, period_end)
            continue
        amount = piece.amount if stay.count == 1 else piece.amount * stay.count
        yield Entry(stay, piece, amount, carried=piece.carried * stay.count if piece.carried else NIL)
        cast = used.pop(piece.terms, None)
        if cast:
            yield Entry(stay, cast, cast.amount, True)
    for cast in used.values():
        yield Entry(stay, cast, cast.amount, True)


def is_either(book: Book, stay: Stay, number: int) -> bool:
    """Whether those terms charge for time or for uses, whichever is less."""
    rate = book.rate(number, stay)
    return rate is not None and rate.uses == "cheaper" and rate.use is not None


def _lesser(book: Book, stay: Stay, piece: Piece, period_end: date) -> Entry:
    """Time or uses of the hire up to this stay, less what of it stands on the stays before."""
    number = piece.terms
    timed = has_time_rate(book.rate(number, stay))
    chain = book.chain(stay)
    cast = [_uses(book, one, period_end).get(number) for one in chain]
    count = sum(one.days for one in cast if one)
    amounts = [one.amount if one else NIL for one in cast]
    used, used_before = sum(amounts, NIL), sum(amounts[:-1], NIL)
    time, time_before = (piece.amount + piece.carried) * stay.count, piece.carried * stay.count
    before = min(used_before, time_before) if timed else used_before
    if timed and time <= used:
        return Entry(stay, piece, time - before, carried=before)
    rate = book.rate(number, stay)
    assert rate is not None and rate.use is not None
    part = Part("use", Fraction(count), rate.use, 0, Fraction(rate.use) * count)
    carried_days = sum(one.days for one in cast[:-1] if one)
    by_use = Piece(number, count - carried_days, (part,), used - before, carried_days=carried_days)
    return Entry(stay, by_use, used - before, True, before)


def _uses(book: Book, stay: Stay, period_end: date) -> dict[int, Piece]:
    """The charge for a stay's uses (all its pieces together) by set of terms; `days` counts pieces cast."""
    found: dict[int, Piece] = {}
    if stay.id not in book.uses:
        return found
    started = day_of(book.chain(stay)[0].out, book.zone)
    for use in book.uses[stay.id]:
        day = day_of(use.date, book.zone)
        number = book.version_on(day, started)
        rate = book.rate(number, stay) if number >= 0 else None
        if day >= period_end or rate is None or rate.use is None:
            continue
        if day < day_of(stay.out, book.zone) or (stay.back is not None and day > day_of(stay.back, book.zone)):
            book.warn(f"{stay.id} was cast on {day.isoformat()}, when it was not out: charged, but look at it.")
        if use.count > stay.count:
            what = f"{use.count} of {stay.id} were cast on {day.isoformat()}, though it has {stay.count}"
            book.warn(f"{what}: charged, but look at it.")
        had = found.get(number)
        count = use.count + (had.days if had else 0)
        exact = Fraction(rate.use) * count
        part = Part("use", Fraction(count), rate.use, 0, exact)
        found[number] = Piece(number, count, (part,), exact * book.kept(number, stay))
    return found
