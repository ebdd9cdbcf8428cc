"""What a remedy came to, in a sentence, and how sure that is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from jobs.planning.findings import metres
from jobs.planning.remedies.buy import BuyAnswer
from jobs.planning.remedies.chase import ChaseAnswer
from jobs.planning.remedies.clean_first import CleanFirst
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.move_pours import Bounds, MoveAnswer
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.wait import WaitAnswer

COVERED = "then its edge forms are covered"
NOT_PROVED = "Not proved: some choice that was not looked at may do it."


def many(count: int, one: str, more: str = "") -> str:
    """ "1 piece", "2 pieces"."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def no_use(name: str, found: Taken, nothing: str, not_enough: str) -> Remedy:
    """A remedy that does not turn the answer."""
    sentence = nothing or not_enough
    sure = "Proved: whatever lengths are joined." if found.proved else NOT_PROVED
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
    needs = Counter(piece.need for piece in answer.pieces)
    what = " and ".join(f"{need} {many(count, 'piece')}" for need, count in sorted(needs.items()))
    return Remedy(
        "clean",
        True,
        found.proved,
        f"{_capital(what)} before others: {COVERED}.",
        fewest(found, "pieces"),
        effort=len(answer.pieces),
        lines=tuple({"tag": p.tag, "code": p.code, "need": p.need, "day": p.day.isoformat()} for p in answer.pieces),
    )


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
        f"Ask back {many(found.price, 'piece')} from {_listed(holders)}: {COVERED}.",
        fewest(found, "pieces"),
        effort=found.price,
        lines=tuple(
            {"holder": line.holder, "code": line.code, "count": line.count, "day": line.day.isoformat()}
            for line in answer.lines
        ),
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
        f"Move {many(len(moves), 'pour')}, {_far(moves)}: {COVERED}.",
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
    )


def _far(moves: Sequence[tuple[str, int]]) -> str:
    """ "none by more than 3 working days", or each where there are few."""
    if len(moves) > 3:
        return f"none by more than {many(max(abs(shift) for _, shift in moves), 'working day')}"
    return _listed(
        [f"{name} {many(abs(shift), 'working day')} {'later' if shift > 0 else 'earlier'}" for name, shift in moves]
    )


def buy_words(answer: BuyAnswer, priced: bool) -> Remedy:
    """Buy or hire in."""
    found = answer.found
    if not found.turns:
        return no_use("buy", found, "", "Nothing that can be bought or hired in would be here in time, or enough.")
    pieces = sum(line.count for line in answer.lines)
    if priced:
        money = f"for {found.price / 100:,.2f}"
        sure = "Proved: no list costs less." if found.proved else f"At least {found.bound / 100:,.2f} is needed."
    else:
        money = f"{metres(found.price)} in all, since no price is known"
        sure = "Proved: no list is shorter." if found.proved else f"At least {metres(found.bound)} is needed."
    return Remedy(
        "buy",
        True,
        found.proved,
        f"Buy or hire in {many(pieces, 'piece')} {money}: {COVERED}.",
        sure,
        cents=found.price if priced else None,
        effort=pieces,
        lines=tuple(
            {
                "key": line.key,
                "code": line.code,
                "count": line.count,
                "cents": line.cents,
                "day": line.day.isoformat(),
            }
            for line in answer.lines
        ),
    )


def said(day: date) -> str:
    """A day for people: Fri 5 Mar 2027."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
