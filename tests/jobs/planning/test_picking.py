"""Which of many alike are picked: against every choice there is."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.picking import Candidate, chosen

one_yard = st.lists(st.integers(0, 30), min_size=1, max_size=7).map(
    lambda uses: [Candidate(at, 0, count) for at, count in enumerate(uses)]
)
yards = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 30), st.booleans()), max_size=9).map(
    lambda rows: [Candidate(at, *row) for at, row in enumerate(rows)]
)
orders = st.sampled_from(["fewest", "alike"])


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
