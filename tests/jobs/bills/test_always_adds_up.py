"""Whatever comes late, is reversed or put right between bills: together they come to the charge as now known."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.errors import Refused as InventoryRefused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.models import Event
from inventory.services.recording import record
from inventory.services.reports import Report
from jobs.errors import Refused
from jobs.hire.adjust import Period, statement
from jobs.models import Bill, HireCharge, HireTerms, StandDown, Waiver
from jobs.selectors.hire_facts import facts_of
from jobs.services.billing import credit_bill
from jobs.services.hire_notes import withdraw, write_down
from tests.jobs.bills.build import Desk, day, make_desk
from tests.jobs.hire.plain import plain_total

KINDS = (Kind.RECEIVED, Kind.RETURNED, Kind.SET, Kind.CAST, Kind.LOST, Kind.FOUND, Kind.FOUND_DAMAGED)
RATES = st.sampled_from(["0.35", "1.00", "2.335"])
events = st.tuples(st.just("event"), st.sampled_from(KINDS), st.integers(0, 2), st.integers(0, 80), st.integers(0, 12))
reversals = st.tuples(st.just("reverse"), st.integers(0, 30))
new_terms = st.tuples(st.just("terms"), RATES, st.integers(0, 80), st.booleans(), st.integers(0, 2))
charges = st.tuples(st.just("charge"), st.integers(0, 80), st.integers(-900, 900))
withdrawals = st.tuples(st.just("withdraw"), st.integers(0, 30))
waivers = st.tuples(st.just("waive"), st.integers(0, 30))
trucks = st.tuples(st.just("truck"), st.integers(0, 80), st.integers(0, 12))
downs = st.tuples(st.just("stand-down"), st.integers(0, 80), st.sampled_from(["0", "0.5", "2/3"]))
bills = st.tuples(st.just("bill"), st.integers(1, 25))
credits = st.tuples(st.just("credit"))
desk_acts = st.one_of(new_terms, downs, charges, withdrawals, waivers)
acts = st.lists(
    st.one_of(events, events, events, trucks, reversals, desk_acts, desk_acts, bills, bills, credits), max_size=22
)

DOCUMENT = {
    "cleaning": [{"amount": "3.335"}],
    "damage": {"grades": [{"grade": "watch", "amount": "12.00"}]},
    "replacement": [{"amount": "95.00"}],
    "tax": [{"rate": "10", "of": ["hire", "use"]}, {"rate": "0", "category": "O"}],
}


STYLES = (
    {"minimum": {"days": 3}},
    {"minimum": {"amount": "9.00", "per": "delivery"}, "delivery": {"out": "20.00"}},
    {"days_charged": "both", "steps": [{"after_days": 10, "share": "0.5"}], "steps_for": "whole"},
)


def document(rate: str, style: int = 0) -> dict:
    uses = "cheaper" if style == 2 else "added"
    return DOCUMENT | {"rates": [{"day": rate, "week": "2.10", "use": "0.50", "uses": uses}]} | STYLES[style]


def a_day(number: int) -> datetime:
    return datetime(2026, 3, 1, 8, tzinfo=UTC) + timedelta(days=number)


class Play:
    """Acts on one job in the order they were recorded; events may have happened at any time before."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.now, self.until = desk, a_day(0), day(3, 1)
        desk.terms(document("1.00"))
        self.told: list = []

    def event(self, kind: Kind, piece: int, happened: int, late: int) -> None:
        when = a_day(happened) + timedelta(minutes=len(self.told))
        self.now = max(self.now, when + timedelta(days=late))
        place = {Kind.RETURNED: self.desk.yard.yard, Kind.SET: self.desk.yard.pour}.get(kind, self.desk.yard.site)
        data = {"dirty": happened % 2 == 0} if kind == Kind.RETURNED else {}
        data |= {"grade": "watch"} if kind == Kind.FOUND_DAMAGED else {}
        if kind == Kind.CAST:
            group = Group(GroupKind.POUR, self.desk.yard.pour.pk)
            report = Report(kind, when, group=group, seen=Seen.BY_GROUP)
        else:
            pk = None if kind in (Kind.LOST, Kind.FOUND_DAMAGED) else place.pk
            report = Report(kind, when, piece=self.desk.pieces[piece].pk, place=pk, data=data, seen=Seen.TYPED)
        record([report], by=self.desk.yard.hand, now=self.now)
        self.told.append(report)

    def reverse(self, number: int) -> None:
        if self.told:
            target = self.told[number % len(self.told)]
            about = {"piece": target.piece, "group": target.group}
            report = Report(Kind.REVERSED, self.now, target=target.id, seen=Seen.TYPED, **about)
            record([report], by=self.desk.yard.hand, now=self.now)

    def truck(self, happened: int, late: int) -> None:
        """Whatever stands in the yard goes out on a docket."""
        when = a_day(happened) + timedelta(minutes=len(self.told))
        self.now = max(self.now, when + timedelta(days=late))
        try:
            self.desk.out([self.desk.pieces[3]], when, known=self.now)
        except InventoryRefused:
            return  # it is not there to be loaded

    def charge(self, on: int, cents: int) -> None:
        charge = HireCharge(job=self.desk.job, kind="cleaning", description="By hand", on=day_of(on), unit_amount=1)
        charge.quantity = Decimal(cents or 1) / 100
        write_down(charge, by=None, now=self.now)

    def withdraw(self, number: int) -> None:
        rows = [*HireCharge.objects.filter(withdrawn_at=None), *StandDown.objects.filter(withdrawn_at=None)]
        if rows:
            withdraw(rows[number % len(rows)], by=None, now=self.now)

    def waive(self, number: int) -> None:
        """A charge that the record makes, whether it was billed or not."""
        made = [one for one in facts_of(self.desk.job, self.now).facts.charges if not one.id.startswith("desk-")]
        if made:
            one = made[number % len(made)]
            write_down(Waiver(job=self.desk.job, charge=f"{one.kind}:{one.id}", reason="ours"), by=None, now=self.now)

    def terms(self, rate: str, first: int, corrects: bool, style: int) -> None:
        standing = HireTerms.objects.filter(replaced_by=None).order_by("-pk").first()
        when = {"replaces": standing, "holds_from": standing.holds_from} if corrects else {"holds_from": day_of(first)}
        self.desk.terms(document(rate, style), recorded_at=self.now, **when)

    def stand_down(self, first: int, share: str) -> None:
        StandDown.objects.create(
            job=self.desk.job,
            first=day_of(first),
            until=day_of(first + 4),
            share=share,
            reason="rain",
            agreed_by="both",
            recorded_at=self.now,
        )

    def bill(self, days: int) -> None:
        self.now += timedelta(hours=1)
        self.until = max(self.until, self.now.date()) + timedelta(days=days)
        try:
            self.desk.bill(self.until, self.now)
        except Refused as refused:
            assert refused.code == "nothing-to-bill"

    def credit(self) -> None:
        last = Bill.objects.standing().order_by("-pk").first()
        if last is not None:
            credit_bill(bill=last, reason="Put right.", by=None, now=self.now)


