"""Whatever hire comes to, its bill is an electronic invoice without a finding."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.hire.adjust import BilledBefore, Period, statement
from jobs.hire.invoice.checks import check
from jobs.hire.invoice.making import BillLine, make
from jobs.hire.terms import Tax
from tests.jobs.hire.strategies import FIRST, LAST, facts
from tests.jobs.invoice.build import billed

TAXES = (Tax(Decimal("23"), of=("hire", "use")), Tax(Decimal("5.5"), of=("loss",)), Tax(Decimal(0), "Z"))


def invoiced(lines, currency):
    rows = tuple(
        BillLine(
            one.line,
            f"{one.kind} {one.type}".strip(),
            one.net,
            one.tax,
            one.type,
            one.quantity,
            one.days,
            one.uses,
            one.rate,
            one.per,
            one.why,
        )
        for one in lines
    )
    return make(billed(*rows, currency=currency))


@settings(max_examples=25, deadline=None)
@given(facts(), st.integers(1, 170), st.sampled_from(["EUR", "JPY"]))
def test_any_bill_and_the_one_after_it_break_no_rule(known, days, currency):
    known = replace(known, terms=tuple(replace(one, tax=TAXES) for one in known.terms))
    cut = FIRST + timedelta(days=days)
    first = statement(known, Period(FIRST, cut), currency)
    before = [BilledBefore(one.line, one.net, one.tax.rate, one.tax.category) for one in first.lines]
    second = statement(known, Period(cut, max(LAST, cut + timedelta(days=1))), currency, None, before)
    for one in (first, second):
        if one.lines:
            document = invoiced(one.lines, currency)
            assert check(document) == []
            assert abs(one.gross) == document.totals.due
