"""The business rules of EN 16931 that a hire bill can meet or break, as findings that name their rule.

Source: the rules' published texts, EN 16931-1:2017 with the validation artefacts 1.3.16. Stricter than those in
two things on purpose: the artefacts let a tax amount be off by up to 1.00 (BR-CO-17, BR-S-09), here it is exact
to the currency's smallest unit; and they do not multiply a line out, here its net must be quantity x price, less
its allowances. All faults are found at once; an empty list means that none was.

Not checked here: rules on what `Document` cannot say (see there), and code lists other than those in `codes`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from jobs.currencies import minor_units
from jobs.errors import BadRequest
from jobs.hire.invoice.checks_tax import tax_findings
from jobs.hire.invoice.codes import COUNTRIES, SCHEMES, UNITS
from jobs.hire.invoice.document import Document, DocumentLine, Extra, Party
from jobs.hire.invoice.finding import Finding
from jobs.hire.rounding import rounded

NIL = Decimal(0)
MOST_DECIMALS = 2  # BR-DEC-01 to BR-DEC-28


def check(document: Document) -> list[Finding]:
    """All broken rules of a document, in the order of the document."""
    found = [*_head(document), *_seller(document.seller), *_buyer(document.buyer), *_payment(document)]
    for place, line in enumerate(document.lines):
        found += _line(line, f"lines[{place}]", _places(document.currency))
    for place, extra in enumerate(document.extras):
        rules = ("BR-38", "BR-DEC-05") if extra.charge else ("BR-33", "BR-DEC-01")
        found += _extra(extra, f"extras[{place}]", *rules)
    return [*found, *_totals(document), *tax_findings(document, _places(document.currency))]


def _places(currency: str) -> int:
    """Decimals of the currency; as the standard has them where the code is not known, which is a finding."""
    try:
        return minor_units(currency)
    except BadRequest:
        return MOST_DECIMALS


def _head(document: Document) -> Iterator[Finding]:
    if not document.number.strip():
        yield Finding("BR-02", "number", "It has no number yet: issue the bill first.")
    if document.issued is None:
        yield Finding("BR-03", "issued", "It has no day of issue yet: issue the bill first.")
    try:
        minor_units(document.currency)
    except BadRequest as fault:
        yield Finding("BR-CL-04", "currency", str(fault.sentence))
    if not document.lines:
        yield Finding("BR-16", "lines", "It has no lines.")
    if document.first and document.last and document.last < document.first:
        yield Finding("BR-29", "last", "The period ends before it begins.")
    for place, one in enumerate(document.preceding):
        if not one.number.strip():
            yield Finding("BR-55", f"preceding[{place}]", "It refers to an earlier bill without its number.")


def _seller(seller: Party) -> Iterator[Finding]:
    yield from _party(seller, "seller", "BR-06", "BR-09", "our", "the billing details")
    if not (seller.vat_id or seller.registration or seller.identifier):
        sentence = "Nothing identifies us: give a VAT number or a company number in the billing details."
        yield Finding("BR-CO-26", "seller", sentence)


def _buyer(buyer: Party) -> Iterator[Finding]:
    yield from _party(buyer, "buyer", "BR-07", "BR-11", "the customer's", "the customer's billing details")


def _party(party: Party, where: str, named: str, country: str, whose: str, at: str) -> Iterator[Finding]:
    if not party.name.strip():
        yield Finding(named, f"{where}.name", f"Give {whose} name in {at}.")
    if not party.address.country:
        yield Finding(country, f"{where}.address.country", f"Give {whose} country in {at}: two letters, such as IE.")
    elif party.address.country not in COUNTRIES:
        sentence = f"{party.address.country!r} is no country code of ISO 3166-1. Correct it in {at}."
        yield Finding("BR-CL-14", f"{where}.address.country", sentence)
    if party.vat_id and party.vat_id[:2] not in COUNTRIES | {"EL"}:
        sentence = f"{whose} VAT number must begin with its country's two letters (Greece: EL). Correct it in {at}."
        yield Finding("BR-CO-09", f"{where}.vat_id", sentence[0].upper() + sentence[1:])
    if party.electronic_address and party.electronic_scheme not in SCHEMES:
        rule = "BR-CL-25" if party.electronic_scheme else "BR-62" if where == "seller" else "BR-63"
        sentence = f"Say by its EAS code what kind of address {party.electronic_address} is, such as EM for email."
        yield Finding(rule, f"{where}.electronic_scheme", sentence)


def _payment(document: Document) -> Iterator[Finding]:
    if document.totals.due > 0 and document.kind == "invoice" and not (document.due or document.terms):
        yield Finding("BR-CO-25", "due", "Something is to be paid, so say by when: give payment terms.")
    if document.account is not None and not document.account.number.strip():
        yield Finding("BR-50", "account", "The bank account has no number.")


def _line(line: DocumentLine, where: str, places: int) -> Iterator[Finding]:
    for rule, name, filled in (
        ("BR-21", "id", line.id.strip()),
        ("BR-23", "unit", line.unit.strip()),
        ("BR-25", "name", line.name.strip()),
    ):
        if not filled:
            yield Finding(rule, f"{where}.{name}", f"The line has no {name}.")
    if line.unit and line.unit not in UNITS:
        yield Finding("BR-CL-23", f"{where}.unit", f"{line.unit!r} is not one of the unit codes used here.")
    if line.price < 0:
        yield Finding("BR-27", f"{where}.price", "A price is never negative: a credit has a negative quantity.")
    if line.per <= 0:
        yield Finding("BT-149", f"{where}.per", "What the price is for must be more than nothing.")
    if line.first and line.last and line.last < line.first:
        yield Finding("BR-30", f"{where}.last", "The line's period ends before it begins.")
    yield from _decimals("BR-DEC-23", f"{where}.net", line.net)
    for place, extra in enumerate(line.extras):
        rules = ("BR-44", "BR-DEC-27") if extra.charge else ("BR-42", "BR-DEC-24")
        yield from _extra(extra, f"{where}.extras[{place}]", *rules)
    if line.per > 0 and line.net != worth(line, places):
        sentence = f"{line.net} is not quantity x price with its extras, which is {worth(line, places)}."
        yield Finding("BT-131", f"{where}.net", sentence)


def worth(line: DocumentLine, places: int) -> Decimal:
    """Quantity x price / base quantity, rounded half up, with the line's charges and less its allowances."""
    exact = Fraction(line.quantity) * Fraction(line.price) / Fraction(line.per)
    return rounded(exact, places) + sum((one.signed for one in line.extras), NIL)


