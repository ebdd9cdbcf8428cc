"""Four phones drain 1,000 scans each at once while two people browse lists, on the real server.

    python -m tests.bench.four_phones       DB=pg for PostgreSQL; BENCH_SCANS=200 for fewer

Asks that no request fails, that every scan is stored once, and states how long a list page takes at the 95th
percentile while it is quiet and while the phones drain.
"""

from __future__ import annotations

import json
import os
import socket
import statistics
import subprocess
import sys
import threading
import time
import urllib.request
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

from tests.bench._yard import START, disk_probe, fleet

SCANS = int(os.environ.get("BENCH_SCANS", "1000"))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


PORT = int(os.environ.get("BENCH_PORT", "0")) or _free_port()
HERE = f"http://127.0.0.1:{PORT}"
LISTS = ("/pieces/", "/dockets/", "/review/", "/pieces/?state=held")
QUIET = 10
"""Seconds of browsing alone, to compare with."""


class Browser:
    """A person who opens one list after another and counts how long each takes."""

    def __init__(self, cookie: str, turns: int) -> None:
        self.cookie, self.taken, self.wrong, self.on, self.turns = cookie, list[float](), list[str](), True, turns

    def browse(self) -> None:
        turn = 0
        while self.on or turn < self.turns:
            path = LISTS[turn % len(LISTS)]
            turn += 1
            begun = time.perf_counter()
            try:
                asked = urllib.request.Request(HERE + path, headers={"Cookie": f"sessionid={self.cookie}"})
                with urllib.request.urlopen(asked, timeout=60) as answer:
                    answer.read()
            except OSError as error:
                self.wrong.append(f"{path}: {error}")
            self.taken.append(time.perf_counter() - begun)


def browsing(cookies: list[str], turns: int = 0) -> tuple[list[Browser], list[threading.Thread]]:
    people = [Browser(cookie, turns) for cookie in cookies]
    threads = [threading.Thread(target=person.browse) for person in people]
    for thread in threads:
        thread.start()
    return people, threads


def stopped(people: list[Browser], threads: list[threading.Thread]) -> tuple[list[float], list[str]]:
    for person in people:
        person.on = False
    for thread in threads:
        thread.join()
    return [t for person in people for t in person.taken], [w for person in people for w in person.wrong]


def drain(key: str, scans: list[dict[str, object]], wrong: list[str]) -> None:
    """Fifty at a time, in order, the way a phone empties its queue."""
    for first in range(0, len(scans), 50):
        body = json.dumps({"version": 1, "now": _now(), "scans": scans[first : first + 50]}).encode()
        asked = urllib.request.Request(
            HERE + "/api/scans",
            body,
            {"Authorization": f"Bearer {key}", "Content-Type": "application/json"},
        )
        try:
            with urllib.request.urlopen(asked, timeout=60) as answer:
                answers = json.loads(answer.read())["answers"]
            wrong += [str(each) for each in answers if each["answer"] != "recorded"]
        except OSError as error:
            wrong.append(str(error))


def _now() -> str:
    from django.utils import timezone

    return timezone.now().isoformat()


def queues(docket, pieces) -> list[list[dict[str, object]]]:
    """A thousand scans for each of four phones, each about pieces of its own: out and back."""
    share, made = len(pieces) // 4, []
    for phone in range(4):
        own = pieces[phone * share : (phone + 1) * share]
        scans = []
        for seq in range(SCANS):
            what = "sent" if (seq // share) % 2 == 0 else "returned"
            more = {"docket": docket.pk} if what == "sent" else {"place": docket.from_place_id, "dirty": False}
            at = (START + timedelta(days=2, seconds=seq)).isoformat()
            tag = own[seq % share].label
            scans.append({"id": str(uuid4()), "seq": seq, "happened": at, "what": what, "tag": tag, **more})
        made.append(scans)
    return made


def serving() -> subprocess.Popen[bytes]:
    where = os.environ | {"POURBACK_DATABASE_URL": _address(), "POURBACK_LOG_LEVEL": "ERROR"}
    command = [sys.executable, "-m", "gunicorn", "config.wsgi", "--workers", "2", "--bind", f"127.0.0.1:{PORT}"]
    server = subprocess.Popen(command, env=where, cwd=Path(__file__).parents[2], stderr=subprocess.DEVNULL)
    for _ in range(300):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", PORT)) == 0:
                return server
        time.sleep(0.2)
    raise SystemExit("The server did not start.")


def _address() -> str:
    return os.environ["POURBACK_DATABASE_URL"]


def percentile(taken: list[float]) -> str:
    return f"{1000 * statistics.quantiles(taken, n=20)[-1]:.0f} ms of {len(taken)} pages"


def main() -> int:
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection, connections
    from django.test import Client

    from inventory.models import Event
    from inventory.services.devices import make_device
    from inventory.services.replaying import replay
    from tests.factories import UserFactory

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    print(f"{connection.vendor}; one synced write of 4 KiB: {disk_probe():.2f} ms")
    _yard, docket, pieces = fleet(800)
    keys = [make_device(f"Phone {n}")[1] for n in range(4)]
    cookies = []
    for _ in range(2):
        client = Client()
        client.force_login(UserFactory(roles=["manager"]))
        cookies.append(client.cookies["sessionid"].value)
    scans = queues(docket, pieces)
    connections.close_all()
    server = serving()
    try:
        stopped(*browsing(cookies, turns=2 * len(LISTS)))  # each worker's first pages are slower
        alone = browsing(cookies)
        time.sleep(QUIET)
        quiet, wrong = stopped(*alone)
        people = browsing(cookies)
        phones = [threading.Thread(target=drain, args=(key, own, wrong)) for key, own in zip(keys, scans, strict=True)]
        begun = time.perf_counter()
        for phone in phones:
            phone.start()
        for phone in phones:
            phone.join()
        taken = time.perf_counter() - begun
        busy, more = stopped(*people)
    finally:
        server.terminate()
        server.wait()
    wrong += more
    stored = Event.objects.filter(device__startswith="key-").count()
    found = [str(each) for each in replay().found]
    print(
        f"four phones, {4 * SCANS:,} scans in {taken:.1f} s ({4 * SCANS / taken:,.0f}/s): {stored:,} stored, "
        f"{len(wrong)} errors, {len(found)} disagreements on replay; a list page at the 95th percentile "
        f"{percentile(busy)}, quiet {percentile(quiet)}"
    )
    for each in (wrong + found)[:5]:
        print(f"  {each}")
    return int(bool(wrong or found or stored != 4 * SCANS))


if __name__ == "__main__":
    sys.exit(main())
