"""The demonstration yard: migrated, filled if it is empty, served with a worker beside it until Ctrl-C."""

from __future__ import annotations

import os
import socket
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.management.certificates import lan_addresses, make_certificate
from inventory.management.processes import Server, SideBySide, refuse_a_taken_port
from inventory.models import Piece
from inventory.services.demo_logins import demo_password, ensure_demo_logins


class Command(BaseCommand):
    help = "Serve the demonstration yard."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--lan", action="store_true", help="HTTPS for phones on the same network")

    def handle(self, *, port: int, lan: bool, **_: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demonstration runs with POURBACK_DEMO=1 only; for a real yard use `make serve`.")
        refuse_a_taken_port("0.0.0.0" if lan else "127.0.0.1", port)
        self._prepare()
        password = demo_password(settings.VAR_DIR)
        logins = ensure_demo_logins(password)
        server, addresses, more, environment = self._lan(port) if lan else self._here(port)
        lines = [f"Pourback is at {' and at '.join(addresses)}", ""]
        lines += [f"  {role.label:<14} sign in as {name:<10} password {password}" for role, name in logins.items()]
        lines += ["", *more, "Ctrl-C stops it."]
        side_by_side = SideBySide(os.environ | environment)
        code = side_by_side.run(server, lambda: self.stdout.write("\n" + "\n".join(lines) + "\n"))
        self.stdout.write("Stopped.")
        if code:
            raise CommandError("The server or the worker stopped by itself; the lines above say why.")

    def _prepare(self) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        if not Piece.objects.exists() and "fill_demo" in get_commands():
            self.stdout.write("Filling the demonstration yard ...")
            call_command("fill_demo")

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
