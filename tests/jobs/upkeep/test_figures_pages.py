"""The figures, the forecast and the week as pages: count, period and "too few to say"; five things, safety first."""

from __future__ import annotations

import datetime as dt
import re
from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.lifecycle.kinds import Kind
from inventory.models import HiredIn, Lot, LotMonth, Missing, Piece, PieceLife, RepairOrder, SpanCount, YardSettings
from inventory.selectors.lives import kept_of
from inventory.selectors.periods import Period, month_after
from inventory.services import missing, repairs
from inventory.services.lots import InLot, facts_of
from inventory.services.recording import record
from inventory.services.reports import Report
from inventory.services.span_counts import Spans
from inventory.services.summing import bring_up_to_date
from jobs.models import Bill, BillLine, Delivery, LoadLine
from jobs.selectors.figures import rows
from jobs.selectors.forecast import look_ahead
from jobs.selectors.week import things
from tests.factories import JobFactory
from tests.inventory.yard import NOW, make_yard, pour_group
from tests.jobs import build

pytestmark = pytest.mark.django_db
D = Decimal
SPRING = "first=2026-03&last=2026-06"
MARCH = Period(date(2026, 3, 1), date(2026, 4, 1))


def valid(count):
    from inventory.tags.code import with_check

    return [with_check(f"ABCDEF{n}{m}") for n in "23456789" for m in "23456789"][:count]


@pytest.fixture
def yard():
    made = make_yard()
    made.form.replacement_value = D("100.00")
    made.form.save()
    return made


@pytest.fixture
def cast(yard):
    """Forty forms cast once on one job; four damaged after it."""
    pieces = yard.pieces(*valid(40))
    for piece in pieces:
        yard.tell(Kind.SET, 30, piece=piece.pk, place=yard.pour.pk)
    yard.tell(Kind.CAST, 40, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 60, group=pour_group(yard.pour))
    for piece in pieces[:4]:
        yard.tell(Kind.FOUND_DAMAGED, 62, piece=piece.pk, data={"grade": "watch"})
    return pieces


def test_rates_come_with_their_count_and_band(yard, cast, client_as):
    """4 of 40: 10.0 of 100, by Wilson 4.0 to 23.1 (any statistics package)."""
    shown = client_as("manager").get(f"/figures/?by=type&{SPRING}").content.decode()
    assert "10.0" in shown and "4.0 to 23.1; 4 of 40" in shown
    assert "March 2026" in shown and "June 2026" in shown and "As of" in shown


def test_few_uses_are_too_few_to_say(yard, client_as):
    (piece,) = yard.pieces(*valid(1))
    yard.tell(Kind.CAST, 40, piece=piece.pk, place=yard.pour.pk)
    assert "0 of 1: too few to say" in client_as("manager").get(f"/figures/?by=type&{SPRING}").content.decode()


@pytest.mark.parametrize("by", ["age", "batch", "job", "customer"])
def test_other_groupings_open(yard, cast, client_as, by):
    JobFactory(site=yard.site, yard=yard.yard, name="Cold store")
    planner = client_as("planner")
    shown = planner.get(f"/figures/?by={by}&{SPRING}").content.decode()
    assert "4 of 40" in shown and "<svg" in shown and "0 ended of 40: too few to say" in shown
    link = re.search(r'"(/figures/one/[^"]+)"', shown).group(1).replace("&amp;", "&")
    assert "40 pieces watched, 0 worn out or broken" in planner.get(link).content.decode()


def test_a_group_that_is_not_there_is_not_found_and_none_leads_to_the_groups(yard, client_as):
    planner = client_as("planner")
    assert "by customer" in planner.get("/figures/one/").content.decode()
    assert planner.get("/figures/one/?by=job&key=77").status_code == 404
    assert planner.get("/figures/one/?by=job&key=x").status_code == 404


def test_what_ended_after_uses_on_a_job_ended_there(yard, cast):
    """Forty join at no uses; one is worn out after its only use: 39 of 40, 0.975, outlive it."""
    job = JobFactory(site=yard.site, yard=yard.yard)
    yard.tell(Kind.RETIRED, 200, piece=cast[0].pk, data={"how": "worn out"})
    bring_up_to_date()
    (row,) = rows(MARCH, "job", YardSettings.current())
    assert row.key == job.pk and row.uses_per_piece == 1
    assert [(step.uses, step.at_risk, step.ends, step.share) for step in row.curve.steps] == [(1, 40, 1, 0.975)]


