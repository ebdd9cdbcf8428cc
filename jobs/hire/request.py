"""The surface for machines: a request as JSON in, a statement as JSON out. Shapes in docs/schemas.

>>> asked = {"currency": "AUD", "period": {"from": "2026-03-01", "until": "2026-04-01"},
...          "terms": {"rates": [{"day": "0.35"}]},
...          "stays": [{"id": "S1", "type": "EF-3000", "count": 40, "out": "2026-03-02", "back": "2026-03-16"}]}
>>> answer(asked)["lines"][0]["net"]
'196.00'
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any

from jobs.currencies import minor_units
from jobs.errors import BadRequest
from jobs.hire.adjust import BilledBefore, Period, Statement, statement
from jobs.hire.checks import check_facts, check_period
from jobs.hire.codec import read, write
from jobs.hire.fields import needed, said
from jobs.hire.lines import Entry, Line
from jobs.hire.rounding import rounded
from jobs.hire.stays import Charge, Facts, StandDown, Stay, Use, When
from jobs.hire.terms import Terms

MOST_DIGITS = 100  # the longest price times the longest count, over all lines, has fewer


@dataclass(frozen=True)
class PriceRequest:
    """What is to be priced."""

    currency: str = needed("ISO 4217 code; its smallest unit is what lines are rounded to.", filled=True)
    period: Period = needed("The days to bill.")
    known_at: When | None = said(
        None, "Charge as the office knew things then; a day is to its end; null: all that is given."
    )
    terms: tuple[Terms, ...] = said(
        (Terms(),), "The terms, or a list of sets with the days from which each holds.", one_or_many=True
    )
    stays: tuple[Stay, ...] = said((), "Stays.")
    uses: tuple[Use, ...] = said((), "Uses.")
    stand_downs: tuple[StandDown, ...] = said((), "Stand-downs.")
    charges: tuple[Charge, ...] = said((), "Charges other than hire.")
    billed_before: tuple[BilledBefore, ...] = said((), "The lines of every earlier bill for these stays and charges.")


def answer(request: Any) -> dict[str, Any]:
    """The answer to a request parsed with `parse_float=Decimal`. Raises BadRequest naming the field."""
    asked: PriceRequest = read(PriceRequest, request, "")
    _payable(asked)
    facts = Facts(asked.terms, asked.stays, asked.uses, asked.stand_downs, asked.charges)
    for finding in (*check_period(asked.period), *check_facts(facts)):
        raise BadRequest(finding.path, finding.sentence)
    with localcontext(prec=MOST_DIGITS):
        return answer_of(statement(facts, asked.period, asked.currency, asked.known_at, asked.billed_before))


def _payable(asked: PriceRequest) -> None:
    """What was billed is in the currency's smallest unit, or it was not billed so."""
    places = minor_units(asked.currency)
    for place, one in enumerate(asked.billed_before):
        if one.net != rounded(one.net, places):
            least = format(Decimal(1).scaleb(-places), "f")
            sentence = f"is {one.net:f}, though the smallest amount in {asked.currency} is {least}. Give it as billed."
            raise BadRequest(f"billed_before[{place}].net", sentence)


def answer_of(priced: Statement) -> dict[str, Any]:
    """A statement as JSON."""
    places = minor_units(priced.currency)
    return {
        "currency": priced.currency,
        "lines": [_line(one, places) for one in priced.lines],
        "net": _money(priced.net, places),
        "tax": [
            {
                "rate": write(one.rate),
                "category": one.category,
                "base": _money(one.base, places),
                "amount": _money(one.amount, places),
            }
            for one in priced.tax
        ],
        "gross": _money(priced.gross, places),
        "warnings": list(priced.warnings),
    }


def _line(line: Line, places: int) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "line": line.line,
        "kind": line.kind,
        "type": line.type,
        "stays": list(line.stays),
        "quantity": _quantity(line.quantity),
        "rate": None if line.rate is None else write(line.rate),
        "per": line.per,
        "net": _money(line.net, places),
        "tax": write(line.tax.rate),
        "tax_category": line.tax.category,
        "why": line.why,
        "charged": _money(line.charged, places),
        "billed_before": _money(line.billed_before, places),
        "this_period": _money(line.this_period, places),
        "adjustment": _money(line.adjustment, places),
        "causes": list(line.causes),
    }
    if line.kind == "hire" and line.due:
        shown["days"] = line.days
        shown["parts"] = [entry_of(one) for one in line.due.entries]
    if line.kind == "use":
        shown["uses"] = line.uses
    if line.cost is not None:
        shown["cost"] = _money(line.cost, places)
    return shown


def _quantity(quantity: Decimal) -> int | str:
    """A whole number where it is one, else a decimal string."""
    return int(quantity) if quantity == int(quantity) else str(write(quantity.normalize()))


def entry_of(entry: Entry) -> dict[str, Any]:
    """A stay's share of a line as JSON: its days, the units they make, and its exact amount."""
    return {
        "stay": entry.stay.id,
        "quantity": entry.stay.count,
        "days": None if entry.by_use else entry.piece.days,
        "units": [
            {"per": part.per, "units": _exact(part.units), "rate": write(part.rate), "days": part.days}
            for part in entry.piece.parts
        ],
        "amount": _exact(entry.amount),
    }


def _exact(amount: Fraction) -> str:
    """An exact amount as a plain decimal if it is one to four places, else as a fraction."""
    return str(write(amount)) if amount >= 0 else "-" + str(write(-amount))


def _money(amount: Decimal, places: int) -> str:
    return format(amount.quantize(Decimal(1).scaleb(-places)), "f")
