"""The cleaning and the repair queue: what loads wait for first, at what pace, and what was cast again uncleaned."""

from __future__ import annotations

import datetime as dt
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.utils import timezone

from inventory.figures.queueing import check
from inventory.lifecycle.kinds import Kind
from inventory.models import RepairOrder
from inventory.selectors.lives import stored_lives
from inventory.services.summing import bring_up_to_date
from jobs.models import Delivery, FitFirst, Job, LoadLine, Pour
from jobs.selectors.stock import stock_for
from jobs.selectors.upkeep import cast_uncleaned, dirty_queue, laws, months_back, queues, repair_queue, turn_round
from tests.factories import JobFactory
from tests.inventory.yard import NOW, make_yard, pour_group
from tests.jobs import build

pytestmark = pytest.mark.django_db
FRIDAY, MONDAY = date(2027, 3, 5), date(2027, 3, 8)


def wish(piece, job, by_day):
    return FitFirst.objects.create(piece=piece, job=job, need="clean", by_day=by_day, asked_at=build.NOW)


def listed(client, path):
    return [row.pk for row in client.get(path).context["page"].object_list]


def test_what_loads_wait_for_stands_first_then_what_is_dirty_longest(client_as):
    first, second, third, fourth = build.pieces(build.form(3000), 4, build.yard(), dirty=True)
    for piece, day in ((third, 1), (fourth, 2)):
        piece.since = datetime(2026, 1, day, tzinfo=UTC)
        piece.save()
    wish(first, build.job("J1"), MONDAY)
    wish(second, build.job("J2"), FRIDAY)
    assert listed(client_as("hand"), "/cleaning/") == [second.pk, first.pk, third.pk, fourth.pk]


def test_the_next_loads_take_what_is_clean_and_then_want_what_is_dirty_longest():
    """Monday's truck takes the one clean piece and wants one cleaned; Friday's before it was promised two of the other
    type, of which none is dirty."""
    yard, kind, other = build.yard(), build.form(3000), build.form(6000)
    build.pieces(kind, 1, yard)
    young, old, third = build.pieces(kind, 3, yard, dirty=True)
    for piece, day in ((young, 20), (old, 1), (third, 21)):
        piece.since = datetime(2026, 1, day, tzinfo=UTC)
        piece.save()
    for day, wanted, count in ((MONDAY, kind, 2), (FRIDAY, other, 2)):
        delivery = Delivery.objects.create(job=build.job(f"J{day.day}"), load_on=day)
        LoadLine.objects.create(delivery=delivery, type=wanted, quantity=count)
    Job.objects.update(stage="accepted")
    assert [(p.pk, p.wanted_on) for p in dirty_queue().order_by("wanted_on") if p.wanted_on] == [(old.pk, MONDAY)]
    Delivery.objects.update(is_return=True)
    assert not any(piece.wanted_on for piece in dirty_queue())


def test_a_declined_job_wants_nothing():
    [piece] = build.pieces(build.form(3000), 1, build.yard(), dirty=True)
    job = build.job()
    job.stage = "declined"
    job.save()
    wish(piece, job, FRIDAY)
    assert dirty_queue().get().wanted_on is None


@pytest.fixture
def yard():
    return make_yard()


def valid(count):
    from inventory.tags.code import with_check

    return [with_check(f"ABCDEF{n}{n}") for n in range(2, 2 + count)]


def test_time_to_clean_follows_from_the_pace_of_this_yard(yard):
    """Two of five were cleaned in April; 1 March to 1 May 2026 has 44 weekdays; three wait, so 66 days."""
    pieces = yard.pieces(*valid(5), dirty=True)
    for piece in pieces[:2]:
        yard.tell(Kind.CLEANED, 24 * 35, piece=piece.pk, place=yard.yard.pk)
    bring_up_to_date()
    (queue,) = queues(date(2026, 5, 1))
    assert (queue.place, queue.name, queue.cleaned, queue.days_worked) == (yard.yard.pk, "Home yard", 2, 44)
    assert queue.wait.days == pytest.approx(3 / (2 / 44))


def test_many_are_cleaned_at_once_by_mark_and_by_scan(yard, client_as):
    codes = valid(3)
    marked, _scanned, _ = yard.pieces(*codes, dirty=True)
    client = client_as("hand")
    said = {"pieces": [marked.pk], "codes": f"{codes[1]}\nABCDEFGH3"}
    answer = client.post("/cleaning/", said, follow=True).content.decode()
    assert "2 marked clean" in answer and "1 (ABCD-EFGH-3): No piece carries this code" in answer
    assert [piece.label for piece in dirty_queue()] == [codes[2]]


def test_nothing_marked_says_what_to_do(yard, client_as):
    assert "mark it in the list below" in client_as("hand").post("/cleaning/", {}).content.decode()


def test_forms_cast_again_uncleaned_are_listed_with_job_and_pour(yard, client_as):
    job = JobFactory(site=yard.site, yard=yard.yard)
    Pour.objects.create(job=job, name="Pour 2", place=yard.upper, cast_on=date(2026, 3, 5))
    (piece,) = yard.pieces(valid(1)[0])
    yard.tell(Kind.RECEIVED, 20, piece=piece.pk, place=yard.site.pk)
    for hours, pour in ((30, yard.pour), (70, yard.upper)):
        yard.tell(Kind.SET, hours, piece=piece.pk, place=pour.pk)
        yard.tell(Kind.CAST, hours + 10, group=pour_group(pour))
        yard.tell(Kind.STRIPPED, hours + 30, group=pour_group(pour))
    (found,) = cast_uncleaned()
    assert (found.pour.name, found.pour.job, found.pieces) == ("Pour 2", job, 1)
    for path in ("/cleaning/", "/"):
        shown = client_as("manager").get(path).content.decode()
        assert "Pour 2" in shown and f"/jobs/{job.pk}/" in shown


