"""Bundles keep their limit, and every piece is somewhere once."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.lifting.bundles import Item, bundled

items = st.lists(
    st.tuples(st.sampled_from([0, 1000, 2000, 2500, 3000, 6000]), st.integers(1, 60)),
    max_size=40,
).map(lambda drawn: [Item(n, length, Decimal(mass)) for n, (length, mass) in enumerate(drawn)])


@given(items, st.integers(1, 100), st.integers(0, 6), st.sampled_from([0, 500, 1000, 9000]))
def test_every_piece_is_in_one_bundle_or_too_heavy(drawn, limit, most, spread):
    found = bundled(drawn, Decimal(limit), most, spread)
    ids = [item.id for bundle in found.bundles for item in bundle.items] + [item.id for item in found.too_heavy]
    assert sorted(ids) == [item.id for item in drawn]
    for bundle in found.bundles:
        lengths = [item.length_mm for item in bundle.items]
        assert bundle.mass_kg <= limit and max(lengths) - min(lengths) <= spread
        assert not most or len(bundle.items) <= most
    assert all(item.mass_kg > limit for item in found.too_heavy)


def test_two_three_metre_forms_make_a_two_person_lift():
    forms = [Item(n, 3000, Decimal("14.7")) for n in range(5)]
    found = bundled(forms, Decimal(40))
    assert [len(bundle.items) for bundle in found.bundles] == [2, 2, 1]
    assert found.bundles[0].mass_kg == Decimal("29.4")


def test_no_limit_is_refused():
    with pytest.raises(Refused, match="more than 0 kg"):
        bundled([], Decimal(0))
