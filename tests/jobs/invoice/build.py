"""Short ways to say an invoice in a test."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from jobs.hire.invoice.document import Account, Address, Document, Party
from jobs.hire.invoice.making import Billed, BillLine, make
from jobs.hire.terms import Tax

US = Party(
    "North Yard Hire",
    Address("1 Slab Lane", "", "Dublin", "D01 A1B2", "", "IE"),
    vat_id="IE1234567WA",
    registration="700001",
    contact="The hire desk",
    phone="+353 1 555 0100",
    email="desk@yard.example",
    electronic_address="desk@yard.example",
    electronic_scheme="EM",
)
THEM = Party(
    "Flat Walls",
    Address("2 Panel Street", "Unit 3", "Cork", "T12 X3Y4", "", "IE"),
    vat_id="IE7654321WB",
    identifier="C7",
)
ISSUED = date(2026, 4, 1)


def line(net: str, rate: str = "20", category: str = "", **more) -> BillLine:
    category = category or ("S" if Decimal(rate) else "Z")
    if "price" in more:
        more["rate"] = Decimal(more.pop("price"))
    return BillLine("hire:S1", more.pop("name", "Hire"), Decimal(net), Tax(Decimal(rate), category), **more)


def billed(*lines: BillLine, **more) -> Billed:
    given = {
        "number": "B-7",
        "issued": ISSUED,
        "currency": "EUR",
        "seller": US,
        "buyer": THEM,
        "due": date(2026, 5, 1),
        "first": date(2026, 3, 1),
        "last": date(2026, 3, 31),
        "account": Account("IE29AIBK93115212345678", "North Yard Hire", "AIBKIE2D"),
        "terms": "30 days",
    }
    return Billed(lines=lines, **{**given, **more})


def document(*lines: BillLine, **more) -> Document:
    return make(billed(*lines, **more))


def with_totals(one: Document, **totals: str) -> Document:
    """The document with some totals overwritten."""
    return replace(one, totals=replace(one.totals, **{name: Decimal(value) for name, value in totals.items()}))