def _extra(extra: Extra, where: str, reason: str, decimals: str) -> Iterator[Finding]:
    if not extra.reason.strip():
        yield Finding(reason, f"{where}.reason", "Say what it is for.")
    yield from _decimals(decimals, f"{where}.amount", extra.amount)


def _totals(document: Document) -> Iterator[Finding]:
    said = document.totals
    allowances = _sum(one.amount for one in document.extras if not one.charge)
    charges = _sum(one.amount for one in document.extras if one.charge)
    for rule, name, value, is_, of in (
        ("BR-CO-10", "lines", said.lines, _sum(one.net for one in document.lines), "the sum of its lines"),
        ("BR-CO-11", "allowances", said.allowances, allowances, "the sum of its allowances"),
        ("BR-CO-12", "charges", said.charges, charges, "the sum of its charges"),
        ("BR-CO-13", "net", said.net, said.lines - said.allowances + said.charges, "lines - allowances + charges"),
        ("BR-CO-14", "tax", said.tax, _sum(one.amount for one in document.breakdown), "the sum of its taxes"),
        ("BR-CO-15", "gross", said.gross, said.net + said.tax, "net + tax"),
        ("BR-CO-16", "due", said.due, said.gross - said.paid + said.rounding, "gross - paid + rounding"),
    ):
        if value != is_:
            yield Finding(rule, f"totals.{name}", f"{value} is not {of}, which is {is_}.")
    for rule, name in (
        ("BR-DEC-09", "lines"),
        ("BR-DEC-10", "allowances"),
        ("BR-DEC-11", "charges"),
        ("BR-DEC-12", "net"),
        ("BR-DEC-13", "tax"),
        ("BR-DEC-14", "gross"),
        ("BR-DEC-16", "paid"),
        ("BR-DEC-17", "rounding"),
        ("BR-DEC-18", "due"),
    ):
        yield from _decimals(rule, f"totals.{name}", getattr(said, name))


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, NIL)


def _decimals(rule: str, where: str, amount: Decimal) -> Iterator[Finding]:
    exponent = amount.as_tuple().exponent
    if isinstance(exponent, int) and -exponent > MOST_DECIMALS:
        sentence = f"{amount} has more than two decimals, which is all that the standard carries."
        yield Finding(rule, where, sentence)
