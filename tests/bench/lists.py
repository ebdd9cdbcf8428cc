"""Every list page in a yard of 100,000 pieces and 1,000,000 events, beside the same page in a yard of 50 pieces.

    python -m tests.bench.lists            DB=pg for PostgreSQL; BENCH_PIECES=10000 for a smaller yard

Rows are stored straight, as the fold would leave them: what is timed is reading them.
"""

from __future__ import annotations

import os
import statistics
import time
from datetime import UTC, datetime, timedelta
from uuid import UUID

import tests.environment  # noqa: F401  (sets the environment before Django reads it)

PIECES = int(os.environ.get("BENCH_PIECES", "100000"))
EVENTS_A_PIECE = 10
CHUNK = 5_000
START = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
ROUNDS = 5


def a_small_catalogue():
    from inventory.lifecycle.kinds import PlaceKind
    from tests import factories

    places = [factories.PlaceFactory(kind=PlaceKind.YARD) for _ in range(2)]
    places += [factories.PlaceFactory(kind=PlaceKind.SITE) for _ in range(8)]
    types = [
        factories.GearTypeFactory(code=f"E{section}-{length}", section_mm=section, length_mm=length)
        for section in (125, 150, 175, 200)
        for length in range(1000, 6001, 1000)
    ]
    return places, types


def pieces(first: int, last: int, places, types) -> None:
    from inventory.models import Piece, Tag

    for start in range(first, last, CHUNK):
        rows = [
            Piece(
                type=types[n % len(types)],
                label=f"B{n:07}",
                standing="held",
                place=places[n % len(places)],
                dirty=n % 7 == 0,
                fitness="unfit" if n % 50 == 0 else "sound",
                uses=n % 30,
                since=START,
                last_happened=START + timedelta(seconds=n),
            )
            for n in range(start, min(last, start + CHUNK))
        ]
        made = Piece.objects.bulk_create(rows)
        Tag.objects.bulk_create(Tag(code=piece.label, piece=piece, fixed_at=START) for piece in made)


def events() -> None:
    from inventory.models import Event, Piece

    rows, number = [], 0
    for piece, place in Piece.objects.values_list("pk", "place").iterator(chunk_size=CHUNK):
        for _ in range(EVENTS_A_PIECE):
            number += 1
            at = START + timedelta(seconds=number)
            rows.append(
                Event(
                    id=UUID(int=number),
                    kind="cleaned",
                    happened_at=at,
                    said_at=at,
                    recorded_at=at,
                    piece_id=piece,
                    place_id=place,
                    seen="scanned",
                )
            )
        if len(rows) >= CHUNK:
            Event.objects.bulk_create(rows)
            rows = []
    Event.objects.bulk_create(rows)


def list_pages():
    """(name, path) of every list page that needs no arguments."""
    from django.urls import reverse

    from inventory.views.access import every_view
    from inventory.views.listing import ListPage

    for _, name, pattern in every_view():
        view = getattr(pattern.callback, "view_class", None)
        if view and issubclass(view, ListPage) and not pattern.pattern.converters:
            yield name, reverse(name)


def asked(client, path: str) -> tuple[float, int]:
    """Median milliseconds of a request, and its queries."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    taken = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        answer = client.get(path)
        taken.append(1000 * (time.perf_counter() - begun))
        assert answer.status_code == 200, (path, answer.status_code)
    with CaptureQueriesContext(connection) as queries:
        client.get(path)
    return statistics.median(taken), len(queries)


def main() -> None:
    import django

    from tests.conftest import pytest_configure

    pytest_configure()
    django.setup()
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client

    from inventory.models.roles import Role
    from tests.factories import UserFactory

    call_command("migrate", verbosity=0)
    client = Client()
    client.force_login(UserFactory(roles=list(Role)))
    places, types = a_small_catalogue()
    pieces(0, 50, places, types)
    asking = dict(list_pages()) | {
        "pieces, searched": "/pieces/?q=B00012",
        "pieces, page 200": "/pieces/?page=200",
    }
    small = {name: asked(client, path) for name, path in asking.items() if name != "pieces, page 200"}
    pieces(50, PIECES, places, types)
    events()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    print(f"{connection.vendor}: {PIECES:,} pieces, {PIECES * EVENTS_A_PIECE:,} events; milliseconds a whole request")
    print(f"{'page':<22}{'small':>9}{'large':>9}{'ratio':>8}{'queries':>9}")
    for name, path in asking.items():
        taken, count = asked(client, path)
        before, before_count = small.get(name, (float("nan"), count))
        assert count == before_count, (name, before_count, count)
        print(f"{name:<22}{before:>9.0f}{taken:>9.0f}{taken / before:>8.1f}{count:>9}")


if __name__ == "__main__":
    main()
