"""How fast scans are taken, whole requests, beside the bare rows; and whether people can still browse meanwhile.

    python -m tests.bench.scans             DB=pg for PostgreSQL; BENCH_ROUNDS=30 for more of each

Read the ratios, not the times: the disk's own speed, printed first, varies several fold from hour to hour. Each
figure and its control are measured in turns, so that a noisy spell falls on both.

whole request   from the bytes that arrive to the bytes that leave: session, roles, form token, reading, checking,
                recording, folding, states, answers
bare rows       `bulk_create` of copies of every row that the request stored (batch, submissions, events, members of
                groups), in one transaction at the same durability
bare view       behind the same middleware and the same session, a view that inserts one event row
"""

from __future__ import annotations

import json
import os
import statistics
from collections.abc import Callable, Iterator
from datetime import timedelta
from uuid import uuid4

from tests.bench._yard import START, disk_probe, fleet, timed

ROUNDS = int(os.environ.get("BENCH_ROUNDS", "20"))


def body(scans, device="bench-phone") -> bytes:
    from django.utils import timezone

    now = timezone.now().isoformat()
    return json.dumps({"version": 1, "device": device, "now": now, "scans": scans}).encode()


def _moments() -> Iterator[tuple[int, str]]:
    for seq in range(1, 1 << 40):
        yield seq, (START + timedelta(days=1, seconds=seq)).isoformat()


MOMENTS = _moments()


def scans_of(yard, docket, pieces, size: int) -> Iterator[list[dict[str, object]]]:
    """Out on the docket and back, `size` at a time, round and round these pieces, each later than the last."""
    while True:
        for what in ("sent", "returned"):
            for first in range(0, len(pieces) - size + 1, size):
                some = []
                for piece in pieces[first : first + size]:
                    seq, at = next(MOMENTS)
                    scan = {"id": str(uuid4()), "seq": seq, "happened": at, "what": what, "tag": piece.label}
                    more = {"docket": docket.pk} if what == "sent" else {"place": yard.yard.pk, "dirty": True}
                    some.append(scan | more)
                yield some


def whole(client, scans) -> float:
    sent = body(scans)
    answer = None

    def press() -> None:
        nonlocal answer
        answer = client.post("/api/scans", sent, content_type="application/json")

    taken = timed(press)
    answers = answer.json()["answers"]
    assert [each["answer"] for each in answers] == ["recorded"] * len(scans), answers[:2]
    return taken


def copies(scans) -> Callable[[], None]:
    """Every row the request stored, under new ids, ready to be stored bare; about nobody, so that no state changes."""
    from django.db import transaction

    from inventory.models import Event, GroupMember, Submission

    submissions = list(Submission.objects.filter(event_id__in=[each["id"] for each in scans]))
    events = list(Event.objects.filter(pk__in=[each["id"] for each in scans]))
    batch = submissions[0].batch
    new = {old: uuid4() for old in (each["id"] for each in scans)}
    for row in events:
        row.pk, row.piece_id = new[str(row.pk)], None
    for row in submissions:
        row.pk, row.event_id = None, new[str(row.event_id)]
    for row in (*events, *submissions, batch):
        row._state.adding = True
    batch.pk = None
    members = [GroupMember(piece_id=1, group_kind="docket", group_id=next(GROUPS)) for _ in events]

    def store() -> None:
        with transaction.atomic():
            batch.save(force_insert=True)
            for row in (*events, *submissions):
                row.batch = batch
            Event.objects.bulk_create(events, batch_size=1000)
            Submission.objects.bulk_create(submissions, batch_size=1000)
            GroupMember.objects.bulk_create(members, batch_size=1000)

    return store


def _numbers() -> Iterator[int]:
    yield from range(10_000_000, 1 << 40)


GROUPS = _numbers()


def batches(client, yard, docket, pieces) -> None:
    for size, some in ((1, pieces[:100]), (50, pieces[100:600]), (500, pieces[1000:])):
        full, bare = [], []
        source = scans_of(yard, docket, some, size)
        for _ in range(ROUNDS + 3):
            scans = next(source)
            full.append(whole(client, scans))
            bare.append(timed(copies(scans)))
        taken, stored = statistics.median(full[3:]), statistics.median(bare[3:])
        print(
            f"batch of {size:>3}: {size / taken:>8,.0f} scans/s, {1000 * taken:7.1f} ms the whole request; "
            f"bare rows {1000 * stored:6.1f} ms; speed beside the bare rows {stored / taken:.2f}"
        )


def single(client, yard, docket, pieces) -> None:
    """One scan, whole request, in turns with a bare view."""
    full, plain = [], []
    source = scans_of(yard, docket, pieces[600:700], 1)
    for _ in range(5 * ROUNDS):
        full.append(whole(client, next(source)))
        plain.append(timed(lambda: client.post("/bare", b"{}", content_type="application/json")))
    taken, bare = statistics.median(full[5:]), statistics.median(plain[5:])
    print(
        f"one scan: {1000 * taken:.2f} ms the whole request; bare view that inserts one row {1000 * bare:.2f} ms; "
        f"ratio {taken / bare:.2f}"
    )


def main() -> None:
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client

    from tests.factories import UserFactory

    settings.ROOT_URLCONF = "tests.bench._bare_view"
    call_command("migrate", verbosity=0)
    print(f"{connection.vendor}; one synced write of 4 KiB: {disk_probe():.2f} ms")
    yard, docket, pieces = fleet(2000)
    client = Client()
    client.force_login(UserFactory(roles=["hand"]))
    batches(client, yard, docket, pieces)
    single(client, yard, docket, pieces)
    print(f"one synced write of 4 KiB afterwards: {disk_probe():.2f} ms")


if __name__ == "__main__":
    main()
