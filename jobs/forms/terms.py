"""Hire terms as the desk enters them: plain fields, and lists of one a line."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from inventory.forms.filters import DayInput
from inventory.models import YardSettings
from jobs.calendars.regions import public_holidays
from jobs.errors import BadRequest, Refused
from jobs.forms import term_rows as rows
from jobs.hire.checks import check_terms
from jobs.hire.codec import read, share_text
from jobs.hire.terms import Terms

HOLIDAY_YEARS = 3
FOR = 'One a line, for "all", a kind such as edge form, or a catalogue code.'
STARTS = (("left_yard", "when it leaves the yard"), ("received", "when the site receives it"))
ENDS = (
    ("yard_count", "when it is counted back in the yard"),
    ("collected", "when it is collected from the site"),
    ("off_hire", "at the off-hire date"),
)
DAYS = (("out", "day out"), ("back", "day back"), ("both", "both"), ("neither", "neither"))
WEEKS = (("calendar", "all seven days"), ("six_day", "Monday to Saturday"), ("five_day", "Monday to Friday"))
MONTHS = (("calendar", "calendar month"), ("28", "28 days"), ("30", "30 days"))
CHANGE = (("change", "these terms from that day"), ("keep", "the terms it went out under"))
NOTICE = (("calendar", "calendar days"), ("working", "days of the charged week"))
PER = (
    ("piece", "each piece"),
    ("line", "all of a type on one docket"),
    ("delivery", "all that went out on one docket"),
)
BEYOND = (("beyond", "the days beyond it"), ("whole", "once reached, the whole hire"))
PLAIN = (
    "starts",
    "ends",
    "off_hire_notice_days",
    "off_hire_notice",
    "days_charged",
    "cut_off_out",
    "cut_off_back",
    "week",
    "month",
    "steps_for",
    "running_stays",
)
LISTS = ("rates", "hired_in_costs", "steps", "discounts", "cleaning", "replacement", "sales", "tax")


def _hour(label: str) -> forms.TimeField:
    return forms.TimeField(label=label, required=False, widget=forms.TimeInput(attrs={"type": "time"}))


def _money(label: str) -> forms.DecimalField:
    return forms.DecimalField(label=label, min_value=0, required=False)


class TermsForm(forms.Form):
    name = forms.CharField(max_length=80, help_text="What you call them, such as Yard terms 2027.")
    holds_from = forms.DateField(
        label="They hold from", required=False, widget=DayInput, help_text="Empty: from the beginning."
    )
    agreed_by = forms.CharField(label="Agreed by", max_length=120, required=False)
    rates = rows.RowsField(
        rows.read_rate,
        rows.say_rate,
        label="Hire rates",
        help_text=f"{FOR} Such as: edge form: day 0.35, week 2.10, month 8.00, use 0.50. More words: always week; "
        "whole (odd days make a whole week); time or uses (whichever is less); hired in.",
    )
    starts = forms.ChoiceField(label="Hire starts", choices=STARTS)
    ends = forms.ChoiceField(label="Hire ends", choices=ENDS)
    off_hire_notice_days = forms.IntegerField(label="Notice after off-hire (days)", min_value=0, max_value=366)
    off_hire_notice = forms.ChoiceField(label="Notice is counted in", choices=NOTICE)
    days_charged = forms.ChoiceField(label="Of the day out and the day back, charge", choices=DAYS)
    cut_off_out = _hour("Out at this hour or later, that day is free")
    cut_off_back = _hour("Back by this hour, that day is free")
    week = forms.ChoiceField(label="Days charged", choices=WEEKS)
    holidays = forms.CharField(
        label="Days not charged",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Holidays, one a line, such as 2027-01-26.",
    )
    public_holidays = forms.BooleanField(
        label="And the public holidays of the yard's region",
        required=False,
        help_text="As known today, three years on.",
    )
    month = forms.ChoiceField(label="A month is", choices=MONTHS)
    minimum_days = forms.IntegerField(label="Minimum hire (charged days)", min_value=0)
    minimum_amount = _money("Minimum charge for time")
    minimum_per = forms.ChoiceField(label="Minimum charge is for", choices=PER)
    steps = rows.RowsField(
        rows.read_step, rows.say_step, label="Long hire", help_text="After how many days, what share: 30: 0.9"
    )
    steps_for = forms.ChoiceField(label="A step holds for", choices=BEYOND)
    discounts = rows.RowsField(
        rows.read_discount, rows.say_discount, label="Discounts (per cent)", help_text=f"{FOR} Such as: all: 5"
    )
    hired_in_costs = rows.RowsField(
        rows.read_rate, rows.say_rate, label="What hired-in gear costs us", help_text="As rates; for all days in full."
    )
    delivery_out = _money("A truck out")
    delivery_back = _money("A truck back")
    cleaning = rows.RowsField(rows.read_price, rows.say_price, label="Cleaning a piece", help_text=FOR)
    grades = rows.RowsField(
        rows.read_grade,
        rows.say_grade,
        label="Damage, by grade",
        help_text="One a line: watch: 12.00, or a share of the replacement value: unfit: share 0.6",
    )
    within_days = forms.IntegerField(label="Damage is the last job's if found within (days)", min_value=0)
    replacement = rows.RowsField(rows.read_price, rows.say_price, label="Replacement values", help_text=FOR)
    loss_share = forms.CharField(label="Of a lost piece's value, charge", help_text="1 is all of it, 2/3 two thirds.")
    until_settled = forms.CharField(label="Of the hire, until a loss is settled, charge", help_text="0 is none.")
    sales = rows.RowsField(rows.read_price, rows.say_price, label="Sale prices of used-up goods", help_text=FOR)
    tax = rows.RowsField(
        rows.read_tax,
        rows.say_tax,
        label="Tax",
        help_text="One a line, the first that fits is used: 20 S: hire, use, delivery. Without kinds it is for all.",
    )
    running_stays = forms.ChoiceField(label="Gear out already keeps or changes to", choices=CHANGE)

    def __init__(self, *args: Any, document: dict[str, Any] | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = initial_of(document or {}) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        said["document"] = self._document(said)
        every = [row for name in (*LISTS, "grades") for row in said[name]]
        for code in rows.unknown_types(every):
            self.add_error(None, f"{code} is neither a kind of gear nor a code in the catalogue.")
        self._check(said["document"])
        return said

    def _document(self, said: dict[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {name: said[name] for name in PLAIN if said[name] not in (None, "")}
        for name in ("cut_off_out", "cut_off_back"):
            if name in found:
                found[name] = f"{found[name]:%H:%M}"
        found |= {name: said[name] for name in LISTS if said[name]}
        found["minimum"] = _without_none(
            days=said["minimum_days"], amount=said["minimum_amount"], per=said["minimum_per"]
        )
        found["delivery"] = _without_none(out=said["delivery_out"], back=said["delivery_back"])
        found["damage"] = {"grades": said["grades"], "within_days": said["within_days"]}
        found["loss"] = {"share": said["loss_share"], "until_settled": said["until_settled"]}
        found["holidays"] = self._holidays(said)
        return found

    def _holidays(self, said: dict[str, Any]) -> list[str]:
        found = {line.strip() for line in said["holidays"].splitlines() if line.strip()}
        if said["public_holidays"]:
            yard, first = YardSettings.current(), (said["holds_from"] or date.today()).year  # noqa: DTZ011
            region = "-".join(part for part in (yard.holiday_country, yard.holiday_region) if part)
            try:
                days = public_holidays(region, range(first, first + HOLIDAY_YEARS))
            except Refused as refused:
                self.add_error("public_holidays", refused.sentence)
                days = {}
            found |= {day.isoformat() for day in days}
        return sorted(found)

    def _check(self, document: dict[str, Any]) -> None:
        try:
            terms = read(Terms, document, "")
        except BadRequest as bad:
            self.add_error(None, bad.sentence)
            return
        for finding in check_terms([terms], ""):
            self.add_error(None, f"{finding.path.lstrip('.')} {finding.sentence}")


def _without_none(**values: Any) -> dict[str, Any]:
    return {
        name: value if isinstance(value, (int, str)) else str(value)
        for name, value in values.items()
        if value is not None
    }


def initial_of(document: dict[str, Any]) -> dict[str, Any]:
    """A document as the form shows it; what it leaves out at its stated default."""
    terms: Terms = read(Terms, document, "terms")
    found: dict[str, Any] = {name: getattr(terms, name) for name in PLAIN}
    found |= {name: list(document.get(name, [])) for name in LISTS}
    found |= {"minimum_days": terms.minimum.days, "minimum_amount": terms.minimum.amount or None}
    found |= {"minimum_per": terms.minimum.per, "within_days": terms.damage.within_days}
    found |= {"delivery_out": terms.delivery.out, "delivery_back": terms.delivery.back}
    found["grades"] = list(document.get("damage", {}).get("grades", []))
    found |= {"loss_share": share_text(terms.loss.share), "until_settled": share_text(terms.loss.until_settled)}
    found["holidays"] = "\n".join(sorted(day.isoformat() for day in terms.holidays))
    return found
