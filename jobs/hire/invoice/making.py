"""A bill's lines as the lines of an invoice, and an invoice from them.

A bill that comes to less than nothing is a credit note: every sign is turned, so that what it gives back reads as
positive, as the standard has it. A line is written as quantity x price where that is what it came to; where it is
the rest of a longer hire less what was billed before, as one at its net, and its reason says how it came about.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from jobs.currencies import minor_units
from jobs.hire.invoice.codes import DAY, ONE, PIECE, REASONS
from jobs.hire.invoice.document import (
    Account,
    Breakdown,
    Document,
    DocumentLine,
    Party,
    Preceding,
    Totals,
)
from jobs.hire.rounding import rounded
from jobs.hire.tax import TaxGroup, tax_groups
from jobs.hire.terms import Tax

NIL = Decimal(0)
WEEKS = (7, 6, 5)  # charged days in a week; the product says which it was


@dataclass(frozen=True)
class BillLine:
    """What a line of a bill brings to the invoice; the names are those of `jobs.hire.lines.Line`."""

    line: str
    name: str
    net: Decimal
    tax: Tax
    type: str = ""
    quantity: Decimal = Decimal(1)
    days: int | None = None
    uses: int | None = None
    rate: Decimal | None = None
    per: str = ""
    why: str = ""
    note: str = ""


@dataclass(frozen=True)
class Billed:
    """A bill to be made into an invoice: days are inclusive, `corrects` the bills it refers to.

    `paid` is what was paid before it was issued; `reasons` why a category is not taxed, in the yard's own words;
    `taxes` the tax as the bill has it, worked out from the lines if left out.
    """

    number: str
    issued: date | None
    currency: str
    seller: Party
    buyer: Party
    lines: tuple[BillLine, ...]
    due: date | None = None
    first: date | None = None
    last: date | None = None
    corrects: tuple[Preceding, ...] = ()
    note: str = ""
    buyer_reference: str = ""
    contract: str = ""
    terms: str = ""
    account: Account | None = None
    reasons: Mapping[str, str] | None = None
    paid: Decimal = NIL
    taxes: tuple[TaxGroup, ...] | None = None
    credit: bool | None = None


def make(bill: Billed) -> Document:
    """The bill as a document; a credit note if it says so, or if it says nothing and comes to less than nothing.

    Raises BadRequest for a currency without a smallest unit.
    """
    places = minor_units(bill.currency)
    groups = bill.taxes
    if groups is None:
        groups = tax_groups(((one.tax, one.net) for one in bill.lines), places)
    net = _money(sum((one.net for one in bill.lines), NIL), places)
    tax = _money(sum((one.amount for one in groups), NIL), places)
    credit = bill.credit if bill.credit is not None else net + tax < 0
    sign = -1 if credit else 1
    outside = {one.category for one in groups} == {"O"}
    account = None if credit else bill.account
    return Document(
        kind="credit_note" if credit else "invoice",
        number=bill.number,
        issued=bill.issued,
        currency=bill.currency,
        seller=_silent(bill.seller) if outside else bill.seller,
        buyer=_silent(bill.buyer) if outside else bill.buyer,
        lines=tuple(_line(one, place, sign, places) for place, one in enumerate(bill.lines, 1)),
        breakdown=tuple(_breakdown(one, sign, bill.reasons or {}) for one in groups),
        totals=_totals(sign * net, sign * tax, _money(bill.paid, places)),
        due=None if credit else bill.due,
        note=bill.note,
        buyer_reference=bill.buyer_reference,
        contract=bill.contract,
        first=bill.first,
        last=bill.last,
        preceding=bill.corrects,
        deliver_to=bill.buyer.address if "K" in {one.category for one in groups} else None,
        terms="" if credit else bill.terms,
        account=account,
        payment_reference=bill.number if account else "",
    )


def _silent(party: Party) -> Party:
    """BR-O-02: what is not subject to tax names no VAT number; the number still identifies, if nothing else does."""
    known = party.registration or party.identifier
    return replace(party, vat_id="", identifier=party.identifier if known else party.vat_id)


def _money(amount: Decimal, places: int) -> Decimal:
    return amount.quantize(Decimal(1).scaleb(-places))


def _totals(net: Decimal, tax: Decimal, paid: Decimal) -> Totals:
    gross = net + tax
    return Totals(lines=net, net=net, tax=tax, gross=gross, due=gross - paid, paid=paid)


def _breakdown(group: TaxGroup, sign: int, reasons: Mapping[str, str]) -> Breakdown:
    reason = (reasons.get(group.category) or REASONS[group.category]) if group.category in REASONS else ""
    return Breakdown(group.category, group.rate, sign * group.base, sign * group.amount, reason)


def _line(line: BillLine, place: int, sign: int, places: int) -> DocumentLine:
    quantity, unit, price, per = counted(line, places)
    return DocumentLine(
        id=str(place),
        name=line.name,
        net=sign * _money(line.net, places),
        category=line.tax.category,
        rate=line.tax.rate,
        quantity=sign * quantity,
        unit=unit,
        price=price,
        per=per,
        description=line.why,
        note=line.note,
        item=line.type,
    )


def counted(line: BillLine, places: int) -> tuple[Decimal, str, Decimal, Decimal]:
    """Quantity, unit, price and what the price is for, whose product is exactly the line's net.

    >>> twenty = Tax(Decimal(20))
    >>> week = BillLine("a", "Hire", Decimal("204.00"), twenty, "EF", Decimal(40), 17, None, Decimal("2.10"), "week")
    >>> [str(one) for one in counted(week, 2)]
    ['680', 'DAY', '2.10', '7']
    >>> rest = BillLine("a", "Hire", Decimal("-3.10"), twenty, "EF", Decimal(40), 17, None, Decimal("2.10"), "week")
    >>> [str(one) for one in counted(rest, 2)]
    ['-1', 'C62', '3.10', '1']
    """
    for quantity, unit, per in _ways(line):
        if line.rate is not None and rounded(Fraction(quantity) * Fraction(line.rate) / per, places) == line.net:
            return quantity, unit, line.rate, Decimal(per)
    return Decimal(-1 if line.net < 0 else 1), ONE, _money(abs(line.net), places), Decimal(1)


def _ways(line: BillLine) -> Iterable[tuple[Decimal, str, int]]:
    if line.days is not None and line.per in ("day", "week"):
        for per in (1,) if line.per == "day" else WEEKS:
            yield line.quantity * line.days, DAY, per
    if line.per in ("each", "piece") or line.uses is not None:
        yield line.quantity, PIECE if line.type else ONE, 1
