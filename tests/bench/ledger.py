"""How fast the ledger takes a batch, beside the bare rows; and how fast a whole ledger is folded again.

    python -m tests.bench.ledger            DB=pg for PostgreSQL; BENCH_EVENTS=100000 for a shorter replay

Read the ratios, not the times: the disk's own speed, printed first, varies several fold from hour to hour.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID

import tests.environment  # noqa: F401  (sets the environment before Django reads it)

START = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
BATCH, ROUNDS, FLEET = 500, 12, 2000
EVENTS = int(os.environ.get("BENCH_EVENTS", "1000000"))


def timed(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def disk_probe() -> float:
    """Median milliseconds of one synced write."""
    with tempfile.TemporaryFile() as file:

        def once() -> None:
            file.write(b"x" * 4096)
            file.flush()
            os.fdatasync(file.fileno())

        return 1000 * statistics.median(timed(once) for _ in range(50))


def fleet():
    """A yard of edge forms, a site, and one docket, through the real services."""
    from inventory.models import Docket, Person
    from inventory.services.registering import NewPiece, register_pieces
    from tests.inventory.yard import make_yard

    yard = make_yard()
    new = [NewPiece(yard.form.pk, (f"B{n:06d}",), yard.yard.pk) for n in range(FLEET)]
    pieces = register_pieces(new, by=yard.hand, happened_at=START, now=START)
    docket = Docket.objects.create(
        number="B1", direction="out", from_place=yard.yard, to_place=yard.site, opened_at=START
    )
    return yard, Person.objects.get(), docket, pieces


def batches(yard, docket, pieces):
    """Scans out and back, 500 at a time, each later than the last."""
    from inventory.lifecycle.kinds import Kind
    from inventory.services.reports import Report

    for round_ in range(ROUNDS):
        at = START + timedelta(days=1 + round_)
        first = BATCH * (round_ // 2) % FLEET
        some = pieces[first : first + BATCH]
        out = round_ % 2 == 0
        more = {"docket": docket.pk} if out else {"place": yard.yard.pk, "data": {"dirty": True}}
        kind = Kind.SENT if out else Kind.RETURNED
        yield at, [Report(kind, at + timedelta(seconds=n), seq=n, tag=p.label, **more) for n, p in enumerate(some)]


def bare(events) -> None:
    """The same rows under new ids, stored and nothing else."""
    import uuid

    from django.db import transaction

    from inventory.models import Event

    for event in events:
        event.pk = uuid.uuid4()
        event._state.adding = True
    with transaction.atomic():
        Event.objects.bulk_create(events, batch_size=1000)


def taking_batches() -> None:
    from inventory.models import Event
    from inventory.services.recording import record

    yard, person, docket, pieces = fleet()
    full, plain = [], []
    for at, reports in batches(yard, docket, pieces):
        now = at + timedelta(hours=1)
        full.append(timed(lambda r=reports, n=now: record(r, by=person, device=yard.phone, now=n)))
        rows = list(Event.objects.filter(pk__in=[r.id for r in reports]))
        for row in rows:  # the copies are about nobody, so that they change no state
            row.piece_id = None
        plain.append(timed(lambda rows=rows: bare(rows)))
    taken, stored = statistics.median(full), statistics.median(plain)
    print(
        f"batch of {BATCH} scans, medians of {ROUNDS}: recorded {1000 * taken:.0f} ms ({BATCH / taken:,.0f}/s), "
        f"bare rows {1000 * stored:.0f} ms ({BATCH / stored:,.0f}/s), ratio {taken / stored:.1f}"
    )


def _history(first: int, pieces: list[int], yard, docket: int):
    """Rows of a long history: out, cast by itself, home, cleaned; round and round."""
    kinds = [
        ("sent", None, docket, "{}"),
        ("received", yard.site.pk, docket, "{}"),
        ("set", yard.pour.pk, None, "{}"),
        ("cast", yard.pour.pk, None, "{}"),
        ("stripped", yard.site.pk, None, "{}"),
        ("returned", yard.yard.pk, None, '{"dirty": true}'),
        ("cleaned", yard.bay.pk, None, "{}"),
    ]
    for n in range(EVENTS):
        kind, place, docket_id, data = kinds[(n // len(pieces)) % len(kinds)]
        at = START + timedelta(days=30, seconds=n)
        yield UUID(int=first + n), kind, at, pieces[n % len(pieces)], place, docket_id, data


def a_long_history(yard, docket, pieces) -> None:
    from django.db import connection, transaction

    uuid_as = (lambda u: u.hex) if connection.vendor == "sqlite" else (lambda u: u)
    moment = connection.ops.adapt_datetimefield_value
    sql = (
        "INSERT INTO inventory_event (id, kind, version, happened_at, said_at, recorded_at, device, seq, piece_id, "
        "group_kind, seen, place_id, docket_id, data) "
        "VALUES (%s, %s, 1, %s, %s, %s, 'b', 0, %s, '', 'scanned', %s, %s, %s)"
    )
    with transaction.atomic(), connection.cursor() as cursor:
        rows = []
        for pk, kind, at, piece, place, docket_id, data in _history(1, [p.pk for p in pieces], yard, docket.pk):
            stamp = moment(at)
            rows.append((uuid_as(pk), kind, stamp, stamp, stamp, piece, place, docket_id, data))
            if len(rows) == 20_000:
                cursor.executemany(sql, rows)
                rows = []
        if rows:
            cursor.executemany(sql, rows)


def folding_again() -> None:
    from inventory.models import Docket, Event, Piece, Place
    from inventory.services.replaying import replay

    yard = _Places(Place.objects.get(name="Home yard"))
    a_long_history(yard, Docket.objects.get(number="B1"), list(Piece.objects.order_by("pk")))
    replay(mend=True)
    outcome = None

    def again() -> None:
        nonlocal outcome
        outcome = replay()

    from inventory.selectors.ledger import read

    reading = timed(lambda: sum(1 for _ in read(Event.objects.all())))
    taken = timed(again)
    assert outcome is not None and outcome.found == [], outcome.found[:3]
    print(
        f"replay of {outcome.events:,} events of {outcome.pieces:,} pieces: {taken:.1f} s "
        f"({outcome.events / taken:,.0f}/s); only reading them {reading:.1f} s, ratio {taken / reading:.1f}"
    )


class _Places:
    def __init__(self, yard) -> None:
        from inventory.models import Place

        self.yard = yard
        self.bay, self.site, self.pour = (Place.objects.get(name=n) for n in ("Wash bay", "Mill Lane", "Pour 1"))


def main() -> None:
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0)
    print(f"{connection.vendor}; one synced write of 4 KiB: {disk_probe():.2f} ms")
    taking_batches()
    folding_again()


if __name__ == "__main__":
    main()
