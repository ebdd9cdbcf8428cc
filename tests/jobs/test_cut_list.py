"""The cut list from stored panels by the rules a new yard starts with."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils.html import escape

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.services.tagging import unused_codes
from jobs.models import TakeOffRule
from jobs.planning.rules import check_rules
from jobs.planning.seeded_rules import seeded_rules
from jobs.selectors.cutlist import cut_list, take_off_rules
from jobs.selectors.panels import reading_order
from tests.jobs import build

pytestmark = pytest.mark.django_db


def needs(found):
    return {line.what: line.quantity for line in found.total.needs}


def test_the_rules_stored_are_the_rules_seeded():
    assert take_off_rules() == seeded_rules()
    assert check_rules(take_off_rules()) == []


def test_a_panel_needs_four_runs_and_a_clamp_at_each_corner():
    found = cut_list(build.job_with(build.row("A1")))
    assert [(line.length_mm, line.count) for line in found.total.runs] == [(6000, 2), (3000, 2)]
    assert needs(found)["corner clamp"] == 4


def test_another_thickness_changes_the_edge_forms_and_nothing_else():
    """Common practice, no source: brackets suit every section."""
    thin = cut_list(build.job_with(build.row("A1"), code="J1"))
    thick = cut_list(build.job_with(build.row("A1", thickness=200), code="J2"))
    assert needs(thin) == needs(thick)
    assert {line.section_mm for line in thick.total.runs} == {200}


def test_a_rule_switched_off_counts_nothing():
    TakeOffRule.objects.filter(what="corner clamp").update(off=True)
    assert "corner clamp" not in needs(cut_list(build.job_with(build.row("A1"))))


def test_a_rule_with_a_type_counts_that_type():
    clamp = build.article("clamp", "corner clamp")
    TakeOffRule.objects.filter(what="corner clamp").update(type=clamp)
    assert needs(cut_list(build.job_with(build.row("A1"))))["CLAMP"] == 4


def test_the_flags_of_a_stack_follow_the_settings_of_the_job():
    """Step-in at most 300 mm: common practice, no source."""
    rows = [
        build.row("A1", stack="S", level=1),
        build.row("A2", width=5000, stack="S", level=2) | {"pour date": "2027-03-10"},
    ]
    strict = cut_list(build.job_with(*rows, code="J1"))
    loose = cut_list(build.job_with(*rows, code="J2", max_step_in_mm=600))
    assert any("step" in finding.code for finding in strict.findings)
    assert not any("step" in finding.code for finding in loose.findings)


def test_a_panel_set_before_the_one_below_is_stripped_is_flagged():
    rows = [build.row("A1", stack="S", level=1), build.row("A2", stack="S", level=2) | {"pour date": "2027-03-08"}]
    assert "set-before-strip" in {finding.code for finding in cut_list(build.job_with(*rows)).findings}


def on_top(**cells):
    return build.row("A2", stack="S", level=2, **cells) | {"pour date": "2027-03-10"}


LOW = build.row("A1", stack="S", level=1)
HALF_OPEN = build.row("A1", "", "", stack="S", level=1, outline="6000 3000o 6000 3000")


@pytest.mark.parametrize(
    ("code", "rows"),
    [
        ("overhang", [LOW, on_top(width=6400)]),
        ("section", [build.row("A1", section=125)]),
        ("level-order", [LOW, build.row("A3", stack="S", level=3) | {"pour date": "2027-03-16"}]),
        ("skew-corner", [build.row("T", "", "", outline="4000 3000@126.869898 5000@143.130102")]),
        (
            "bracket-without-insert",
            [HALF_OPEN, on_top()],
        ),
        ("pour-day", [build.row("A1") | {"pour date": "2027-03-06"}]),
        ("article-without-type", [LOW]),
    ],
)
def test_each_flag_of_a_plan_is_raised_on_the_cut_list(client_as, code, rows):
    """Step-in, order of days and inserts have tests of their own; these are the others."""
    job = build.job_with(*rows)
    found = {finding.code: finding.sentence for finding in cut_list(job).findings}
    assert code in found
    page = client_as("planner").get(reverse("job-cut-list", args=[job.pk])).content.decode()
    assert escape(found[code]) in page


def test_a_form_cast_twice_without_cleaning_is_flagged_by_its_tag():
    job = build.job_with(LOW)
    pour = job.pours.get().place
    at = datetime(2026, 3, 2, 8, tzinfo=UTC)
    (code,) = unused_codes(1)
    (piece,) = register_pieces([NewPiece(build.form(3000).pk, (code,), job.yard_id)], by=None, now=at)
    for hours, kind in ((1, Kind.SET), (2, Kind.CAST), (30, Kind.STRIPPED), (31, Kind.SET), (32, Kind.CAST)):
        when = at + timedelta(hours=hours)
        one = kind in (Kind.SET, Kind.STRIPPED)
        about = {"piece": piece.pk, "place": pour.pk} if one else {"group": Group(GroupKind.POUR, pour.pk)}
        record([Report(kind, when, **about)], by=None, now=when)
    (flag,) = [finding for finding in cut_list(job).findings if finding.code == "not-cleaned"]
    assert piece.label in flag.sentence


def test_marks_are_listed_as_a_drawing_lists_them():
    marks = ["W10", "w2-10", "W2-9", "A", "W1", "10", "9a"]
    assert sorted(marks, key=reading_order) == ["9a", "10", "A", "W1", "W2-9", "w2-10", "W10"]
