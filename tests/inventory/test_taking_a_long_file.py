"""A long file goes to the worker: step by step, stopped or broken off with nothing doubled when it is taken again."""

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.errors import Refused
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import BroughtIn, GearType, Piece, Place, Taking
from inventory.services.importing import keeping, taking
from inventory.services.importing.columns import FileKind
from inventory.services.work import ask_to_cancel
from inventory.tasks import take_file
from tests.factories import GearTypeFactory, UserFactory

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 11, 20, 9, 0, tzinfo=dt.UTC)


@pytest.fixture
def held(monkeypatch):
    """Twelve pieces in a file, where five are a step."""
    monkeypatch.setattr(taking, "STEP_ROWS", 5)
    monkeypatch.setattr(keeping, "STEP_ROWS", 5)
    Place.objects.create(name="North yard", kind=PlaceKind.YARD)
    GearTypeFactory(code="BR", name="form bracket", kind=GearType.Kind.FORM_BRACKET, mass_kg=2)
    rows = "".join(f"F-{number},BR,North yard\n" for number in range(12))
    return keeping.keep(FileKind.PIECES, "fleet.csv", f"own number,type,place\n{rows}".encode(), by=None, now=NOW)


def asked(held):
    return keeping.ask_taking(held, by=None, now=NOW)


def test_it_is_taken_whole_and_says_what_it_came_to(held):
    work = asked(held)
    take_file.call(work.pk)
    held.refresh_from_db()
    work.refresh_from_db()
    assert (held.outcome, Piece.objects.count(), work.state) == ("12 new", 12, Taking.State.ANSWERED)


def test_a_file_stopped_half_way_is_gone_on_with_and_nothing_is_doubled(held, monkeypatch):
    register, seen = taking._register, []

    def stop_after_one(rows, *rest):
        register(rows, *rest)
        if not seen:
            seen.append(rows)
            ask_to_cancel(Taking.objects.get())

    monkeypatch.setattr(taking, "_register", stop_after_one)
    work = asked(held)
    take_file.call(work.pk)
    work.refresh_from_db()
    assert (work.state, Piece.objects.count()) == (Taking.State.CANCELLED, 5)
    take_file.call(asked(held).pk)
    held.refresh_from_db()
    assert (held.outcome, Piece.objects.count()) == ("7 new, 5 same", 12)


def test_a_file_that_breaks_off_says_so_in_words(held, monkeypatch):
    def broken(*_):
        raise RuntimeError("no disk")

    monkeypatch.setattr(taking, "_register", broken)
    work = asked(held)
    with pytest.raises(RuntimeError):
        take_file.call(work.pk)
    work.refresh_from_db()
    assert work.state == Taking.State.FAILED and "Take it again" in work.failure


def test_a_file_that_is_being_taken_is_not_taken_or_dropped_by_another(held):
    asked(held)
    for press in (asked, lambda held: keeping.drop(held, NOW)):
        with pytest.raises(Refused) as refused:
            press(held)
        assert refused.value.code == "import-busy"


def test_a_file_that_the_books_no_longer_fit_fails_with_the_row_to_mend(held):
    work = asked(held)
    GearType.objects.update(code="BX")
    take_file.call(work.pk)
    work.refresh_from_db()
    assert work.state == Taking.State.FAILED and "Line 2, type" in work.failure


def test_on_the_page_a_long_file_is_watched_and_can_be_stopped(client, held):
    client.force_login(UserFactory(roles=["manager"]))
    client.post(f"/bring-in/file/{held.pk}/", {"do": "take"})
    assert b"for a worker" in client.get(f"/bring-in/file/{held.pk}/").content
    part = client.get(f"/bring-in/file/{held.pk}/", headers={"HX-Request": "true"})
    assert b"<progress" in part.content and b"<html" not in part.content
    client.post(f"/bring-in/file/{held.pk}/", {"do": "stop"})
    page = client.get(f"/bring-in/file/{held.pk}/").content.decode()
    assert "Take it again to go on" in page and "12 new" in page


def test_a_short_file_is_taken_at_once(client, held):
    client.force_login(UserFactory(roles=["manager"]))
    short = b"own number,type,place\nF-99,BR,North yard\n"
    client.post("/bring-in/pieces/", {"file": SimpleUploadedFile("one.csv", short)})
    one = BroughtIn.objects.get(name="one.csv")
    client.post(f"/bring-in/file/{one.pk}/", {"do": "take"})
    one.refresh_from_db()
    assert one.outcome == "1 new" and not one.takings.exists()
