"""Bills, credit notes and payments.

A draft may be thrown away and made anew. Issuing freezes the row and its lines: the database itself refuses to
change or remove them (`jobs.models.bill_guard`). What later events change stands on the next bill of the job.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import Q

from inventory.models.words import Words


def money(**options: Any) -> Any:
    """An amount, already rounded to its bill's own currency; four places hold every currency of ISO 4217."""
    return models.DecimalField(max_digits=18, decimal_places=4, **options)


class BillQuerySet(models.QuerySet["Bill"]):
    def drafts(self) -> BillQuerySet:
        return self.filter(issued_at=None)

    def issued(self) -> BillQuerySet:
        """Bills and credit notes that went out, credited ones too."""
        return self.filter(issued_at__isnull=False)

    def standing(self) -> BillQuerySet:
        """What was issued for a period and has not been given back."""
        return self.issued().filter(credits=None, given_back_by=None)


class Bill(models.Model):
    """A bill for one job and period; a credit note where its total is below nought, or where it gives a bill back.

    While a draft: computed from the record as known at `known_at`; `seller` and `buyer` are empty.
    Frozen at issuing, all of it: number, dates, currency, lines, tax, totals; `seller` and `buyer` (name, contact,
    email, phone, the address in parts, tax_id, registration_id, electronic_address and its scheme; the seller's
    account_name, account_number, bank_code, payment_note; the buyer's code and reference) as they were that day;
    `facts`, all that it was computed from (`jobs.hire.stays.Facts` by `jobs.hire.codec`): stays, uses,
    stand-downs, charges, and every set of terms.
    What gives a bill back whole names it in `credits`, has each line and tax of it with the sign turned, and no
    facts of its own. A credit note without `credits` is a period whose adjustments outweigh it; `after` is then the
    bill it amends.
    Amounts are signed as they change the account: on a credit note they are below nought.
    """

    class Kind(Words):
        BILL = "bill"
        CREDIT_NOTE = "credit note"

    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.BILL)
    series = models.CharField(max_length=10, blank=True)
    sequence = models.PositiveIntegerField(null=True)
    number = models.CharField(
        max_length=30, unique=True, null=True, blank=True, help_text="Given at issuing, without gaps."
    )
    customer = models.ForeignKey("jobs.Customer", models.PROTECT, related_name="bills")
    job = models.ForeignKey("jobs.Job", models.PROTECT, related_name="bills")
    period_from = models.DateField()
    period_until = models.DateField(help_text="First day not billed.")
    currency = models.CharField(max_length=3)
    known_at = models.DateTimeField(help_text="The record as it was known then is what was billed.")
    drafted_at = models.DateTimeField()
    drafted_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    after = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="+", help_text="The job's last bill or credit note before it."
    )
    credits = models.OneToOneField("self", models.PROTECT, null=True, related_name="given_back_by")
    reason = models.CharField(max_length=200, blank=True, help_text="Why a credit note was given.")
    issued_at = models.DateTimeField(null=True)
    issued_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")
    issued_on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    net = money(default=0)
    tax = money(default=0)
    gross = money(default=0)
    facts = models.JSONField(default=dict)
    seller = models.JSONField(default=dict)
    buyer = models.JSONField(default=dict)
    warnings = models.JSONField(default=list)
    left_out = models.JSONField(default=list, help_text="What is on record and not charged: key, what, why, price.")
    stood_open = models.JSONField(default=list, help_text="What still stood open when it was issued all the same.")
    despite = models.CharField(max_length=200, blank=True, help_text="Why it was issued all the same.")

    objects = BillQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["series", "sequence"], name="a_number_is_given_once"),
            models.UniqueConstraint(fields=["job"], condition=Q(issued_at=None), name="a_job_has_one_draft"),
            models.CheckConstraint(
                condition=Q(issued_at=None, number=None) | Q(issued_at__isnull=False, number__isnull=False),
                name="a_bill_is_numbered_when_it_is_issued",
            ),
            models.CheckConstraint(
                condition=Q(kind="bill", gross__gte=0) | Q(kind="credit note", gross__lt=0),
                name="a_credit_note_is_below_nought",
            ),
            models.CheckConstraint(
                condition=Q(period_until__gt=models.F("period_from")), name="a_bill_is_for_at_least_a_day"
            ),
        ]
        indexes = [
            # what was billed before on a job; a customer's statement
            models.Index(fields=["job", "issued_at"], name="bill_of_a_job"),
            models.Index(fields=["customer", "issued_on"], name="bill_of_a_customer"),
        ]

    def __str__(self) -> str:
        return self.number or "draft"

    @property
    def state(self) -> str:
        """draft, issued or credited."""
        if self.issued_at is None:
            return "draft"
        return "credited" if hasattr(self, "given_back_by") else "issued"

    @property
    def last_day(self) -> date:
        """The last day billed."""
        return self.period_until - timedelta(days=1)

    @property
    def is_credit_note(self) -> bool:
        return self.kind == self.Kind.CREDIT_NOTE


