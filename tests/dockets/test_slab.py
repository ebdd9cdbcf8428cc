"""The whole pour at one press, and exceptions by scanning."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, Phase
from inventory.models import Event, Piece, ReviewItem, Submission
from inventory.services import docket_scans, dockets, pour_presses
from inventory.services.docket_scans import Scan
from jobs.models import Customer, Job, Pour
from jobs.selectors.slab import slabs
from tests.factories import GearTypeFactory

T0 = datetime(2026, 4, 1, 7, 0, tzinfo=UTC)


def at(hours):
    return T0 + timedelta(hours=hours)


@pytest.fixture
def docket(yard, codes):
    yard.pieces(*codes[:3])
    docket = dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, now=T0)
    for number, code in enumerate(codes[:3]):
        docket_scans.load(docket, Scan(code=code), now=at(0.1 + number / 100))
    dockets.leave(docket, by=yard.hand, vehicle="TR 1", driver="D", signed_by="D", now=at(1))
    dockets.receive(docket, by=yard.hand, signed_by="A lead", now=at(2))
    docket.refresh_from_db()
    return docket


@pytest.fixture
def job(yard):
    customer = Customer.objects.create(code="C", name="A customer")
    job = Job.objects.create(
        code="J", name="A job", customer=customer, site=yard.site, yard=yard.yard, stage="running",
        starts_on=T0.date(), asked_at=T0,
    )  # fmt: skip
    Pour.objects.create(job=job, name="Pour 1", place=yard.pour, cast_on=T0.date())
    Pour.objects.create(job=job, name="Pour 2", place=yard.upper, cast_on=T0.date() + timedelta(days=4))
    return job


def states():
    return set(Piece.objects.values_list("phase", "dirty", "uses"))


def press(yard, kind, hours, pour=None):
    return pour_presses.press(pour or yard.pour, kind, by=yard.hand, now=at(hours))


def test_a_pour_goes_round_in_five_presses(yard, docket):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    assert states() == {(Phase.SET, False, 0)}
    press(yard, Kind.CAST, 4)
    assert states() == {(Phase.CAST, True, 1)}
    press(yard, Kind.STRIPPED, 28)
    press(yard, Kind.CLEANED, 29)
    assert states() == {(Phase.STRIPPED, False, 1)}
    pour_presses.set_from_pour(yard.pour, yard.upper, by=yard.hand, now=at(30))
    assert set(Piece.objects.values_list("pour", "phase")) == {(yard.upper.pk, Phase.SET)}
    assert (
        Event.objects.filter(group_kind__in=["pour", "docket"], kind__in=["set", "cast", "stripped", "cleaned"]).count()
        == 5
    )


def test_a_pour_called_off_makes_no_use_and_no_dirt(yard, docket):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    press(yard, Kind.CALLED_OFF, 4)
    press(yard, Kind.STRIPPED, 5)
    assert states() == {(Phase.STRIPPED, False, 0)}


def test_a_second_cast_without_cleaning_goes_to_review(yard, docket):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    press(yard, Kind.CAST, 4)
    press(yard, Kind.STRIPPED, 28)
    pour_presses.set_from_pour(yard.pour, yard.upper, by=yard.hand, now=at(30))
    answer = press(yard, Kind.CAST, 31, yard.upper)
    assert answer.answer == Submission.Answer.IN_REVIEW
    assert ReviewItem.objects.open().filter(code="cast-uncleaned").count() == 3


def test_a_piece_that_was_not_in_the_press_is_left_out_by_scanning_it(yard, docket, codes):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    press(yard, Kind.CAST, 4)
    piece = Piece.objects.get(label=codes[0])
    pour_presses.was_not_in(Scan(code=codes[0], piece=piece), yard.pour, now=at(5))
    piece.refresh_from_db()
    assert (piece.phase, piece.uses) == (Phase.SET, 0)
    assert Piece.objects.filter(uses=1).count() == 2


def test_the_last_press_can_be_taken_back_whole(yard, docket):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    press(yard, Kind.CAST, 4)
    pour_presses.undo_press(yard.pour, by=yard.hand, now=at(5))
    assert states() == {(Phase.SET, False, 0)}
    assert pour_presses.last_press(yard.pour).kind == Kind.SET
    pour_presses.undo_press(yard.pour, by=yard.hand, now=at(6))
    assert states() == {("", False, 0)}
    assert set(Piece.objects.values_list("place", flat=True)) == {yard.site.pk}


def test_a_piece_that_was_not_set_with_the_others_is_left_out_of_the_setting(yard, docket, codes):
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    piece = Piece.objects.get(label=codes[0])
    pour_presses.was_not_in(Scan(code=codes[0], piece=piece), yard.pour, now=at(3.5))
    piece.refresh_from_db()
    assert (piece.place, piece.pour) == (yard.site, None)


def test_unfit_gear_keeps_the_whole_press_from_being_taken(yard, docket, codes):
    Piece.objects.filter(label=codes[0]).update(fitness=Fitness.UNFIT)
    answer = pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    assert answer.answer == Submission.Answer.REFUSED
    assert states() == {("", False, 0)}
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3), override="the engineer has seen it")
    assert states() == {(Phase.SET, False, 0)}


def test_setting_everything_leaves_the_tools_beside_the_pour(yard, docket, codes):
    """Nor does an unfit tool, or an unfit piece that stands in another pour, keep the rest from being set."""
    elsewhere, tool = Piece.objects.get(label=codes[1]), Piece.objects.get(label=codes[2])
    tool.type = GearTypeFactory(kind="tool", clean_after_every_pour=False)
    tool.save()
    pour_presses.set_one(Scan(code=elsewhere.label), yard.upper, now=at(2.5))
    Piece.objects.exclude(label=codes[0]).update(fitness=Fitness.UNFIT)
    assert pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3)).answer == Submission.Answer.RECORDED
    press(yard, Kind.CAST, 4)
    tool.refresh_from_db()
    assert (tool.place, tool.phase, tool.uses) == (yard.site, "", 0)
    assert Piece.objects.get(label=codes[0]).uses == 1
    with pytest.raises(Refused, match="Nothing from"):
        pour_presses.set_from_docket(docket, yard.upper, by=yard.hand, now=at(5))


def test_an_empty_pour_is_not_cast(yard):
    with pytest.raises(Refused, match="No gear"):
        press(yard, Kind.CAST, 4)


def test_the_page_offers_the_press_that_comes_next(yard, docket, job):
    def offered():
        return {slab.pour.name: slab.next for slab in slabs(T0.date())}

    assert offered() == {"Pour 1": "set", "Pour 2": "set"}
    pour_presses.set_from_docket(docket, yard.pour, by=yard.hand, now=at(3))
    assert offered()["Pour 1"] == "cast"
    press(yard, Kind.CAST, 4)
    assert offered()["Pour 1"] == "strip"
    press(yard, Kind.STRIPPED, 28)
    assert offered()["Pour 1"] == "clean"
    press(yard, Kind.CLEANED, 29)
    assert offered()["Pour 1"] == "up"
    pour_presses.set_from_pour(yard.pour, yard.upper, by=yard.hand, now=at(30))
    assert offered() == {"Pour 2": "cast"}


def test_the_site_lead_presses_and_is_told_the_engineer_decides(client_as, yard, docket, job):
    client = client_as("site lead")
    pour = Pour.objects.get(name="Pour 1")
    said = {"pour": pour.pk, "act": "set", "source": f"docket:{docket.pk}"}
    assert "Pour 1 is set" in client.post(reverse("slab-press"), said, follow=True).content.decode()
    page = client.post(reverse("slab-press"), {"pour": pour.pk, "act": "cast"}, follow=True).content.decode()
    assert "Strength before stripping" in page
    assert "not this software" in page
    assert Event.objects.get(kind="cast").happened_at <= timezone.now()
