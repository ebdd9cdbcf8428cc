"""Ways to cut one bar: the most valuable one for given values of pieces, and all of them.

Lengths here have the kerf added, and so has the room of a bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Cut = tuple[int, ...]


def most_valuable(
    lengths: Sequence[int], values: Sequence[float], most: Sequence[int], rooms: Sequence[int]
) -> list[tuple[float, Cut]]:
    """For each room the cut of greatest value, as how many of each piece: a knapsack with at most `most` of each.

    Dynamic programme over the room (Gilmore & Gomory 1961); a piece's counts are split in powers of two, so
    that no cut makes more of a length than is wanted of it.
    """
    best = np.zeros(max(rooms) + 1)
    taken: list[tuple[int, int, NDArray[np.bool_]]] = []
    for n, (length, value) in enumerate(zip(lengths, values, strict=True)):
        if value <= 0:
            continue
        for times in _powers(min(most[n], max(rooms) // length)):
            step = length * times
            better = np.zeros(len(best), dtype=bool)
            tried = best[: len(best) - step] + value * times
            better[step:] = tried > best[step:] + 1e-12
            best[step:] = np.where(better[step:], tried, best[step:])
            taken.append((n, times, better))
    return [_unwound(room, best, taken, lengths) for room in rooms]


def _unwound(
    room: int,
    best: NDArray[np.float64],
    taken: Sequence[tuple[int, int, NDArray[np.bool_]]],
    lengths: Sequence[int],
) -> tuple[float, Cut]:
    cut = [0] * len(lengths)
    left = room
    for n, times, better in reversed(taken):
        if better[left]:
            cut[n] += times
            left -= times * lengths[n]
    return float(best[room]), tuple(cut)


def _powers(count: int) -> Iterator[int]:
    """1, 2, 4 ... and a rest that add up to `count`: any number up to it is a sum of some of them."""
    power = 1
    while count > 0:
        yield min(power, count)
        count -= power
        power *= 2


def every_cut(
    lengths: Sequence[int],
    most: Sequence[int],
    room: int,
    limit: int,
    *,
    maximal: bool = True,
    values: Sequence[float] | None = None,
    least_value: float = 0.0,
) -> list[Cut] | None:
    """All non-empty cuts of a bar, only those that no further piece fits into if `maximal`; None past `limit`.

    `lengths` fall. With `values`, only cuts worth at least `least_value`: those that a plan better than the
    one in hand can use.
    """
    found: list[Cut] = []
    worth = [0.0] * len(lengths) if values is None else list(values)
    rates = [worth[n] / lengths[n] for n in range(len(lengths))]
    best_rate = [max([0.0, *rates[n:]]) for n in range(len(lengths) + 1)]
    stack: list[tuple[Cut, int, float]] = [((), room, 0.0)]
    while stack:
        head, left, value = stack.pop()
        n = len(head)
        if values is not None and value + left * best_rate[n] < least_value - 1e-9:
            continue
        if n == len(lengths):
            full = all(held == most[i] or lengths[i] > left for i, held in enumerate(head))
            if any(head) and (full or not maximal):
                found.append(head)
                if len(found) > limit:
                    return None
            continue
        for held in range(min(most[n], left // lengths[n]) + 1):
            stack.append(((*head, held), left - held * lengths[n], value + held * worth[n]))
    return found
