"""Fill an empty database with a made-up yard. Only where POURBACK_DEMO=1 says that nothing real is kept here."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.models import Event, Piece
from jobs.services.demo.examples import write_examples
from jobs.services.demo.filling import fill, is_filled
from jobs.services.demo.people import demo_logins


class Command(BaseCommand):
    help = "Fill an empty database with the demo yard, and say how to sign in."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("This makes accounts with printed passwords. Set POURBACK_DEMO=1 if that is wanted.")
        if is_filled():
            self.stdout.write("The demo is filled already.")
        else:
            today = timezone.localdate()
            fill(today)
            self.stdout.write(f"Filled: {Piece.objects.count():,} pieces, {Event.objects.count():,} events.")
            for path in write_examples(today):
                self.stdout.write(f"A schedule to bring in by hand: {path}")
        for login in demo_logins():
            self.stdout.write(f"  {login.role:<14} {login.username:<9} {login.password}")
