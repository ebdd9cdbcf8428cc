"""Missing gear: asked after, found, written off with its value, and found later all the same."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Standing
from inventory.models import Event, Missing
from inventory.services import missing
from inventory.services.recording import record
from inventory.services.reports import Report
from tests.inventory.yard import NOW, make_yard

D = Decimal
LATER = NOW + dt.timedelta(days=9)


@pytest.fixture
def yard(db):
    return make_yard()


@pytest.fixture
def piece(yard):
    (made,) = yard.pieces("ABCDEFGH3")
    yard.tell(Kind.RECEIVED, 20, piece=made.pk, place=yard.site.pk)
    made.refresh_from_db()
    return made


@pytest.fixture
def case(yard, piece):
    (made,) = missing.miss([piece], missed="return", by=yard.hand, now=NOW)
    return made


def test_a_piece_is_asked_after_once_at_a_time(piece, case):
    assert case.place.name == "Mill Lane"
    assert missing.miss([piece], missed="stocktake", by=None, now=NOW) == []


def test_who_was_asked_is_kept(yard, case):
    missing.ask_after(case, words="site lead: under the stack", by=yard.hand, now=NOW)
    assert case.notes.get().words == "site lead: under the stack"


def test_written_off_with_its_value_and_charged(yard, piece, case):
    missing.write_off(case, value=D("90.00"), charge=True, reason="site cleared", by=yard.hand, now=NOW)
    piece.refresh_from_db()
    data = Event.objects.get(kind=Kind.LOST).data
    assert (piece.standing, data["value"], data["charge"]) == (Standing.LOST, "90.00", True)
    with pytest.raises(Refused, match="closed"):
        missing.found(case, place=yard.yard, by=None, now=NOW)


def test_found_before_it_was_written_off_is_a_count_where_it_is(yard, piece, case):
    missing.found(case, place=yard.site, by=yard.hand, now=LATER)
    piece.refresh_from_db()
    assert (piece.standing, case.outcome) == (Standing.HELD, "found")
    assert not Event.objects.filter(kind=Kind.FOUND).exists()


def test_found_after_it_was_written_off_is_back_on_the_books(yard, piece, case):
    missing.write_off(case, value=D(90), charge=True, reason="x", by=yard.hand, now=NOW)
    (again,) = missing.miss([piece], missed="other", by=yard.hand, now=NOW)
    piece.refresh_from_db()
    again.piece.refresh_from_db()
    missing.found(again, place=yard.yard, by=yard.hand, now=LATER)
    piece.refresh_from_db()
    assert (piece.standing, piece.place) == (Standing.HELD, yard.yard)


def test_what_stayed_behind_after_a_return_is_offered_and_listed(yard, piece, client_as):
    docket = yard.docket(yard.site, yard.yard)
    manager = client_as("manager")
    offered = manager.get(f"/missing/new/?docket={docket.pk}").content.decode()
    assert "ABCD-EFGH-3" in offered
    manager.post(f"/missing/new/?docket={docket.pk}", {"codes": "ABCDEFGH3", "missed": "return"})
    case = Missing.objects.get()
    assert (case.docket, case.place) == (docket, yard.site)
    assert "1 piece is" in manager.get("/missing/").content.decode()


def test_seen_since_is_said(yard, piece, case, client_as):

    Missing.objects.update(opened_at=NOW - dt.timedelta(days=60))
    yard.tell(Kind.RETURNED, 24 * 60, piece=piece.pk, place=yard.yard.pk)
    shown = client_as("manager").get(f"/missing/{case.pk}/").content.decode()
    assert "Seen since" in shown and "Home yard" in shown


def test_what_was_loaded_and_never_counted_off_is_offered_first(yard, piece, client_as):
    (stayed,) = yard.pieces("BCDEFGHJ4")
    yard.tell(Kind.RECEIVED, 21, piece=stayed.pk, place=yard.site.pk)
    docket = yard.docket(yard.site, yard.yard)
    yard.tell(Kind.SENT, 30, piece=piece.pk, docket=docket.pk)
    manager = client_as("manager")
    offered = manager.get(f"/missing/new/?docket={docket.pk}").content.decode()
    assert "ABCD-EFGH-3" in offered and "BCDE-FGHJ-4" not in offered
    everything = manager.get(f"/missing/new/?docket={docket.pk}&all=1").content.decode()
    assert "BCDE-FGHJ-4" in everything


def test_a_written_off_piece_that_is_found_by_its_own_page_is_said_so(yard, piece, case, client_as):
    missing.write_off(case, value=D(10), charge=False, reason="gone", by=None, now=NOW)
    assert f"/pieces/{piece.pk}/found/" in client_as("manager").get(f"/missing/{case.pk}/").content.decode()
    record([Report(Kind.FOUND, LATER, piece=piece.pk, place=yard.yard.pk)], by=None, now=LATER)
    assert "written off, found since" in client_as("manager").get(f"/missing/{case.pk}/").content.decode()
