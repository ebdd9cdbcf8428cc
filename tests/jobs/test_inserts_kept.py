"""Once a level is cast its inserts stay where they are: brackets above stand on them, or are flagged."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.models import Event, Piece
from inventory.services.recording import record
from inventory.services.reports import Report
from jobs.models import Job, TakeOffRule
from jobs.selectors.cutlist import cut_list
from jobs.services.inserts import keep_inserts
from jobs.services.jobs import change_job
from jobs.services.schedules import take_schedule
from tests.jobs import build

pytestmark = pytest.mark.django_db
CAST = datetime(2027, 3, 5, 10, tzinfo=UTC)
LOW = build.row("A1", stack="S", level=1, pour="P1")


def high(**cells):
    return build.row("A2", stack="S", level=2, pour="P2", **cells) | {"pour date": "2027-03-10"}


@pytest.fixture
def stacked():
    """Two levels as they were thought of before the lower one was cast, by the press that the slab makes."""
    job = build.job_with(LOW, high())
    job.panels.update(added_at=datetime(2026, 1, 5, tzinfo=UTC))
    press(job, Kind.CAST, CAST)
    return job


def press(job, kind, at):
    group = Group(GroupKind.POUR, job.pours.get(name="P1").place_id)
    return record([Report(kind, at, group=group, seen=Seen.BY_GROUP)], by=None, now=at)[0]


def brackets(job: Job) -> dict[str, tuple[int, ...]]:
    items = {item.panel.mark: item for item in cut_list(job).takeoff.panels}
    return dict(items["A2"].brackets)


def test_a_rule_changed_after_the_casting_moves_no_bracket_above_it(stacked):
    before = brackets(stacked)
    keep_inserts(stacked)
    TakeOffRule.objects.filter(sets_positions=True).update(spacing_mm=900)
    assert brackets(stacked) == before
    codes = {finding.code for finding in cut_list(stacked).findings}
    assert "bracket-spacing" in codes


def test_a_panel_changed_after_the_casting_below_stands_on_the_inserts_there_are_and_says_what_lacks(stacked):
    take_schedule(job=stacked, rows=[LOW, high(width=5000)])
    assert stacked.panels.get(mark="A1").inserts
    found = cut_list(stacked)
    assert brackets(stacked)["A2/1"][0] != 300
    assert "bracket-end" in {finding.code for finding in found.findings}


def test_a_panel_added_after_the_casting_below_has_nothing_to_stand_on_and_is_flagged():
    job = build.job_with(LOW)
    press(job, Kind.CAST, CAST)
    take_schedule(job=job, rows=[LOW, high()])
    job.panels.filter(mark="A2").update(added_at=CAST + timedelta(hours=1))
    assert job.panels.get(mark="A1").inserts == []
    assert set(brackets(job).values()) == {()}
    assert {"no-inserts", "bracket-count"} <= {finding.code for finding in cut_list(job).findings}


def test_a_casting_taken_back_takes_its_inserts_with_it(stacked):
    keep_inserts(stacked)
    event = press(stacked, Kind.CAST, CAST)  # a second press, to have an event to take back
    for cast in Event.objects.filter(kind=Kind.CAST):
        group = Group(GroupKind.POUR, cast.group_id)
        record([Report(Kind.REVERSED, CAST, group=group, target=cast.id)], by=None, now=CAST)
    keep_inserts(stacked)
    assert event and stacked.panels.get(mark="A1").inserts is None


def test_changing_the_figures_of_the_job_keeps_the_inserts_first(stacked):
    change_job(job=stacked, max_overrun_mm=700)
    assert stacked.panels.get(mark="A1").inserts


def test_the_form_of_one_run_takes_its_width_from_the_other_at_an_inside_corner():
    """Two forms cannot fill the same space; 60 mm is common practice, no source, and the job's to set."""
    outline = "6000 2000 3000@-90 1000 3000 3000"
    wide = build.job_with(build.row("L", "", "", outline=outline), code="J1")
    given = build.job_with(build.row("L", "", "", outline=outline), code="J2", form_width_mm=85)
    lengths = [{run.side: run.length_mm for run in cut_list(job).takeoff.runs}[3] for job in (wide, given)]
    assert lengths == [940, 915]


def test_pressing_cast_on_the_slab_keeps_the_inserts(client_as, stacked):
    pour = stacked.pours.get(name="P1")
    form = build.pieces(build.form(6500), 1, pour.place)
    Piece.objects.filter(pk=form[0].pk).update(pour=pour.place, phase="set")
    client_as("site lead").post(reverse("slab-press"), {"pour": pour.pk, "act": "cast"})
    assert stacked.panels.get(mark="A1").inserts
