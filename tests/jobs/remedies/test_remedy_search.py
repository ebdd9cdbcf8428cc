"""Remedies of a short job: the question built from the yard, the answer, and what a press on it does."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Awaited, Piece, PlannedCut
from inventory.services.repairs import date_repair, open_repair
from inventory.services.work import ask_to_cancel
from jobs.errors import Refused
from jobs.models import Chase, Delivery, FitFirst, Job, LoadLine, MillBar, Pick, RemedySearch, Supply
from jobs.planning.remedies.finding import find_remedies
from jobs.selectors.pours import job_calendar
from jobs.selectors.remedies import build_question, is_stale
from jobs.selectors.remedy_page import listed
from jobs.selectors.stock import stock_for
from jobs.selectors.waiting import Arrivals, held_by_others
from jobs.services.applying import apply_remedy
from jobs.services.checking import ask_check, solve_check
from jobs.services.remedying import ask_remedies, solve_remedies
from tests.jobs import build

# What is found hangs on the plan; what it is read from and written to is tested on either database beside it.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
TODAY = date(2027, 2, 22)


def short_job(code="J1", **settings):
    """One panel of 6 by 3 m, set on Thu 4 March, with one long form too few."""
    long, short = build.form(6500), build.form(3500)
    build.pieces(long, 1, build.yard())
    build.pieces(short, 2, build.yard())
    return build.job_with(build.row("A1"), code=code, **settings), long


def checked(job, today=TODAY):
    check = ask_check(job=job, today=today)
    solve_check(check=check, seconds=None, today=today)
    return check


def searched(job, today=TODAY) -> RemedySearch:
    search = ask_remedies(check=checked(job, today), today=today)
    solve_remedies(search=search, seconds=None, today=today)
    return search


def found(search, name):
    return next(each for each in search.answer["remedies"] if each["name"] == name)


def other_job(code="J9", **settings):
    job = build.job(code, **settings)
    job.stage = Job.Stage.RUNNING
    job.save()
    return job


def test_a_dirty_piece_in_its_turn_is_late_and_put_first_it_is_not():
    """Six working days to clean in its turn from Mon 22 Feb: ready Tue 2 March, one day to the site: Wed 3 March.

    With eight it is ready on Thu 4 and on site on Fri 5, a day late.
    """
    job, long = short_job(turnround_days=8)
    [dirty] = build.pieces(long, 1, build.yard(), dirty=True)
    search = searched(job)
    line = found(search, "clean")["lines"][0]
    assert found(search, "clean")["turns"] and line["tag"] == dirty.label and line["day"] == "2027-03-04"


def test_putting_it_first_is_one_press_and_the_next_check_counts_on_it():
    job, long = short_job(turnround_days=8)
    [dirty] = build.pieces(long, 1, build.yard(), dirty=True)
    search = searched(job)
    apply_remedy(search=search, name="clean", today=TODAY)
    wish = FitFirst.objects.get()
    assert (wish.piece, wish.job, wish.by_day, wish.need) == (dirty, job, date(2027, 3, 3), "clean")
    assert checked(job).covered
    with pytest.raises(Refused) as refused:
        apply_remedy(search=search, name="clean", today=TODAY)
    assert refused.value.code == "applied"


def test_a_piece_promised_for_a_day_that_passed_is_counted_in_its_turn_again():
    job, long = short_job(turnround_days=8)
    [dirty] = build.pieces(long, 1, build.yard(), dirty=True)
    FitFirst.objects.create(piece=dirty, job=job, need="clean", by_day=date(2027, 2, 20), asked_at=build.NOW)
    assert not checked(job).covered


def test_a_broken_piece_can_be_mended_first_and_then_counts_from_that_day():
    job, long = short_job()
    build.pieces(long, 1, build.yard(), fitness="unfit")
    search = searched(job)
    assert found(search, "clean")["lines"][0] | {"tag": ""} == {
        "tag": "",
        "code": long.code,
        "need": "mend",
        "day": "2027-03-04",
    }
    apply_remedy(search=search, name="clean", today=TODAY)
    span = (date(2027, 3, 1), date(2027, 3, 10))
    assert stock_for(job, [long.code], span, TODAY)[long.code] == ((date(2027, 3, 1), 1), (date(2027, 3, 4), 2))


def test_a_piece_to_be_mended_first_counts_from_the_day_that_the_workshop_says():
    job, long = short_job()
    [broken] = build.pieces(long, 1, build.yard(), fitness="unfit")
    apply_remedy(search=searched(job), name="clean", today=TODAY)
    order = open_repair(broken, what="straighten", by=None, now=build.NOW, ready_on=date(2027, 3, 4))
    assert not checked(job).covered  # wanted in the yard by Wed 3 March
    date_repair(order, ready_on=date(2027, 3, 3), estimate=None, work_cost=Decimal(0))
    assert checked(job).covered


def test_a_piece_that_another_job_put_first_is_not_offered_twice():
    job, long = short_job(turnround_days=8)
    [dirty] = build.pieces(long, 1, build.yard(), dirty=True)
    FitFirst.objects.create(
        piece=dirty, job=build.job("J2"), need="clean", by_day=date(2027, 3, 12), asked_at=build.NOW
    )
    assert not found(searched(job), "clean")["turns"]


def test_overdue_gear_is_asked_back_and_counts_once_a_day_is_promised(client_as):
    job, long = short_job()
    late = other_job(starts_on=date(2027, 1, 4), ends_on=date(2027, 2, 1))
    build.pieces(long, 3, late.site)
    search = searched(job)
    [line] = found(search, "chase")["lines"]
    assert line == {"holder": "J9", "code": long.code, "count": 1, "tags": ["T3"], "day": "2027-03-04"}
    apply_remedy(search=search, name="chase", today=TODAY)
    chase = Chase.objects.get()
    assert (chase.holder, chase.wanted_for, chase.by_day) == (late, job, date(2027, 3, 3))
    assert not checked(job).covered
    shown = client_as("planner").get(reverse("check", args=[job.checks.first().pk])).content.decode()
    assert "1 piece from J9" in shown  # why it is still short
    chase.promised_on = date(2027, 2, 25)
    chase.save()
    assert checked(job).covered
    # What is promised is on hand from then: only the rest may still be asked back.
    [rest] = held_by_others(Arrivals(job, TODAY, job_calendar(job, TODAY)), [long.code])
    assert (rest.count, rest.tags) == (2, ("T4", "T5"))


def test_gear_that_is_due_soon_and_promised_sooner_is_reserved_no_longer_than_that():
    """J9 has reserved the three it holds until they are back on Fri 5 March; promised for Thu 25 February one is clean
    on Wed 3 March, two working days of counting and one of transport later, and set here on Thu 4 March."""
    job, long = short_job()
    holder = other_job(starts_on=date(2027, 1, 4), ends_on=date(2027, 3, 5))
    build.pieces(long, 3, holder.site)
    delivery = Delivery.objects.create(job=holder, load_on=date(2027, 1, 4))
    LoadLine.objects.create(delivery=delivery, type=long, quantity=3)
    apply_remedy(search=searched(job), name="chase", today=TODAY)
    assert not checked(job).covered
    Chase.objects.update(promised_on=date(2027, 2, 25))
    assert checked(job).covered


def test_gear_due_after_two_weeks_is_not_chased():
    job, long = short_job()
    build.pieces(long, 3, other_job(ends_on=date(2027, 3, 9)).site)
    assert not found(searched(job), "chase")["turns"]


def test_waiting_until_gear_is_back_and_clean_is_the_earliest_start():
    """Back on Mon 8 March, one day on the road and two to clean: ready Thu 11, on site Fri 12, six working days
    after the Thu 4 that the forms were to be set."""
    job, long = short_job()
    build.pieces(long, 3, other_job(ends_on=date(2027, 3, 8)).site)
    search = searched(job)
    remedy = found(search, "wait")
    assert (remedy["turns"], remedy["proved"], remedy["days"]) == (True, True, 6)
    apply_remedy(search=search, name="wait", today=TODAY)
    job.refresh_from_db()
    assert job.starts_on == date(2027, 3, 9) and job.pours.get().cast_on == date(2027, 3, 15)
    assert checked(job).covered


def test_where_one_pour_alone_needs_more_than_there_ever_is_no_wait_helps():
    job, _ = short_job()
    remedy = found(searched(job), "wait")
    assert (remedy["turns"], remedy["proved"]) == (False, True)


def test_the_list_to_buy_is_the_cheapest_and_keeps_to_lead_times():
    job, long = short_job()
    Supply.objects.create(type=long, cost=900, lead_days=2)
    Supply.objects.create(type=long, cost=100, lead_days=20)
    remedy = found(searched(job), "buy")
    assert (remedy["cents"], remedy["proved"]) == (90_000, True)


def test_hiring_in_is_paid_by_the_day_for_as_long_as_it_is_ours():
    """Set Thu 4 March, so loaded Wed 3; free Tue 9, so back and clean Fri 12: nine days at 20."""
    job, long = short_job()
    Supply.objects.create(type=long, cost=900)
    Supply.objects.create(type=long, way="hire in", cost=20)
    search = searched(job)
    assert found(search, "buy")["cents"] == 18_000
    apply_remedy(search=search, name="buy", today=TODAY)
    order = Awaited.objects.get()
    assert (order.due_on, order.leaves_on) == (date(2027, 3, 3), date(2027, 3, 12))
    assert checked(job).covered


def test_without_any_price_the_shortest_list_is_given_and_no_money_said():
    job, _ = short_job()
    remedy = found(searched(job), "buy")
    assert remedy["cents"] is None and "no price is known" in remedy["sentence"]


def test_the_cheapest_remedy_stands_first_and_those_that_do_not_help_last():
    job, long = short_job(turnround_days=8)
    long.replacement_value = 300
    long.save()
    build.pieces(long, 1, build.yard(), dirty=True)
    remedies = searched(job).answer["remedies"]
    turns = [each["turns"] for each in remedies]
    assert remedies[0]["name"] == "clean" and turns == sorted(turns, reverse=True)
    assert [each["name"] for each in remedies if each["turns"]][-1] == "buy"


def test_a_search_is_stale_once_the_yard_changes_and_is_then_not_set_going():
    job, long = short_job(turnround_days=8)
    build.pieces(long, 1, build.yard(), dirty=True)
    search = searched(job)
    assert not is_stale(search, TODAY)
    build.pieces(long, 1, build.yard(), dirty=True)
    assert is_stale(search, TODAY)
    with pytest.raises(Refused) as refused:
        apply_remedy(search=search, name="clean", today=TODAY)
    assert refused.value.code == "stale" and not FitFirst.objects.exists()


def test_a_covered_check_has_no_remedies():
    job, long = short_job()
    build.pieces(long, 1, build.yard())
    with pytest.raises(Refused) as refused:
        ask_remedies(check=checked(job), today=TODAY)
    assert refused.value.code == "not-short"


def test_a_search_asked_to_stop_has_no_answer():
    job, _ = short_job()
    search = ask_remedies(check=checked(job), today=TODAY)
    ask_to_cancel(search)
    solve_remedies(search=search, today=TODAY)
    search.refresh_from_db()
    assert search.state == RemedySearch.State.CANCELLED and search.answer is None


def test_the_question_stored_is_the_same_for_the_same_yard():
    job, _ = short_job()
    check = checked(job)
    assert build_question(check, TODAY).as_json() == build_question(check, TODAY).as_json()


def test_called_off_at_once_it_gives_what_it_has():
    job, _ = short_job()
    assert find_remedies(build_question(checked(job), TODAY), cancelled=lambda: True) == ()


def test_the_page_ranks_them_and_one_press_sets_one_going(client_as):
    today = timezone.localdate()
    planner = client_as("planner")
    job, long = short_job(starts_on=today, turnround_days=60)
    pour = job.pours.get()
    pour.cast_on = build.later(today, 12)
    pour.save()
    build.pieces(long, 1, build.yard(), dirty=True)
    search = searched(job, today)
    page = planner.get(reverse("check", args=[search.check_asked_id])).content.decode()
    assert "What would make it fit" in page and "Clean 1 piece before others" in page
    detail = planner.get(reverse("remedy", args=[search.pk, "clean"])).content.decode()
    assert "Put them first in the queues" in detail
    [clean] = [each for each in listed(search)[0] if each.name == "clean"]
    pressed = planner.post(reverse("remedy", args=[search.pk, "clean"]))
    assert FitFirst.objects.get().by_day == clean.ready_by
    assert "The gear must be ready in the yard" in page and "The gear must be ready in the yard" in detail
    # the job is checked again by itself, with that piece counted on
    assert pressed.url == reverse("check", args=[job.checks.first().pk])
    assert job.checks.count() == 2
    rows = b"".join(planner.get(reverse("remedy", args=[search.pk, "clean"]), {"export": "csv"}).streaming_content)
    assert long.code.encode() in rows


def test_surplus_lengths_are_cut_down_but_never_what_another_job_has_reserved(client_as):
    """Three forms of 7.1 m lie in the yard and two are reserved: one may be cut, into two of 3.5 m."""
    long, short = build.form(7100), build.form(3500)
    build.pieces(build.form(6500), 2, build.yard())
    build.pieces(long, 3, build.yard())
    job = build.job_with(build.row("A1"))
    other = build.job("J9", ends_on=date(2027, 6, 30))
    Job.objects.filter(pk=other.pk).update(stage=Job.Stage.ACCEPTED)
    delivery = Delivery.objects.create(job=other, load_on=date(2027, 5, 3))
    line = LoadLine.objects.create(delivery=delivery, type=long, quantity=2)
    search = searched(job)
    remedy = found(search, "cut")
    assert remedy["lines"][0] | {"offcut_mm": 0, "day": ""} == {
        "code": long.code,
        "into": [short.code, short.code],
        "count": 1,
        "offcut_mm": 0,
        "splay": 1,
        "day": "",
    }
    picked = Piece.objects.filter(type=long).first()
    Pick.objects.create(delivery=delivery, piece=picked)
    apply_remedy(search=search, name="cut", today=TODAY)
    cut = PlannedCut.objects.get()
    assert cut.piece.type == long and cut.piece != picked
    assert [part.type for part in cut.parts.all()] == [short, short]
    assert checked(job).covered
    assert not checked(job, cut.ready_on + timedelta(days=1)).covered  # Overdue, it is counted on no more.
    manager = client_as("manager")
    page = manager.get(reverse("recut")).content.decode()
    assert "Planned to be cut" in page and "wanted for J1" in page
    filled = manager.get(reverse("piece-recut", args=[cut.piece_id])).context["form"].initial
    assert [filled["type_1"], filled["type_2"], filled.get("type_3")] == [short.pk, short.pk, None]
    manager.post(reverse("planned-cut", args=[cut.pk]), {"done": "off"})
    assert not checked(job).covered
    line.quantity = 3
    line.save()
    assert not any(each["name"] == "cut" and each["turns"] for each in searched(job).answer["remedies"])


def test_new_forms_come_from_mill_bars_that_are_listed(client_as):
    job, _ = short_job()
    MillBar.objects.create(section_mm=150, length_mm=7000, cost=80)
    search = searched(job)
    remedy = found(search, "bars")
    assert (remedy["turns"], remedy["cents"], remedy["lines"][0]["pieces"]) == (True, 8000, [6500])
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "bars"])).content.decode()
    assert "7,000 mm" in page and "one end splayed" in page and "from 1 mill bar for 80.00 EUR:" in page


def test_moving_one_of_two_pours_that_clash_is_one_press(client_as):
    """Two pours on one day with gear for one: either moves until the other is free."""
    long, short = build.form(6500), build.form(3500)
    build.pieces(long, 2, build.yard())
    build.pieces(short, 2, build.yard())
    job = build.job_with(build.row("A1", pour="P1"), build.row("B1", pour="P2"))
    search = searched(job)
    remedy = found(search, "move")
    assert remedy["turns"] and remedy["proved"] and len(remedy["lines"]) == 1
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "move"])).content.decode()
    assert "Pours that move, before and after" in page
    apply_remedy(search=search, name="move", today=TODAY)
    line = remedy["lines"][0]
    assert job.pours.get(name=line["pour"]).cast_on == date.fromisoformat(line["cast"])
    assert checked(job).covered