def test_a_young_fleets_use_is_put_at_its_cost_over_a_life(yard, cast):
    """100 over 50 rated uses, and 1.50 to clean each: nothing was cleaned yet, so 2.00 a use; 40 uses, 80.00."""
    yard.form.rated_uses = 50
    yard.form.save()
    JobFactory(site=yard.site, yard=yard.yard)
    bring_up_to_date()
    (row,) = rows(MARCH, "job", YardSettings.current())
    assert (row.mix.amount, row.mix.so_far, row.cost_per_use) == (D("80.00"), 0, D("2.00"))
    (of_type,) = (each for each in rows(MARCH, "type", YardSettings.current()) if each.tally.casts)
    assert (of_type.cost_per_use, of_type.cost_so_far) == (D(2), D(100))


def test_months_the_wrong_way_round_are_refused(yard, client_as):
    shown = client_as("manager").get("/figures/?by=type&first=2026-06&last=2026-03").content.decode()
    assert "The last month is not before the first." in shown


def test_the_margin_of_a_job_is_hire_billed_less_its_gears_cost(yard, cast):
    """40 uses of gear that cost 100 and has been used once each: 4,000; billed 5,000 and credited 500."""
    job = JobFactory(site=yard.site, yard=yard.yard)
    bring_up_to_date()
    for nth, net in enumerate((5000, -500), start=1):
        bill = Bill.objects.create(
            customer=job.customer,
            job=job,
            period_from=date(2026, 3, 1),
            period_until=date(2026, 4, 1),
            currency="EUR",
            known_at=NOW,
            drafted_at=NOW,
        )
        BillLine.objects.create(bill=bill, position=1, key="hire", kind="hire", description="x", net=net)
        BillLine.objects.create(bill=bill, position=2, key="delivery", kind="delivery", description="x", net=77)
        kind = "bill" if net > 0 else "credit note"
        said = {"kind": kind, "gross": net, "series": "B", "sequence": nth, "number": f"B{nth}"}
        Bill.objects.filter(pk=bill.pk).update(issued_at=NOW, **said)
    (row,) = rows(MARCH, "job", YardSettings.current())
    assert (row.revenue, row.mix.amount, row.margin) == (D(4500), D(4000), D(500))


def count_spans_anew():
    """From the lives as they were put in."""
    SpanCount.objects.all().delete()
    spans = Spans(facts_of(Lot.objects.values_list("pk", flat=True)))
    for kept in kept_of(list(PieceLife.objects.values_list("pk", flat=True))).values():
        spans.put(InLot(kept.lot, kept.life))
    spans.write()


def test_a_type_shows_how_long_it_lasts_with_the_table_behind_it(yard, client_as):
    pieces = yard.pieces(*valid(24))
    bring_up_to_date()
    for nth, piece in enumerate(pieces):
        ended = "worn out" if nth < 12 else ""
        PieceLife.objects.filter(piece=piece).update(uses=10 + nth, ended=ended)
    count_spans_anew()
    shown = client_as("manager").get(f"/figures/types/{yard.form.pk}/").content.decode()
    assert "24 pieces watched, 12 worn out or broken" in shown and "Half outlive 21 uses" in shown
    assert 'role="img"' in shown and '<td data-label="At risk" class="number">24</td>' in shown


def test_hired_in_gear_is_not_among_the_lives(yard, client_as):
    (piece,) = yard.pieces(*valid(1))
    HiredIn.objects.create(piece=piece, owner="Another yard")
    assert "0 pieces watched" in client_as("manager").get(f"/figures/types/{yard.form.pk}/").content.decode()


def test_months_of_a_period():
    assert Period(date(2026, 11, 1), date(2027, 2, 1)).months[-1] == date(2027, 1, 1)
    assert month_after(date(2026, 3, 31), -3) == date(2025, 12, 1)


