"""The figures in a yard of 100,000 pieces and 1,000,000 events: how soon they appear, and that they are exact.

    python -m tests.bench.figures            DB=pg for PostgreSQL; BENCH_PIECES=10000 for a smaller yard
    BENCH_DATABASE_URL=sqlite:////tmp/yard.sqlite3 python -m tests.bench.figures build
                                             only builds it there; `times` and `exact` then measure what was built,
                                             and hold it against the plain recomputation; without a word, all of it

The ledger is stored straight, piece by piece as a yard would have told it; the summaries are then made from it, 500
more events come in through the real recording, and each page is asked for. Every number is held against a plain
recomputation from the lives that the ledger tells (tests/inventory/figures/plain.py).
"""

from __future__ import annotations

import itertools
import os
import random
import sys
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

import tests.environment  # noqa: F401  (sets the environment before Django reads it)

if KEPT := os.environ.get("BENCH_DATABASE_URL", ""):
    os.environ["POURBACK_DATABASE_URL"] = KEPT
PIECES = int(os.environ.get("BENCH_PIECES", "100000"))
CHUNK = 5_000
START = datetime.now(UTC).replace(hour=6, minute=0, second=0, microsecond=0) - timedelta(days=275)
"""So that what happened to the last of them happened about now."""
NEW = 500
LIMIT_S = 2.0


def a_yard():
    from inventory.lifecycle.kinds import PlaceKind
    from inventory.models import YardSettings
    from tests import factories

    settings = YardSettings.current()
    settings.clean_cost = Decimal("1.50")
    settings.save()
    yard = factories.PlaceFactory(kind=PlaceKind.YARD)
    customers = [factories.CustomerFactory() for _ in range(4)]
    jobs = [factories.JobFactory(yard=yard, customer=customers[n % 4]) for n in range(8)]
    types = [
        factories.GearTypeFactory(
            code=f"E{section}-{length}",
            section_mm=section,
            length_mm=length,
            replacement_value=Decimal(length) / 20,
        )
        for section in (125, 150, 175, 200)
        for length in range(1000, 6001, 1000)
    ]
    return yard, jobs, types


def pieces(yard, types) -> list[int]:
    from inventory.models import Piece

    made = []
    for start in range(0, PIECES, CHUNK):
        rows = [
            Piece(
                type=types[n % len(types)],
                label=f"F{n:07}",
                maker_batch=f"B{n % 12}",
                cost=None if n % 10 == 0 else Decimal(100 + n % 50),
                bought_on=date(2020 + n % 6, 1 + n % 12, 1),
                place=yard,
                standing="held",
            )
            for n in range(start, min(PIECES, start + CHUNK))
        ]
        made += [piece.pk for piece in Piece.objects.bulk_create(rows)]
    return made


def history(rng: random.Random, place: int, site: int, next_site: int):
    """(kind, hours from the start, place, data) of one piece: ten events on the average. Half go on to another site."""
    at = rng.randrange(24 * 200)
    yield "registered", at, place, {"uses": rng.randrange(20)}
    at += rng.randrange(24 * 60)
    yield "received", at, site, {}
    for nth in range(2):
        if nth and rng.random() < 0.5:
            site = next_site
            yield "received", at + 12, site, {}
        at += 24
        yield "set", at, site, {}
        at += 24
        yield "cast", at, site, {}
        at += 24
        yield "stripped", at, site, {}
    roll = rng.random()
    if roll < 0.08:
        yield "found damaged", at + 1, None, {"grade": rng.choice(["watch", "unfit"])}
    yield "returned", at + 24, place, {"dirty": roll < 0.9}
    if roll < 0.6:
        yield "cleaned", at + 48, None, {}
    if roll > 0.93:
        yield "retired", at + 72, None, {"how": rng.choice(["worn out", "damaged", "sold"]), "proceeds": "12.50"}
    elif roll > 0.92:
        yield "lost", at + 72, None, {}


