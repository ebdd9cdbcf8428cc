"""The server and a worker for a real yard, until stopped. Under a process manager run them apart instead."""

from __future__ import annotations

import os
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.management.processes import Server, SideBySide, refuse_a_taken_port


class Command(BaseCommand):
    help = "Serve Pourback with gunicorn, and run the worker beside it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--bind", default="127.0.0.1", help="the address a proxy in front reaches")
        parser.add_argument("--workers", type=int, default=2)

    def handle(self, *, port: int, bind: str, workers: int, **_: Any) -> None:
        refuse_a_taken_port(bind, port)
        said = f"Pourback answers at {bind}:{port}. Put a proxy with HTTPS in front. Ctrl-C stops it."
        side_by_side = SideBySide(os.environ)
        code = side_by_side.run(Server(bind, port, workers=workers), lambda: self.stdout.write(said))
        if code:
            raise CommandError("The server or the worker stopped by itself; the lines above say why.")
