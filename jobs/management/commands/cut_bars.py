"""Cuts pieces from mill bars: JSON in, JSON out, as docs/schemas/cut_bars.*.json say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from jobs.management.json_command import JsonCommand
from jobs.planning.cut_bars import cut_bars
from jobs.planning.cutting import read_cut_request


class Command(JsonCommand):
    help = "Cuts pieces from bars at fewest bars, least length or least cost. Prints the cutting list as JSON."

    def answer(self, text: bytes, left: Callable[[], float]) -> dict[str, Any]:
        request = read_cut_request(text)
        return cut_bars(request, seconds=left()).as_json()
