"""From panels and rules to needs. Trade facts here: common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from jobs.planning.brackets import Spacing
from jobs.planning.cut_list import job_list, pour_lists, send_lines
from jobs.planning.outline_text import parse_outline
from jobs.planning.rules import Rule, check_rules
from jobs.planning.runs import RunRules
from jobs.planning.seeded_rules import seeded_rules
from jobs.planning.takeoff import TakeoffRequest, take_off

from .shapes import L_SHAPE, RIGHT_TRIANGLE, panel

RULES = seeded_rules()
STACK = [panel(f"A{level}", stack="A", level=level, pour=f"P{level}") for level in (1, 2, 3)]


def needs(panels, mark=None, rules=RULES, **more):
    found = take_off(TakeoffRequest(panels, rules, **more))
    return {need.rule: int(need.quantity) for need in found.needs if mark is None or need.panel == mark}


def test_a_first_level_panel_alone():
    """6 x 3 m at 1.2 m and 0.3 m: 6 + 3 + 6 + 3 brackets."""
    found = needs([panel()], "A1")
    assert found["form-brackets"] == found["slab-fixings"] == found["bracket-stud-bolts"] == 18
    assert (found["corner-clamps"], found["clamp-stud-bolts"]) == (4, 8)
    assert not {"stack-brackets", "inserts", "stack-flanged-bolts"} & set(found)


def test_above_the_first_level_stack_brackets_take_the_place_of_slab_fixings():
    found = needs(STACK, "A2")
    assert (found["stack-brackets"], found["stack-flanged-bolts"]) == (18, 36)
    assert "slab-fixings" not in found


def test_inserts_go_in_every_level_but_the_top_one_each_with_a_screw_and_a_washer():
    """M12 x 50 inserts with M12 screws, one per form bracket of the panel above (common practice, no source)."""
    stack = [*STACK[:2], replace(panel("A3", width=4000), stack="A", level=3)]
    assert needs(stack, "A1")["inserts"] == 18
    assert needs(stack, "A2")["inserts"] == needs(stack, "A3")["form-brackets"] == 14
    assert needs(stack, "A2")["insert-screws"] == needs(stack, "A2")["insert-washers"] == 14
    assert "inserts" not in needs(stack, "A3")


def test_another_thickness_changes_the_edge_forms_and_nothing_else():
    """Brackets suit every section (common practice, no source)."""
    thin, thick = [take_off(TakeoffRequest([panel(thickness=mm)], RULES)) for mm in (125, 200)]
    assert job_list(thin).needs == job_list(thick).needs
    strip = [[replace(line, section_mm=0) for line in job_list(found).runs] for found in (thin, thick)]
    assert strip[0] == strip[1]
    assert job_list(thin).runs != job_list(thick).runs


def test_one_kind_of_clamp_serves_left_right_first_and_later_levels():
    """Common practice, no source."""
    kinds = {need.what for need in take_off(TakeoffRequest(STACK, RULES)).needs if need.rule == "corner-clamps"}
    hands = [needs([panel(seats_at=hand)])["corner-clamps"] for hand in ("start", "end")]
    assert kinds == {"corner clamp"}
    assert hands == [4, 4]


def test_a_clamp_only_where_two_runs_meet_at_90_degrees():
    assert needs([panel(outline=parse_outline(L_SHAPE))])["corner-clamps"] == 6
    assert needs([panel(outline=parse_outline(RIGHT_TRIANGLE))])["corner-clamps"] == 1
    assert needs([panel(outline=parse_outline("6000 3000o 6000 3000"))])["corner-clamps"] == 2


def test_before_runs_are_composed_joints_are_a_lower_bound_and_said_so():
    found = take_off(TakeoffRequest([panel()], RULES, longest_mm={150: 4000}))
    plates = next(need for need in found.needs if need.rule == "splice-plates")
    assert (plates.quantity, plates.at_least) == (2, True)
    assert all(line.at_least for line in job_list(found).needs if line.what == "form bracket")


def test_once_composed_joints_are_counted_with_four_bolts_each():
    pieces = {"A1/1": [2000, 2000, 3000], "A1/2": [3500], "A1/3": [4000, 2500], "A1/4": [3500]}
    found = take_off(TakeoffRequest([panel()], RULES, pieces=pieces))
    lines = {line.what: line for line in job_list(found).needs}
    assert (lines["splice plate"].quantity, lines["splice bolt"].quantity) == (3, 12)
    assert not any(line.at_least for line in lines.values())


def test_a_side_made_on_site_is_shown_and_never_counted():
    found = take_off(TakeoffRequest([panel()], RULES, site_made={"A1/2"}))
    assert [run.key for run in found.runs] == ["A1/1", "A1/3", "A1/4"]
    assert [one.code for one in found.findings] == ["site-made"]


def test_brackets_above_a_cast_level_stay_where_the_inserts_are_and_are_flagged():
    fixed = {"A1/1": [300, 2500, 5700]}
    found = take_off(TakeoffRequest([panel()], RULES, fixed_brackets=fixed))
    assert found.panels[0].brackets["A1/1"] == (300, 2500, 5700)
    assert {one.code for one in found.findings} == {"bracket-spacing"}


def test_needs_per_pour_add_up_to_the_job():
    found = take_off(TakeoffRequest(STACK, RULES))
    summed = sum(line.quantity for pour in pour_lists(found) for line in pour.needs if line.what == "stud bolt")
    job = {line.what: line.quantity for line in job_list(found).needs}
    assert job["stud bolt"] == summed == 3 * (18 + 8)
    assert sum(line.count for line in job_list(found).runs) == 12
    assert job_list(found).run_metres == 54


def test_what_comes_back_is_sent_once_and_what_stays_in_the_concrete_is_sent_for_every_pour():
    found = take_off(TakeoffRequest(STACK, RULES))
    days = {f"P{n}": (date(2027, 3, 5 * n), date(2027, 3, 5 * n + 5)) for n in (1, 2, 3)}
    lines = {line.what: line for line in send_lines(found, RULES, days)}
    assert (lines["form bracket"].total, lines["form bracket"].at_once, lines["form bracket"].send) == (54, 18, 18)
    assert (lines["insert"].total, lines["insert"].at_once, lines["insert"].send) == (36, 36, 38)
    assert (lines["screw"].at_once, lines["screw"].send) == (18, 19)


def test_tools_are_per_crew():
    assert needs([panel()], rules=RULES, crews=3)["tools"] == 3


def test_a_rule_per_metre_may_have_a_part_of_one():
    rule = Rule("wedges", "wedge", "metre", quantity=Decimal("0.5"))
    assert needs([panel()], rules=[rule])["wedges"] == 9


def test_a_rule_per_piece_counts_pieces():
    rule = Rule("pegs", "peg", "piece", quantity=Decimal(2))
    assert needs([panel()], rules=[rule], pieces={"A1/1": [3000, 3500]}) == {"pegs": 10}


def test_the_seeded_rules_have_no_fault():
    assert check_rules(RULES) == []


@pytest.mark.parametrize(
    ("rule", "code"),
    [
        (Rule("x", " ", "run"), "rule-what"),
        (Rule("x", "peg", "week"), "rule-per"),
        (Rule("x", "peg", "run", "second"), "rule-levels"),
        (Rule("x", "peg", "run", quantity=Decimal(0)), "rule-quantity"),
        (Rule("x", "peg", "run", quantity=Decimal("1.5")), "rule-quantity"),
        (Rule("x", "peg", "run", spare_percent=Decimal(101)), "rule-spare"),
        (Rule("x", "peg", "corner", spacing=Spacing(1000, 300)), "rule-spacing"),
        (Rule("x", "peg", "run", spacing=Spacing(80, 300)), "rule-spacing"),
        (Rule("x", "peg", "run", spacing=Spacing(1000, 40)), "rule-spacing"),
        (Rule("x", "peg", "run", spacing=Spacing(1000, 300), sets_positions=True), "rule-positions"),
        (Rule("form-brackets", "peg", "run"), "rule-code"),
        (Rule("x", "peg", "bracket position above", "first"), "rule-levels"),
    ],
)
def test_a_faulty_rule_is_found_with_what_to_do(rule, code):
    assert code in {found.code for found in check_rules([*RULES, rule])}


def test_counting_bracket_positions_that_no_rule_sets_is_a_fault():
    assert [found.code for found in check_rules(RULES[1:2])] == ["rule-positions"]


def test_run_rules_reach_the_runs():
    found = take_off(TakeoffRequest([panel()], RULES, run_rules=RunRules(50, 700)))
    assert {(run.corner_allowance_mm, run.max_overrun_mm) for run in found.runs} == {(50, 700)}


def test_a_faulty_rule_counts_nothing_and_the_rest_still_count():
    faulty = Rule("x", "peg", "run", spacing=Spacing(0, 0, 1))
    found = needs([panel()], rules=[*RULES, faulty])
    assert "x" not in found
    assert found["form-brackets"] == 18
