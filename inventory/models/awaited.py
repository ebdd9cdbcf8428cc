"""Goods on order: what comes to a yard from outside, how many and when. A planner counts on it from that day."""

from __future__ import annotations

from django.db import models


class AwaitedQuerySet(models.QuerySet["Awaited"]):
    def open(self) -> AwaitedQuerySet:
        return self.filter(came_at=None, called_off_at=None)


class Awaited(models.Model):
    type = models.ForeignKey("inventory.GearType", models.PROTECT, related_name="awaited")
    place = models.ForeignKey("inventory.Place", models.PROTECT, related_name="+", verbose_name="to")
    quantity = models.PositiveIntegerField()
    due_on = models.DateField("due on")
    leaves_on = models.DateField(
        "goes back on", null=True, blank=True, help_text="For what is hired in: the day it leaves the yard again."
    )
    note = models.CharField(max_length=200, blank=True, help_text="For example the order's number.")
    came_at = models.DateTimeField(null=True, blank=True)
    called_off_at = models.DateTimeField(null=True, blank=True)

    objects = AwaitedQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "id"]
        verbose_name_plural = "awaited"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(quantity__gte=1),
                name="something_is_awaited",
                violation_error_message="Say how many are awaited: one or more.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_at=None) | models.Q(called_off_at=None), name="what_came_was_not_called_off"
            ),
            models.CheckConstraint(
                condition=models.Q(leaves_on=None) | models.Q(leaves_on__gt=models.F("due_on")),
                name="what_is_awaited_comes_before_it_leaves",
                violation_error_message="What is hired in goes back after the day it comes: give a later day, or none.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.type_id} on {self.due_on}"
