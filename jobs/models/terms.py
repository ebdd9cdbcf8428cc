"""Hire terms as they were agreed, each set of them kept for ever as it was written down."""

from __future__ import annotations

from django.db import models
from django.utils import timezone


class HireTerms(models.Model):
    """One set of terms: the yard's own, a customer's, or a job's; the narrowest that holds on a day is used.

    Never changed once recorded. New terms are a new row with its own first day; wrong terms are corrected by a row
    that `replaces` them, as if they had never been. `document` holds the fields of `jobs.hire.terms.Terms`, all but
    id, holds_from, recorded and replaces, which are the columns here.
    """

    name = models.CharField(max_length=80, help_text="What the desk calls them.")
    customer = models.ForeignKey("jobs.Customer", models.PROTECT, null=True, blank=True, related_name="terms")
    job = models.ForeignKey("jobs.Job", models.PROTECT, null=True, blank=True, related_name="terms")
    holds_from = models.DateField(null=True, blank=True, help_text="First day they hold; empty: from the beginning.")
    replaces = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="replaced_by", help_text="Wrong terms they correct."
    )
    document = models.JSONField(default=dict)
    agreed_by = models.CharField(max_length=120, blank=True, help_text="Who agreed them, for the customer.")
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["holds_from", "id"]
        verbose_name_plural = "hire terms"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(customer=None) | models.Q(job=None), name="terms_are_of_a_customer_or_a_job"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def scope(self) -> str:
        """The yard, the customer or the job they are for, in words."""
        if self.job is not None:
            return f"job {self.job.code}"
        return f"customer {self.customer.name}" if self.customer is not None else "the yard"


class Recorded(models.Model):
    """Something the desk wrote down. It is never changed: taking it back is recorded beside it."""

    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        abstract = True


class StandDown(Recorded):
    """Days on which only a share of a job's hire is charged: weather, or whatever was agreed, and by whom."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="stand_downs")
    first = models.DateField("first day")
    until = models.DateField(help_text="First day charged in full again.")
    share = models.CharField("share charged", max_length=20, help_text="0 nothing, 0.5 half, 2/3 two thirds.")
    reason = models.CharField(max_length=120)
    agreed_by = models.CharField(max_length=120, help_text="Who agreed it, on which side.")

    class Meta:
        ordering = ["job", "first", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until__gt=models.F("first")),
                name="a_stand_down_has_at_least_a_day",
                violation_error_message="It ends on the day after its last: give a later day.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job_id}: {self.first} to {self.until} at {self.share}"


class OffHire(Recorded):
    """The customer says gear is no longer wanted from a day on; the desk confirms it with a number.

    Only a confirmed one counts, and only under terms by which hire ends at the off-hire date.
    """

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="off_hires")
    number = models.CharField(max_length=20, unique=True)
    on = models.DateField("off hire on")
    type = models.ForeignKey(
        "inventory.GearType", models.PROTECT, null=True, blank=True, related_name="+", help_text="Empty: all of it."
    )
    quantity = models.PositiveIntegerField(null=True, blank=True, help_text="Empty: all of that type.")
    asked_by = models.CharField(max_length=120, help_text="Who asked, for the customer.")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-on", "-id"]

    def __str__(self) -> str:
        return self.number


class HireCharge(Recorded):
    """Anything charged once that no scan tells of: a delivery by hand, cleaning, something sold, a gift back."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="hire_charges")
    kind = models.CharField(max_length=30, help_text="delivery, cleaning, damage, sale, or a word of your own.")
    description = models.CharField(max_length=200, help_text="What the customer reads.")
    on = models.DateField("day")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, default=1, help_text="Negative gives back.")
    unit_amount = models.DecimalField(max_digits=16, decimal_places=4)
    tax_rate = models.DecimalField(
        max_digits=6, decimal_places=3, null=True, blank=True, help_text="Per cent; empty: as the terms say."
    )

    class Meta:
        ordering = ["job", "on", "id"]

    def __str__(self) -> str:
        return f"{self.description} ({self.on})"


class Exchange(Recorded):
    """A piece given for one that came back damaged: the hire goes on, and its minimum with it."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="exchanges")
    came_back = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="+")
    went_out = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="+")

    class Meta:
        ordering = ["job", "id"]

    def __str__(self) -> str:
        return f"{self.went_out_id} for {self.came_back_id}"


class Waiver(Recorded):
    """A charge that the record would make (for damage, cleaning, a truck) and that the desk decided not to."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="waivers")
    charge = models.CharField(max_length=120, help_text="Kind and id of the charge, as on the line.")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["job", "id"]

    def __str__(self) -> str:
        return f"{self.charge}: {self.reason}"


class ChargePrice(Recorded):
    """A price the desk gives to what is on record and left out: the terms price it not, or it was seen before."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="charge_prices")
    charge = models.CharField(max_length=120, help_text="Kind and id of the charge, as where it is left out.")
    unit_amount = models.DecimalField(max_digits=16, decimal_places=4)

    class Meta:
        ordering = ["job", "id"]

    def __str__(self) -> str:
        return f"{self.charge} at {self.unit_amount}"


class LossSettled(Recorded):
    """A lost piece was paid for or made good: hire at a share, where the terms charge it, ends there."""

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="losses_settled")
    piece = models.ForeignKey("inventory.Piece", models.PROTECT, related_name="+")
    on = models.DateField("day")

    class Meta:
        ordering = ["job", "on", "id"]
        verbose_name_plural = "losses settled"

    def __str__(self) -> str:
        return f"{self.piece_id} on {self.on}"
