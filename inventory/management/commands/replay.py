from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.models import guard
from inventory.services.replaying import replay

SHOWN = 50


class Command(BaseCommand):
    help = "Fold the whole ledger again and report where the cached state differs. Ends with 1 if it does."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--mend", action="store_true", help="rewrite the cache where it differs")

    def handle(self, *args: Any, mend: bool, **options: Any) -> None:
        outcome = replay(mend=mend)
        self.stdout.write(
            f"{outcome.events:,} events of {outcome.pieces:,} pieces and {outcome.types:,} counted types folded again."
        )
        for each in outcome.found[:SHOWN]:
            self.stdout.write(str(each))
        if len(outcome.found) > SHOWN:
            self.stdout.write(f"and {len(outcome.found) - SHOWN:,} more")
        if fallen := guard.missing():
            raise CommandError(f"The guard of the ledger is down: {', '.join(fallen)}. Run migrate to put it up.")
        if outcome.found and not mend:
            raise CommandError(f"{len(outcome.found):,} disagreements. Run replay --mend to rewrite the cache.")
        self.stdout.write("Mended." if outcome.found else "The cache agrees with the ledger.")
