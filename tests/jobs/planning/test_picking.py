"""Which of many alike are picked: against every choice there is."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.picking import Candidate, Spot, share, together

one_yard = st.lists(st.integers(0, 30), min_size=1, max_size=7).map(
    lambda uses: [Candidate(at, 0, count) for at, count in enumerate(uses)]
)
yards = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 30), st.booleans()), max_size=9).map(
    lambda rows: [Candidate(at, *row) for at, row in enumerate(rows)]
)
orders = st.sampled_from(["fewest", "alike"])
spots = st.sampled_from([Spot(1), Spot(1, 7), Spot(1, 8), Spot(1, 9), Spot(2), Spot(2, 6)])
alike = st.lists(spots, min_size=1, max_size=8).map(
    lambda some: [Candidate(at, 0, 3, spot=spot) for at, spot in enumerate(some)]
)


def chosen(some, count, order):
    return together([share(some, count, order)], {})


@given(one_yard, st.integers(1, 7))
def test_the_fewest_uses_are_the_fewest_of_any_choice(some, count):
    found = chosen(some, count, "fewest")
    least = min(sum(c.uses for c in way) for way in combinations(some, min(count, len(some))))
    assert sum(c.uses for c in found) == least


@given(one_yard, st.integers(1, 7))
def test_evenly_worn_is_the_least_spread_of_any_choice(some, count):
    found = [c.uses for c in chosen(some, count, "alike")]
    ways = [[c.uses for c in way] for way in combinations(some, min(count, len(some)))]
    assert max(found) - min(found) == min(max(way) - min(way) for way in ways)


@given(yards, st.integers(0, 9), orders)
def test_no_piece_comes_from_a_farther_yard_while_a_nearer_one_has_one(some, count, order):
    found = chosen(some, count, order)
    assert len(found) == min(count, len(some)) and len({c.id for c in found}) == len(found)
    left = [c for c in some if c not in found]
    assert all(a.far <= b.far for a in found for b in left)
    assert all((a.far, a.watch) <= (b.far, b.watch) for a in found for b in left)


@given(one_yard, st.integers(1, 7), st.lists(st.integers(0, 30), min_size=1, max_size=3))
def test_what_a_load_has_already_counts_with_what_is_evenly_worn(some, count, had):
    found = together([share(some, count, "alike", had)], {})
    ways = [[*had, *(c.uses for c in way)] for way in combinations(some, min(count, len(some)))]
    uses = [*had, *(c.uses for c in found)]
    assert max(uses) - min(uses) == min(max(way) - min(way) for way in ways)


def effort(taken, held, begun=()):
    """New spots, and crates that are neither left alone nor emptied."""
    walked = {c.spot for c in taken} - {c.spot for c in begun}
    out = Counter(c.spot.crate for c in (*taken, *begun))
    return len(walked), sum(0 < out[crate] < held[crate] for crate in held)


@given(alike, st.integers(1, 6), st.integers(0, 2), alike)
def test_of_pieces_as_good_as_each_other_those_are_taken_that_lie_together(some, count, others, begun):
    """Against every choice there is. Each crate holds its pieces here and `others` of another type."""
    begun = begun[:2]
    held = Counter(c.spot.crate for c in (*some, *begun) if c.spot.crate)
    held = {crate: count + others for crate, count in held.items()}
    found = together([share(some, count, "fewest")], held, begun)
    ways = combinations(some, min(count, len(some)))
    assert effort(found, held, begun) == min(effort(way, held, begun) for way in ways)


def test_uses_come_before_what_lies_together():
    some = [Candidate(1, 0, 4, spot=Spot(1, 7)), *(Candidate(at, 0, 5, spot=Spot(1, 8)) for at in (2, 3))]
    assert {c.id for c in chosen(some, 2, "fewest")} == {1, 2}
