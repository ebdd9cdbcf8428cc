"""Sets of pieces, packed: their numbers in order, four bytes each, the lowest byte first.

How many pieces were used in any stretch of months cannot be added up from the months. So for each month and place the
set of those cast is kept, and for each lot the set of its pieces; what is asked is counted from these.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable
from datetime import date

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from inventory.models import CastSet, Lot

Numbers = NDArray[np.uint32]


def unpacked(packed: bytes | memoryview) -> Numbers:
    """
    >>> unpacked(changed(b"", {7, 3}, set())).tolist()
    [3, 7]
    """
    return np.frombuffer(packed, dtype="<u4")


def changed(packed: bytes | memoryview, added: Collection[int], gone: Collection[int]) -> bytes:
    """The set with some added and some taken out.

    >>> unpacked(changed(changed(b"", {1, 2, 3}, set()), {5}, {2})).tolist()
    [1, 3, 5]
    """
    kept = np.setdiff1d(unpacked(packed), np.array(sorted(gone), dtype="<u4"), assume_unique=True)
    return np.union1d(kept, np.array(sorted(added), dtype="<u4")).astype("<u4").tobytes()


def used_of_lots(first: date, after: date, field: str) -> Counter[Hashable]:
    """Pieces cast in the months [first, after) by a field of their lot."""
    used = _together(_months(first, after).values_list("pieces", flat=True))
    found = Counter[Hashable]()
    for key, pieces in Lot.objects.order_by().values_list(field, "pieces"):
        numbers = unpacked(pieces)
        found[key] += int(np.count_nonzero(used[numbers[numbers < used.size]]))
    return found


def used_at_places(first: date, after: date, path: str) -> Counter[Hashable]:
    """Pieces cast in the months [first, after), each once for the place or what a place leads to by `path`."""
    groups = defaultdict[Hashable, list[bytes | memoryview]](list)
    for key, pieces in _months(first, after).values_list(path, "pieces"):
        groups[key].append(pieces)
    return Counter({key: int(np.count_nonzero(_together(some))) for key, some in groups.items()})


def _months(first: date, after: date) -> QuerySet[CastSet]:
    return CastSet.objects.filter(month__gte=first, month__lt=after).order_by()


def _together(sets: Iterable[bytes | memoryview]) -> NDArray[np.bool_]:
    """For each number, whether it is in any of the sets."""
    numbers = unpacked(b"".join(sets))
    found = np.zeros(int(numbers.max()) + 1 if numbers.size else 0, dtype=np.bool_)
    found[numbers] = True
    return found
