"""Make the summaries behind the figures anew, or prove that the ones there equal the ledger."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.services.proving import adrift, differences, sums_that_differ
from inventory.services.summing import sum_everything


class Command(BaseCommand):
    help = "Make the summaries behind the figures from the whole ledger. With --check, compare and change nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="only compare what is stored with the ledger")

    def handle(self, *_args: Any, **options: Any) -> None:
        if not options["check"]:
            self.stdout.write(f"{sum_everything():,} pieces summed.")
            return
        wrong = differences()
        if wrong:
            raise CommandError(f"{len(wrong):,} pieces differ from the ledger, such as {wrong[:5]}. Run sum_figures.")
        if lost := adrift():
            raise CommandError(f"{len(lost):,} pieces are in a wrong lot, such as {lost[:5]}. Run sum_figures.")
        if sums := sums_that_differ():
            raise CommandError(f"{len(sums):,} sums differ from their pieces, such as {sums[:3]}. Run sum_figures.")
        self.stdout.write("The summaries equal the ledger.")
