"""A command that reads a JSON request and prints a JSON answer: the surface for spreadsheets and estimators.

Exit 0 when answered; 2 with one sentence on standard error, naming the field, when the request is bad.
"""

from __future__ import annotations

import json
import os
import sys
import time
from argparse import ArgumentTypeError
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from jobs.errors import BadRequest
from jobs.management.clean_output import chatter_to_stderr

BAD_REQUEST = 2
DEFAULT_SECONDS = 60.0


def positive_seconds(text: str) -> float:
    """A number of seconds above 0."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds < float("inf"):
        raise ArgumentTypeError(f"must be a number above 0, not {text}")
    return seconds


class JsonCommand(BaseCommand):
    """Subclasses give `answer`. No database is touched, so nothing is checked before. `hurried` once a number of
    seconds is given."""

    requires_system_checks: Any = []
    hurried = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--request", required=True, metavar="FILE", help="the request as JSON; - for standard input"
        )
        parser.add_argument(
            "--seconds",
            type=positive_seconds,
            metavar="N",
            help="stop after so long, starting up included, with the best plan found, and use a second processor if "
            f"that helps; without it work limits stop the search, and the same request gives the same answer, or "
            f"{DEFAULT_SECONDS:g} seconds do",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        self.hurried = options["seconds"] is not None
        try:
            text = read_text(options["request"])
            with chatter_to_stderr():
                answer = self.answer(text, partial(seconds_left, options["seconds"] or DEFAULT_SECONDS))
        except BadRequest as fault:
            self.stderr.write(str(fault))
            raise SystemExit(BAD_REQUEST) from None
        self.stdout.write(json.dumps(answer))

    def answer(self, text: bytes, left: Callable[[], float]) -> dict[str, Any]:
        """The answer to a request, as JSON values; `left()` is how many seconds there are still."""
        raise NotImplementedError


def seconds_left(seconds: float) -> float:
    """What is left of the seconds asked for now that the program has started."""
    return max(seconds - seconds_since_start(), seconds * 0.5)


def seconds_since_start() -> float:
    """Seconds by the clock since this process began, where the system says so (proc(5): field 22 of stat, in clock
    ticks since the machine started), else those it has computed for."""
    try:
        fields = Path("/proc/self/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        began = int(fields[19]) / os.sysconf("SC_CLK_TCK")
        return time.clock_gettime(time.CLOCK_BOOTTIME) - began
    except (OSError, ValueError, IndexError, AttributeError):
        return time.process_time()


def read_text(name: str) -> bytes:
    """What a file, or standard input for ``-``, holds."""
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as fault:
        raise BadRequest("--request", f"{name} cannot be read: {fault.strerror}.") from None
