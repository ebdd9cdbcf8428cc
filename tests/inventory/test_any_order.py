"""Through the real writer: whatever the order and the batches in which reports arrive, the cache is the fold.

Each example writes into the real database and is rolled back.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.models import Piece, ReviewItem
from inventory.selectors.ledger import STATE_COLUMNS
from inventory.services.replaying import replay
from inventory.services.reports import Report
from tests.inventory.yard import Yard, make_yard
from tests.strategies import BAY, CRATE, DOCKETS, OTHER, OTHER_POUR, POUR, SITE, UPPER, YARD, ledgers

pytestmark = pytest.mark.django_db
SLOW = {"deadline": None, "suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]}


class Rows:
    """The small world of the strategies, with the ids that the database gave."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        yard.other_pour = yard.pour.__class__.objects.create(name="Pour", kind="pour", parent=yard.other)
        (self.crate,) = yard.pieces("CCC", type=yard.crate)
        self.piece, self.witness = yard.pieces("AAA", "BBB")
        one, two = yard.docket(), yard.docket(yard.site, yard.other)
        self.dockets = dict(zip(DOCKETS, (one.pk, two.pk), strict=True))
        self.places = {YARD: yard.yard, BAY: yard.bay, SITE: yard.site, POUR: yard.pour, UPPER: yard.upper}
        self.places |= {OTHER: yard.other, OTHER_POUR: yard.other_pour}

    def group(self, group: Group | None) -> Group | None:
        if group is None:
            return None
        pk = {
            GroupKind.POUR: lambda: self.places[group.id].pk,
            GroupKind.DOCKET: lambda: self.dockets[group.id],
            GroupKind.CRATE: lambda: self.crate.pk,
        }[group.kind]()
        return Group(group.kind, pk)

    def report(self, event: Event) -> Report:
        data = {name: self.crate.pk if value == CRATE else value for name, value in event.data.items()}
        if "from_place" in data:
            data["from_place"] = self.places[data["from_place"]].pk
        return Report(
            event.kind,
            event.happened,
            id=event.id,
            seq=event.seq,
            piece=self.piece.pk if event.piece else None,
            group=self.group(event.group),
            place=self.places[event.place].pk if event.place else None,
            docket=self.dockets[event.docket] if event.docket else None,
            target=event.target,
            data=data,
        )


@pytest.fixture
def rows(db):
    return Rows(make_yard())


def states():
    return list(Piece.objects.order_by("pk").values_list(*STATE_COLUMNS))


def open_cards():
    items = ReviewItem.objects.open().exclude(piece=None)
    return sorted(items.values_list("event_id", "piece_id", "code"))


def after(rows: Rows, batches):
    """State and open cards once these batches have come; then everything is rolled back."""
    with transaction.atomic():
        for batch in batches:
            rows.yard.send(*batch)
        outcome = states(), open_cards(), [str(d) for d in replay().found]
        transaction.set_rollback(True)
    return outcome


@settings(max_examples=30, **SLOW)
@given(events=ledgers(most=10), cuts=st.lists(st.integers(0, 12), max_size=4), random=st.randoms(use_true_random=False))
def test_any_order_of_arrival_gives_the_same_state_and_the_same_cards(rows, events, cuts, random):
    reports = [rows.report(e) for e in events if e.kind != Kind.REGISTERED]
    shuffled = list(reports)
    random.shuffle(shuffled)
    edges = [0, *sorted(cuts), len(shuffled)]
    batches = [shuffled[a:b] for a, b in pairwise(edges) if shuffled[a:b]]
    one_by_one = after(rows, [[r] for r in sorted(reports, key=lambda r: r.happened_at)])
    assert one_by_one[2] == []
    assert after(rows, batches) == one_by_one


@settings(max_examples=8, **SLOW)
@given(events=ledgers(most=10))
def test_a_batch_sent_again_changes_nothing(rows, events):
    batch = [rows.report(e) for e in events if e.kind != Kind.REGISTERED]
    assert after(rows, [batch, batch]) == after(rows, [batch])
