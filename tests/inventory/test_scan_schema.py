"""The reader of scans and its published schema, each held to the other: what one takes the other takes.

The schema is put to every scan by the jsonschema library, whether a day is in the calendar by python-dateutil.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from uuid import UUID

import jsonschema
import pytest
from dateutil.parser import isoparse
from django.conf import settings as django_settings
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inventory.services.scanned.reading import READERS, Said, read_scan

SCHEMA = json.loads((Path(django_settings.BASE_DIR) / "docs" / "schemas" / "scans.request.json").read_text())
SCAN = SCHEMA["$defs"]["scan"]
FORMATS = jsonschema.FormatChecker(formats=())


@FORMATS.checks("date-time", raises=ValueError)
def in_the_calendar(value: object) -> bool:
    return not isinstance(value, str) or bool(isoparse(value))


VALIDATOR = jsonschema.Draft202012Validator(SCAN | {"$defs": SCHEMA["$defs"]}, format_checker=FORMATS)

# For each field what is right, and what is nearly so.
UUIDS = st.uuids().map(str) | st.uuids().map(lambda pk: str(pk).upper())
NO_UUIDS = st.sampled_from(["", "0b7e", "0b7e0000-0000-4000-8000-00000000000g"]) | st.uuids().map(lambda pk: f"{pk}\n")
MOMENTS = st.builds(
    lambda moment, end: f"{moment.isoformat()}{end}",
    st.datetimes(datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2099-12-31")),
    st.sampled_from(["Z", "+00:00", "-09:30", "+23:59"]),
)
NO_MOMENTS = st.sampled_from(
    [
        "2026-02-30T06:00:00Z",
        "2026-13-01T06:00:00Z",
        "2026-03-02T24:00:00Z",
        "2026-03-02T06:00:60Z",
        "2026-03-02T06:00:00",
        "2026-03-02T06:00:00+25:00",
        "2026-03-02T06:00:00Z\n",
        "2026-03-02 06:00:00Z",
        "1999-03-02T06:00:00Z",
    ]
)
WORDS = st.text(min_size=0, max_size=5) | st.sampled_from(["bent", " bent ", "\n", "\x1f", "\x00", "a\x00", "\ud800"])
LONG = st.sampled_from([40, 41, 200, 201, 300, 301]).map(lambda many: "x" * many)
NUMBERS = st.integers(-1, 2) | st.sampled_from([5.0, 5.5, 2**53 - 1, 2**53, 1e15, 1_000_000, 1_000_001, True, -1.0])
OTHER = st.none() | st.booleans() | st.just([]) | st.just({}) | st.just("") | st.just("2")


def words_of(name: str) -> st.SearchStrategy[object]:
    return st.sampled_from([*SCAN["properties"][name]["enum"], "Sent", "sets", ""])


VALUES: dict[str, st.SearchStrategy[object]] = {
    "id": UUIDS | NO_UUIDS,
    "takes_back": UUIDS | NO_UUIDS,
    "happened": MOMENTS | NO_MOMENTS,
    "dirty": st.booleans() | OTHER,
    "photos": st.lists(UUIDS | NO_UUIDS, max_size=3) | st.lists(UUIDS, min_size=19, max_size=21) | OTHER,
    **{name: words_of(name) for name, said in SCAN["properties"].items() if "enum" in said},
    **dict.fromkeys(("tag", "type", "reason", "override", "note"), WORDS | LONG),
    **dict.fromkeys(("seq", "quantity", "docket", "place", "pour", "from", "stocktake", "by"), NUMBERS),
}
RIGHT: dict[str, st.SearchStrategy[object]] = {
    "id": UUIDS,
    "seq": st.integers(0, 9),
    "happened": MOMENTS,
    "what": st.sampled_from(SCAN["properties"]["what"]["enum"]),
}


@st.composite
def scans(draw) -> object:
    """Mostly right in its needed fields, with some of the others, so that the rules between fields are met too."""
    if draw(st.integers(0, 19)) == 0:
        return draw(OTHER)
    scan = {name: draw(value) for name, value in RIGHT.items()}
    subject = draw(st.sampled_from(["tag", "tag", "tag", "whole", "type", ""]))
    usual = {"tag": "FWK7Q2MH3", "whole": draw(st.sampled_from(["pour", "docket"])), "type": "FB", "": 1}
    scan |= {subject: usual[subject]} if subject else {}
    usual = {"docket": 7, "place": 7, "pour": 7, "from": 7, "grade": "watch", "takes_back": str(UUID(int=3))}
    scan |= {name: usual[name] for name in usual if draw(st.integers(0, 5))}
    odd = draw(st.sampled_from(["", "", "", *VALUES, *SCAN["required"], "colour"]))
    if odd == "colour":
        scan["colour"] = "red"
    elif odd and draw(st.integers(0, 3)):
        scan[odd] = draw(VALUES[odd] | OTHER)
    else:
        scan.pop(odd, None)
    return scan


TAKEN: list[bool] = []


@given(scans())
@example({"id": str(UUID(int=1)), "seq": 1.0, "happened": "2026-03-02T06:00:00Z", "what": "cleaned", "tag": "AAA"})
@settings(max_examples=400, deadline=None)
def test_the_reader_takes_what_the_schema_accepts_and_nothing_else(scan):
    taken = isinstance(read_scan(scan), Said)
    TAKEN.append(taken)
    assert taken == VALIDATOR.is_valid(scan), [fault.message for fault in VALIDATOR.iter_errors(scan)]


def test_both_verdicts_were_met_often_and_every_field_has_its_values():
    """Otherwise the property above would say little. It runs after it."""
    assert not TAKEN or (TAKEN.count(True) > len(TAKEN) / 10 and TAKEN.count(False) > len(TAKEN) / 10)
    assert set(VALUES) == set(READERS) == set(SCAN["properties"])


@pytest.mark.parametrize("name", list(SCAN["properties"]))
def test_every_field_may_be_said_by_itself_in_a_scan_that_is_right(name):
    """One value of each field that both take, so that no field is wholly refused by both."""
    whole = {"id": str(UUID(int=1)), "seq": 1, "happened": "2026-03-02T06:00:00Z", "what": "cleaned", "tag": "AAA"}
    right = {"what": "cast", "pour": 3, "dirty": True, "grade": "watch", "photos": [str(UUID(int=2))]}
    right |= {"takes_back": str(UUID(int=3)), "manner": "ask", "seen": "typed", "quantity": 5}
    scan = whole | ({"what": "cast", "pour": 3} if name == "what" else {name: right.get(name, whole.get(name, 7))})
    if name in ("whole", "type"):
        scan.pop("tag")
        scan |= {"whole": "pour", "pour": 3} if name == "whole" else {"type": "FB"}
    if name in ("reason", "override", "note"):
        scan[name] = "bent"
    assert VALIDATOR.is_valid(scan)
    assert isinstance(read_scan(scan), Said)
