"""The lines of a remedy as rows of a page or a file: pieces and types with where they are, what they cost and when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from inventory.models import GearType, Piece
from jobs.models import Job, Supply
from jobs.selectors.pours import job_calendar
from jobs.selectors.waiting import Arrivals

NOT_EXPORTED = {"key", "cents", "changes", "held", "answer"}


@dataclass(frozen=True)
class Row:
    """One line of what a remedy takes. `day` is when it is wanted, `load_on` when that is loaded in the yard."""

    what: str
    type: GearType | None
    count: int
    day: date | None = None
    load_on: date | None = None
    where: str = ""
    piece: Piece | None = None
    cost: Decimal | None = None
    tags: Sequence[Piece] = ()
    priceless: bool = False

    @property
    def title(self) -> str:
        return self.what[:1].upper() + self.what[1:]


@dataclass(frozen=True)
class CutRow:
    """So many of a type, each cut alike; `query` opens the page that cuts filled in."""

    code: str
    into: Sequence[str]
    count: int
    offcut_mm: int
    splay: int
    day: date
    query: str


def rows_of(job: Job, lines: Sequence[dict[str, Any]]) -> Iterator[Row]:
    """Rows of pieces and types; each line says what is done with it in `do`."""
    arrivals = Arrivals(job, date.min, job_calendar(job))
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=[line["code"] for line in lines])}
    labels = [label for line in lines for label in (*line.get("tags", ()), *([line["tag"]] if "tag" in line else []))]
    pieces = {piece.label: piece for piece in Piece.objects.filter(label__in=labels).select_related("place__parent")}
    supplies = supplies_of(lines)
    for line in lines:
        day, piece = date.fromisoformat(line["day"]), pieces.get(line.get("tag", ""))
        supply = supplies.get(line.get("key", ""))
        cents = line.get("cents")
        yield Row(
            what=line.get("need") or _what(line["do"], supply),
            type=types.get(line["code"]),
            count=line.get("count", 1),
            day=day,
            load_on=arrivals.load_day(day),
            where=line.get("holder") or (str(piece.place) if piece and piece.place else supply.note if supply else ""),
            piece=piece,
            cost=None if cents is None else Decimal(cents) / 100,
            tags=[pieces[label] for label in line.get("tags", ()) if label in pieces],
            priceless="cents" in line and cents is None,
        )


def _what(do: str, supply: Supply | None) -> str:
    if do == "chase":
        return "ask back"
    return "hire in" if supply and supply.way == Supply.Way.HIRE else do


def supplies_of(lines: Sequence[Mapping[str, Any]]) -> dict[str, Supply]:
    """The listed supplies that lines are bought from, by the key of the line."""
    keys = {key: int(last) for line in lines if (key := line.get("key", "")) and (last := key.split("|")[-1]).isdigit()}
    rows = Supply.objects.in_bulk(keys.values())
    return {key: rows[pk] for key, pk in keys.items() if pk in rows}


def cuts_of(job: Job, lines: Sequence[dict[str, Any]]) -> Iterator[CutRow]:
    """Lengths to cut down."""
    for line in lines:
        asked = {"from": line["code"], "into": ",".join(line["into"]), "why": f"wanted for {job.code}"}
        day = date.fromisoformat(line["day"])
        yield CutRow(line["code"], line["into"], line["count"], line["offcut_mm"], line["splay"], day, urlencode(asked))


def export_rows(remedy: dict[str, Any], currency: str) -> Iterator[list[Any]]:
    """The lines of a remedy as a table: a head, then a row each."""
    lines = remedy["lines"]
    heads = list(dict.fromkeys(name for line in lines for name in line if name not in NOT_EXPORTED))
    has_cost = any(line.get("cents") is not None for line in lines)
    yield [*heads, *([f"cost each ({currency})", f"cost ({currency})"] if has_cost else [])]
    for line in lines:
        yield [*(_cell(line.get(name, "")) for name in heads), *(_costs(line) if has_cost else [])]


def _costs(line: dict[str, Any]) -> list[Any]:
    if line.get("cents") is None:
        return ["", ""]
    times = line.get("count") or line.get("times", 1)
    return [Decimal(line["cents"]) / 100, Decimal(line["cents"]) * times / 100]


def _cell(value: Any) -> Any:
    return " + ".join(map(str, value)) if isinstance(value, list) else value
