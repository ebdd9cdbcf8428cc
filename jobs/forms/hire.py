"""What the hire desk writes down: stand-downs, off-hire, charges, exchanges, payments, our own details."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Q

from inventory.forms.filters import DayInput
from inventory.models import Piece
from jobs.models import (
    Bill,
    ChargePrice,
    Customer,
    Exchange,
    HireCharge,
    HireTerms,
    Job,
    LossSettled,
    OffHire,
    Payment,
    Seller,
    StandDown,
    Waiver,
)
from jobs.models.parties import PARTY_FIELDS

OTHER_SELLER_FIELDS = (
    "contact",
    "phone",
    "email",
    "account_name",
    "account_number",
    "bank_code",
    "payment_days",
    "payment_note",
    "bill_prefix",
    "credit_prefix",
)


class JobForm(forms.ModelForm):
    """A note on one job; `job` says which, for what it may choose from."""

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.job = job


def tag_field(label: str) -> forms.CharField:
    return forms.CharField(label=label, max_length=40, help_text="Its tag, or your own number.")


class PieceByTag(JobForm):
    """Fields in `tags` are typed as tags and kept as pieces."""

    tags: tuple[str, ...] = ()

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        for name in self.tags:
            typed = str(said.get(name, "")).strip()
            found = Piece.objects.filter(
                Q(label__iexact=typed) | Q(own_number__iexact=typed) | Q(tags__code__iexact=typed)
            ).first()
            if typed and found is None:
                self.add_error(name, f"No piece has the tag {typed}. Read it again, or look it up among the pieces.")
            elif found is not None:
                setattr(self.instance, name, found)
        return said


class StandDownForm(JobForm):
    class Meta:
        model = StandDown
        fields = ("first", "until", "share", "reason", "agreed_by")
        widgets = {"first": DayInput, "until": DayInput}
        labels = {"until": "Charged in full again from"}

    def clean_share(self) -> str:
        said = str(self.cleaned_data["share"]).strip()
        try:
            good = 0 <= Fraction(said) <= 1
        except (ValueError, ZeroDivisionError):
            good = False
        if not good:
            raise forms.ValidationError("Write a share from 0 to 1, such as 0.5 or 2/3.")
        return said

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if said.get("first") and said.get("until") and said["until"] <= said["first"]:
            self.add_error("until", "This is the first full day again, so it comes after the first day.")
        return said


class OffHireForm(JobForm):
    class Meta:
        model = OffHire
        fields = ("on", "type", "quantity", "asked_by")
        widgets = {"on": DayInput}


class ChargeForm(JobForm):
    class Meta:
        model = HireCharge
        fields = ("kind", "description", "on", "quantity", "unit_amount", "tax_rate")
        widgets = {"on": DayInput}
        labels = {"unit_amount": "Price of one", "tax_rate": "Tax (per cent)"}


class PriceForm(JobForm):
    class Meta:
        model = ChargePrice
        fields = ("charge", "unit_amount")
        labels = {"charge": "What is left out", "unit_amount": "Price of one"}

    def clean_unit_amount(self) -> Decimal:
        price: Decimal = self.cleaned_data["unit_amount"]
        if price < 0:
            raise forms.ValidationError("A price is not below nought. Give something back with a charge of its own.")
        return price


class WaiverForm(JobForm):
    class Meta:
        model = Waiver
        fields = ("charge", "reason")
        labels = {"charge": "Charge to leave out"}


class ExchangeForm(PieceByTag):
    tags = ("came_back", "went_out")
    came_back = tag_field("Came back damaged")
    went_out = tag_field("Went out for it")

    class Meta:
        model = Exchange
        fields: tuple[str, ...] = ()


class SettledForm(PieceByTag):
    tags = ("piece",)
    piece = tag_field("Lost piece")

    class Meta:
        model = LossSettled
        fields = ("on",)
        widgets = {"on": DayInput}
        labels = {"on": "Settled on"}


NOTES: dict[str, tuple[str, type[JobForm]]] = {
    "stand-down": ("Agree a stand-down", StandDownForm),
    "off-hire": ("Write down an off-hire request", OffHireForm),
    "charge": ("Add a charge", ChargeForm),
    "exchange": ("Write down an exchange for damage", ExchangeForm),
    "settled": ("Settle a loss", SettledForm),
    "price": ("Price what is left out", PriceForm),
    "waiver": ("Leave a charge out", WaiverForm),
}


class UntilForm(forms.Form):
    until = forms.DateField(label="Bill up to, not counting", widget=DayInput)

    def __init__(self, *args: Any, today: date, after: date | None = None, **kwargs: Any) -> None:
        """To the end of last month; where that is not past `after` (what is billed, or the start), to today's end."""
        until = today.replace(day=1)
        if after is not None and until <= after:
            until = today + timedelta(days=1)
        kwargs["initial"] = {"until": until} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)


class DraftsForm(UntilForm):
    """For everybody with hire on record, or for one of them."""

    customer = forms.ModelChoiceField(
        Customer.objects.filter(jobs__stage__in=Job.HAVING_HIRE).distinct().order_by("name"),
        required=False,
        empty_label="all customers",
    )


class QuoteForm(forms.Form):
    terms = forms.ModelChoiceField(
        HireTerms.objects.filter(replaced_by=None).select_related("customer", "job").order_by("name", "pk"),
        label="Under",
        required=False,
        empty_label="the terms that hold for the job",
    )


class ReasonForm(forms.Form):
    reason = forms.CharField(label="Why it is given back", max_length=200)


class DespiteForm(forms.Form):
    despite = forms.CharField(label="Why it goes out all the same", max_length=200)


class LookedForm(forms.Form):
    looked = forms.BooleanField(label="They were looked at: what is issued can no longer be changed, only given back")


class AcceptedForm(forms.Form):
    accepted_by = forms.CharField(label="Accepted by, for the customer", max_length=120)


class PaymentForm(forms.ModelForm):
    class Meta:
        model = Payment
        fields = ("received_on", "amount", "bill", "reference")
        widgets = {"received_on": DayInput}
        labels = {"bill": "For the bill"}
        help_texts = {"amount": "Below nought where we paid back.", "bill": "Empty: the oldest first."}

    def __init__(self, *args: Any, customer: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bills = Bill.objects.filter(customer=customer).issued().defer("facts")
        self.fields["bill"].queryset = bills  # type: ignore[attr-defined]

    def clean_amount(self) -> Any:
        if not self.cleaned_data["amount"]:
            raise forms.ValidationError("A payment of nought is none.")
        return self.cleaned_data["amount"]


class SellerForm(forms.ModelForm):
    class Meta:
        model = Seller
        fields = ("name", *PARTY_FIELDS, *OTHER_SELLER_FIELDS)
