"""The sums over the summaries, against a plain recomputation from the ledger; and hand-worked values."""

from collections import Counter
from datetime import date, datetime
from decimal import Decimal
from itertools import product

import pytest
from django.utils import timezone

from inventory.figures.cost import Spent, per_use
from inventory.lifecycle.kinds import Kind
from inventory.models import HiredIn, Piece, RepairOrder, YardSettings
from inventory.selectors import figures as sums
from inventory.selectors.figures_of_types import spans_of
from inventory.selectors.fleet_months import dirty_at_ends, fleet_months, used_in
from inventory.selectors.periods import Period
from inventory.services import repairs
from inventory.services.cutting_down import Part, cut_down
from inventory.services.summing import bring_up_to_date, lives
from tests.inventory.figures.plain import Fleet
from tests.inventory.upkeep.test_cutting_down import form_of
from tests.inventory.yard import NOW, make_yard, pour_group

D = Decimal
CLEAN = D("1.50")
SPRING = Period(date(2026, 3, 1), date(2026, 7, 1))
MARCH = Period(date(2026, 3, 1), date(2026, 4, 1))
APRIL = Period(date(2026, 4, 1), date(2026, 5, 1))


@pytest.fixture
def yard(db):
    """Six pieces of two types: cast, damaged, lost and found, cut, sold, mended, one hired in."""
    from inventory.tags.code import with_check

    made = make_yard()
    settings = YardSettings.current()
    settings.clean_cost = CLEAN
    settings.save()
    codes = [with_check(f"ABCDEF{n}{m}") for n in "23" for m in "2345"]
    six = form_of(6000)
    six.replacement_value = D("150.00")
    six.save()
    pieces = made.pieces(*codes[:3], cost=D("100.00"), maker_batch="B1", uses=5)
    pieces += made.pieces(*codes[3:6], type=six, maker_batch="B2")
    for piece in pieces:
        made.tell(Kind.RECEIVED, 20, piece=piece.pk, place=made.site.pk)
        made.tell(Kind.SET, 30, piece=piece.pk, place=made.pour.pk)
    made.tell(Kind.CAST, 40, group=pour_group(made.pour))
    made.tell(Kind.STRIPPED, 60, group=pour_group(made.pour))
    made.tell(Kind.CLEANED, 61, group=pour_group(made.pour))
    made.tell(Kind.FOUND_DAMAGED, 62, piece=pieces[0].pk, data={"grade": "unfit"})
    for piece in pieces[:5]:
        made.tell(Kind.RETURNED, 24 * 10, piece=piece.pk, place=made.yard.pk, data={"dirty": False})
    made.tell(Kind.LOST, 24 * 20, piece=pieces[5].pk)
    made.tell(Kind.RETIRED, 24 * 30, piece=pieces[1].pk, data={"how": "sold", "proceeds": "40.00"})
    order = repairs.open_repair(Piece.objects.get(pk=pieces[0].pk), what="straighten", by=None, now=NOW)
    repairs.finish_repair(order, words="straight", work_cost=D("12.00"), by=None, now=NOW)
    long = Piece.objects.get(pk=pieces[3].pk)
    cut_down(long, [Part(form_of(2500), codes[6])], kerf_mm=4, why="surplus", by=None, now=NOW)
    HiredIn.objects.create(piece=pieces[2], owner="Another yard")
    bring_up_to_date()
    return made


def everything():
    return Fleet(lives(list(Piece.objects.values_list("pk", flat=True))))


def test_tallies_equal_a_plain_recount(yard):
    plain = everything()
    for by, period in product(["type", "batch", "age", "place"], [SPRING, MARCH, APRIL]):
        found = {
            key: (t.pieces, t.casts, t.damaged, t.unfit, t.lost, t.cleans, t.uncleaned)
            for key, t in sums.tallies(period, by).items()
        }
        assert found == plain.tallies(*period, by), (by, period)


def test_utilisation_equals_a_plain_recount(yard):
    plain = everything()
    for by, period in product(["type", "batch", "age"], [SPRING, MARCH]):
        found = {key: (used.out, used.owned) for key, used in sums.utilisation(period, by).items() if used.owned}
        assert found == plain.utilisation(*period, by), (by, period)


def test_costs_equal_a_plain_recount(yard):
    plain = everything()
    for by in ("type", "batch", "age"):
        found = {
            key: (row.pieces, row.held, row.uses, *(getattr(row.spent, name) for name in row.spent.__slots__))
            for key, row in sums.lived(by, CLEAN).items()
        }
        assert found == plain.lived(by), by


def test_sites_spans_and_dirt_equal_a_plain_recount(yard):
    held = Piece.objects.filter(standing="held", hired_in=None).first()
    yard.tell(Kind.RETURNED, 24 * 12, piece=held.pk, place=yard.yard.pk, data={"dirty": True})
    bring_up_to_date()
    plain, out = everything(), Counter()
    for (place, cost), days in sums.piece_days(SPRING, "place")[0].items():
        out[place] += cost * days
    assert {place: days for place, days in out.items() if days} == plain.out_at(*SPRING)
    for by in ("type", "batch", "age", "place"):
        told = {key: {tuple(span): n for span, n in some.items()} for key, some in spans_of(by).items()}
        assert told == plain.spans(by), by
    after = datetime(2026, 4, 1, tzinfo=timezone.get_current_timezone())
    assert dirty_at_ends(fleet_months(MARCH.after))[MARCH.first] == plain.dirty_at_the_end(after).total() != 0


def test_the_fleet_month_by_month_equals_its_types_together(yard):
    ((march, days),) = used_in(fleet_months(MARCH.after), [MARCH])
    types = sums.utilisation(MARCH, "type").values()
    assert (march.out, march.owned) == (sum(u.out for u in types), sum(u.owned for u in types))
    assert days == sums.piece_days(MARCH, "type")[1].total() > 0


def test_a_type_worked_by_hand(yard):
    """Two of ours at 100: one cast each; cleaned once each at 1.50; one mended for 12; one sold for 40."""
    lived = sums.lived("type", CLEAN)[yard.form.pk]
    assert (lived.pieces, lived.held, lived.uses) == (2, 1, 2)
    assert lived.spent == Spent(D("200.00"), D("12.00"), D("3.00"), D("40.00"))
    assert per_use(lived.spent, lived.uses) == D("87.50")


def test_time_on_site_worked_by_hand(yard):
    """On site from 3 to 12 March: 9 of the 30 days owned in March; the sold one was owned for all of it too."""
    used = sums.utilisation(MARCH, "type")[yard.form.pk]
    assert (used.out, used.owned) == (D(100) * 9 * 2, D(100) * 30 * 2)


def test_damage_belongs_to_the_use_before_it(yard):
    tally = sums.tallies(SPRING, "type")[yard.form.pk]
    assert (tally.casts, tally.damaged, tally.unfit, tally.lost) == (3, 1, 1, 0)
    assert RepairOrder.objects.count() == 1
