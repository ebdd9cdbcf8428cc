"""Checks whether stock covers a cut list: JSON in, JSON out, as docs/schemas/check_cover.*.json say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from jobs.management.json_command import JsonCommand
from jobs.planning.cover import check
from jobs.planning.request_json import read_request


class Command(JsonCommand):
    help = "Does the stock on hand cover the runs asked for, day by day? Prints the plan and its proof as JSON."

    def answer(self, text: bytes, left: Callable[[], float]) -> dict[str, Any]:
        request = read_request(text)
        return check(request, seconds=left(), alone=not self.hurried).as_json()
