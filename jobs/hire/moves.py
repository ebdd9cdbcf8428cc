"""Stays and uses from what was seen: gear out, received, off-hired, collected, back, lost, found, sold, cast.

Moves are folded piece by piece in the order they happened (then by device, the device's own sequence, and
id), so that any order of arrival gives the same stays. A reversed move never was; reversing the reversal
brings it back. A piece has at most one stay at a time. Goods tracked by count have many, and what
comes back is matched to what went out first (common practice, no source).

What does not add up is never lost: it becomes a finding for review, and the nearest sensible stay is made.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal, NamedTuple

from jobs.hire.stays import Stay, Use

Kind = Literal[
    "out", "across", "received", "off_hire", "collected", "back", "lost", "found", "sold", "settled", "cast", "reversed"
]


@dataclass(frozen=True)
class Move:
    """One thing seen, of one piece, or of `count` goods tracked by count.

    `out` and `across` name the job gear goes to; `across` also ends the stay it leaves, at one instant.
    `line` puts the stay on a shared line, such as a docket's. `replaces` is the piece that an exchange for
    damage brought back.
    """

    id: str
    kind: Kind
    at: datetime
    piece: str = ""
    type: str = ""
    job: str = ""
    count: int = 1
    gear: str = ""
    by_count: bool = False
    hired_in: bool = False
    line: str = ""
    replaces: str = ""
    target: str = ""
    device: str = ""
    sequence: int = 0
    recorded: datetime | None = None


class Finding(NamedTuple):
    """What does not add up: the move it came from, and a sentence."""

    move: str
    sentence: str


@dataclass
class Gathered:
    """Stays with the job of each, uses, and what needs a look."""

    stays: list[Stay] = field(default_factory=list)
    jobs: dict[str, str] = field(default_factory=dict)
    uses: list[Use] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def gather(moves: Iterable[Move], known_at: datetime | None = None) -> Gathered:
    """The stays of all jobs from their moves, as recorded by `known_at` (None: all)."""
    known = [one for one in moves if known_at is None or one.recorded is None or one.recorded <= known_at]
    by_thing: dict[tuple[str, str], list[Move]] = {}
    for one in _standing(known):
        thing = ("count", f"{one.type}|{one.job}") if one.by_count else ("piece", one.piece)
        by_thing.setdefault(thing, []).append(one)
    found = Gathered()
    latest: dict[tuple[str, str], Stay] = {}
    replaced: list[tuple[str, str, str]] = []
    for (tracked, _), several in sorted(by_thing.items()):
        several.sort(key=lambda one: (one.at, one.device, one.sequence, one.id))
        if tracked == "piece":
            _Piece(found, latest, replaced).fold(several)
        else:
            _fold_count(several, found)
    _link_exchanges(found, latest, replaced)
    return found


def _standing(moves: list[Move]) -> list[Move]:
    """The moves that are not reversed, without the reversals."""
    reversals: dict[str, list[str]] = {}
    for one in moves:
        if one.kind == "reversed":
            reversals.setdefault(one.target, []).append(one.id)
    stands: dict[str, bool] = {}

    def holds(name: str, seen: frozenset[str]) -> bool:
        if name in seen:
            return True
        if name not in stands:
            inside = seen | {name}
            stands[name] = not any(holds(reversal, inside) for reversal in reversals.get(name, ()))
        return stands[name]

    return [one for one in moves if one.kind != "reversed" and holds(one.id, frozenset())]


class _Piece:
    """The fold of one piece's moves."""

    def __init__(
        self, found: Gathered, latest: dict[tuple[str, str], Stay], replaced: list[tuple[str, str, str]]
    ) -> None:
        self.found, self.latest, self.replaced = found, latest, replaced
        self.stay: Stay | None = None
        self.done: Stay | None = None
        self.job = ""

    def fold(self, moves: list[Move]) -> None:
        for move in moves:
            getattr(self, f"_{move.kind}")(move)
        self._keep(self.stay)
        self._keep(self.done)

    def _out(self, move: Move) -> None:
        if self.stay is not None:
            self._review(move, "went out again while still out: its return was not seen and is taken as then")
            self._close(move, "returned")
        self._open(move)

    def _across(self, move: Move) -> None:
        if self.stay is None:
            self._review(move, "went across from a site it was not out on")
        else:
            self._close(move, "returned")
        self._open(move)

    def _open(self, move: Move) -> None:
        self._keep(self.done)
        self.done = None
        self.job = move.job
        self.stay = Stay(
            id=f"{move.id}/{move.piece}",
            type=move.type,
            count=1,
            out=move.at,
            kind=move.gear,
            line=move.line,
            hired_in=move.hired_in,
            out_recorded=move.recorded,
            out_event=move.id,
        )
        self.found.jobs[self.stay.id] = move.job
        if move.replaces:
            self.replaced.append((self.stay.id, move.replaces, move.job))

    def _close(self, move: Move, end: Literal["returned", "lost", "sold"]) -> None:
        assert self.stay is not None
        self.done = replace(self.stay, back=move.at, end=end, back_recorded=move.recorded, back_event=move.id)
        self.stay = None

    def _keep(self, stay: Stay | None) -> None:
        if stay is None:
            return
        self.found.stays.append(stay)
        piece = stay.id.removeprefix(f"{stay.out_event}/")
        self.latest[(piece, self.found.jobs[stay.id])] = stay

    def _ends(self, move: Move, end: Literal["returned", "lost", "sold"]) -> None:
        if self.stay is None:
            self._review(move, f"{move.kind}, though it was not out")
        else:
            self._close(move, end)

    def _back(self, move: Move) -> None:
        if self.stay is None and self.done is not None and self.done.end == "lost":
            self.stay = replace(self.done, end="returned")
        self._ends(move, "returned")

    def _lost(self, move: Move) -> None:
        self._ends(move, "lost")

    def _sold(self, move: Move) -> None:
        self._ends(move, "sold")

    def _found(self, move: Move) -> None:
        """Found on the site where it was lost: the loss is withdrawn and the stay goes on."""
        if self.done is None or self.done.end != "lost":
            self._review(move, "found, though it was not lost")
            return
        self.stay = replace(self.done, back=None, end="returned", back_recorded=None, back_event="", settled=None)
        self.done = None

    def _settled(self, move: Move) -> None:
        if self.done is None or self.done.end != "lost":
            self._review(move, "settled, though it was not lost")
            return
        self.done = replace(self.done, settled=move.at)

    def _received(self, move: Move) -> None:
        if self.stay is not None and self.stay.received is None:
            self.stay = replace(self.stay, received=move.at)

    def _off_hire(self, move: Move) -> None:
        if self.stay is None:
            self._review(move, "off-hired, though it was not out")
            return
        self.stay = replace(self.stay, off_hire=move.at)

    def _collected(self, move: Move) -> None:
        if self.stay is not None:
            self.stay = replace(self.stay, collected=move.at)

    def _cast(self, move: Move) -> None:
        if self.stay is None:
            self._review(move, "cast, though it was not out")
            return
        self.found.uses.append(Use(self.stay.id, move.at, 1, move.recorded, move.id))

    def _review(self, move: Move, sentence: str) -> None:
        self.found.findings.append(Finding(move.id, f"{move.piece} {sentence}."))


