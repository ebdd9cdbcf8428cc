"""Price a hire from a file: JSON in, JSON out, nothing stored."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from decimal import Decimal
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand

from jobs.errors import BadRequest
from jobs.hire.codec import LONGEST_NUMBER, is_text
from jobs.hire.request import answer


class Command(BaseCommand):
    help = (
        "Charges for stays under hire terms. Reads a JSON request (docs/schemas/price_hire.request.json) and "
        "prints a JSON answer (docs/schemas/price_hire.answer.json). Exit 2 with a sentence that names the field "
        "when the request is bad."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--request", required=True, metavar="FILE", help="the request; - for standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            priced = answer(read_json(options["request"]))
        except BadRequest as bad:
            self.stderr.write(bad.sentence)
            sys.exit(2)
        self.stdout.write(json.dumps(priced, indent=2))


def read_json(name: str) -> Any:
    """The request, with its decimals exact. Raises BadRequest ("request") if there is none to read."""
    try:
        text = (
            sys.stdin.buffer.read().decode("utf-8-sig") if name == "-" else Path(name).read_text(encoding="utf-8-sig")
        )
    except (OSError, UnicodeDecodeError) as fault:
        raise BadRequest("request", f"{name} cannot be read ({fault}). Give a JSON file in UTF-8.") from fault
    try:
        return json.loads(
            text,
            parse_float=Decimal,
            parse_int=_whole,
            parse_constant=_no_such_number,
            object_pairs_hook=_once,
        )
    except json.JSONDecodeError as fault:
        sentence = f"is not JSON: {fault.msg} in line {fault.lineno}, column {fault.colno}."
        raise BadRequest("request", sentence) from fault
    except RecursionError as fault:
        raise BadRequest("request", "is nested too deeply to be a request.") from fault


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER:
        raise BadRequest("request", f"holds a number of {len(digits)} digits, which is no amount or count.")
    return int(digits)


def _no_such_number(name: str) -> NoReturn:
    raise BadRequest("request", f"holds {name}, which is not a number in JSON.")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    broken = next((name for name in found if not is_text(name)), None)
    if broken is not None:
        raise BadRequest("request", "holds a name with half a character in it. Write names in whole characters.")
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise BadRequest(twice, "is given twice in one object. Give it once.")
    return found
