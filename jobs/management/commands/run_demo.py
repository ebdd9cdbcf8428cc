"""The demonstration yard: migrated, filled if it is empty, served with a worker beside it until Ctrl-C."""

from __future__ import annotations

import os
import socket
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.management.certificates import lan_addresses, make_certificate
from inventory.management.processes import Server, SideBySide, refuse_a_taken_port
from jobs.services.demo.examples import write_examples
from jobs.services.demo.filling import is_filled
from jobs.services.demo.people import demo_logins


class Command(BaseCommand):
    help = "Serve the demonstration yard."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--lan", action="store_true", help="HTTPS for phones on the same network")

    def handle(self, *, port: int, lan: bool, **_: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demonstration runs with POURBACK_DEMO=1 only; for a real yard use `make serve`.")
        refuse_a_taken_port("0.0.0.0" if lan else "127.0.0.1", port)
        today = timezone.localdate()
        try:
            self._prepare()
        except KeyboardInterrupt:
            raise CommandError("Stopped before the yard was ready; the next start goes on from here.") from None
        server, addresses, more, environment = self._lan(port) if lan else self._here(port)
        lines = [f"Pourback is at {' and at '.join(addresses)}", "", *_logins()]
        lines += ["", "Panel schedules to bring in by hand:", *(f"  {path}" for path in write_examples(today))]
        lines += ["", *more, "Ctrl-C stops it."]
        side_by_side = SideBySide(os.environ | environment)
        code = side_by_side.run(server, lambda: self.stdout.write("\n" + "\n".join(lines) + "\n"))
        self.stdout.write("Stopped.")
        if code:
            raise CommandError("The server or the worker stopped by itself; the lines above say why.")

    def _prepare(self) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        if not is_filled():
            self.stdout.write("Filling the demonstration yard ...")
            call_command("fill_demo", stdout=StringIO())

    def _here(self, port: int) -> tuple[Server, list[str], list[str], dict[str, str]]:
        environment = {"POURBACK_INSECURE": "1"}
        return Server("127.0.0.1", port), [f"http://localhost:{port}"], [], environment

    def _lan(self, port: int) -> tuple[Server, list[str], list[str], dict[str, str]]:
        hosts = [*lan_addresses(), "localhost", "127.0.0.1", socket.gethostname()]
        made = make_certificate(settings.VAR_DIR / "lan", hosts)
        addresses = [f"https://{host}:{port}" for host in hosts[:-2]]
        more = [
            "The certificate is this machine's own, so a phone warns once: look at its fingerprint, then go on.",
            f"  SHA-256 {made.fingerprint}",
        ]
        server = Server("0.0.0.0", port, str(made.certificate), str(made.key))
        return server, addresses, more, {"POURBACK_HOSTS": ",".join(hosts)}


def _logins() -> list[str]:
    logins = demo_logins()
    if not logins:
        return ["The passwords were made elsewhere; `manage.py changepassword manager` sets one anew."]
    return [f"  {each.role:<14} sign in as {each.username:<9} password {each.password}" for each in logins]
