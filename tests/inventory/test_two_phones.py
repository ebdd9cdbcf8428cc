"""Two phones out of signal, each with its own queue: however their batches come in, and however often, one outcome.

What is told, that is. What is asked may be refused for what the record says at that moment, so its order matters.
"""

from __future__ import annotations

from itertools import pairwise
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.models import Device, Event, Piece, ReviewItem
from inventory.selectors.ledger import STATE_COLUMNS
from inventory.services.keeping import Arrival
from inventory.services.replaying import replay
from inventory.services.scanned.taking import take
from tests.inventory.yard import NOW, at, make_yard

pytestmark = pytest.mark.django_db
TAGS = ("AAA", "BBB", "CCC")
WHATS = ("sent", "received", "returned", "set", "stripped", "cleaned", "found damaged", "whole", "reversed")


@st.composite
def queues(draw, phone: int):
    """A phone's scans in its own order, cut into batches: (what, tag, hours), then the cuts."""
    scans = draw(
        st.lists(
            st.tuples(st.sampled_from(WHATS), st.sampled_from(TAGS), st.integers(1, 6), st.integers(0, 9)),
            min_size=1,
            max_size=6,
        )
    )
    cuts = sorted(draw(st.sets(st.integers(1, 5), max_size=2)))
    edges = [0, *(cut for cut in cuts if cut < len(scans)), len(scans)]
    numbered = [(phone, seq, *scan) for seq, scan in enumerate(scans)]
    return [numbered[a:b] for a, b in pairwise(edges)]


@st.composite
def arrivals(draw):
    """The batches of two phones in one order of arrival, re-sends among them; and the two queues."""
    left = [draw(queues(1)), draw(queues(2))]
    order, sent, pending = [], [], [list(queue) for queue in left]
    while any(pending):
        if sent and len(order) < 12 and draw(st.integers(0, 3)) == 3:
            order.append(draw(st.sampled_from(sent)))
            continue
        phone = draw(st.sampled_from([at for at, queue in enumerate(pending) if queue]))
        order.append(pending[phone].pop(0))
        sent.append(order[-1])
    return order, [batch for queue in left for batch in queue]


class Two:
    def __init__(self) -> None:
        self.yard = make_yard()
        self.out, self.back = self.yard.docket(), self.yard.docket(self.yard.site, self.yard.yard)
        self.yard.pieces(*TAGS)
        self.phones = {n: Device.objects.create(code=f"phone-{n:04}") for n in (1, 2)}

    def scan(self, phone: int, seq: int, what: str, tag: str, hours: int, back: int) -> dict:
        scan = {"id": str(UUID(int=100 * phone + seq)), "seq": seq, "happened": at(hours).isoformat(), "what": what}
        if what == "whole":
            return scan | {"what": "cast", "whole": "pour", "pour": self.yard.pour.pk}
        if what == "reversed":
            return scan | {"takes_back": str(UUID(int=100 * (1 + back % 2) + back // 2))}
        more = {
            "sent": {"docket": self.out.pk},
            "received": {"docket": self.out.pk},
            "returned": {"docket": self.back.pk, "dirty": back > 4},
            "set": {"pour": self.yard.pour.pk},
            "found damaged": {"grade": "unfit"},
        }
        return scan | {"tag": tag} | more.get(what, {})

    def after(self, batches):
        with transaction.atomic():
            for batch in batches:
                arrival = Arrival(self.yard.hand.pk, self.phones[batch[0][0]], NOW, NOW)
                take([self.scan(*each) for each in batch], arrival)
            cards = ReviewItem.objects.open().exclude(piece=None).exclude(event=None)
            outcome = (
                list(Piece.objects.order_by("pk").values_list(*STATE_COLUMNS)),
                sorted(cards.values_list("event_id", "piece_id", "code")),
                sorted(Event.objects.values_list("pk", "device", "seq")),
                [str(each) for each in replay().found],
            )
            transaction.set_rollback(True)
        return outcome


@pytest.fixture
def two(db):
    return Two()


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(coming=arrivals())
def test_any_interleaving_of_two_phones_with_re_sends_gives_the_same_record(two, coming):
    order, plain = coming
    one_after_the_other = two.after(plain)
    assert one_after_the_other[3] == []
    assert two.after(order) == one_after_the_other
