"""What a job can count on, day by day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.models import CountedStock, Docket, HiredIn, Place
from jobs.calendars.working import WorkingCalendar
from jobs.models import Delivery, Job, LoadLine
from jobs.planning.availability import Claim, Lead, Lot, on_hand
from jobs.selectors.stock import stock_for
from tests.jobs import build

TODAY = date(2027, 2, 22)
SPAN = (build.MONDAY, date(2027, 4, 5))
FIRST = date(2027, 3, 1)


def steps(job, gear, today=TODAY):
    return stock_for(job, [gear.code], SPAN, today)[gear.code]


def other_job(code="J9", stage=Job.Stage.RUNNING, **settings):
    job = build.job(code, **settings)
    job.stage = stage
    job.save()
    return job


def reserve(job, gear, quantity, day, is_return=False):
    delivery = Delivery.objects.create(job=job, load_on=day, is_return=is_return)
    LoadLine.objects.create(delivery=delivery, type=gear, quantity=quantity)


@pytest.mark.django_db
class TestWhatCounts:
    def test_clean_gear_in_the_yard_is_on_hand_from_the_first_day(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 10, build.yard())
        assert steps(job, gear) == ((FIRST, 10),)

    def test_unfit_lost_and_stray_gear_is_none(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 3, build.yard(), fitness="unfit")
        build.pieces(gear, 3, None)
        build.pieces(gear, 3, Place.objects.create(name="Somewhere", kind="site"))
        assert sum(count for _, count in steps(job, gear)) == 0

    def test_watched_gear_still_counts(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 3, build.yard(), fitness="watch")
        assert steps(job, gear) == ((FIRST, 3),)

    def test_dirty_gear_counts_once_it_could_be_clean_and_on_site(self):
        """Two working days to clean from Mon 1 March, one to the site: Thu 4 March."""
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 4, build.yard())
        build.pieces(gear, 5, build.yard(), dirty=True)
        assert steps(job, gear, today=FIRST)[-1] == (date(2027, 3, 4), 9)

    def test_gear_cannot_be_on_site_before_a_truck_could_bring_it(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 4, build.yard())
        assert steps(job, gear, today=FIRST) == ((FIRST, 0), (date(2027, 3, 2), 4))

    def test_another_yards_gear_comes_after_its_transfer(self):
        job, gear = build.job(transfer_days=3), build.form(3000)
        build.pieces(gear, 4, build.yard("South yard"))
        assert steps(job, gear, today=FIRST) == ((FIRST, 0), (date(2027, 3, 5), 4))

    def test_hired_in_gear_counts_until_it_must_be_back(self):
        job, gear = build.job(transport_days=0, turnround_days=0), build.form(3000)
        (piece,) = build.pieces(gear, 1, build.yard())
        HiredIn.objects.create(piece=piece, owner="Neighbour", due_back=date(2027, 3, 10))
        assert steps(job, gear) == ((FIRST, 1), (date(2027, 3, 10), 0))

    def test_what_stands_on_the_jobs_own_site_is_on_hand(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 6, job.site)
        assert steps(job, gear) == ((FIRST, 6),)

    def test_counted_goods_count_too_but_not_the_unfit(self):
        job, bolt = build.job(), build.article("stud bolt", "bolt")
        CountedStock.objects.create(type=bolt, place=build.yard(), condition="sound", quantity=500)
        CountedStock.objects.create(type=bolt, place=build.yard(), condition="unfit", quantity=20)
        assert steps(job, bolt) == ((FIRST, 500),)


@pytest.mark.django_db
class TestOtherJobs:
    def test_gear_out_comes_back_after_transport_and_turn_round(self):
        """Due Wed 10 March; one day back, two to count and clean: free Mon 15, on our site Tue 16."""
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 7, other_job(ends_on=date(2027, 3, 10)).site)
        assert steps(job, gear) == ((FIRST, 0), (date(2027, 3, 16), 7))

    def test_overdue_gear_counts_as_none(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 7, other_job(starts_on=date(2027, 1, 4), ends_on=date(2027, 2, 1)).site)
        assert steps(job, gear) == ((FIRST, 0),)

    def test_gear_on_a_truck_to_another_job_is_held_by_it(self):
        job, gear = build.job(), build.form(3000)
        other = other_job(ends_on=date(2027, 3, 10))
        docket = Docket.objects.create(
            number="D1", direction="out", from_place=build.yard(), to_place=other.site, opened_at=build.NOW
        )
        build.pieces(gear, 2, None, docket=docket)
        assert steps(job, gear) == ((FIRST, 0), (date(2027, 3, 16), 2))

    def test_gear_on_a_truck_back_is_ready_when_counted_and_clean(self):
        job, gear = build.job(), build.form(3000)
        other = other_job(ends_on=date(2027, 3, 10))
        docket = Docket.objects.create(
            number="D1", direction="back", from_place=other.site, to_place=build.yard(), opened_at=build.NOW
        )
        build.pieces(gear, 2, None, docket=docket)
        assert steps(job, gear, today=FIRST) == ((FIRST, 0), (date(2027, 3, 5), 2))

    def test_the_greater_of_reserved_and_held_is_taken_not_both(self):
        job, gear = build.job(), build.form(3000)
        other = other_job(ends_on=date(2027, 6, 30))
        build.pieces(gear, 20, build.yard())
        build.pieces(gear, 4, other.site)
        reserve(other, gear, 10, date(2027, 2, 1))
        assert steps(job, gear) == ((FIRST, 14),)

    def test_a_later_reservation_takes_gear_from_when_ours_must_leave(self):
        """They load on Mon 22 March; ours would be back and clean three working days after its last day of use."""
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 20, build.yard())
        reserve(other_job(stage=Job.Stage.ACCEPTED, ends_on=date(2027, 6, 30)), gear, 15, date(2027, 3, 22))
        assert steps(job, gear) == ((FIRST, 20), (date(2027, 3, 17), 5))

    def test_a_job_only_asked_for_or_declined_takes_nothing(self):
        job, gear = build.job(), build.form(3000)
        build.pieces(gear, 20, build.yard())
        for code, stage in (("J8", Job.Stage.ASKED), ("J9", Job.Stage.DECLINED)):
            reserve(other_job(code, stage=stage, ends_on=date(2027, 6, 30)), gear, 15, FIRST)
        assert steps(job, gear) == ((FIRST, 20),)

    def test_a_partial_return_gives_gear_back(self):
        """Loaded Mon 15 March; one day back and two to count and clean: Thu 18 March."""
        job, gear = build.job(transport_days=0, turnround_days=0), build.form(3000)
        other = other_job(ends_on=date(2027, 6, 30))
        build.pieces(gear, 20, build.yard())
        reserve(other, gear, 15, FIRST)
        reserve(other, gear, 5, date(2027, 3, 15), is_return=True)
        assert steps(job, gear) == ((FIRST, 5), (date(2027, 3, 18), 10))


DAYS = st.integers(0, 30).map(lambda n: FIRST + timedelta(days=n))
LOTS = st.lists(st.builds(Lot, st.just("A"), st.integers(0, 9), DAYS, st.none() | DAYS), max_size=4)
STEPS = st.dictionaries(DAYS, st.integers(0, 9), max_size=3).map(lambda found: tuple(sorted(found.items())))
CLAIMS = st.lists(st.builds(Claim, st.just("A"), STEPS, st.integers(0, 5), st.none() | DAYS), max_size=3)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a loaded machine is not a fault
@given(LOTS, CLAIMS, st.integers(0, 2), st.integers(0, 3))
def test_on_hand_is_what_counting_every_day_gives(lots, claims, transport, turnround):
    """Against an oracle that counts each day of each window."""
    calendar, lead = WorkingCalendar(), Lead(transport, turnround)
    span = (FIRST, FIRST + timedelta(days=35))

    def in_yard(day):
        there = sum(lot.count for lot in lots if lot.ready <= day < (lot.until or date.max))
        taken = 0
        for claim in claims:
            reserved = ([0] + [count for start, count in claim.reserved if start <= day])[-1]
            over = claim.back is not None and day >= claim.back
            taken += 0 if over else claim.held if claim.back is None else max(reserved, claim.held)
        return max(0, there - taken)

    found = on_hand(lots, claims, span, lead, calendar).get("A", ())
    for offset in range(35):
        day = span[0] + timedelta(days=offset)
        start, end = lead.load_day(day, calendar), lead.back_day(day, calendar)
        least = min(in_yard(start + timedelta(days=n)) for n in range((end - start).days))
        level = ([0] + [count for since, count in found if since <= day])[-1]
        assert level == least
