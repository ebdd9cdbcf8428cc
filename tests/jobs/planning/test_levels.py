"""Fewest pieces changed from level to level, against every way to deal the choices out and against CP-SAT."""

from __future__ import annotations

from collections import Counter
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from jobs.planning.levels import Slot, changed, changes, fits, sides_below, steadied
from jobs.planning.request import PieceType

from .shapes import panel

TYPES = {
    code: PieceType(code, 150, mm, ends)
    for code, mm, ends in (("A", 3000, 1), ("B", 2500, 1), ("C", 2000, 0), ("D", 1000, 0), ("E", 3500, 2))
}
PATTERNS = [("A", "C"), ("B", "C"), ("A", "D", "D"), ("B", "C", "D"), ("A", "D"), ("B", "B"), ("E",), ("A",)]


@st.composite
def stacked(draw, stacks=3, levels=3):
    """Slots of a few stacks, level by level in one group each, every one dealt a choice that fits it."""
    slots, dealt = [], {}
    for level in range(draw(st.integers(2, levels))):
        for stack in range(draw(st.integers(1, stacks))):
            pattern = draw(st.sampled_from(PATTERNS))
            total = sum(TYPES[code].length_mm for code in pattern)
            least = total - draw(st.sampled_from([0, 500, 1500]))
            slot = Slot(
                f"{stack}.{level}",
                level,
                least,
                total + draw(st.sampled_from([0, 500, 1500])),
                1,
                f"{stack}.{level - 1}",
            )
            if fits(slot, pattern, TYPES):
                slots.append(slot)
                dealt[slot.key] = pattern
    return slots, dealt


def by_trying_all(slots, dealt):
    groups = {}
    for slot in slots:
        groups.setdefault(slot.group, []).append(slot)
    ways = []
    for some in groups.values():
        own = [dealt[slot.key] for slot in some]
        legal = [
            dict(zip([s.key for s in some], way, strict=True))
            for way in set(permutations(own))
            if all(fits(s, p, TYPES) for s, p in zip(some, way, strict=True))
        ]
        ways.append(legal)
    return min(changes(slots, {k: p for part in way for k, p in part.items()}) for way in product(*ways))


@settings(max_examples=25)
@given(stacked())
def test_no_dealing_out_changes_fewer_pieces(made):
    slots, dealt = made
    found = steadied(slots, dealt, TYPES)
    assert changes(slots, found) == (by_trying_all(slots, dealt) if slots else 0)


@settings(max_examples=15)
@given(stacked(stacks=6, levels=5))
def test_every_group_keeps_its_choices_and_every_run_is_made(made):
    slots, dealt = made
    found = steadied(slots, dealt, TYPES)
    assert found.keys() == dealt.keys()
    for group in {slot.group for slot in slots}:
        keys = [slot.key for slot in slots if slot.group == group]
        assert Counter(tuple(sorted(found[k])) for k in keys) == Counter(tuple(sorted(dealt[k])) for k in keys)
    assert all(fits(slot, found[slot.key], TYPES) for slot in slots)
    assert changes(slots, found) <= changes(slots, dealt)


def test_a_larger_one_against_cp_sat():
    """Six stacks of four levels, lengths that differ: the same least number as CP-SAT (ortools)."""
    slots, dealt = [], {}
    for level in range(4):
        for stack in range(6):
            pattern = PATTERNS[(stack * 5 + level * 3 + stack * level) % 6]
            slots.append(Slot(f"{stack}.{level}", level, 3000 + 250 * (stack % 3), 6000, 1, f"{stack}.{level - 1}"))
            dealt[slots[-1].key] = pattern
    slots = [s if fits(s, dealt[s.key], TYPES) else Slot(s.key, s.group, 0, 9000, 0, s.below) for s in slots]
    assert changes(slots, steadied(slots, dealt, TYPES)) == _by_cp_sat(slots, dealt)


def _by_cp_sat(slots, dealt):
    model, take, cost = cp_model.CpModel(), {}, []
    counts = {}
    for slot in slots:
        counts.setdefault(slot.group, Counter())[dealt[slot.key]] += 1
    for slot in slots:
        for p in counts[slot.group]:
            if fits(slot, p, TYPES):
                take[slot.key, p] = model.new_bool_var("")
        model.add_exactly_one(take[k, p] for k, p in take if k == slot.key)
    for group, own in counts.items():
        for p, count in own.items():
            model.add(sum(v for (k, q), v in take.items() if q == p and k.endswith(f".{group}")) == count)
    for slot in slots:
        own = {q: v for (k, q), v in take.items() if k == slot.key}
        under = {p: v for (k, p), v in take.items() if k == slot.below}
        both = {(p, q): model.new_bool_var("") for p in under for q in own}
        for p, v in under.items():
            model.add(sum(both[p, q] for q in own) == v)
        if under:
            for q, v in own.items():
                model.add(sum(both[p, q] for p in under) == v)
        cost += [changed(p, q) * v for (p, q), v in both.items()]
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@pytest.mark.parametrize(("turns", "under"), [(0, "A1/1"), (1, "A1/2"), (3, "A1/4")])
def test_a_side_lies_over_the_one_that_faces_the_same_way(turns, under):
    high = panel("A2", stack="S", level=2, quarter_turns=turns)
    assert sides_below([panel("A1", stack="S"), high])["A2/1"] == under