@pytest.fixture
def worn(yard):
    """Sixty pieces with a year of uses behind them, twenty of them worn out."""
    pieces = yard.pieces(*valid(60))
    bring_up_to_date()
    for nth, piece in enumerate(pieces):
        ended = "worn out" if nth < 20 else ""
        PieceLife.objects.filter(piece=piece).update(uses=20 + nth % 20, ended=ended)
        Piece.objects.filter(pk=piece.pk).update(uses=20 + nth % 20, standing="retired" if ended else "held")
    count_spans_anew()
    today = timezone.localdate()
    lot = Lot.objects.get(lives__piece=pieces[-1])
    LotMonth.objects.create(lot=lot, place=yard.site, month=month_after(today, -2), casts=900)
    LotMonth.objects.filter(bought__gt=0).update(month=month_after(today, -13))
    return pieces


def test_what_will_not_suffice_is_to_be_bought_in_time(yard, worn, client_as):
    job = JobFactory(site=yard.site, yard=yard.yard, stage="accepted")
    delivery = Delivery.objects.create(job=job, load_on=timezone.localdate())
    LoadLine.objects.create(delivery=delivery, type=yard.form, quantity=38)
    row = next(one for one in look_ahead(timezone.localdate()) if one.kind == yard.form)
    means = [each.mean for each in row.ahead]
    assert row.now == 40 and row.need == 38 and means == sorted(means, reverse=True)
    assert row.needed_on >= timezone.localdate() and row.by >= row.needed_on.replace(day=1)
    assert row.buy.pieces == 38 - row.ahead[-1].low and row.cost == D("100.00") * row.buy.pieces
    shown = client_as("manager").get("/forecast/").content.decode()
    assert "What to buy" in shown and "fit a year on" in shown.lower()


def test_too_little_seen_is_not_forecast(yard, client_as):
    yard.pieces(*valid(3))
    assert "too few to say" in client_as("planner").get("/forecast/").content.decode()


def test_the_week_says_what_changed_what_it_cost_and_what_to_do(yard, client_as):
    settings = YardSettings.current()
    settings.clean_cost = D("1.50")
    settings.save()
    now = timezone.now()
    first, second, third = yard.pieces(*valid(3), dirty=True)
    record([Report(Kind.CLEANED, now, piece=first.pk)], by=None)
    order = repairs.open_repair(first, what="straighten", by=None, now=now)
    repairs.finish_repair(order, words="x", work_cost=D("12.00"), by=None, now=now)
    (case,) = missing.miss([second], missed="return", by=None, now=now)
    missing.write_off(case, value=D("90.00"), charge=True, reason="gone", by=None, now=now)
    missing.miss([third], missed="return", by=None, now=now)
    shown = client_as("manager").get("/week/").content.decode()
    for said in ("1 marked clean", "1 written off as lost", "It cost 103.50", "Ask after 1 missing piece"):
        assert said in shown, said
    record([Report(Kind.FOUND, timezone.now(), piece=second.pk, place=yard.yard.pk)], by=None)
    assert "brought 90.00" in client_as("manager").get("/week/").content.decode()
    assert client_as("hand").get("/week/").status_code == 403


def test_another_week_can_be_asked_for_and_nonsense_is_this_week(yard, client_as):
    manager = client_as("manager")
    assert "2 Mar 2026" in manager.get("/week/?from=2026-03-02").content.decode()
    assert manager.get("/week/?from=2026-99-99").status_code == 200


def test_safety_stands_before_money(yard):
    yard.pieces(*valid(1))
    yard.form.inspect_every_days = 30
    yard.form.replacement_value = D(5000)
    yard.form.save()
    build.pieces(yard.form, 1, yard.yard, fitness="unfit")
    bring_up_to_date()
    found = things(timezone.localdate())
    assert [thing.safety for thing in found] == [True, False]
    assert "Inspect 1 piece" in found[0].words and Missing.objects.count() == 0


def test_no_more_than_five_things(yard):
    pieces = build.pieces(yard.form, 6, yard.yard, fitness="unfit")
    for nth, piece in enumerate(pieces[:3]):
        RepairOrder.objects.create(
            piece=piece, what="x", opened_at=NOW, done_at=NOW + dt.timedelta(days=nth) if nth else None
        )
    assert len(things(date(2026, 6, 1))) <= 5
