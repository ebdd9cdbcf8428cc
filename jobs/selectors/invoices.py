"""A bill of ours as a document by EN 16931."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

from jobs.currencies import minor_units
from jobs.hire.invoice.codes import COUNTRIES
from jobs.hire.invoice.document import Account, Address, Document, Party, Preceding
from jobs.hire.invoice.making import Billed, make
from jobs.hire.invoice.making import BillLine as InvoiceLine
from jobs.hire.tax import TaxGroup, plain_rate
from jobs.hire.terms import Tax
from jobs.models import Bill, BillLine


def document_of(bill: Bill) -> Document:
    """The bill as issued, from what was frozen with it and nothing else."""
    places = minor_units(bill.currency)
    return make(
        Billed(
            number=bill.number or "",
            issued=bill.issued_on,
            currency=bill.currency,
            seller=_seller(bill.seller),
            buyer=_buyer(bill.buyer),
            lines=tuple(_line(one, places) for one in bill.lines.all()),
            taxes=tuple(
                TaxGroup(one.category, plain_rate(one.rate), _money(one.base, places), _money(one.amount, places))
                for one in bill.taxes.all()
            ),
            due=bill.due_on,
            first=bill.period_from,
            last=bill.period_until - timedelta(days=1),
            corrects=tuple(Preceding(one.number or "", one.issued_on) for one in corrected(bill)),
            note=bill.reason,
            buyer_reference=bill.buyer.get("reference", ""),
            contract=bill.job.code,
            terms=bill.seller.get("payment_note", ""),
            account=_account(bill.seller),
            credit=bill.is_credit_note,
        )
    )


def corrected(bill: Bill) -> list[Bill]:
    """The earlier bills that this one gives back or adjusts, oldest first."""
    if bill.credits is not None:
        return [bill.credits]
    adjusted = bill.lines.filter(part=BillLine.Part.ADJUSTMENT).values("key")
    earlier = Bill.objects.filter(job_id=bill.job_id, credits=None).issued().filter(lines__key__in=adjusted)
    if bill.issued_at is not None:
        earlier = earlier.filter(issued_at__lt=bill.issued_at)
    found = list(earlier.exclude(pk=bill.pk).distinct().order_by("issued_at", "pk"))
    return found or ([bill.after] if bill.is_credit_note and bill.after is not None else [])


def _seller(said: dict[str, Any]) -> Party:
    """A tax number without a country's letters is none by EN 16931's rule BR-CO-09: it goes where it needs none."""
    party, number = _party(said), _tax_id(said)
    if _has_country(number):
        return replace(party, vat_id=number)
    return replace(party, tax_number=number, identifier="" if party.registration else number)


def _buyer(said: dict[str, Any]) -> Party:
    party, number = _party(said), _tax_id(said)
    party = replace(party, identifier=said.get("code", ""))
    if _has_country(number):
        return replace(party, vat_id=number)
    return replace(party, registration=party.registration or number)


def _tax_id(said: dict[str, Any]) -> str:
    return str(said.get("tax_id", "")).replace(" ", "").upper()


def _has_country(number: str) -> bool:
    return number[:2] in COUNTRIES | {"EL"}


def _party(said: dict[str, Any]) -> Party:
    return Party(
        name=said.get("name", ""),
        address=Address(
            street=said.get("street", ""),
            further=said.get("street_more", ""),
            city=said.get("city", ""),
            postcode=said.get("postcode", ""),
            region=said.get("region", ""),
            country=said.get("country_code", "").upper(),
        ),
        registration=said.get("registration_id", ""),
        contact=said.get("contact", ""),
        phone=said.get("phone", ""),
        email=said.get("email", ""),
        electronic_address=said.get("electronic_address", ""),
        electronic_scheme=said.get("electronic_scheme", ""),
    )


def _account(seller: dict[str, Any]) -> Account | None:
    number = seller.get("account_number", "").strip()
    return Account(number, seller.get("account_name", ""), seller.get("bank_code", "")) if number else None


def _line(row: BillLine, places: int) -> InvoiceLine:
    said = [row.why, *row.causes] if row.part == BillLine.Part.ADJUSTMENT else [row.why]
    return InvoiceLine(
        line=row.key,
        name=row.description,
        net=_money(row.net, places),
        tax=Tax(plain_rate(row.tax_rate), row.tax_category),  # type: ignore[arg-type]
        type=row.type_code,
        quantity=row.quantity,
        days=row.days,
        uses=row.uses,
        rate=row.rate,
        per=row.per,
        why=" ".join(_once(said)),
        note=f"Docket {row.docket}" if row.docket else "",
    )


def _once(sentences: Iterable[str]) -> list[str]:
    """Each sentence once: a reason already names most of its causes."""
    kept: list[str] = []
    for one in sentences:
        if one and not any(one in other for other in kept):
            kept.append(one)
    return kept


def _money(amount: Decimal, places: int) -> Decimal:
    return amount.quantize(Decimal(1).scaleb(-places))
