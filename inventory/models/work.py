"""Long work: a row of its own for each piece of it, and a row for each worker that says it is alive."""

from __future__ import annotations

from django.db import models

from inventory.models.words import Words


class LongWork(models.Model):
    """What every piece of long work carries. A killed worker leaves its task marked running; the beat tells.

    A concrete class adds what was asked and what came out; `inventory.services.work` moves it along.
    """

    class State(Words):
        WAITING = "waiting"
        WORKING = "working"
        ANSWERED = "answered"
        CANCELLED = "cancelled"
        FAILED = "failed"

    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    answered_at = models.DateTimeField(null=True)
    progress = models.PositiveSmallIntegerField(default=0, help_text="Per cent.")
    stage_words = models.CharField(max_length=120, blank=True)
    beat_at = models.DateTimeField(null=True)
    cancel_asked = models.BooleanField(default=False)
    failure = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True

    @property
    def is_over(self) -> bool:
        return self.state in {self.State.ANSWERED, self.State.CANCELLED, self.State.FAILED}


class WorkerBeat(models.Model):
    """One worker process. It renews `beat_at` while it lives and removes its row when it stops in order."""

    worker = models.CharField(max_length=64, unique=True)
    started_at = models.DateTimeField()
    beat_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["-beat_at", "id"]

    def __str__(self) -> str:
        return self.worker
