"""What a phone should know before it goes out of signal: places, reasons, types, and the gear it may meet."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from inventory.errors import Refused
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import DamageReason, Docket, GearType, Piece, Place, Stocktake, Tag
from inventory.selectors.dockets import sheet

MOST_PIECES = 20_000
"""A phone holds so many rows with ease; a larger yard is told that some were left out."""
PIECE = ("pk", "label", "type__code", "place_id", "docket_id", "pour_id", "phase", "crate_id", "dirty", "fitness")


def known_at(docket: int | None, place: int | None) -> dict[str, Any]:
    """For a docket: its load list and the gear at both its ends. For a place: the gear there. Else: no gear.

    Refused: docket-unknown, place-unknown.
    """
    carried = _docket(docket) if docket is not None else None
    here = _place(place) if place is not None else None
    pieces = _pieces(carried, here)
    rows = list(pieces.values_list(*PIECE)[: MOST_PIECES + 1]) if pieces is not None else []
    return {
        "docket": _said_of(carried) if carried is not None else None,
        "place": here.pk if here is not None else None,
        "dockets": [_summary(each) for each in Docket.objects.open().select_related("from_place", "to_place")],
        "places": _places(),
        "reasons": list(DamageReason.objects.filter(withdrawn=False).values("words", "usual_grade")),
        "types": _types(),
        "pieces": _rows(rows[:MOST_PIECES]),
        "left_out": pieces.count() - MOST_PIECES if pieces is not None and len(rows) > MOST_PIECES else 0,
    }


def _docket(pk: int) -> Docket:
    found = Docket.objects.select_related("from_place", "to_place").filter(pk=pk).first()
    if found is None:
        raise Refused("docket-unknown", "There is no such docket.")
    return found


def _place(pk: int) -> Place:
    found = Place.objects.select_related("parent").filter(pk=pk).first()
    if found is None:
        raise Refused("place-unknown", "There is no such place.")
    return found.parent or found


def _pieces(docket: Docket | None, place: Place | None) -> QuerySet[Piece] | None:
    if docket is None and place is None:
        return None
    there = Q(pk__in=[])
    if docket is not None:
        ends = [docket.from_place_id, docket.to_place_id]
        there |= Q(docket=docket) | Q(place__in=ends) | Q(place__parent__in=ends)
    if place is not None:
        there |= Q(place=place) | Q(place__parent=place)
    return Piece.objects.held().filter(there).order_by("pk")


def _summary(docket: Docket) -> dict[str, Any]:
    return {
        "id": docket.pk,
        "number": docket.number,
        "direction": docket.direction,
        "stage": docket.stage,
        "from": docket.from_place_id,
        "to": docket.to_place_id,
    }


def _said_of(docket: Docket) -> dict[str, Any]:
    lines = sheet(docket).lines
    return _summary(docket) | {
        "lines": [
            {
                "type": line.type.code,
                "wanted": line.wanted,
                "loaded": line.loaded,
                "arrived": line.came,
                "missing": line.missing,
            }
            for line in lines
        ],
        "loaded": [one.piece.pk for line in lines for one in line.pieces if one.loaded],
        "arrived": [one.piece.pk for line in lines for one in line.pieces if one.arrived],
    }


def _places() -> list[dict[str, Any]]:
    """Yards, sites and their parts in use, each with the codes that stand for it, as on a setting-out sheet."""
    tags: dict[int, list[str]] = {}
    for place, code in Tag.objects.filter(place__isnull=False).values_list("place_id", "code"):
        tags.setdefault(place, []).append(code)
    counted = dict(Stocktake.objects.open().values_list("place_id", "pk"))
    open_ones = Place.objects.in_use().exclude(kind=PlaceKind.POUR, parent__closed=True).order_by("pk")
    rows = open_ones.values_list("pk", "name", "kind", "parent_id")
    return [
        {
            "id": pk,
            "name": name,
            "kind": kind,
            "within": within,
            "tags": tags.get(pk, []),
            "stocktake": counted.get(pk, counted.get(within)),
        }
        for pk, name, kind, within in rows
    ]


def _types() -> list[dict[str, Any]]:
    rows = GearType.objects.order_by("code").values_list("code", "name", "kind", "length_mm", "mass_kg", "tracked")
    return [
        {"code": code, "name": name, "kind": kind, "length_mm": length, "mass_kg": float(mass), "tracked": tracked}
        for code, name, kind, length, mass, tracked in rows
    ]


def _rows(rows: list[Any]) -> list[dict[str, Any]]:
    tags: dict[int, list[str]] = {}
    ids = [row[0] for row in rows]
    for start in range(0, len(ids), 5000):
        for piece, code in Tag.objects.filter(piece__in=ids[start : start + 5000]).values_list("piece_id", "code"):
            tags.setdefault(piece, []).append(code)
    names = ("id", "label", "type", "place", "docket", "pour", "phase", "crate", "dirty", "fitness")
    return [dict(zip(names, row, strict=True)) | {"tags": tags.get(row[0], [])} for row in rows]
