"""Bills as a table for any accounting system: one row a line, the same columns for one bill and for many."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

from jobs.currencies import minor_units
from jobs.hire.words import plain
from jobs.models import Bill, BillLine

# (column, what it holds). The page that explains the file shows this same list.
COLUMNS = (
    ("number", "The bill's number."),
    ("kind", "bill, or credit note."),
    ("gives_back", "The number of the bill that it gives back whole; else empty."),
    ("issued_on", "Day of issue, as 2026-03-31."),
    ("due_on", "Day to pay by; empty on a credit note."),
    ("customer", "The customer's code."),
    ("customer_name", "The customer's name as it stood on the day of issue."),
    ("customer_tax_id", "The customer's tax number as it stood that day."),
    ("reference", "The customer's own reference, if they gave one."),
    ("job", "The job's code."),
    ("first_day", "First day billed."),
    ("last_day", "Last day billed."),
    ("currency", "ISO 4217 code; amounts have its decimals."),
    ("line", "The line's place on the bill."),
    ("part", "this period, or adjustment of what was billed before."),
    ("charge", "The charge's own id: the same on every bill of the job."),
    ("what", "hire, minimum, use, damage, loss, sale, delivery, cleaning, or the desk's own word."),
    ("docket", "The docket by which the gear went out."),
    ("type", "The catalogue code of the gear."),
    ("description", "What the customer reads."),
    ("quantity", "How many pieces, or how many of it."),
    ("days", "Charged days of each piece to the end of the period, where all are alike."),
    ("uses", "Uses charged: a piece in a pour that was cast is one."),
    ("rate", "The rate."),
    ("per", "What the rate is for: day, week, month, use, piece, delivery, each; mix where several were used."),
    ("net", "The line before tax. Below nought where it gives back: credit notes come as negative amounts."),
    ("tax_category", "UNCL 5305: S standard, Z zero, E exempt, AE reverse charge, O outside, and so on."),
    ("tax_rate", "Per cent. Tax is worked out once for each rate on the sum of its lines, never line by line."),
    ("bill_net", "The whole bill before tax, on every row of it: add it up once a bill."),
    ("bill_tax", "The whole bill's tax, on every row of it."),
    ("bill_gross", "The whole bill with tax, on every row of it."),
    ("why", "The reason for the line, as the bill gives it."),
)


def header() -> list[str]:
    return [name for name, _ in COLUMNS]


def rows_of(bills: Iterable[Bill]) -> Iterator[list[Any]]:
    """A row for each line of each bill; the bills come with customer, job, credits and lines fetched."""
    for bill in bills:
        places = minor_units(bill.currency)
        for line in bill.lines.all():
            yield _row(bill, line, places)


def _row(bill: Bill, line: BillLine, places: int) -> list[Any]:
    return [
        bill.number or "",
        bill.kind,
        bill.credits.number if bill.credits else "",
        bill.issued_on,
        None if bill.is_credit_note else bill.due_on,
        bill.buyer.get("code") or bill.customer.code,
        bill.buyer.get("name") or bill.customer.name,
        bill.buyer.get("tax_id", ""),
        bill.buyer.get("reference", ""),
        bill.job.code,
        bill.period_from,
        bill.period_until - timedelta(days=1),
        bill.currency,
        line.position,
        line.part,
        line.key,
        line.kind,
        line.docket,
        line.type_code,
        line.description,
        plain(line.quantity),
        line.days,
        line.uses,
        plain(line.rate) if line.rate is not None else "",
        line.per,
        _money(line.net, places),
        line.tax_category,
        plain(line.tax_rate),
        _money(bill.net, places),
        _money(bill.tax, places),
        _money(bill.gross, places),
        line.why,
    ]


def _money(amount: Decimal, places: int) -> str:
    return f"{amount:.{places}f}"
