"""Panels to cast, and the pours they are cast in."""

from __future__ import annotations

from django.db import models
from django.utils import timezone


class Pour(models.Model):
    """The panels cast in one go. Its place is where gear set in it is said to be."""

    job = models.ForeignKey("jobs.Job", models.CASCADE, related_name="pours")
    name = models.CharField(max_length=60)
    place = models.OneToOneField("inventory.Place", models.PROTECT, related_name="pour")
    cast_on = models.DateField()
    set_on = models.DateField(null=True, blank=True, help_text="Day its forms are set; worked out unless given.")
    free_on = models.DateField(null=True, blank=True, help_text="First day its forms may be set again; likewise.")

    class Meta:
        ordering = ["job", "cast_on", "name"]
        constraints = [models.UniqueConstraint(fields=["job", "name"], name="a_pour_name_is_used_once_in_a_job")]

    def __str__(self) -> str:
        return self.name


class Panel(models.Model):
    """One flat panel. `sides` is its outline in order: length_mm, turn_deg, edge (form, open or solid)."""

    job = models.ForeignKey("jobs.Job", models.CASCADE, related_name="panels")
    pour = models.ForeignKey(Pour, models.CASCADE, related_name="panels")
    mark = models.CharField(max_length=40)
    stack = models.CharField(max_length=50)
    level = models.PositiveSmallIntegerField(default=1)
    thickness_mm = models.PositiveIntegerField()
    section_mm = models.PositiveIntegerField(
        null=True, blank=True, help_text="Height of its edge forms, where it is not the thickness."
    )
    width_mm = models.PositiveIntegerField(null=True, blank=True)
    height_mm = models.PositiveIntegerField(null=True, blank=True)
    sides = models.JSONField(default=list)
    openings = models.JSONField(default=list)
    offset_x_mm = models.IntegerField(null=True, blank=True, help_text="From centred on the panel below.")
    offset_y_mm = models.IntegerField(null=True, blank=True)
    quarter_turns = models.PositiveSmallIntegerField(default=0)
    added_at = models.DateTimeField(
        default=timezone.now, help_text="A panel below that was cast before has no inserts for this one."
    )
    inserts = models.JSONField(
        null=True, blank=True, help_text="Inserts it was cast with: side and mm along it; empty until it is cast."
    )
    seats_at = models.CharField(max_length=5, choices=[("start", "start"), ("end", "end")], default="start")

    class Meta:
        ordering = ["job", "stack", "level", "mark", "id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "mark"], name="a_mark_is_used_once_in_a_job"),
            models.UniqueConstraint(fields=["job", "stack", "level"], name="a_stack_has_one_panel_a_level"),
            models.CheckConstraint(condition=models.Q(level__gte=1), name="levels_count_from_one"),
        ]

    def __str__(self) -> str:
        return self.mark
