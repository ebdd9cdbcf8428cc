"""What a remedy came to, in a sentence, and how sure that is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from jobs.currencies import amount_words
from jobs.planning.remedies.buy import BuyAnswer, Purchase
from jobs.planning.remedies.chase import AskBack, ChaseAnswer
from jobs.planning.remedies.clean_first import CleanFirst, WantedPiece
from jobs.planning.remedies.counting import codes_of
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.move_pours import Bounds, MoveAnswer
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.shortage import FORMS
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.wait import WaitAnswer

COVERED = "then it is covered"
NOT_PROVED = "Not proved: some choice that was not looked at may do it."


def many(count: int, one: str, more: str = "") -> str:
    """ "1 piece", "2 pieces"."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def no_use(name: str, found: Taken, nothing: str, not_enough: str) -> Remedy:
    """A remedy that does not turn the answer."""
    sentence = nothing or not_enough
    if found.without and not nothing:
        sentence = f"{sentence} Still short then: {listed(found.without)}."
    sure = "Proved: whatever lengths are joined." if found.proved else NOT_PROVED
    if found.proved and FORMS not in found.without:
        sure = "Proved by counting, day by day."
    return Remedy(name, False, found.proved, sentence, sure)  # type: ignore[arg-type]


def fewest(found: Taken, what: str) -> str:
    """How sure it is that no fewer would do."""
    if found.proved:
        return f"Proved: no fewer {what} would do."
    return f"The fewest found; at least {found.bound} would be needed."


def clean_words(answer: CleanFirst, waiting: int) -> Remedy:
    """Clean or mend first."""
    found = answer.found
    if not found.turns:
        nothing = "" if waiting else "No dirty or broken piece that waits in a yard would be ready in time."
        enough = f"Not enough: it stays short even if all {many(waiting, 'dirty or broken piece')} went first."
        return no_use("clean", found, nothing, enough)
    what = fit_words(answer.pieces)
    return Remedy(
        "clean",
        True,
        found.proved,
        f"{capital(what)} before others: {COVERED}.",
        fewest(found, "pieces"),
        effort=len(answer.pieces),
        lines=fit_lines(answer.pieces),
        runs=codes_of(found.runs),
    )


def fit_lines(pieces: Sequence[WantedPiece]) -> tuple[dict[str, Any], ...]:
    """As they are stored."""
    return tuple({"tag": p.tag, "code": p.code, "need": p.need, "day": p.day.isoformat()} for p in pieces)


def fit_words(pieces: Sequence[WantedPiece]) -> str:
    """ "clean 2 pieces and mend 1 piece"."""
    needs = Counter(piece.need for piece in pieces)
    return " and ".join(f"{need} {many(count, 'piece')}" for need, count in sorted(needs.items()))


def chase_words(answer: ChaseAnswer, held: int) -> Remedy:
    """Chase."""
    found = answer.found
    if not found.turns:
        nothing = "" if held else "No other job holds gear of this kind that is overdue or due soon."
        return no_use("chase", found, nothing, "Not enough: it stays short even if all of it came back now.")
    holders = sorted({line.holder for line in answer.lines})
    return Remedy(
        "chase",
        True,
        found.proved,
        f"Ask back {many(found.price, 'piece')} from {listed(holders)}: {COVERED}.",
        fewest(found, "pieces"),
        effort=found.price,
        lines=back_lines(answer.lines),
        runs=codes_of(found.runs),
    )


def back_lines(lines: Sequence[AskBack]) -> tuple[dict[str, Any], ...]:
    """As they are stored."""
    return tuple(
        {"holder": o.holder, "code": o.code, "count": o.count, "tags": list(o.tags), "day": o.day.isoformat()}
        for o in lines
    )


def wait_words(answer: WaitAnswer) -> Remedy:
    """Wait."""
    if answer.days is None:
        looked = f"No start of the whole job up to {many(answer.looked, 'working day')} later is covered."
        sure = "Proved for each of them." if answer.proved else NOT_PROVED
        return Remedy("wait", False, answer.proved, looked, sure)
    start, until = answer.start or date.min, answer.until or date.min
    return Remedy(
        "wait",
        True,
        answer.proved,
        f"Start the whole job {many(answer.days, 'working day')} later, first setting on {said(start)}: {COVERED}.",
        "Proved: no earlier start is covered." if answer.proved else "An earlier start is not ruled out.",
        days=answer.days,
        lines=({"days": answer.days, "start": start.isoformat(), "until": until.isoformat()},),
        runs=codes_of(answer.runs),
    )


