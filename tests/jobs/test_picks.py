"""A load list gets its tags, and the docket ticks them off."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Awaited, CountedStock, Person, Piece, Place, RepairOrder, Tag, YardSettings
from inventory.selectors.dockets import sheet
from inventory.services.docket_scans import Scan, load
from inventory.services.dockets import leave
from jobs.errors import Refused
from jobs.models import Chase, Delivery, Job, LoadLine, Pick
from jobs.selectors.held_elsewhere import say_who_holds
from jobs.selectors.picks import pick_list, whole_crates
from jobs.services.loading import open_delivery_docket
from jobs.services.picking import choose_tags
from tests.jobs import build

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 3, 1, 8, tzinfo=UTC)


def truck(code: str = "J1", **wanted: int) -> Delivery:
    job = build.job(code)
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    made = Delivery.objects.create(job=Job.objects.get(pk=job.pk), load_on=date(2027, 3, 3))
    for name, count in (wanted or {"form": 2}).items():
        kind = build.form(3000) if name == "form" else build.article(name, "bolt")
        LoadLine.objects.create(delivery=made, type=kind, quantity=count)
    return made


def stock(count: int, place=None, **state) -> list[Piece]:
    made = build.pieces(build.form(3000), count, place or build.yard(), **state)
    Tag.objects.bulk_create(Tag(code=piece.label, piece=piece, fixed_at=NOW) for piece in made)
    return made


def picked(delivery) -> list[Piece]:
    return [one.piece for line in pick_list(delivery) for one in line.picked]


def line_of(delivery):
    return next(line for line in pick_list(delivery) if line.by_tag)


def test_unfit_and_dirty_pieces_are_never_picked():
    stock(3, fitness="unfit"), stock(2, dirty=True)
    good = stock(1)
    made = truck()
    assert choose_tags(delivery=made) == 1
    assert picked(made) == good
    Awaited.objects.create(type=build.form(3000), place=build.yard(), quantity=4, due_on=date(2027, 3, 2))
    line = line_of(made)
    assert (line.lacking, line.dirty, line.on_order) == (1, 2, [(4, date(2027, 3, 2))])


def test_the_jobs_own_yard_is_the_nearest_and_what_is_elsewhere_must_come_across():
    far = stock(2, build.yard("Far yard"), uses=0)
    near = stock(1, uses=90)
    made = truck()
    choose_tags(delivery=made)
    assert picked(made)[0] in far or near[0] in picked(made)
    assert near[0] in picked(made)
    across = [one.elsewhere.name if one.elsewhere else "" for one in line_of(made).picked]
    assert across == ["", "Far yard"]


def test_what_is_clean_in_the_wash_bay_is_picked_as_the_cover_check_counts_it():
    """It lies in its yard; a piece that somebody mends does not go, nor one of a farther yard before it."""
    bay = Place.objects.create(name="Wash bay", kind=PlaceKind.WASH_BAY, parent=build.yard())
    stock(1, build.yard("Far yard")), stock(1, bay, dirty=True)
    mended = stock(1, Place.objects.create(name="Workshop", kind=PlaceKind.WORKSHOP, parent=build.yard()))
    RepairOrder.objects.create(piece=mended[0], opened_at=NOW)
    washed = stock(2, bay)
    made = truck()
    choose_tags(delivery=made)
    assert picked(made) == washed
    LoadLine.objects.update(quantity=5)
    choose_tags(delivery=made)
    line = line_of(made)
    said = [(one.wrong, one.elsewhere and one.elsewhere.name) for one in line.picked]
    assert said == [("", None), ("", None), ("", "Far yard")]
    assert (line.lacking, line.dirty) == (2, 1)


@pytest.mark.parametrize(("order", "uses"), [("fewest", {1, 9}), ("alike", {9, 10})])
def test_the_yard_says_which_of_many_alike(order, uses):
    YardSettings.current()
    YardSettings.objects.update(pick_order=order)
    for count in (1, 9, 10, 40):
        stock(1, uses=count)
    made = truck()
    choose_tags(delivery=made)
    assert {piece.uses for piece in picked(made)} == uses


def test_of_alike_pieces_those_of_one_whole_crate_are_taken_and_it_is_ticked_off_as_one(client_as):
    """One loose, three in one crate, two in another, all new: a truck of two empties the crate of two."""
    crates = build.pieces(build.article("stillage", "crate"), 2, build.yard())
    stock(1), stock(3, crate=crates[0])
    whole = stock(2, crate=crates[1])
    choose_tags(delivery=(made := truck()))
    assert picked(made) == whole
    assert whole_crates(pick_list(made)) == [(crates[1], 2)]
    page = client_as("hand").get(reverse("delivery-picks", args=[made.pk])).content.decode()
    section = page[page.index("Whole crates") :].partition("</section>")[0]
    assert section.count("<li>") == section.count('class="box"') == 1
    assert reverse("piece", args=[crates[1].pk]) in section and "2 pieces" in section and "North yard" in section


def test_edge_forms_stand_before_bolts_on_the_load_list_the_pick_list_and_the_docket():
    made = truck(bolt=4, form=2)
    docket = open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    for lines in (made.lines_in_order, pick_list(made), sheet(docket).lines):
        assert [line.type.kind for line in lines] == ["edge form", "bolt"]


def test_two_trucks_are_never_given_the_same_piece():
    stock(3)
    first, second = truck("J1"), truck("J2")
    assert (choose_tags(delivery=first), choose_tags(delivery=second)) == (2, 1)
    assert not set(picked(first)) & set(picked(second))


def test_a_truck_of_a_later_job_keeps_no_piece_from_one_that_has_it_back_before():
    """J1's gear is back from 12 March and clean by 17 March: what goes to J2 on 22 March may go to J1 on 3 March."""
    made = stock(2)
    later = truck("J2")
    Delivery.objects.filter(pk=later.pk).update(load_on=date(2027, 3, 22))
    assert choose_tags(delivery=later, today=date(2027, 2, 22)) == 2
    first = truck("J1")
    Job.objects.filter(pk=first.job_id).update(ends_on=date(2027, 3, 26))
    assert choose_tags(delivery=first, today=date(2027, 2, 22)) == 0
    Job.objects.filter(pk=first.job_id).update(ends_on=date(2027, 3, 12))
    assert choose_tags(delivery=first, today=date(2027, 2, 22)) == 2
    assert picked(first) == picked(later) == made


