"""The worker beside the server: runs what waits in the queue, and says every few seconds that it is alive."""

from __future__ import annotations

import logging
import threading
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, connection
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker

from inventory.services.work import BEAT_SECONDS, end_abandoned, record_beat, sign_off

logger = logging.getLogger("pourback.worker")


class Beating(threading.Thread):
    """Beats beside the work, so that a long solve does not look like a death."""

    def __init__(self, worker: str) -> None:
        super().__init__(name="beat", daemon=True)
        self.worker = worker
        self.stopping = threading.Event()

    def run(self) -> None:
        while not self.stopping.wait(BEAT_SECONDS):
            self.once()
        connection.close()

    def once(self) -> None:
        try:
            record_beat(self.worker)
            if ended := end_abandoned():
                logger.warning("%s pieces of work were left by a worker that died; they are marked failed.", ended)
        except DatabaseError:
            logger.warning("The database did not take the worker's beat; trying again in %s s.", BEAT_SECONDS)
            connection.close()


class Command(BaseCommand):
    help = "Run waiting long work, until stopped (or, with --batch, until none waits)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--batch", action="store_true", help="stop when nothing waits")
        parser.add_argument("--interval", type=float, default=1.0, help="seconds between looks at the queue")

    def handle(self, *, batch: bool, interval: float, **_: Any) -> None:
        name = get_random_string(32)
        beating = Beating(name)
        beating.once()
        beating.start()
        worker = Worker(
            queue_names=["*"],
            interval=interval,
            batch=batch,
            backend_name="default",
            startup_delay=False,
            max_tasks=None,
            worker_id=name,
            excluded_queue_names=[],
        )
        worker.configure_signals()
        try:
            worker.run()
        finally:
            beating.stopping.set()
            beating.join(timeout=5)
            sign_off(name)
