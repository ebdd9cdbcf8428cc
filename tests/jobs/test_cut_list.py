"""The cut list from stored panels by the rules a new yard starts with."""

from __future__ import annotations

import pytest

from jobs.models import TakeOffRule
from jobs.planning.rules import check_rules
from jobs.planning.seeded_rules import seeded_rules
from jobs.selectors.cutlist import cut_list, take_off_rules
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