def test_a_piece_found_unfit_after_it_was_chosen_gives_way_to_another():
    bad, _ = stock(2)
    made = truck()
    choose_tags(delivery=made)
    Piece.objects.filter(pk=bad.pk).update(fitness="unfit")
    assert line_of(made).lacking == 1
    spare = stock(1)
    choose_tags(delivery=made)
    assert bad not in picked(made) and spare[0] in picked(made)


def test_the_docket_ticks_off_what_is_scanned_onto_it_and_counts_another_in_its_stead():
    one, _, other = stock(3)
    made = truck()
    choose_tags(delivery=made)
    docket = open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    made.refresh_from_db()
    for piece in (one, other):
        load(docket, Scan(code=piece.label, piece=piece), now=NOW)
    line = line_of(made)
    assert [row.loaded for row in line.picked] == [False, True]  # what is still to be fetched first
    assert line.instead == [other] and line.lacking == 0 and line.done


def test_another_tag_than_those_chosen_is_said_to_be_so_only_where_some_were_chosen(client_as):
    one, other = stock(2)
    made = truck()
    docket = open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    load(docket, Scan(code=one.label, piece=one), now=NOW)
    url = reverse("delivery-picks", args=[made.pk])
    page = client_as("hand").get(url).content.decode()
    assert reverse("piece", args=[one.pk]) in page and "though not on this list" not in page
    choose_tags(delivery=made)
    assert picked(made) == [other]
    assert "though not on this list" in client_as("hand").get(url).content.decode()


def test_counted_goods_say_where_they_lie():
    made = truck(bolts=20)
    bolts = build.article("bolts", "bolt")
    CountedStock.objects.create(type=bolts, place=build.yard(), quantity=12)
    (line,) = pick_list(made)
    assert [(place.name, count) for place, count in line.goods] == [("North yard", 12)]
    assert line.lacking == 20


def test_a_job_only_asked_for_has_no_tags_to_choose():
    made = truck()
    Job.objects.update(stage=Job.Stage.ASKED)
    with pytest.raises(Refused):
        choose_tags(delivery=made)
    assert not Pick.objects.exists()


