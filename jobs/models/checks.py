"""Cover checks: the question as it was asked, the answer as it was given, and the runs chosen."""

from __future__ import annotations

from django.db import models

from inventory.models.work import LongWork


class CoverCheck(LongWork):
    """The answer is stale when the request built now has another digest."""

    job = models.ForeignKey("jobs.Job", models.CASCADE, related_name="checks")
    digest = models.CharField(max_length=64)
    request = models.JSONField()
    answer = models.JSONField(null=True)
    covered = models.BooleanField(null=True)
    goods = models.JSONField(
        default=list, help_text="What the composed runs need beside the edge forms, against the stock day by day."
    )
    beside = models.JSONField(
        default=dict, help_text="Why it is short, what others have reserved, what runs composed one by one would take."
    )

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"{self.job.code}: {self.state}"


class PlannedRun(models.Model):
    """The pieces chosen for one side of one panel, listed from the seat, in the plan a job was accepted with."""

    panel = models.ForeignKey("jobs.Panel", models.CASCADE, related_name="planned_runs")
    side = models.PositiveSmallIntegerField()
    pieces = models.JSONField(default=list, help_text="Type codes from the seat.")

    class Meta:
        ordering = ["panel", "side"]
        constraints = [models.UniqueConstraint(fields=["panel", "side"], name="a_side_is_planned_once")]

    def __str__(self) -> str:
        return f"{self.panel} side {self.side + 1}"
