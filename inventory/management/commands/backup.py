"""One archive with the database and the photos."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.errors import Refused
from inventory.services.archiving.archive import default_path, make_archive


class Command(BaseCommand):
    help = "Write one archive of the database and the photos. Safe while the server runs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--file", type=Path, help="where to; var/backups with the date if absent")

    def handle(self, *, file: Path | None, **_: Any) -> None:
        path = file or default_path()
        try:
            make_archive(path)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"{path} ({path.stat().st_size / 1e6:,.1f} MB). Keep a copy on another machine.")
