"""Two panel schedules to bring in by hand: one that the stock covers, one that it does not."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings

from jobs.services.demo.jobs import working

HEADINGS = ("mark", "width", "height", "thickness", "stack", "level", "pour date", "pour")
COVERED_FROM, SHORT_FROM = 16, 20
# widths of the stacks cast together; every panel 175 and 3,400 high
COVERED = (6350, 6350, 6350, 5700, 5700, 5700, 4650, 4650)
# a long wall cast in one go: more metres of 200 than both yards own together
SHORT = (8400,) * 22


def covered_rows(today: date) -> list[dict[str, str]]:
    return _rows(COVERED, 3400, 175, working(today + timedelta(days=COVERED_FROM)), levels=2)


def short_rows(today: date) -> list[dict[str, str]]:
    return _rows(SHORT, 4200, 200, working(today + timedelta(days=SHORT_FROM)), levels=1)


def _rows(widths: tuple[int, ...], height: int, thickness: int, first: date, levels: int) -> list[dict[str, str]]:
    rows = []
    for level in range(1, levels + 1):
        day = working(first + timedelta(days=7 * (level - 1)))
        for stack, width in enumerate(widths, start=1):
            values = (f"W{stack}-{level}", width - 100 * (level - 1), height, thickness, f"S{stack}", level, day, level)
            row = dict(zip(HEADINGS, map(str, values), strict=True))
            rows.append(row | {"pour": f"Pour {level}"})
    return rows


def write_examples(today: date) -> list[Path]:
    folder = Path(settings.VAR_DIR) / "demo"
    folder.mkdir(parents=True, exist_ok=True)
    return [
        _write(folder / "schedule_covered.csv", covered_rows(today)),
        _write(folder / "schedule_short.csv", short_rows(today)),
    ]


def _write(path: Path, rows: list[dict[str, str]]) -> Path:
    with path.open("w", newline="") as out:
        writer = csv.DictWriter(out, HEADINGS)
        writer.writeheader()
        writer.writerows(rows)
    return path
