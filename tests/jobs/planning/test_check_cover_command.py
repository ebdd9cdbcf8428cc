"""The command for spreadsheets and estimators: JSON alone on standard output, and bad requests refused by field."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from jobs.errors import BadRequest
from jobs.planning.checker import check_answer
from jobs.planning.cover import check
from jobs.planning.request_json import parse_request, read_request
from jobs.planning.schemas import schema

ROOT = Path(__file__).resolve().parents[3]

SOUND: dict[str, Any] = {
    "rules": {
        "corner_allowance_mm": 100,
        "max_overrun_mm": 900,
        "max_pieces_per_run": 3,
        "piece_handling_mm": 300,
        "joint_handling_mm": 200,
    },
    "pieces": [
        {
            "code": "F150-3000",
            "section_mm": 150,
            "length_mm": 3000,
            "splayed_ends": 1,
            "on_hand": [["2027-03-01", 2], ["2027-03-09", 3]],
        }
    ],
    "runs": [
        {
            "pour": "P1",
            "side": "N",
            "section_mm": 150,
            "length_mm": 5500,
            "from": "2027-03-01",
            "until": "2027-03-04",
        },
        {
            "pour": "P1",
            "side": "S",
            "section_mm": 175,
            "length_mm": 5500,
            "from": "2027-03-01",
            "until": "2027-03-04",
            "seats": 2,
        },
    ],
}


def changed(path: list[str | int], value: Any) -> dict[str, Any]:
    """The sound request with one place set to `value`."""
    data = copy.deepcopy(SOUND)
    at: Any = data
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    return data


def command(text: str, *more: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does, the request on standard input."""
    return subprocess.run(
        [sys.executable, "manage.py", "check_cover", "--request", "-", *more],
        input=text,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )


def test_it_prints_json_alone_and_exits_0():
    done = command(json.dumps(SOUND), "--seconds", "20")
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert answer["runs"] == [{"pour": "P1", "side": "N", "pieces": ["F150-3000", "F150-3000"]}]
    assert answer["impossible"][0]["side"] == "S"


def test_a_bad_request_exits_2_with_one_sentence_that_names_the_field():
    done = command(json.dumps(changed(["runs", 0, "until"], "2027-03-01")))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("runs[0].until: must be after from, 2027-03-01")
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_missing_file_exits_2():
    done = subprocess.run(
        [sys.executable, "manage.py", "check_cover", "--request", "no-such-file.json"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert "no-such-file.json cannot be read" in done.stderr


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        (["ask"], "maybe", "ask"),
        (["colour"], "red", "colour"),
        (["rules", "max_overrun_mm"], -1, "rules.max_overrun_mm"),
        (["rules", "max_pieces_per_run"], True, "rules.max_pieces_per_run"),
        (["rules", "piece_handling_mm"], 1.5, "rules.piece_handling_mm"),
        (["rules", "joint_handling_mm"], "200", "rules.joint_handling_mm"),
        (["rules", "corner_allowance_mm"], None, "rules.corner_allowance_mm"),
        (["rules", "ends"], "round", "rules.ends"),
        (["rules", "spare"], 1, "rules.spare"),
        (["pieces"], {}, "pieces"),
        (["pieces", 0, "code"], "", "pieces[0].code"),
        (["pieces", 0, "length_mm"], 0, "pieces[0].length_mm"),
        (["pieces", 0, "section_mm"], -150, "pieces[0].section_mm"),
        (["pieces", 0, "splayed_ends"], 3, "pieces[0].splayed_ends"),
        (["pieces", 0, "splayed_ends"], True, "pieces[0].splayed_ends"),
        (["pieces", 0, "on_hand"], [["2027-02-30", 1]], "pieces[0].on_hand[0][0]"),
        (["pieces", 0, "on_hand"], [["2027-03-01", -1]], "pieces[0].on_hand[0][1]"),
        (["pieces", 0, "on_hand"], [["2027-03-01"]], "pieces[0].on_hand[0]"),
        (["pieces", 0, "on_hand"], [["2027-03-01", 1, 2]], "pieces[0].on_hand[0]"),
        (["pieces", 0, "on_hand"], [["2027-03-02", 1], ["2027-03-02", 2]], "pieces[0].on_hand[1][0]"),
        (["runs", 0, "length_mm"], 0, "runs[0].length_mm"),
        (["runs", 0, "from"], "1 March 2027", "runs[0].from"),
        (["runs", 0, "from"], "2027-02-30", "runs[0].from"),
        (["runs", 0, "until"], "2027-02-28", "runs[0].until"),
        (["runs", 0, "seats"], 4, "runs[0].seats"),
        (["runs", 0, "max_overrun_mm"], -5, "runs[0].max_overrun_mm"),
        (["runs", 0, "colour"], "red", "runs[0].colour"),
        (["runs", 1, "side"], "N", "runs[1].side"),
        (["runs", 0, "pour"], [], "runs[0].pour"),
    ],
)
def test_a_fault_is_refused_by_the_field_it_stands_in(path: list[str | int], value: Any, field: str):
    with pytest.raises(BadRequest) as refused:
        parse_request(changed(path, value))
    assert refused.value.field == field


