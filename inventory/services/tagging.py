"""New tag codes, and what stands on the labels of pieces."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db import transaction

from inventory.errors import Refused
from inventory.models import GearType, Piece, Place, Tag
from inventory.services.labels import Label
from inventory.tags import code as tag_code

MOST_NEW = 5_000


def unused_codes(count: int) -> list[str]:
    """New codes that no tag has. Two rounds that fall short would be a broken source of randomness."""
    found: set[str] = set()
    for _ in range(3):
        made = {tag_code.make() for _ in range(count - len(found))}
        found |= made - _taken(made)
        if len(found) == count:
            return sorted(found)
    raise Refused("tag-source", "No unused tag codes could be made. Tell the person who runs the server.")


def _taken(codes: set[str]) -> set[str]:
    ordered = sorted(codes)
    some = (ordered[start : start + 5000] for start in range(0, len(ordered), 5000))
    return {code for part in some for code in Tag.objects.filter(code__in=part).values_list("code", flat=True)}


@transaction.atomic
def blank_tags(count: int, now: datetime) -> list[str]:
    """Codes to print and fix later: stored, so that a scan of one says that it is on no piece yet."""
    if not 1 <= count <= MOST_NEW:
        raise Refused("tag-count", f"Between 1 and {MOST_NEW:,} new tags can be made at once.")
    codes = unused_codes(count)
    Tag.objects.bulk_create([Tag(code=code, printed_at=now) for code in codes], batch_size=1000)
    return codes


def tag_of_place(place: Place, now: datetime) -> str:
    """The code that stands for the place, such as a pour on its paper; made the first time it is asked for."""
    return tags_of_places([place.pk], now)[place.pk]


def tags_of_places(places: Collection[int], now: datetime) -> dict[int, str]:
    """The same for several places, by their ids."""
    rows = Tag.objects.filter(place__in=places).order_by("-pk").values_list("place", "code")
    known = {place: code for place, code in rows if place is not None}
    missing = [place for place in places if place not in known]
    if missing:
        # two who ask at once may each make one: both stand for the place
        made = dict(zip(missing, unused_codes(len(missing)), strict=True))
        Tag.objects.bulk_create(
            Tag(code=code, place_id=place, printed_at=now, fixed_at=now) for place, code in made.items()
        )
        known |= made
    return known


def labels_of(pieces: Iterable[Piece]) -> list[Label]:
    return [Label(piece.label, piece.type.name, _length(piece.type)) for piece in pieces]


def labels_for_new(codes: Iterable[str], kind: GearType | None) -> list[Label]:
    return [Label(code, kind.name if kind else "", _length(kind) if kind else "") for code in codes]


def _length(kind: GearType) -> str:
    """In metres, as forms are called: 4500 mm is 4.5 m."""
    if not kind.length_mm:
        return ""
    whole, _, places = f"{kind.length_mm / 1000:.3f}".partition(".")
    return f"{whole}.{places.rstrip('0') or '0'} m"


def mark_printed(codes: Iterable[str], now: datetime) -> None:
    ordered = list(codes)
    for start in range(0, len(ordered), 5000):
        Tag.objects.filter(code__in=ordered[start : start + 5000]).update(printed_at=now)
