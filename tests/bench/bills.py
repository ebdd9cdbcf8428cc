"""A month's bills for two hundred customers, drafted from the ledger and issued: ``python -m tests.bench.bills``.

DB=pg for PostgreSQL; BENCH_CUSTOMERS=20 for a shorter one. Each customer has one job with ten tagged pieces out. The
control, in the same run, reads each job's stays from the ledger and prices them, and writes nothing.
"""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta

from tests.bench._yard import START, disk_probe, fleet, timed

CUSTOMERS = int(os.environ.get("BENCH_CUSTOMERS", "200"))
PIECES = 10
OUT = datetime(2026, 2, 2, 8, tzinfo=UTC)
NOW = datetime(2026, 3, 1, 8, tzinfo=UTC)


def sent_out() -> None:
    """Two hundred customers with gear on their sites."""
    from inventory.lifecycle.kinds import Kind, PlaceKind
    from inventory.models import Place
    from inventory.services.recording import record
    from inventory.services.reports import Report
    from jobs.models import Customer, HireTerms, Job, Seller

    yard, _, pieces = fleet(CUSTOMERS * PIECES)
    terms = {"rates": [{"day": "0.35", "week": "2.10"}], "tax": [{"rate": "20"}]}
    HireTerms.objects.create(name="Yard", document=terms, recorded_at=START)
    Seller.objects.update_or_create(pk=1, defaults={"name": "A yard", "country_code": "IE"})
    reports = []
    for number in range(CUSTOMERS):
        site = Place.objects.create(name=f"Site {number}", kind=PlaceKind.SITE)
        customer = Customer.objects.create(code=f"C{number}", name=f"Customer {number}")
        Job.objects.create(
            code=f"J{number}", name="Job", customer=customer, site=site, yard=yard.yard, stage="running",
            starts_on=OUT.date(), asked_at=START,
        )  # fmt: skip
        for place, piece in enumerate(pieces[number * PIECES : (number + 1) * PIECES]):
            when = OUT + timedelta(minutes=place)
            reports.append(Report(Kind.RECEIVED, when, piece=piece.pk, place=site.pk))
            if place % 3 == 0:
                reports.append(Report(Kind.RETURNED, when + timedelta(days=9), piece=piece.pk, place=yard.yard.pk))
    for first in range(0, len(reports), 2000):
        record(reports[first : first + 2000], by=yard.hand, now=OUT + timedelta(days=10))


def bills() -> None:
    from django.db import connection

    from inventory.models import Person
    from jobs.hire.adjust import Period, statement
    from jobs.models import Bill, BillRun, Job
    from jobs.selectors.hire_facts import facts_of
    from jobs.selectors.hire_moves import read_world
    from jobs.services.bill_runs import do_run
    from jobs.services.billing import issue_bill

    sent_out()
    until, world, jobs = date(2026, 3, 1), read_world(), list(Job.objects.all())

    def control() -> None:
        for job in jobs:
            statement(facts_of(job, NOW, world).facts, Period(OUT.date(), until), "EUR")

    run = BillRun.objects.create(until=until, asked_at=NOW)
    read = timed(control)
    drafting = timed(lambda: do_run(run=run))
    desk, why = Person.objects.first(), "The month's end."
    issuing = timed(lambda: [issue_bill(bill=bill, by=desk, despite=why) for bill in Bill.objects.drafts()])
    numbers = sorted(Bill.objects.issued().values_list("sequence", flat=True))
    print(f"{connection.vendor}: one synced write {disk_probe():.2f} ms; {CUSTOMERS} customers, {PIECES} pieces each")
    print(f"reading and pricing alone {read:.1f} s; drafting {drafting:.1f} s ({drafting / read:.1f}x)")
    print(f"issuing {issuing:.1f} s ({issuing / read:.2f}x), {1000 * issuing / CUSTOMERS:.0f} ms a bill")
    if numbers != list(range(1, CUSTOMERS + 1)):
        raise SystemExit(f"{len(numbers)} bills for {CUSTOMERS} customers, or a gap in their numbers.")
    print(f"{CUSTOMERS} bills, numbered without a gap, {sum(Bill.objects.values_list('gross', flat=True))} in all")


def main() -> None:
    import django

    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    kept = setup_databases(verbosity=0, interactive=False)
    try:
        bills()
    finally:
        from inventory.models import guard
        from jobs.models import bill_guard

        guard.remove()
        bill_guard.remove()
        teardown_databases(kept, verbosity=0)


if __name__ == "__main__":
    main()
