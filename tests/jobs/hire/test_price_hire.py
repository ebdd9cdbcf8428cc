"""`manage.py price_hire`: JSON in, JSON out, both by their published schemas, and clear words for a bad request."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator

from jobs.errors import BadRequest
from jobs.hire.codec import read, write
from jobs.hire.request import PriceRequest, answer
from jobs.hire.schema import schema
from jobs.hire.terms import Terms
from tests.jobs.hire.plain import plain_total
from tests.jobs.hire.strategies import FIRST, LAST, facts

SCHEMAS = Path(__file__).parents[3] / "docs" / "schemas"
ASKED = json.loads((SCHEMAS / "price_hire.request.json").read_text())
ANSWERED = json.loads((SCHEMAS / "price_hire.answer.json").read_text())

REQUEST = {
    "currency": "AUD",
    "period": {"from": "2026-03-01", "until": "2026-04-01"},
    "known_at": "2026-04-01",
    "terms": {"rates": [{"day": "0.35", "use": "1.50"}], "tax": [{"rate": "10"}]},
    "stays": [
        {"id": "S1", "type": "EF-3000", "count": 40, "out": "2026-03-02T07:30:00+10:00", "back": "2026-03-16"},
        {"id": "S2", "type": "EF-3000", "count": 1, "out": "2026-03-20", "back": None, "end": "returned"},
    ],
    "uses": [{"stay": "S1", "date": "2026-03-05", "count": 40}],
    "stand_downs": [{"from": "2026-03-09", "until": "2026-03-11", "share": "0.5"}],
    "charges": [{"kind": "delivery", "description": "Truck out", "quantity": 1, "unit_amount": "150.00", "tax": "10"}],
    "billed_before": [{"line": "hire:S0", "net": "12.00"}],
}


def run(request, tmp_path) -> tuple[str, str, int]:
    """What the command prints on its two streams and exits with."""
    path = tmp_path / "request.json"
    path.write_text(request if isinstance(request, str) else json.dumps(request))
    out, err = StringIO(), StringIO()
    try:
        call_command("price_hire", request=str(path), stdout=out, stderr=err)
    except SystemExit as stop:
        return out.getvalue(), err.getvalue(), int(stop.code or 0)
    return out.getvalue(), err.getvalue(), 0


def changed(**more):
    return {**REQUEST, **more}


def test_a_request_is_answered_in_json_alone(tmp_path):
    out, err, code = run(REQUEST, tmp_path)
    priced = json.loads(out)
    # 40 x 0.35 x (14 - 2 x half) = 182.00; 12 days from 20 March 4.20; 40 uses 60.00; the truck; 12.00 back.
    assert [(one["line"], one["net"]) for one in priced["lines"]] == [
        ("hire:S1", "182.00"),
        ("hire:S2", "4.20"),
        ("use:S1", "60.00"),
        ("charge:delivery:1", "150.00"),
        ("hire:S0", "-12.00"),
    ]
    # An undated truck is new on this bill: only what was billed before is adjusted.
    assert [one["adjustment"] for one in priced["lines"]] == ["0.00", "0.00", "0.00", "0.00", "-12.00"]
    assert (priced["net"], priced["gross"]) == ("384.20", "422.62")
    assert priced["tax"] == [{"rate": "10", "category": "S", "base": "384.20", "amount": "38.42"}]
    assert [one["quantity"] for one in priced["lines"]] == [40, 1, 40, 1, 1]
    assert (err, code) == ("", 0)


def test_the_greatest_amounts_that_can_be_written_are_charged_exactly():
    # 10 million pieces for a day at a price of eighteen nines, and as many of something at as much.
    most = {"rates": [{"day": "9" * 18}]}
    stay = {"id": "S1", "type": "A", "count": 10**7, "out": "2026-03-02", "back": "2026-03-03"}
    charge = {"kind": "other", "quantity": "9" * 18, "unit_amount": "9" * 18}
    priced = answer({**REQUEST, "terms": most, "stays": [stay], "uses": [], "charges": [charge], "billed_before": []})
    assert [one["net"] for one in priced["lines"]] == [f"{(10**18 - 1) * 10**7}.00", f"{(10**18 - 1) ** 2}.00"]


def test_request_and_answer_keep_to_their_schemas(tmp_path):
    Draft202012Validator.check_schema(ASKED)
    Draft202012Validator.check_schema(ANSWERED)
    Draft202012Validator(ASKED).validate(REQUEST)
    Draft202012Validator(ANSWERED).validate(json.loads(run(REQUEST, tmp_path)[0]))


def test_the_published_schema_is_the_one_the_fields_make():
    # `python -m jobs.hire.schema > docs/schemas/price_hire.request.json` after a change.
    assert schema() == ASKED


def test_every_field_of_the_terms_has_words_and_a_default():
    properties = ASKED["$defs"]["Terms"]["properties"]
    assert all("description" in one and "default" in one for one in properties.values())
    stated = {name: one["default"] for name, one in properties.items()}
    assert read(Terms, stated, "terms") == Terms() == read(Terms, {}, "terms")


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        (changed(currency="ZZZ"), "currency"),
        (changed(billed_before=[{"line": "hire:S0", "net": "12.345"}]), "billed_before[0].net"),
        (changed(uses=[{"stay": "S1", "date": "2026-03-05", "count": 10**39}]), "uses[0].count"),
        (changed(period={"from": "2026-03-01", "until": "2026-03-01"}), "period.until"),
        (changed(period={"from": "1 March", "until": "2026-03-01"}), "period.from"),
        (changed(known_at="2026-04-01T10:00:00"), "known_at"),
        (changed(terms={"rates": [{"day": 0.35}]}), "terms.rates[0].day"),
        (changed(terms={"rates": [{"day": "-1"}]}), "terms.rates[0].day"),
        (changed(terms={"rates": [{}]}), "terms.rates[0]"),
        (changed(terms={"week": "4 days"}), "terms.week"),
        (changed(terms={"wekk": "calendar"}), "terms.wekk"),
        (changed(terms=[{}, {"holds_from": "soon"}]), "terms[1].holds_from"),
        (changed(terms={"time_zone": "Nowhere"}), "terms.time_zone"),
        (changed(stays=[{"id": "S1", "type": "A", "count": 0, "out": "2026-03-02"}]), "stays[0].count"),
        (changed(stays=[{"id": "S1", "type": "A", "count": True, "out": "2026-03-02"}]), "stays[0].count"),
        (changed(stays=[{"id": "S1", "type": "A", "out": "2026-03-02"}]), "stays[0].count"),
        (changed(stays=[{"id": "S1", "type": "A", "count": 1, "out": "2026-02-30"}]), "stays[0].out"),
        (changed(stays=[{**REQUEST["stays"][1], "back": "2026-03-01"}], uses=[]), "stays[0].back"),
        (changed(stays=[{**REQUEST["stays"][1], "end": "lost"}], uses=[]), "stays[0].back"),
        (changed(stays=[{**REQUEST["stays"][1], "continues": "S7"}], uses=[]), "stays[0].continues"),
        (changed(stays=[REQUEST["stays"][0], REQUEST["stays"][0]]), "stays[1].id"),
        (changed(stays=[{**REQUEST["stays"][1], "out": "2026-W10-1"}], uses=[]), "stays[0].out"),
        (changed(stays=[{**REQUEST["stays"][1], "out": "2026-03-02 07:00+10:00"}], uses=[]), "stays[0].out"),
        (changed(stays=[{**REQUEST["stays"][0], "back": "2026-03-02T06:00:00+10:00"}]), "stays[0].back"),
        (changed(stays=[{**REQUEST["stays"][1], "id": "\ud800"}], uses=[]), "stays[0].id"),
        (changed(period={"from": "2026-03-01", "until": "9999-12-31"}), "period.until"),
        (changed(terms={"minimum": {"days": 10**9}}), "terms.minimum.days"),
        (changed(terms={"cut_off_out": "25:00"}), "terms.cut_off_out"),
        (changed(terms=None), "terms"),
        (changed(stands=[]), "stands"),
        (json.dumps(changed(stand_downs="X")).replace('"X"', "9" * 5000), "request"),
        (
            json.dumps(changed(stand_downs=[{"from": "2026-03-02", "until": "2026-03-03", "share": 7}])).replace(
                '"share": 7', '"share": 1e99999999'
            ),
            "stand_downs[0].share",
        ),
        (changed(uses=[{"stay": "S9", "date": "2026-03-05", "count": 1}]), "uses[0].stay"),
        (changed(stand_downs=[{"from": "2026-03-05", "until": "2026-03-05", "share": "0"}]), "stand_downs[0].until"),
        (changed(stand_downs=[{"from": "2026-03-05", "until": "2026-03-06", "share": "2"}]), "stand_downs[0].share"),
        (changed(charges=[{"kind": "cleaning"}]), "charges[0].unit_amount"),
        (changed(charges=[{"kind": "cleaning", "unit_amount": "1,50"}]), "charges[0].unit_amount"),
        (changed(billed_before=[{"line": "hire:S1", "net": "NaN"}]), "billed_before[0].net"),
        ({}, "currency"),
        ([], "request"),
        ("{", "request"),
        ('{"currency": "AUD", "currency": "EUR"}', "currency"),
        ('{"currency": NaN}', "request"),
    ],
)
def test_a_bad_request_is_refused_with_a_sentence_that_names_the_field(asked, field, tmp_path):
    out, err, code = run(asked, tmp_path)
    assert (out, code) == ("", 2)
    assert err.startswith(f"{field}: ")
    assert err.rstrip().endswith((".", "..."))


def test_a_file_written_with_a_byte_order_mark_is_read(tmp_path):
    out, err, code = run("\ufeff" + json.dumps(REQUEST), tmp_path)
    assert (json.loads(out)["net"], err, code) == ("384.20", "", 0)


@pytest.mark.parametrize(
    ("known_at", "net"),
    # Back on 16 March at seven in the morning, ten hours east: known to the office there on the 16th, not on the 15th,
    # though in Greenwich it was still the 15th. 14 days at 0.35 for 40 pieces, or 30 days to the month's end.
    [("2026-03-16", "196.00"), ("2026-03-15", "420.00"), ("2026-03-16T06:59:59+10:00", "420.00")],
)
def test_a_day_of_known_at_is_to_its_end_where_the_thing_was_seen(known_at, net):
    there = {
        "id": "S1",
        "type": "A",
        "count": 40,
        "out": "2026-03-02T07:30:00+10:00",
        "back": "2026-03-16T07:00:00+10:00",
    }
    terms = {"rates": [{"day": "0.35"}]}
    assert (
        answer(
            changed(
                stays=[there], uses=[], terms=terms, stand_downs=[], charges=[], billed_before=[], known_at=known_at
            )
        )["net"]
        == net
    )


def test_the_command_itself_prints_json_and_nothing_else():
    root = Path(__file__).parents[3]
    text = ("\ufeff" + json.dumps(REQUEST)).encode()
    asked = [sys.executable, "manage.py", "price_hire", "--request", "-"]
    done = subprocess.run(asked, input=text, capture_output=True, cwd=root, check=False)
    assert (json.loads(done.stdout)["gross"], done.stderr, done.returncode) == ("422.62", b"", 0)


def test_a_file_that_is_not_there_is_named(tmp_path):
    err = StringIO()
    with pytest.raises(SystemExit) as stop:
        call_command("price_hire", request=str(tmp_path / "none.json"), stdout=StringIO(), stderr=err)
    assert stop.value.code == 2 and "none.json cannot be read" in err.getvalue()


def test_what_the_schema_refuses_in_shape_the_command_refuses_too():
    for asked in ({"currency": 7}, {**REQUEST, "more": 1}, changed(stays={}), changed(terms={"month": 30})):
        assert not Draft202012Validator(ASKED).is_valid(asked)
        with pytest.raises(BadRequest):
            answer(asked)


@pytest.mark.slow
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts())
def test_any_hire_goes_through_json_unchanged(hire):
    asked = {
        "currency": "AUD",
        "period": {"from": FIRST.isoformat(), "until": LAST.isoformat()},
        "terms": write(hire.terms),
        **{name: write(getattr(hire, name)) for name in ("stays", "uses", "stand_downs")},
    }
    asked = json.loads(json.dumps(asked), parse_float=Decimal)
    Draft202012Validator(ASKED).validate(asked)
    assert read(PriceRequest, asked, "").stays == hire.stays
    priced = answer(asked)
    Draft202012Validator(ANSWERED).validate(priced)
    assert Decimal(priced["net"]) == plain_total(hire, LAST)