def events(made: list[int], yard, jobs) -> int:
    """Stores the ledger, and on the pieces what the pages ask of them: who is dirty, and who is off the books."""
    from django.db import transaction

    from inventory.models import Event, Piece
    from inventory.selectors.rows import as_json, moment_in, uuid_in
    from inventory.services.keeping import EVENT
    from inventory.services.storing import store

    rng, rows, number = random.Random(1), [], 0
    moment, uuid, ends = moment_in(), uuid_in(), {}
    for nth, pk in enumerate(made, start=1):
        here, there = jobs[pk % len(jobs)].site_id, jobs[(pk + 4) % len(jobs)].site_id
        for kind, hours, place, data in history(rng, yard.pk, here, there):
            number += 1
            when = moment(START + timedelta(hours=hours))
            said = {"id": uuid(UUID(int=number)), "kind": kind, "version": 2, "seq": 0, "device": "", "group_kind": ""}
            said |= {"happened_at": when, "said_at": when, "recorded_at": when, "piece_id": pk, "place_id": place}
            said |= {"seen": "scanned", "data": as_json(data)}
            rows.append([said.get(column) for column in EVENT])
            ends[pk] = kind
        if nth % CHUNK == 0 or nth == len(made):
            with transaction.atomic():
                store(Event, EVENT, rows)
            rows = []
    for kind, values in (
        ("returned", {"dirty": True}),
        ("retired", {"standing": "retired", "place": None}),
        ("lost", {"standing": "lost", "place": None}),
    ):
        those = [pk for pk, last in ends.items() if last == kind]
        for start in range(0, len(those), CHUNK):
            Piece.objects.filter(pk__in=those[start : start + CHUNK]).update(**values)
    return number