def day_of(number: int):
    return a_day(number).date()


def play(script) -> None:
    with transaction.atomic():
        told = Play(make_desk())
        frozen: dict[int, tuple] = {}
        for name, *said in script:
            getattr(told, name.replace("-", "_"))(*said)
            frozen |= {bill.pk: _kept(bill) for bill in Bill.objects.issued() if bill.pk not in frozen}
        told.bill(1)
        known = facts_of(told.desk.job, told.now).facts
        due = statement(known, Period(day(1, 1), told.until), "EUR")
        issued = list(Bill.objects.issued())
        assert sum(bill.net for bill in issued) == due.net, Event.objects.count()
        assert plain_total(known, told.until) == sum(
            line.net for line in due.lines if line.kind in ("hire", "minimum", "use", "loss", "sale")
        )
        assert {bill.pk: _kept(bill) for bill in issued if bill.pk in frozen} == frozen
        transaction.set_rollback(True)


def _kept(bill: Bill) -> tuple:
    return bill.number, bill.gross, bill.facts, tuple(bill.lines.order_by("position").values_list("key", "net", "why"))


@pytest.mark.slow
@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(acts)
def test_bills_and_adjustments_come_to_the_charge_as_now_known(db, script):
    play(script)


def test_a_story_with_everything_in_it_adds_up(db):
    play(
        [
            ("event", Kind.RECEIVED, 0, 1, 0),
            ("event", Kind.RECEIVED, 1, 2, 0),
            ("event", Kind.SET, 0, 3, 0),
            ("bill", 5),
            ("event", Kind.CAST, 0, 4, 9),
            ("event", Kind.RETURNED, 1, 6, 12),
            ("terms", "0.35", 0, True, 0),
            ("truck", 8, 3),
            ("charge", 5, -250),
            ("bill", 9),
            ("reverse", 4),
            ("credit",),
            ("stand-down", 5, "0.5"),
            ("withdraw", 0),
            ("terms", "1.00", 20, False, 1),
            ("event", Kind.LOST, 0, 30, 2),
            ("bill", 3),
            ("event", Kind.FOUND, 0, 31, 10),
            ("event", Kind.RETURNED, 0, 33, 1),
            ("event", Kind.FOUND_DAMAGED, 0, 34, 1),
            ("bill", 4),
            ("waive", 1),
            ("terms", "2.335", 10, False, 2),
        ]
    )
