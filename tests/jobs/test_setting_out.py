"""The setting-out sheet: pieces and distances as the take-off has them, by tag; and one code for the whole pour."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image

from inventory.errors import Refused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Phase, Seen
from inventory.models import Event, Piece, Submission, Tag
from inventory.services.labels import modules
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Manner, Report
from inventory.services.tagging import tag_of_place, unused_codes
from inventory.tags import code as tag_code
from jobs.models import PlannedRun
from jobs.selectors.setting_out import setting_out
from tests import factories
from tests.jobs import build

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 1, 8, tzinfo=UTC)


def planned():
    """Two levels of 6.0 x 3.0 m, each long side 3.5 + 3.0 m, each short one 3.5 m."""
    rows = [
        build.row("A1", stack="S", level=1, pour="P1"),
        build.row("A2", stack="S", level=2, pour="P2") | {"pour date": "2027-03-10"},
    ]
    job = build.job_with(*rows)
    for length in (3500, 3000):
        build.form(length)
    for panel in job.panels.all():
        for side in range(4):
            pieces = ["E150-3500-1", "E150-3000-0"] if side % 2 == 0 else ["E150-3500-1"]
            PlannedRun.objects.create(panel=panel, side=side, pieces=pieces)
    build.form(3000, splayed=0)
    return job


def on_site(job, at=NOW):
    """Registered through the ledger, sent and received by one docket: what its sides need, and no more."""
    docket = factories.DocketFactory(from_place=job.yard, to_place=job.site, opened_at=at)
    codes = unused_codes(6)
    kinds = [build.form(3500)] * 4 + [build.form(3000, splayed=0)] * 2
    new = [NewPiece(kind.pk, (code,), job.yard_id) for kind, code in zip(kinds, codes, strict=True)]
    made = register_pieces(new, by=None, now=at)
    record(
        [Report(Kind.SENT, at + timedelta(hours=1), piece=p.pk, docket=docket.pk) for p in made],
        by=None,
        now=at + timedelta(hours=1),
    )
    group = Group(GroupKind.DOCKET, docket.pk)
    for hours, kind, place in ((2, Kind.SENT, job.yard_id), (3, Kind.RECEIVED, job.site_id)):
        when = at + timedelta(hours=hours)
        record([Report(kind, when, group=group, docket=docket.pk, place=place, seen=Seen.BY_GROUP)], by=None, now=when)
    return docket, made


def first(sheet, side=0):
    return sheet.panels[0].sides[side]


def test_pieces_joints_and_brackets_are_measured_from_the_seat():
    side = first(setting_out(planned().pours.get(name="P1")))
    assert [(p.code, p.start_mm, p.end_mm) for p in side.pieces] == [
        ("E150-3500-1", 0, 3500),
        ("E150-3000-0", 3500, 6500),
    ]
    assert side.joints == (3500,) and (side.near, side.far) == (4, 2)
    gaps = [b - a for a, b in zip(side.brackets, side.brackets[1:], strict=False)]
    assert max(gaps) <= 1200 and min(abs(at - 3500) for at in side.brackets) >= 50


def test_a_panel_that_seats_at_its_other_end_is_measured_from_there():
    job = planned()
    job.panels.update(seats_at="end")
    side = first(setting_out(job.pours.get(name="P1")))
    assert [(p.start_mm, p.end_mm) for p in side.pieces] == [(0, 3500), (3500, 6500)] and side.joints == (3500,)


def test_flags_count_from_the_seat_as_the_sheet_does(client_as):
    """Inserts cast at 400, 2,500 and 5,000 mm of a side of 6.0 m that seats at its end: one on the joint at 3.5 m."""
    job = planned()
    job.panels.update(seats_at="end")
    job.panels.filter(mark="A1").update(inserts=[[0, 400], [0, 2500], [0, 5000]])
    sheet = setting_out(job.pours.get(name="P2"))
    assert first(sheet).joints == (3500,) and first(sheet).brackets == (1000, 3500, 5600)
    told = {finding.sentence for finding in sheet.panels[0].findings if finding.side == 0}
    assert "A bracket stands on the joint 3,500 mm from the seat." in told
    assert any("1,000 and 3,500 mm from the seat are 2500 mm apart" in sentence for sentence in told)
    for page in ("job-cut-list", "job-flags"):
        shown = client_as("planner").get(reverse(page, args=[job.pk])).content.decode()
        assert "A bracket stands on the joint 3,500 mm from the seat." in shown


def test_inserts_stand_where_the_brackets_of_the_panel_above_will():
    job = planned()
    low = first(setting_out(job.pours.get(name="P1")))
    high = first(setting_out(job.pours.get(name="P2")))
    assert low.inserts == high.brackets and high.inserts == ()


def test_tags_are_dealt_from_what_lies_on_the_site_each_to_one_piece():
    job = planned()
    _, made = on_site(job)
    sheet = setting_out(job.pours.get(name="P1"))
    labels = [piece.label for side in sheet.panels[0].sides for piece in side.pieces]
    assert sorted(labels) == sorted(piece.label for piece in made)
    assert sheet.tags_from == "on the site now"


def labels_of(sheet):
    return [piece.label for panel in sheet.panels for side in panel.sides for piece in side.pieces]


def test_two_pours_of_the_same_days_never_have_one_tag_and_the_level_above_takes_up_the_one_below():
    job = planned()
    _, made = on_site(job)
    low, high = job.pours.get(name="P1"), job.pours.get(name="P2")
    assert labels_of(setting_out(low)) == labels_of(setting_out(high)) != []
    job.pours.filter(name="P2").update(cast_on=low.cast_on)
    again = [label for pour in job.pours.all() for label in labels_of(setting_out(pour)) if label]
    assert sorted(again) == sorted(piece.label for piece in made)


def test_a_side_says_from_which_corner_it_is_measured_and_what_passes_the_other():
    """6.5 m of pieces on a side of 6.0 m pass its far corner by 0.5 m."""
    job = planned()
    side = first(setting_out(job.pours.get(name="P1")))
    assert side.words == "From the corner with side 4, where it seats, to the corner with side 2, which it passes."
    assert side.beyond == ("Overrun", "500 mm past the corner with side 2") and not side.cast_below
    job.panels.filter(mark="A1").update(inserts=[[0, 400], [0, 1500]])
    above = first(setting_out(job.pours.get(name="P2")))
    assert (above.brackets, above.cast_below) == ((400, 1500), "A1")


def test_a_flag_on_a_sheet_says_which_side_it_is_on(client_as):
    """A joint at 5.9 m is 100 mm from the corner of a side of 6.0 m, which another run seats against."""
    job = planned()
    build.form(5900)
    PlannedRun.objects.filter(panel__mark="A1", side=2).update(pieces=["E150-5900-1", "E150-3000-0"])
    page = client_as("site lead").get(reverse("pour-sheet", args=[job.pours.get(name="P1").pk])).content.decode()
    assert "Panel A1, side 3: The joint 5,900 mm from the seat is 100 mm from the corner it passes" in page


def test_a_run_beside_the_forms_of_another_says_where_it_begins():
    """At the inside corner of side 3 the run of side 4 begins 60 mm on, the width of a form: the default."""
    job = build.job_with(build.row("A1", width="", height="", outline="6000 2000 3000@-90 1000 3000 3000", pour="P1"))
    side = next(one for one in setting_out(job.pours.get(name="P1")).panels[0].sides if one.number == 4)
    assert (side.side_mm, side.run.length_mm) == (1000, 940)
    assert "begins 60 mm from the corner with side 3" in side.words and "distances count from there" in side.words


def test_the_code_of_a_pour_sets_it_strips_it_and_cleans_it_whole():
    job = planned()
    docket, made = on_site(job)
    pour = job.pours.get(name="P1").place
    code = tag_of_place(pour, NOW)
    scan = tag_code.from_scan(tag_code.address("https://yard.example", code))
    at = NOW + timedelta(days=1)
    (answer,) = record([Report(Kind.SET, at, tag=scan)], by=None, manner=Manner.ASK, now=at)
    assert answer.answer == "recorded"
    event = Event.objects.get(pk=answer.id)
    assert (event.group_kind, event.group_id, event.place) == (GroupKind.DOCKET, docket.pk, pour)
    assert set(Piece.objects.filter(pour=pour, phase=Phase.SET)) == set(made)
    for hours, kind in ((1, Kind.CAST), (30, Kind.STRIPPED), (31, Kind.CLEANED)):
        when = at + timedelta(hours=hours)
        record([Report(kind, when, tag=code)], by=None, now=when)
    assert not Piece.objects.filter(pour=pour, dirty=True).exists()
    up = job.pours.get(name="P2").place
    when = at + timedelta(hours=32)
    record([Report(Kind.SET, when, tag=tag_of_place(up, NOW))], by=None, manner=Manner.ASK, now=when)
    assert Piece.objects.filter(pour=up, phase=Phase.SET).count() == 6
    assert Piece.objects.get(pk=made[0].pk).uses == 1


def test_two_dockets_on_the_site_leave_it_open_which_gear_the_code_means():
    job = planned()
    first_one, _ = on_site(job)
    on_site(job)
    code = tag_of_place(job.pours.get(name="P1").place, NOW)
    at = NOW + timedelta(days=1)
    (asked,) = record([Report(Kind.SET, at, tag=code)], by=None, manner=Manner.ASK, now=at)
    assert (asked.answer, asked.code) == ("refused", "gear-from-where")
    (told,) = record([Report(Kind.SET, at, tag=code)], by=None, now=at)
    assert told.answer == Submission.Answer.IN_REVIEW
    (chosen,) = record([Report(Kind.SET, at, tag=code, docket=first_one.pk)], by=None, now=at)
    assert chosen.answer == "recorded"


def test_a_code_on_paper_is_never_put_on_a_piece():
    code = tag_of_place(planned().pours.get(name="P1").place, NOW)
    with pytest.raises(Refused):
        register_pieces([NewPiece(build.form(3500).pk, (code,), build.yard().pk)], by=None)
    assert Tag.objects.get(code=code).piece is None


def test_the_sheet_carries_a_code_that_a_reader_reads_and_a_phone_opens(client_as):
    pour = planned().pours.get(name="P1")
    client = client_as("site lead")
    page = client.get(reverse("pour-sheet", args=[pour.pk])).content.decode()
    code = Tag.objects.get(place=pour.place).code
    assert tag_code.format(code) in page and "Joints" in page and "Inserts for the panel above" in page
    address = tag_code.address("http://testserver", code)
    cells = modules(address)
    image = Image.new("L", (len(cells) + 8, len(cells) + 8), 255)
    for y, row in enumerate(cells):
        for x, dark in enumerate(row):
            image.putpixel((x + 4, y + 4), 0 if dark else 255)
    assert zxingcpp.read_barcode(image.resize((600, 600), Image.Resampling.NEAREST)).text == address
    landed = client.get(f"/T/{code}", follow=True)
    assert landed.redirect_chain[-1][0] == reverse("pour-sheet", args=[pour.pk])


def test_the_sheet_offers_the_press_once_gear_lies_there(client_as):
    job = planned()
    job.stage = "running"
    job.save()
    docket, _ = on_site(job)
    job.pours.update(cast_on=date(2026, 11, 25))
    page = client_as("site lead").get(reverse("pour-sheet", args=[job.pours.get(name="P1").pk])).content.decode()
    assert f"docket {docket.number}" in page and "Set the whole pour" in page


def test_a_level_has_every_pour_with_its_own_code_and_says_which_brackets_a_joint_moved(client_as):
    """Two stacks, each level of a stack a pour: level 1 has two pours. A joint at 3.50 m is 40 mm from the bracket that
    stands at 3.54 m on a side of one piece: (6000 - 600) / 5 = 1080 apart from 300 on."""
    rows = [
        build.row("A1", stack="S", level=1, pour="P1"),
        build.row("B1", stack="T", level=1, pour="P2"),
        build.row("A2", stack="S", level=2, pour="P3") | {"pour date": "2027-03-10"},
    ]
    job = build.job_with(*rows)
    lead = client_as("site lead")
    bare = lead.get(reverse("level-sheet", args=[job.pk, 1])).content.decode()
    assert bare.count("not composed") == 1 and "accept it" in bare
    build.form(3500)
    build.form(3000, splayed=0)
    for panel in job.panels.all():
        PlannedRun.objects.create(panel=panel, side=0, pieces=["E150-3500-1", "E150-3000-0"])
    page = lead.get(reverse("level-sheet", args=[job.pk, 1])).content.decode()
    assert page.count("not composed") == 6  # Three other sides of each of two panels.
    codes = [tag_code.format(tag_of_place(job.pours.get(name=name).place, NOW)) for name in ("P1", "P2", "P3")]
    assert [code in page for code in codes] == [True, True, False]
    assert "Panel A1" in page and "Panel B1" in page and "Panel A2" not in page
    assert "is moved there, clear of the joint at 3,500 mm" in page
    assert lead.get(reverse("level-sheet", args=[job.pk, 9])).status_code == 404