class BillLine(models.Model):
    """One row of a bill. Frozen with it.

    `key` is the charge's own id ("hire:D-00012:E150-30"), the same on every bill of the job. A charge that also
    adjusts earlier bills stands as two rows with one key: `part` "this period", then "adjustment", whose `causes`
    name the events. `net` is rounded to the currency; the amount is not always quantity x rate (days, weeks and
    shares come between: `why` says how), so a document that must multiply gives one unit at `net`.
    """

    class Part(Words):
        THIS_PERIOD = "this period"
        ADJUSTMENT = "adjustment"

    bill = models.ForeignKey(Bill, models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    key = models.CharField(max_length=160)
    part = models.CharField(max_length=12, choices=Part.choices, default=Part.THIS_PERIOD)
    kind = models.CharField(max_length=30, help_text="hire, use, loss, sale, delivery, cleaning, damage ...")
    type_code = models.CharField(max_length=40, blank=True)
    description = models.CharField(max_length=240)
    docket = models.CharField(max_length=20, blank=True, help_text="Number of the docket the gear went out on.")
    quantity = models.DecimalField(max_digits=14, decimal_places=3, default=1)
    days = models.PositiveIntegerField(null=True, help_text="Charged days of each piece to the period's end, if alike.")
    uses = models.PositiveIntegerField(null=True)
    rate = models.DecimalField(max_digits=20, decimal_places=8, null=True)
    per = models.CharField(max_length=10, blank=True, help_text="day, week, month, mix, use, piece or each.")
    charged = money(default=0, help_text="The whole charge to the period's end.")
    billed_before = money(default=0)
    net = money()
    tax_rate = models.DecimalField(max_digits=6, decimal_places=3, default=0)
    tax_category = models.CharField(max_length=2, default="S", help_text="UNCL 5305, as EN 16931 uses it.")
    why = models.TextField(blank=True)
    causes = models.JSONField(default=list)
    stays = models.JSONField(default=list, help_text="Ids of the stays it is for, as in the bill's facts.")
    parts = models.JSONField(default=list, help_text="Each stay's days, units and exact amount.")
    cost = money(null=True, help_text="What hired-in gear cost us by the same days.")

    class Meta:
        ordering = ["bill", "position"]
        constraints = [models.UniqueConstraint(fields=["bill", "position"], name="a_bill_numbers_its_lines")]
        indexes = [models.Index(fields=["key"], name="bill_line_by_charge")]

    def __str__(self) -> str:
        return f"{self.bill}/{self.position}"


class BillTax(models.Model):
    """The tax of one rate and category: on the sum of its lines, once. Frozen with the bill."""

    bill = models.ForeignKey(Bill, models.CASCADE, related_name="taxes")
    rate = models.DecimalField(max_digits=6, decimal_places=3)
    category = models.CharField(max_length=2)
    base = money()
    amount = money()

    class Meta:
        ordering = ["bill", "rate", "category"]
        constraints = [
            models.UniqueConstraint(fields=["bill", "rate", "category"], name="a_tax_rate_stands_once_on_a_bill")
        ]

    def __str__(self) -> str:
        return f"{self.category} {self.rate} %"


class Payment(models.Model):
    """Money received (or, negative, paid back). Without a bill it pays the customer's oldest first."""

    customer = models.ForeignKey("jobs.Customer", models.PROTECT, related_name="payments")
    bill = models.ForeignKey(Bill, models.PROTECT, null=True, blank=True, related_name="payments")
    received_on = models.DateField()
    amount = money()
    currency = models.CharField(max_length=3)
    reference = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("inventory.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-received_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(amount=Decimal(0)),
                name="a_payment_is_not_nought",
                violation_error_message="A payment of nought is none: give its amount; one paid back is below nought.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} on {self.received_on}"