def test_the_page_chooses_and_lists_them(client_as):
    stock(2)
    made = truck()
    url = reverse("delivery-picks", args=[made.pk])
    page = client_as("hand").post(url, follow=True).content.decode()
    assert "2 tags chosen" in page and page.count("set-tag") == 2 and PlaceKind.YARD in page
    assert client_as("site lead").post(url).status_code == 403


def test_what_lacks_a_tag_is_said_to_be_broken_in_the_yard_or_with_another_job(client_as):
    """Seven lack: one is unfit; two are promised for the 2nd, one is due on the 8th, one with a job long overdue."""
    stock(1, fitness="unfit"), stock(1, fitness="unfit", dirty=True)
    for code, ends, count in (("J8", date(2027, 3, 8), 3), ("J9", date(2027, 2, 8), 1)):
        other = build.job(code, starts_on=date(2027, 2, 1))
        Job.objects.filter(pk=other.pk).update(ends_on=ends, stage=Job.Stage.RUNNING)
        stock(count, other.site)
    made = truck(form=7)
    asked = {"lines": [{"code": build.form(3000).code, "count": 2, "day": "2027-03-03"}], "by_day": date(2027, 3, 3)}
    Chase.objects.create(
        holder=Job.objects.get(code="J8"), wanted_for=made.job, promised_on=date(2027, 3, 2), asked_at=NOW, **asked
    )
    lines = pick_list(made)
    say_who_holds(made, lines, date(2027, 3, 1))
    assert (lines[0].lacking, lines[0].dirty, lines[0].unfit) == (7, 0, 2)
    said = [(one.job, one.count, one.until and one.until.day) for one in lines[0].held]
    assert said == [("J8", 2, 2), ("J8", 1, 8), ("J9", 1, None)]
    page = client_as("hand").get(reverse("delivery-picks", args=[made.pk])).content.decode()
    assert "7 without a tag: 2 unfit there" in page and "1 with J9" in page


def test_what_is_chosen_for_another_truck_is_said_where_it_lacks():
    stock(3)
    first, second = truck("J1"), truck("J2")
    choose_tags(delivery=first), choose_tags(delivery=second)
    lines = pick_list(second)
    say_who_holds(second, lines, date(2027, 3, 1))
    assert (lines[0].lacking, lines[0].chosen) == (1, [(2, "J1", date(2027, 3, 3))])
    Job.objects.filter(pk=first.job_id).update(ends_on=date(2027, 3, 12))
    Delivery.objects.filter(pk=second.pk).update(load_on=date(2027, 3, 22))
    second.refresh_from_db()
    say_who_holds(second, lines := pick_list(second), date(2027, 3, 1))
    assert lines[0].chosen == []  # J1 has brought them back by then


def test_the_pick_list_leads_on_to_its_docket_and_then_to_the_scanner(client_as):
    stock(2)
    made = truck()
    url, opens = reverse("delivery-picks", args=[made.pk]), reverse("delivery-docket", args=[made.pk])
    assert "Its docket is not open yet" in client_as("hand").get(url).content.decode()
    assert opens in client_as("planner").get(url).content.decode()
    client_as("planner").post(opens)
    docket = Delivery.objects.get(pk=made.pk).docket
    page = client_as("hand").get(url).content.decode()
    assert f"?doing=load&amp;docket={docket.pk}" in page and "Its docket is not open yet" not in page
    assert opens not in client_as("planner").get(url).content.decode()


def test_once_the_truck_has_left_nothing_is_to_be_chosen_or_fetched_any_more(client_as):
    first, _ = stock(2)
    made = truck(form=3)
    choose_tags(delivery=made)
    docket = open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    load(docket, Scan(code=first.label, piece=first), now=NOW)
    leave(docket, by=None, vehicle="T", driver="D", signed_by="D", now=NOW)
    page = client_as("hand").get(reverse("delivery-picks", args=[made.pk])).content.decode()
    assert (
        "2 left behind</a> of 3 wanted" in client_as("hand").get(reverse("docket", args=[docket.pk])).content.decode()
    )
    assert ">1 of 3</a> went with it" in page and page.count("did not go") == 1 and "Choose" not in page
