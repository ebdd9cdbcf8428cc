"""Tags dealt to sides over time: none in two pours on one day, and none lacking where there are enough.

Intervals can be dealt to as many resources as overlap at most, taking them by their start (interval partitioning:
Kleinberg and Tardos, Algorithm Design, 2005, section 4.1; from memory).
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.planning.dealing import PourSides, Tag, deal

FIRST = date(2027, 3, 1)
SPANS = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 5), st.lists(st.sampled_from("XYZ"), min_size=1, max_size=4)),
    min_size=1,
    max_size=8,
)


def pours_of(spans):
    return [
        PourSides(f"P{n}", FIRST + timedelta(start), FIRST + timedelta(start + days), {f"P{n}/1": tuple(codes)})
        for n, (start, days, codes) in enumerate(spans)
    ]


def standing(pours, found, day):
    """(type, label) of every piece that has a label and stands somewhere on a day."""
    held = [pour for pour in pours if pour.start <= day < pour.until]
    return [
        (code, label)
        for pour in held
        for key, codes in pour.codes.items()
        for code, label in zip(codes, found[key], strict=True)
        if label
    ]


@settings(max_examples=60)
@given(SPANS, st.integers(0, 6), st.integers(0, 9))
def test_no_tag_stands_twice_and_none_lacks_where_there_are_as_many_as_overlap(spans, count, seed):
    pours = pours_of(spans)
    below = {f"P{n}/1": f"P{(n + seed) % len(pours)}/1" for n in range(len(pours)) if seed}
    tags = [Tag(code, f"{code}{n}", FIRST) for code in "XYZ" for n in range(count)]
    found = deal(pours, tags, below)
    most = Counter()
    for n in range(20):
        day = FIRST + timedelta(n)
        there = standing(pours, found, day)
        assert len(set(there)) == len(there) and all(label[0] == code for code, label in there)
        wanted = Counter(
            code for p in pours if p.start <= day < p.until for codes in p.codes.values() for code in codes
        )
        most |= wanted
    for pour in pours:
        for code, label in zip(*pour.codes.values(), *(found[key] for key in pour.codes), strict=True):
            assert label or most[code] > count


def test_what_stands_in_a_pour_is_its_own_until_that_pour_is_over():
    low = PourSides("P1", FIRST, FIRST + timedelta(3), {"A1/1": ("X",)}, own=[("X", "T1")])
    beside = PourSides("P2", FIRST + timedelta(1), FIRST + timedelta(4), {"B1/1": ("X",)})
    above = PourSides("P3", FIRST + timedelta(3), FIRST + timedelta(6), {"A2/1": ("X", "X")})
    found = deal([above, beside, low], [], {"A2/1": "A1/1"})
    assert found == {"A1/1": ("T1",), "B1/1": ("",), "A2/1": ("T1", "")}
