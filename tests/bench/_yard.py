"""A fleet through the real services, and what the timings share."""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime

import tests.environment  # noqa: F401  (sets the environment before Django reads it)

START = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)


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


def fleet(size: int):
    """A yard of edge forms, a site, and one docket, through the real services."""
    from inventory.models import Docket
    from inventory.services.registering import NewPiece, register_pieces
    from tests.inventory.yard import make_yard

    yard = make_yard()
    new = [NewPiece(yard.form.pk, (f"B{n:06d}",), yard.yard.pk) for n in range(size)]
    pieces = register_pieces(new, by=yard.hand, happened_at=START, now=START)
    docket = Docket.objects.create(
        number="B1", direction="out", from_place=yard.yard, to_place=yard.site, opened_at=START
    )
    return yard, docket, pieces
