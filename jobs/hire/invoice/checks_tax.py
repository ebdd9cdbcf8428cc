"""The rules of EN 16931 on tax: the same ten for each category, and what is particular to some.

Rule -01: what is taxed stands in the breakdown; -02 to -04: who must be identified; -05 to -07: the rate;
-08: the taxable amount; -09: the tax; -10: the reason for none. The letters are the category's (`codes`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from jobs.hire.invoice.codes import CATEGORIES, CATEGORY_WORDS, REASONS
from jobs.hire.invoice.document import Breakdown, Document, Party
from jobs.hire.invoice.finding import Finding
from jobs.hire.rounding import rounded

NIL = Decimal(0)
RATED = ("S", "L", "M")  # charged at a rate, one breakdown for each rate; every other category once, at none
Taxed = tuple[str, str, str, Decimal, Decimal]  # where, which kind, category, rate, amount


def tax_findings(document: Document, places: int) -> Iterator[Finding]:
    """Broken rules on tax; `places` are the currency's decimals."""
    taxed = list(_taxed(document))
    if not document.breakdown:
        yield Finding("BR-CO-18", "breakdown", "It has no tax breakdown.")
    for where, _kind, category, _rate, _amount in taxed:
        if category not in CATEGORIES:
            rule = "BR-CO-04" if not category else "BR-CL-18"
            yield Finding(rule, where, f"{category!r} is not a tax category. Give one of {', '.join(CATEGORIES)}.")
    for category in CATEGORIES:
        of_it = [one for one in taxed if one[2] == category]
        groups = [one for one in document.breakdown if one.category == category]
        yield from _once(category, of_it, groups)
        if of_it or groups:
            yield from _rates(category, of_it)
            yield from _identified(category, document.seller, document.buyer)
    for place, group in enumerate(document.breakdown):
        yield from _group(group, f"breakdown[{place}]", taxed, places)
    yield from _particular(document)


def _taxed(document: Document) -> Iterator[Taxed]:
    for place, line in enumerate(document.lines):
        yield f"lines[{place}]", "line", line.category, line.rate, line.net
    for place, extra in enumerate(document.extras):
        kind = "charge" if extra.charge else "allowance"
        yield f"extras[{place}]", kind, extra.category, extra.rate, extra.signed


def _name(category: str, number: int) -> str:
    return f"{CATEGORIES[category]}-{number:02}"


def _once(category: str, taxed: list[Taxed], groups: list[Breakdown]) -> Iterator[Finding]:
    words = CATEGORY_WORDS[category]
    if taxed and not groups:
        yield Finding(_name(category, 1), "breakdown", f"The breakdown has nothing for {words}.")
    if category not in RATED and len(groups) > 1:
        yield Finding(_name(category, 1), "breakdown", f"The breakdown has more than one part for {words}.")
    rates = [one.rate for one in groups]
    if category in RATED and len(set(rates)) < len(rates):
        yield Finding(_name(category, 8), "breakdown", f"The breakdown has a rate of {words} twice.")


def _rates(category: str, taxed: list[Taxed]) -> Iterator[Finding]:
    for where, kind, _category, rate, _amount in taxed:
        rule = _name(category, {"line": 5, "allowance": 6, "charge": 7}[kind])
        if category == "S" and rate <= 0:
            yield Finding(rule, where, "Standard rate needs a rate above 0. At 0 per cent the category is Z, E or O.")
        elif category not in RATED and rate != 0:
            yield Finding(rule, where, f"{CATEGORY_WORDS[category]} has no rate, but it is {rate} per cent here.")


def _identified(category: str, seller: Party, buyer: Party) -> Iterator[Finding]:
    rule = _name(category, 2)
    if category == "O":
        if seller.vat_id or buyer.vat_id:
            sentence = "What is not subject to tax must name no VAT number, neither ours nor the customer's."
            yield Finding(rule, "seller.vat_id", sentence)
        return
    if not (seller.vat_id or (seller.tax_number and category not in ("K", "G"))):
        yield Finding(rule, "seller.vat_id", "Tax needs our tax number: give it in the billing details.")
    if category == "K" and not buyer.vat_id:
        yield Finding(rule, "buyer.vat_id", "A supply within the Community needs the customer's VAT number.")
    if category == "AE" and not (buyer.vat_id or buyer.registration):
        yield Finding(rule, "buyer.vat_id", "Reverse charge needs the customer's VAT number or company number.")


def _group(group: Breakdown, where: str, taxed: list[Taxed], places: int) -> Iterator[Finding]:
    if group.category not in CATEGORIES:
        yield Finding("BR-CL-17", f"{where}.category", f"{group.category!r} is not a tax category.")
        return
    of_it = (one[4] for one in taxed if one[2] == group.category and one[3] == group.rate)
    base = sum(of_it, NIL)
    if group.base != base:
        sentence = f"{group.base} is not the sum of what is taxed so, which is {base}."
        yield Finding(_name(group.category, 8), f"{where}.base", sentence)
    yield from _amount(group, where, places)
    yield from _reason(group, where)
    for rule, field in (("BR-DEC-19", "base"), ("BR-DEC-20", "amount")):
        exponent = getattr(group, field).as_tuple().exponent
        if isinstance(exponent, int) and exponent < -2:
            sentence = f"{getattr(group, field)} has more than two decimals, which is all that the standard carries."
            yield Finding(rule, f"{where}.{field}", sentence)


def _amount(group: Breakdown, where: str, places: int) -> Iterator[Finding]:
    amount = rounded(Fraction(group.base) * Fraction(group.rate) / 100, places)
    if group.amount != amount:
        rule = "BR-CO-17" if group.category in RATED else _name(group.category, 9)
        sentence = f"{group.amount} is not {group.rate} per cent of {group.base}, which is {amount}."
        yield Finding(rule, f"{where}.amount", sentence)


def _reason(group: Breakdown, where: str) -> Iterator[Finding]:
    owed = group.category in REASONS
    if owed and not group.reason.strip():
        sentence = f"Say why there is no tax ({CATEGORY_WORDS[group.category]})."
        yield Finding(_name(group.category, 10), f"{where}.reason", sentence)
    if group.reason and not owed:
        sentence = f"{CATEGORY_WORDS[group.category]} takes no reason for an exemption."
        yield Finding(_name(group.category, 10), f"{where}.reason", sentence)


def _particular(document: Document) -> Iterator[Finding]:
    categories = {one.category for one in document.breakdown}
    if "O" in categories and len(document.breakdown) > 1:
        sentence = (
            "What is not subject to tax (O) cannot stand on one electronic invoice with anything else: bill it "
            "apart, or have your accountant say whether it is exempt (E)."
        )
        yield Finding("BR-O-11", "breakdown", sentence)
    yield from _other_than_o(categories, list(_taxed(document)))
    if "K" in categories:
        if not (document.delivered or document.first or document.last):
            yield Finding("BR-IC-11", "delivered", "A supply within the Community needs its day or its period.")
        if not (document.deliver_to and document.deliver_to.country):
            yield Finding("BR-IC-12", "deliver_to", "A supply within the Community needs the country it goes to.")


def _other_than_o(categories: set[str], taxed: Iterable[Taxed]) -> Iterator[Finding]:
    if "O" not in categories:
        return
    numbers = {"line": 12, "allowance": 13, "charge": 14}
    for number in sorted({numbers[one[1]] for one in taxed if one[2] != "O"}):
        yield Finding(f"BR-O-{number}", "lines", "Beside what is not subject to tax there is something that is.")
