"""Quotations, and the long work of drafting and issuing many bills."""

from __future__ import annotations

from django.db import models

from inventory.models.words import Words
from inventory.models.work import LongWork
from jobs.models.bills import money


class Quotation(models.Model):
    """What a job would cost by its load list and programme under given terms. Kept as it was worked out.

    `lines` are its charges (kind, type, quantity, net, why); `facts` what they come from, as on a bill. Accepting it
    records `document` as the job's own terms, so that what is billed later follows what was quoted.
    """

    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="quotations")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    source = models.CharField(max_length=40, help_text="Where the load list came from: the check, or the job's trucks.")
    terms_name = models.CharField(max_length=80)
    document = models.JSONField(default=dict)
    first = models.DateField()
    until = models.DateField(help_text="First day no gear is out.")
    currency = models.CharField(max_length=3)
    lines = models.JSONField(default=list)
    facts = models.JSONField(default=dict)
    net = money()
    tax = money()
    gross = money()
    accepted_at = models.DateTimeField(null=True)
    accepted_by = models.CharField(max_length=120, blank=True, help_text="Who accepted it, for the customer.")
    terms = models.OneToOneField("jobs.HireTerms", models.PROTECT, null=True, related_name="quotation")

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"Quotation {self.pk} for {self.job}"


class BillRun(LongWork):
    """Drafts for every job of one customer, or of all, up to one day; or the issuing of all drafts that are ready.

    A run that issues takes the drafts that were there when it was asked for: what is drafted later nobody has seen.
    """

    class Work(Words):
        DRAFTING = "drafting"
        ISSUING = "issuing"

    work = models.CharField(max_length=8, choices=Work.choices, default=Work.DRAFTING)
    until = models.DateField(help_text="First day not billed; of a run that issues, by the last of its drafts.")
    customer = models.ForeignKey("jobs.Customer", models.PROTECT, null=True, blank=True, related_name="+")
    drafted = models.PositiveIntegerField(default=0)
    issued = models.PositiveIntegerField(default=0)
    left_out = models.JSONField(default=list, help_text="Job and why, for those not drafted or not issued.")

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"{self.work} to {self.until}"

    @property
    def issues(self) -> bool:
        return self.work == self.Work.ISSUING

    @property
    def doing(self) -> str:
        """What it is at: "Drafting J-104"."""
        return f"{self.get_work_display().capitalize()} {self.stage_words}"
