"""Pieces put into bundles so that no bundle is heavier than what is to lift it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from inventory.errors import Refused


class Item(NamedTuple):
    """One piece: its id, length in mm (0 where it has none) and mass in kg."""

    id: int
    length_mm: int
    mass_kg: Decimal


@dataclass(frozen=True, slots=True)
class Bundle:
    items: tuple[Item, ...]

    @property
    def mass_kg(self) -> Decimal:
        return sum((item.mass_kg for item in self.items), Decimal(0))

    @property
    def length_mm(self) -> int:
        """Of its longest piece."""
        return max((item.length_mm for item in self.items), default=0)


@dataclass(frozen=True, slots=True)
class Bundled:
    """Bundles that keep the limit, and pieces that are heavier than it alone."""

    bundles: tuple[Bundle, ...]
    too_heavy: tuple[Item, ...]


def bundled(items: Iterable[Item], limit_kg: Decimal, most_pieces: int = 0, spread_mm: int = 1000) -> Bundled:
    """Few bundles, each at most `limit_kg` and `most_pieces` (0: any number), of lengths within `spread_mm`.

    Like lengths go together, since a bundle of unlike ones slides apart; within a length, the heaviest first into the
    first bundle that has room. Every piece is in exactly one bundle or among the too heavy.
    """
    if limit_kg <= 0:
        raise Refused("limit-zero", "Give the greatest mass of a bundle, more than 0 kg.")
    ordered = sorted(items, key=lambda item: (-item.length_mm, -item.mass_kg, item.id))
    heavy = tuple(item for item in ordered if item.mass_kg > limit_kg)
    heaps: list[list[Item]] = []
    for item in ordered:
        if item.mass_kg <= limit_kg:
            _put(item, heaps, limit_kg, most_pieces, spread_mm)
    return Bundled(tuple(Bundle(tuple(heap)) for heap in heaps), heavy)


def _put(item: Item, heaps: list[list[Item]], limit_kg: Decimal, most: int, spread_mm: int) -> None:
    for heap in heaps:
        if _has_room(heap, item, limit_kg, most, spread_mm):
            heap.append(item)
            return
    heaps.append([item])


def _has_room(heap: Sequence[Item], item: Item, limit_kg: Decimal, most: int, spread_mm: int) -> bool:
    if most and len(heap) >= most:
        return False
    if heap[0].length_mm - item.length_mm > spread_mm:
        return False
    return sum((each.mass_kg for each in heap), Decimal(0)) + item.mass_kg <= limit_kg
