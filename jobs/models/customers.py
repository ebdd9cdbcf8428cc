"""Who hires, and for which job. A job's site is a place, so that inventory can say what stands there."""

from __future__ import annotations

from django.db import models

from inventory.models.words import Words
from jobs.models.parties import PartyDetails


class Customer(PartyDetails):
    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True, help_text="As written on a docket; bills use the parts below.")
    buyer_reference = models.CharField(
        max_length=60, blank=True, help_text="What they want to read on each bill, such as a cost centre."
    )
    payment_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Empty: as for everyone.")

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class JobQuerySet(models.QuerySet["Job"]):
    def asked(self) -> JobQuerySet:
        return self.filter(stage=Job.Stage.ASKED)

    def under_way(self) -> JobQuerySet:
        return self.filter(stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING])


class Job(models.Model):
    class Stage(Words):
        ASKED = "asked"
        ACCEPTED = "accepted"
        RUNNING = "running"
        BACK = "back"
        DECLINED = "declined"

    HAVING_HIRE = (Stage.ACCEPTED, Stage.RUNNING, Stage.BACK)

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    customer = models.ForeignKey(Customer, models.PROTECT, related_name="jobs")
    site = models.OneToOneField("inventory.Place", models.PROTECT, related_name="job")
    yard = models.ForeignKey(
        "inventory.Place", models.PROTECT, related_name="+", help_text="The yard that sends its gear."
    )
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.ASKED)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True, help_text="When its gear is due back.")
    asked_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True)

    # what the outline of its panels leaves to the job; mm throughout
    corner_allowance_mm = models.PositiveIntegerField(default=0)
    max_overrun_mm = models.PositiveIntegerField(
        default=900, help_text="Clear space beside the stack less what stands in it."
    )
    max_filler_mm = models.PositiveIntegerField(default=50, help_text="Greatest filler in a closed run.")
    form_width_mm = models.PositiveIntegerField(
        default=60,
        help_text="How far a form stands out from the face: of two runs at an inside corner, one loses it.",
    )
    max_pieces_per_run = models.PositiveSmallIntegerField(default=3)
    piece_handling_mm = models.PositiveIntegerField(default=100)
    joint_handling_mm = models.PositiveIntegerField(default=50)
    max_step_in_mm = models.PositiveIntegerField(default=300, help_text="A greater step-in on a stack is flagged.")
    max_overhang_mm = models.PositiveIntegerField(default=0, help_text="A greater overhang on a stack is flagged.")
    crews = models.PositiveSmallIntegerField(default=1, help_text="Each takes its own tools.")
    # programme; the engineer and the maker give cure and strip times
    set_days_before_cast = models.PositiveSmallIntegerField(default=1, help_text="Working days.")
    cure_hours = models.PositiveIntegerField(default=18, help_text="The engineer's figure, in calendar time.")
    strip_days = models.PositiveSmallIntegerField(default=1, help_text="Working days to strip and clean.")
    reset_same_day = models.BooleanField(default=False, help_text="Forms may be set again on the day of stripping.")
    transport_days = models.PositiveSmallIntegerField(default=1, help_text="Working days each way.")
    transfer_days = models.PositiveSmallIntegerField(default=1, help_text="Working days from another of our yards.")
    turnround_days = models.PositiveSmallIntegerField(default=2, help_text="Working days to count and clean.")
    # what a piece takes that is put before others
    clean_first_days = models.PositiveSmallIntegerField(default=1, help_text="Working days to clean what goes first.")
    mend_first_days = models.PositiveSmallIntegerField(
        default=3, help_text="Working days to mend and inspect what goes first."
    )
    # what a crew and a stack can bear when pours are moved
    cycle_days = models.PositiveSmallIntegerField(
        default=0,
        help_text="Least working days from one level of a stack to the next; 0: what cure and strip take.",
    )
    most_panels_a_day = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Empty: as many as the busiest day of the programme."
    )
    most_panels_a_crew = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="In a day; empty for no limit of its own."
    )

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends_on=None) | models.Q(ends_on__gte=models.F("starts_on")),
                name="a_job_does_not_end_before_it_starts",
                violation_error_message="The gear is due back before the job starts: correct one of the two days.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"
