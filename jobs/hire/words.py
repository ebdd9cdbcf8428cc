"""A line's reason in a sentence or two that a hire clerk can follow with a pencil."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from jobs.hire.codec import share_text
from jobs.hire.lines import Due, Entry
from jobs.hire.pricing import Part
from jobs.hire.stays import StandDown, When
from jobs.hire.terms import ALL, Terms, narrowest

DAYS = {
    "out": "the day out counts, the day back does not",
    "back": "the day back counts, the day out does not",
    "both": "the day out and the day back count",
    "neither": "neither the day out nor the day back counts",
}
WEEKS = {"calendar": "", "six_day": ", Sundays free", "five_day": ", Saturdays and Sundays free"}
SHOWN_GROUPS = 6


class HasDays(Protocol):
    """A period: days [from, until)."""

    @property
    def from_(self) -> date: ...

    @property
    def until(self) -> date: ...


def day_words(day: date) -> str:
    """A day as a clerk writes it: 2 March 2026."""
    return f"{day.day} {day:%B %Y}"


def when_words(when: object) -> str:
    """A day, or an instant as day and hour."""
    if isinstance(when, datetime):
        return f"{day_words(when)} {when:%H:%M}"
    return day_words(when) if isinstance(when, date) else str(when)


def because(due: Due, period: HasDays, before: Decimal, adjustment: Decimal, causes: tuple[str, ...]) -> str:
    """The whole reason: how the charge comes about, what was billed before, what changed and why."""
    said = [_how(due)]
    if before:
        said.append(f"Charged to {day_words(period.until)} (not counting it): {due.amount}; billed before: {before}.")
    if adjustment:
        said.append(f"Of this, {adjustment} adjusts earlier bills: {' '.join(causes)}")
    return " ".join(said)


def _how(due: Due) -> str:
    if due.charge is not None:
        return _once(due, due.charge.description or due.kind)
    if due.kind in ("loss", "sale"):
        return _once(due, f"{due.type} {'lost' if due.kind == 'loss' else 'sold'}")
    if due.kind == "use":
        off = _discount(due)
        return (
            f"{due.type}: {due.uses} uses (a piece in a pour that was cast is one) at {due.rate}{off} = {due.amount}."
        )
    if due.kind == "minimum":
        return _minimum(due)
    return _time(due)


def _minimum(due: Due) -> str:
    count = sum(one.stay.count for one in due.entries)
    return (
        f"{_times(count, 'piece')} of one delivery, all back, came to {due.had} for time. At least {due.rate} is "
        f"charged for a delivery: made up by {due.amount}."
    )


def _once(due: Due, what: str) -> str:
    share = f" x {share_text(due.share)} of it" if due.share != ALL else ""
    return f"{what}: {plain(due.quantity)} x {due.rate}{share} = {due.amount}."


def _time(due: Due) -> str:
    groups = _alike(due.entries, due.terms)
    said = [_group(entries, due.terms) for entries in groups[:SHOWN_GROUPS]]
    if len(groups) > SHOWN_GROUPS:
        said.append(f"and {len(groups) - SHOWN_GROUPS} more dates, each by the same rule")
    rule = f"Days: {DAYS[due.terms.days_charged]}{_hours(due.terms)}{WEEKS[due.terms.week]}{_free(due.terms)}."
    least = f" Made up by {due.topped_up} to the minimum for the line." if due.topped_up else ""
    shares = f"{_steps(due.terms)}{''.join(_down(one) for one in due.downs)}"
    return f"{due.type}: {'; '.join(said)}. Together {due.amount}.{least} {rule}{shares}"


def _steps(terms: Terms) -> str:
    where = "the days beyond" if terms.steps_for == "beyond" else "all days once beyond"
    return "".join(f" Long hire: {where} {one.after_days} at {share_text(one.share)}." for one in terms.steps)


def _down(down: StandDown) -> str:
    why = ", ".join(one for one in (down.reason, f"agreed by {down.agreed_by}" if down.agreed_by else "") if one)
    dates = f"{day_words(down.from_)} to {day_words(down.until - timedelta(days=1))}"
    return f" Stand-down {dates} at {share_text(down.share)}{f' ({why})' if why else ''}."


def _hours(terms: Terms) -> str:
    said = ""
    if terms.cut_off_out:
        said += f"; out from {terms.cut_off_out:%H:%M} on, that day is free"
    if terms.cut_off_back:
        said += f"; back by {terms.cut_off_back:%H:%M}, that day is free"
    return said


def _free(terms: Terms) -> str:
    return ", listed holidays free" if terms.holidays else ""


def _alike(entries: Iterable[Entry], terms: Terms) -> list[list[Entry]]:
    """Entries with the same days and charge together, so that forty pieces scanned one by one read as one."""
    groups: dict[object, list[Entry]] = {}
    for one in entries:
        dates = (_when(one.stay.out, terms), one.stay.back and _when(one.stay.back, terms))
        groups.setdefault((dates, one.stay.end, one.piece, one.by_use, one.stay.continues), []).append(one)
    return list(groups.values())


def _when(when: When, terms: Terms) -> str:
    """The day, in the zone of the terms; with the hour only where an hour decides."""
    if not isinstance(when, datetime):
        return day_words(when)
    local = when.astimezone(terms.zone) if terms.zone else when
    return when_words(local) if terms.cut_off_out or terms.cut_off_back else day_words(local)


def _group(entries: list[Entry], terms: Terms) -> str:
    stay, piece = entries[0].stay, entries[0].piece
    count = sum(one.stay.count for one in entries)
    ended = "still out" if stay.back is None else f"{stay.end} {_when(stay.back, terms)}"
    dates = f"{count} out {_when(stay.out, terms)}, {ended}"
    if entries[0].by_use:
        uses = f"{_times(piece.days, 'use')} at {piece.parts[0].rate}, less than the charge for time"
        return f"{dates}: {uses}{_continues(entries[0])}{_off(entries[0], terms)}"
    made_up = f" ({piece.made_up} of them to make the minimum)" if piece.made_up else ""
    days = f"{_times(piece.days, 'day')} charged{made_up}"
    least = f", made up to the minimum of {terms.minimum.amount} a piece" if piece.topped else ""
    return f"{dates}: {days}{_sum(piece.parts, terms)}{_continues(entries[0])}{_off(entries[0], terms)}{least}"


def _sum(parts: tuple[Part, ...], terms: Terms) -> str:
    if not parts:
        return ", no charge for time"
    return ", " + " + ".join(_part(one, terms) for one in parts) + " a piece"


def _part(part: Part, terms: Terms) -> str:
    days = _times(part.days, "day") + _worth(part)
    if part.per == "day":
        return f"{days} x {part.rate} a day"
    if part.units.denominator > 1:
        return f"{days} of {_length(part, terms)} at {part.rate} a {part.per}"
    said = f"{_times(part.units.numerator, part.per)} at {part.rate} a {part.per}"
    return said if days == _times(part.days, "day") else f"{said} for {days}"


def _worth(part: Part) -> str:
    """How many full days some days at a share are worth, where they are not full days."""
    full = Fraction(part.rate) * part.units
    if part.amount == full or not full:
        return ""
    return f" (worth {share_text(part.days * part.amount / full)})"


def _length(part: Part, terms: Terms) -> str:
    if part.per == "week":
        return f"a {terms.week_days}-day week"
    return f"a {(part.days / part.units).numerator}-day month"


def _continues(entry: Entry) -> str:
    if not entry.piece.carried_days:
        return ""
    days = _times(entry.piece.carried_days, "use" if entry.by_use else "day")
    amount = f" and {share_text(entry.carried)} of the charge" if entry.carried else ""
    return f" for the whole hire, of which {days}{amount} stand on {entry.stay.continues}"


def _off(entry: Entry, terms: Terms) -> str:
    found = narrowest(terms.discounts, entry.stay.type, entry.stay.kind)
    return f", less {plain(found.per_cent)} per cent" if found else ""


def _discount(due: Due) -> str:
    return _off(due.entries[0], due.terms)


def _times(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def plain(number: Decimal) -> str:
    """A number without trailing noughts: 40, 1.5."""
    return format(number.normalize(), "f")