def test_a_missing_field_is_named():
    data = copy.deepcopy(SOUND)
    del data["runs"][1]["until"]
    with pytest.raises(BadRequest) as refused:
        parse_request(data)
    assert refused.value.field == "runs[1].until"


def test_a_second_code_is_refused():
    data = changed(["pieces"], SOUND["pieces"] * 2)
    with pytest.raises(BadRequest) as refused:
        parse_request(data)
    assert refused.value.field == "pieces[1].code"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not JSON at line 1, column 1"),
        ("[1, 2", "is not JSON"),
        ('{"rules": NaN}', "NaN"),
        ('{"rules": 1e400, "pieces": [], "runs": []}', "rules"),
        ("[" * 100_000, "nested too deeply"),
        ('{"runs": [], "runs": []}', "twice"),
    ],
)
def test_what_is_not_json_is_refused_in_words(text: str, words: str):
    with pytest.raises(BadRequest, match=words):
        read_request(text)


def test_a_negative_corner_allowance_is_sound_for_the_rules_and_for_a_run():
    assert parse_request(changed(["rules", "corner_allowance_mm"], -300)).rules.corner_allowance_mm == -300
    assert parse_request(changed(["runs", 0, "corner_allowance_mm"], -300)).runs[0].corner_allowance_mm == -300


def test_steps_may_stand_in_any_order():
    steps = [["2027-03-09", 3], ["2027-03-01", 2]]
    assert parse_request(changed(["pieces", 0, "on_hand"], steps)) == parse_request(SOUND)


def test_a_number_may_be_written_with_a_point_if_it_is_whole():
    assert parse_request(changed(["runs", 0, "length_mm"], 5500.0)) == parse_request(SOUND)


@pytest.mark.parametrize(
    ("change", "covered", "runs", "impossible"),
    [
        (SOUND | {"runs": []}, True, 0, 0),
        (SOUND | {"pieces": []}, False, 0, 2),
        (SOUND | {"runs": SOUND["runs"][:1], "pieces": [SOUND["pieces"][0] | {"on_hand": []}]}, False, 1, 0),
        (changed(["pieces", 0, "on_hand"], [["2027-03-01", 10**15]]), False, 1, 1),
        (changed(["rules", "max_pieces_per_run"], 0), False, 0, 2),
        (changed(["rules", "max_pieces_per_run"], 10**9), False, 1, 1),
        (changed(["rules", "corner_allowance_mm"], -(10**9)), False, 0, 2),
        (changed(["runs", 0, "max_overrun_mm"], 10**9), False, 1, 1),
        (changed(["runs", 0, "until"], "9999-12-31"), False, 1, 1),
    ],
)
def test_odd_requests_have_sound_answers(change: dict[str, Any], covered: bool, runs: int, impossible: int):
    request = parse_request(change)
    answer = check(request)
    assert (answer.covered, len(answer.runs), len(answer.impossible)) == (covered, runs, impossible)
    assert answer.proved
    assert check_answer(request, answer) == []
    Draft202012Validator(schema("check_cover.answer")).validate(json.loads(json.dumps(answer.as_json())))


def test_the_published_schemas_are_schemas_and_answers_keep_to_theirs():
    """JSON Schema draft 2020-12, by the jsonschema library."""
    for name in ("check_cover.request", "check_cover.answer"):
        Draft202012Validator.check_schema(schema(name))
    for ask in ("plan", "covered"):
        answer = check(parse_request(SOUND | {"ask": ask})).as_json()
        Draft202012Validator(schema("check_cover.answer")).validate(json.loads(json.dumps(answer)))