def move_words(answer: MoveAnswer, timeline: Timeline, bounds: Bounds) -> Remedy:
    """Move pours."""
    if answer.shifts is None:
        reach = f"up to {bounds.earlier} working days earlier or {bounds.later} later"
        none = f"No way to move pours {reach}, keeping stacks, cycles and panels a day, was found that covers it."
        return Remedy("move", False, answer.proved, none, "Proved: there is none." if answer.proved else NOT_PROVED)
    moves = sorted(answer.shifts.items(), key=lambda move: (timeline.days(*move).cast, move[0]))
    latest = max(shift for _, shift in moves)
    sure = "Proved: no fewer pours would do."
    if not answer.proved:
        sure = f"The fewest found; at least {many(answer.least, 'pour')} would have to move."
    return Remedy(
        "move",
        True,
        answer.proved,
        f"Move {many(len(moves), 'pour')} ({_far(moves)}): {COVERED}.",
        sure,
        days=max(0, latest),
        effort=len(moves),
        lines=tuple(
            {
                "pour": name,
                "days": shift,
                "cast": timeline.days(name, shift).cast.isoformat(),
                "was": timeline.by_name[name].cast.isoformat(),
            }
            for name, shift in moves
        ),
        runs=codes_of(answer.runs),
    )


def _far(moves: Sequence[tuple[str, int]]) -> str:
    """ "none by more than 3 working days", or each where there are few."""
    if len(moves) > 3:
        return f"none by more than {many(max(abs(shift) for _, shift in moves), 'working day')}"
    return "; ".join(
        f"{name}, {many(abs(shift), 'working day')} {'later' if shift > 0 else 'earlier'}" for name, shift in moves
    )


def buy_words(answer: BuyAnswer, currency: str) -> Remedy:
    """Buy or hire in."""
    found = answer.found
    if not found.turns:
        return no_use("buy", found, "", "Nothing that can be bought or hired in would be here in time, or enough.")
    pieces = sum(line.count for line in answer.lines)
    cents, money = money_of(answer.lines, currency)
    if cents is not None:
        least = price_words(found.bound, currency)
        sure = "Proved: no list costs less." if found.proved else f"At least {least} is needed."
    else:
        sure = "Where no price is known, the shortest lengths are taken."
    return Remedy(
        "buy",
        True,
        found.proved,
        f"Buy or hire in {many(pieces, 'piece')}{money}: {COVERED}.",
        sure,
        cents=cents,
        effort=pieces,
        lines=buy_lines(answer.lines),
        runs=codes_of(found.runs),
    )


def price_words(cents: int, currency: str) -> str:
    """Hundredths of a unit of money as people read them."""
    return amount_words(Decimal(cents) / 100, currency)


def money_of(lines: Sequence[Purchase], currency: str, more: int = 0) -> tuple[int | None, str]:
    """What lines and `more` cents come to, None where not all have a price; and the same in words."""
    known = [line for line in lines if line.priced]
    cents = more + sum(line.cents * line.count for line in known)
    dear = sum(line.count for line in lines if not line.priced)
    if not dear:
        return cents, f" for {price_words(cents, currency)}"
    if not known and not more:
        return None, ", for which no price is known"
    priced = price_words(cents, currency)
    return None, f" for {priced} and the price of {many(dear, 'piece')}, for which no price is known"


def buy_lines(lines: Sequence[Purchase]) -> tuple[dict[str, Any], ...]:
    """As they are stored."""
    return tuple(
        {
            "key": line.key,
            "code": line.code,
            "count": line.count,
            "cents": line.cents if line.priced else None,
            "day": line.day.isoformat(),
        }
        for line in lines
    )


def said(day: date) -> str:
    """A day for people: Fri 5 Mar 2027."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def capital(words: str) -> str:
    """With its first letter large."""
    return words[:1].upper() + words[1:]


def listed(words: Sequence[str]) -> str:
    """ "one", "one and two", "one, two and three"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