def _fold_count(moves: list[Move], found: Gathered) -> None:
    """First out, first back: each move out is a line; what of it came back when are its stays."""
    waiting: list[tuple[Move, int]] = []
    made: dict[str, int] = {}
    for move in moves:
        if move.kind == "out":
            waiting.append((move, move.count))
        elif move.kind in ("back", "lost", "sold"):
            end: Literal["returned", "lost", "sold"] = (
                "lost" if move.kind == "lost" else "sold" if move.kind == "sold" else "returned"
            )
            left = move.count
            while left and waiting:
                out, had = waiting.pop(0)
                taken = min(left, had)
                left -= taken
                _counted_stay(found, made, out, taken, move, end)
                if had > taken:
                    waiting.insert(0, (out, had - taken))
            if left:
                sentence = f"{left} more of {move.type} {move.kind} than were out on the job."
                found.findings.append(Finding(move.id, sentence))
        else:
            found.findings.append(Finding(move.id, f"{move.kind} says nothing of goods tracked by count."))
    for out, had in waiting:
        _counted_stay(found, made, out, had, None, "returned")


def _counted_stay(
    found: Gathered,
    made: dict[str, int],
    out: Move,
    count: int,
    back: Move | None,
    end: Literal["returned", "lost", "sold"],
) -> None:
    made[out.id] = made.get(out.id, 0) + 1
    stay = Stay(
        id=f"{out.id}/{made[out.id]}",
        type=out.type,
        count=count,
        out=out.at,
        back=back.at if back else None,
        end=end,
        kind=out.gear,
        line=out.line or out.id,
        hired_in=out.hired_in,
        out_recorded=out.recorded,
        back_recorded=back.recorded if back else None,
        out_event=out.id,
        back_event=back.id if back else "",
    )
    found.stays.append(stay)
    found.jobs[stay.id] = out.job


def _link_exchanges(found: Gathered, latest: dict[tuple[str, str], Stay], replaced: list[tuple[str, str, str]]) -> None:
    """Let a stay continue that of the piece it replaced, where that is of its type and went out before it."""
    before = {stay: latest.get((piece, job)) for stay, piece, job in replaced}
    used: set[str] = set()
    for place, stay in enumerate(found.stays):
        old = before.get(stay.id)
        if stay.id not in before:
            continue
        if old is None or old.type != stay.type or old.out > stay.out or old.id in used:
            sentence = f"{stay.id} was given in exchange, but nothing like it was out on the job before."
            found.findings.append(Finding(stay.out_event, sentence))
            continue
        used.add(old.id)
        found.stays[place] = replace(stay, continues=old.id)
