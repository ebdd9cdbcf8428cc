"""Database and photos back from an archive, migrated to this version, and the ledger folded again as a proof."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError

from inventory.errors import Refused
from inventory.models import Event, Piece, WorkerBeat
from inventory.selectors.health import health_now
from inventory.services.archiving.archive import default_path, load_archive, make_archive, read_manifest


class Command(BaseCommand):
    help = "Replace the database and the photos by an archive's. What was here is archived first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--while-running", action="store_true", help="although a worker is alive")

    def handle(self, *, file: Path, while_running: bool, **_: Any) -> None:
        try:
            read_manifest(file)
            self._refuse_while_running(while_running)
            kept = self._keep_what_was_here()
            manifest = load_archive(file)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        except DatabaseError as error:
            what_now = f"What was here is in {kept}: restore that." if kept else "Restore another archive."
            raise CommandError(f"The restore broke off, so the record is not whole. {what_now} ({error})") from error
        call_command("migrate", interactive=False, verbosity=0)
        WorkerBeat.objects.all().delete()
        self.stdout.write(f"Restored as of {manifest['made_at']}.")
        self._say_what_is_here()

    def _refuse_while_running(self, allowed: bool) -> None:
        if not allowed and health_now().get("worker") == "alive":
            raise Refused("running", "A worker is running on this database. Stop the server and the worker first.")

    def _keep_what_was_here(self) -> Path | None:
        try:
            anything = Piece.objects.exists() or Event.objects.exists()
        except DatabaseError:
            return None  # not migrated yet: nothing to keep
        if not anything:
            return None
        path = default_path(why="before-restore")
        make_archive(path)
        self.stdout.write(f"What was here is kept in {path}.")
        return path

    def _say_what_is_here(self) -> None:
        root = Path(settings.MEDIA_ROOT)
        photos = sum(1 for found in root.rglob("*") if found.is_file()) if root.is_dir() else 0
        pieces, events = Piece.objects.count(), Event.objects.count()
        self.stdout.write(f"{pieces:,} pieces, {events:,} events, {photos:,} photo files.")
        if "replay" in get_commands():
            call_command("replay", stdout=self.stdout)