def test_repair_orders_follow_the_loads_and_say_how_long_they_took(client_as):
    first, second = build.pieces(build.form(3000), 2, build.yard(), fitness="unfit")
    for piece in (first, second):
        RepairOrder.objects.create(piece=piece, what="straighten", opened_at=NOW)
    wish(second, build.job(), FRIDAY)
    client = client_as("manager")
    assert listed(client, "/repairs/") == [repair_queue().get(piece=second).pk, repair_queue().get(piece=first).pk]
    RepairOrder.objects.filter(piece=first).update(done_at=NOW + dt.timedelta(days=2))
    found = turn_round(NOW + dt.timedelta(days=3))
    assert (found.count, found.mean) == (1, dt.timedelta(days=2))


def test_a_repair_opened_from_the_queue_is_ready_by_the_day_the_piece_is_wanted(client_as):
    wanted, other = build.pieces(build.form(3000), 2, build.yard(), fitness="unfit")
    wish(wanted, build.job(), FRIDAY)
    manager = client_as("manager")
    shown = manager.get("/repairs/").content.decode()
    assert f'href="/pieces/{wanted.pk}/repair/?by=2027-03-05"' in shown
    assert f'href="/pieces/{other.pk}/repair/"' in shown
    for day, filled in (("2027-03-05", 'value="2027-03-05"'), ("2027-02-30", None), ("soon", None)):
        form = manager.get(f"/pieces/{wanted.pk}/repair/?by={day}")
        assert form.status_code == 200
        assert (f'value="{day}"' in form.content.decode()) == (filled is not None)


def test_unfit_gear_without_an_order_is_named(client_as):
    (piece,) = build.pieces(build.form(3000), 1, build.yard(), fitness="unfit")
    shown = client_as("manager").get("/repairs/").content.decode()
    assert "1 unfit piece has no order" in shown and f"/pieces/{piece.pk}/repair/" in shown


@pytest.mark.parametrize(
    ("ready", "steps"),
    [
        (None, ((date(2027, 3, 1), 0),)),
        (date(2027, 2, 1), ((date(2027, 3, 1), 0),)),
        (date(2027, 3, 9), ((date(2027, 3, 1), 0), (date(2027, 3, 10), 1))),
    ],
)
def test_gear_in_repair_counts_from_the_day_it_is_to_be_ready(ready, steps):
    """Ready on Tuesday 9 March, on site a working day later; without a day, or past it, an unfit piece is none."""
    job, gear = build.job(), build.form(3000)
    (piece,) = build.pieces(gear, 1, build.yard(), fitness="unfit")
    RepairOrder.objects.create(piece=piece, what="straighten", opened_at=NOW, ready_on=ready)
    found = stock_for(job, [gear.code], (build.MONDAY, date(2027, 4, 5)), date(2027, 2, 22))[gear.code]
    assert (found or ((date(2027, 3, 1), 0),)) == steps


def test_gear_in_repair_in_another_yard_comes_after_its_transfer():
    job, gear = build.job(transfer_days=3), build.form(3000)
    (piece,) = build.pieces(gear, 1, build.yard("South yard"), fitness="unfit")
    RepairOrder.objects.create(piece=piece, what="straighten", opened_at=NOW, ready_on=date(2027, 3, 9))
    found = stock_for(job, [gear.code], (build.MONDAY, date(2027, 4, 5)), date(2027, 2, 22))[gear.code]
    assert found[-1] == (date(2027, 3, 15), 1)


def test_months_back_cross_the_year():
    assert months_back(date(2026, 1, 31), 2) == date(2025, 11, 1)


def test_littles_law_from_sums_is_that_of_every_visit(yard):
    """Against the record of each visit, over windows that begin before, within and after it."""
    pieces = yard.pieces(*valid(3))
    for nth, piece in enumerate(pieces):
        yard.tell(Kind.RETURNED, 10 + 400 * nth, piece=piece.pk, place=yard.yard.pk, data={"dirty": True})
    yard.tell(Kind.CLEANED, 900, piece=pieces[0].pk, place=yard.yard.pk)
    yard.tell(Kind.RECEIVED, 950, piece=pieces[2].pk, place=yard.site.pk)
    bring_up_to_date()
    visits = [each for life in stored_lives([p.pk for p in pieces]).values() for each in life.dirt]
    now = visits[0].since + timedelta(days=50)
    for first in (date(2026, 2, 1), date(2026, 3, 1), date(2026, 4, 1)):
        since = timezone.make_aware(datetime.combine(first, time()))
        for place in (yard.yard.pk, yard.site.pk):
            told = check([(v.since, v.until) for v in visits if v.place == place], since, now)
            found = laws(first, now)[place]
            assert (found.left, found.arrivals) == (told.left, told.arrivals)
            assert (found.present, found.stayed) == pytest.approx((told.present, told.stayed))
