"""Inspection intervals in uses and in days: what is due, what is overdue, and what decides."""

import datetime as dt

import pytest
from django.utils import timezone

from inventory.lifecycle.kinds import Kind, PlaceKind
from inventory.models import GearType, Place
from inventory.selectors.upkeep import DUE, OVERDUE, inspection_of, inspections, soon
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.services.summing import bring_up_to_date, lives

pytestmark = pytest.mark.django_db


def ago(days):
    return timezone.now() - dt.timedelta(days=days)


@pytest.fixture
def yard():
    return Place.objects.create(name="North yard", kind=PlaceKind.YARD)


@pytest.fixture
def bracket():
    return GearType.objects.create(
        code="SB", name="Stack bracket", kind="stack bracket", inspect_every_uses=10, inspect_every_days=100
    )


def put(yard, kind, number, days=30, uses=0):
    from inventory.tags.code import with_check

    new = NewPiece(kind.pk, (with_check(f"ABCDEF{number:02}".replace("0", "2").replace("1", "3")),), yard.pk, uses=uses)
    return register_pieces([new], by=None, happened_at=ago(days), now=ago(days))[0]


def due():
    bring_up_to_date()
    return {piece.pk: piece.due for piece in inspections(timezone.localdate())}


def words(piece):
    inspection = inspection_of(piece.type, lives([piece.pk])[piece.pk], timezone.localdate())
    return inspection and inspection.words


@pytest.mark.parametrize(
    ("days", "uses", "stands"),
    [(30, 0, None), (30, 8, None), (30, 9, DUE), (30, 10, OVERDUE), (85, 0, None), (86, 0, DUE), (100, 0, OVERDUE)],
)
def test_whichever_comes_first(yard, bracket, days, uses, stands):
    piece = put(yard, bracket, 22, days, uses)
    assert due().get(piece.pk) == stands
    assert words(piece) == {None: "", DUE: "due", OVERDUE: "overdue"}[stands]


def test_an_inspection_starts_both_counts_again(yard, bracket):
    piece = put(yard, bracket, 22, 200, 50)
    assert due() == {piece.pk: OVERDUE}
    said = {"grade": "sound", "by_name": "A competent person", "checked": "welds"}
    record([Report(Kind.INSPECTED, ago(1), piece=piece.pk, data=said)], by=None)
    assert due() == {}
    assert words(piece) == ""


def test_a_type_without_an_interval_is_never_due(yard, bracket):
    plain = GearType.objects.create(code="FB", name="Form bracket", kind="form bracket")
    piece = put(yard, plain, 23, 900, 900)
    assert due() == {} and words(piece) is None


def test_small_intervals_are_due_before_they_are_up():
    assert [soon(every) for every in (1, 5, 10, 25)] == [1, 5, 9, 23]


def test_the_page_names_what_is_overdue_and_who_decides(yard, bracket, client_as):
    clamp = GearType.objects.create(code="CC", name="Corner clamp", kind="corner clamp")
    put(yard, bracket, 22, 30, 12)
    shown = client_as("hand").get("/inspections/").content.decode()
    assert "1 inspection is overdue" in shown and "The maker's data and the local rules decide" in shown
    assert f"/types/{clamp.pk}/" in shown  # it holds formwork, and nobody has set an interval
