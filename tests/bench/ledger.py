"""How fast a whole ledger is folded again, beside only reading it, and in how much memory.

    python -m tests.bench.ledger            DB=pg for PostgreSQL; BENCH_EVENTS=100000 for a shorter one

Read the ratios, not the times: the disk's own speed, printed first, varies several fold from hour to hour.
"""

from __future__ import annotations

import os
import resource
from datetime import timedelta
from uuid import UUID

from tests.bench._yard import START, disk_probe, fleet, timed

FLEET = 2000
EVENTS = int(os.environ.get("BENCH_EVENTS", "1000000"))


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
    from inventory.models import Docket, Piece, Place
    from inventory.services.replaying import replay

    yard = _Places(Place.objects.get(name="Home yard"))
    a_long_history(yard, Docket.objects.get(number="B1"), list(Piece.objects.order_by("pk")))
    replay(mend=True)
    outcome = None

    def again() -> None:
        nonlocal outcome
        outcome = replay()

    from inventory.selectors.ledger import events_of_pieces_in_order

    reading = timed(lambda: sum(1 for _ in events_of_pieces_in_order()))
    before = _most_memory()
    taken = timed(again)
    assert outcome is not None and outcome.found == [], outcome.found[:3]
    print(
        f"replay of {outcome.events:,} events of {outcome.pieces:,} pieces: {taken:.1f} s "
        f"({outcome.events / taken:,.0f}/s); only reading them {reading:.1f} s, ratio {taken / reading:.1f}; "
        f"most memory of the process before {before:.0f} MB, after {_most_memory():.0f} MB"
    )


def _most_memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


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
    fleet(FLEET)
    folding_again()


if __name__ == "__main__":
    main()
