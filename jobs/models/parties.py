"""Who bills: our own name and details as they stand on bills. Whom we bill stands on the customer."""

from __future__ import annotations

from django.db import models


class PartyDetails(models.Model):
    """What EN 16931 asks of a seller (BG-4) and of a buyer (BG-7), under one set of names."""

    street = models.CharField(max_length=120, blank=True)
    street_more = models.CharField("street, second line", max_length=120, blank=True)
    city = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    region = models.CharField("state or region", max_length=60, blank=True)
    country_code = models.CharField("country", max_length=2, blank=True, help_text="ISO 3166 code, such as AU.")
    tax_id = models.CharField(
        "tax number", max_length=40, blank=True, help_text="VAT or GST number, with its country's letters if it has."
    )
    registration_id = models.CharField("company number", max_length=40, blank=True)
    electronic_address = models.CharField(
        max_length=120, blank=True, help_text="Where electronic invoices are received, if agreed."
    )
    electronic_scheme = models.CharField(
        "scheme of that address", max_length=4, blank=True, help_text="EAS code, such as 0088 for a GLN, EM for email."
    )

    class Meta:
        abstract = True


PARTY_FIELDS = tuple(field.name for field in PartyDetails._meta.local_fields)


class Seller(PartyDetails):
    """One row: our details as bills carry them. Changing it never changes a bill that was issued."""

    name = models.CharField("legal name", max_length=120, blank=True, help_text="Empty: the yard's business name.")
    contact = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    account_name = models.CharField("bank account name", max_length=120, blank=True)
    account_number = models.CharField("bank account (IBAN or number)", max_length=60, blank=True)
    bank_code = models.CharField("bank (BIC or branch code)", max_length=40, blank=True)
    payment_days = models.PositiveSmallIntegerField(
        default=30, help_text="Days to pay, unless the customer has others."
    )
    payment_note = models.CharField(max_length=300, blank=True, help_text="Printed under the totals.")
    bill_prefix = models.CharField(max_length=10, default="B-", help_text="Before a bill's number.")
    credit_prefix = models.CharField(max_length=10, default="C-", help_text="Before a credit note's number.")

    class Meta:
        verbose_name_plural = "seller"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_seller"),
            models.CheckConstraint(
                condition=~models.Q(bill_prefix=models.F("credit_prefix")),
                name="bills_and_credit_notes_differ",
                violation_error_message="Bills and credit notes are numbered apart: give them different beginnings.",
            ),
        ]

    def __str__(self) -> str:
        return self.name or "our details"

    @classmethod
    def current(cls) -> Seller:
        return cls.objects.get_or_create(pk=1)[0]


class NumberSeries(models.Model):
    """The next number of a series. Raising it is the lock: a number is taken only by what is issued with it."""

    series = models.CharField(max_length=10, primary_key=True)
    next = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["series"]
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return f"{self.series}{self.next}"