def new_events(made: list[int], nth: int = 0) -> None:
    """Of five kinds alike, and of other pieces each time, so that no piece grows a history that gear does not have."""
    from inventory.lifecycle.kinds import Kind
    from inventory.models import Place
    from inventory.services.recording import record
    from inventory.services.reports import Report

    now = datetime.now(UTC)
    yard, *sites = Place.objects.order_by("pk").values_list("pk", flat=True)
    chosen = made[nth :: max(1, len(made) // NEW)][:NEW]
    told = zip(chosen, _said(Kind, yard, sites), strict=False)
    record([Report(happened_at=now, piece=pk, **said) for pk, said in told], by=None, now=now)


def _said(kinds, yard: int, sites: list[int]):
    for nth in itertools.count():
        site = sites[nth % len(sites)]
        yield from (
            {"kind": kinds.FOUND_DAMAGED, "data": {"grade": "watch"}},
            {"kind": kinds.CLEANED},
            {"kind": kinds.RECEIVED, "place": site},
            {"kind": kinds.CAST, "place": site},
            {"kind": kinds.RETURNED, "place": yard, "data": {"dirty": True}},
        )


def asked(client, path: str) -> tuple[float, float]:
    """Seconds by the clock, and of this process's own work: on a shared machine the first holds others' work too."""
    begun, worked = time.perf_counter(), time.process_time()
    answer = client.get(path)
    taken = time.perf_counter() - begun, time.process_time() - worked
    assert answer.status_code == 200, (path, answer.status_code)
    return taken


def exact() -> list[str]:
    """Where a sum differs from its plain recomputation; nothing should."""
    from django.utils import timezone

    from inventory.models import Piece
    from inventory.selectors import figures as sums
    from inventory.selectors.figures_of_types import spans_of
    from inventory.selectors.lives import stored_lives
    from inventory.selectors.periods import Period, month_after
    from inventory.services.proving import sums_that_differ
    from inventory.services.summing import lives
    from tests.inventory.figures.plain import Fleet

    told, wrong = {}, []
    everyone = list(Piece.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(everyone), CHUNK):
        some = lives(everyone[start : start + CHUNK])
        if some != stored_lives(everyone[start : start + CHUNK]):
            wrong.append(f"lives from piece {everyone[start]}")
        told |= some
    wrong += sums_that_differ()[:3]
    fleet = Fleet(told)
    today = timezone.localdate()
    period = Period(month_after(today, -11), month_after(today))
    for by in ("type", "batch", "age", "place"):
        found = {
            key: (t.pieces, t.casts, t.damaged, t.unfit, t.lost, t.cleans, t.uncleaned)
            for key, t in sums.tallies(period, by).items()
        }
        if found != fleet.tallies(*period, by):
            wrong.append(f"tallies by {by}")
        told_spans = {key: {tuple(span): n for span, n in some.items()} for key, some in spans_of(by).items()}
        if told_spans != fleet.spans(by):
            wrong.append(f"spans by {by}")
        if by == "place":
            continue
        used = {key: (u.out, u.owned) for key, u in sums.utilisation(period, by).items() if u.owned}
        if used != fleet.utilisation(*period, by):
            wrong.append(f"utilisation by {by}")
        cost = {
            key: (row.pieces, row.held, row.uses, *(getattr(row.spent, name) for name in row.spent.__slots__))
            for key, row in sums.lived(by, Decimal("1.50")).items()
        }
        if cost != fleet.lived(by):
            wrong.append(f"costs by {by}")
    return wrong


def build():
    """The yard with its summaries: (pieces, types)."""
    from django.db import connection

    from inventory.services.summing import sum_everything

    yard, jobs, types = a_yard()
    made = pieces(yard, types)
    begun = time.perf_counter()
    count = events(made, yard, jobs)
    print(f"{len(made):,} pieces, {count:,} events stored in {time.perf_counter() - begun:.0f} s", flush=True)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    begun = time.perf_counter()
    sum_everything()
    print(f"summaries made from the whole ledger in {time.perf_counter() - begun:.0f} s (once, by the worker)")
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return made, types


def measure(made, types) -> int:
    from django.test import Client

    from inventory.models.roles import Role
    from jobs.models import Job
    from tests.factories import UserFactory

    client = Client()
    client.force_login(UserFactory(roles=list(Role)))
    client.get("/types/")  # what the first request of a process loads is not the figures'
    pages = [f"/figures/?by={by}" for by in ("type", "age", "batch", "job", "customer")]
    job = Job.objects.order_by("pk").first()
    pages += [f"/figures/types/{types[0].pk}/", "/figures/one/?by=batch&key=B1"]
    pages += [f"/figures/one/?by=job&key={job.pk}", f"/figures/one/?by=customer&key={job.customer_id}"]
    pages += ["/forecast/", "/inspections/", "/week/", "/cleaning/"]
    slow = []
    print(f"seconds by the clock and of our own work (load {os.getloadavg()[0]:.1f}); each after {NEW} new events")
    begin = random.randrange(max(1, len(made) // NEW - len(pages)))
    for nth, path in enumerate(pages, start=begin):
        new_events(made, nth)
        taken, worked = asked(client, path)
        slow += [path] if taken > LIMIT_S else []
        print(f"{path:<48} {taken:6.2f} {worked:6.2f}", flush=True)
    print(f"over {LIMIT_S} s by the clock: {', '.join(slow) or 'none'}")
    return bool(slow)


def compare() -> int:
    wrong = exact()
    print("every sum equals its plain recomputation" if not wrong else f"NOT EQUAL: {', '.join(wrong)}")
    return bool(wrong)


def built():
    """What `build` left in the database that is kept: (pieces, types)."""
    from inventory.models import GearType, Piece

    return list(Piece.objects.order_by("pk").values_list("pk", flat=True)), list(GearType.objects.order_by("pk"))


def main(words: list[str]) -> int:
    import django

    from tests.conftest import pytest_configure

    pytest_configure()
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0)
    print(connection.vendor)
    made, types = built()
    if not made:
        made, types = build()
    slow = measure(made, types) if not words or "times" in words else 0
    wrong = compare() if not words or "exact" in words else 0
    return slow or wrong


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
