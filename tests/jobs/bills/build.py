"""A yard with a customer, a job and terms, and one-line ways to send, bring back and bill. March 2026, UTC."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime

from inventory.lifecycle.kinds import Kind, Seen
from inventory.models import Docket, Piece
from inventory.services import docket_scans, dockets
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.tags.code import with_check
from jobs.models import Bill, Customer, HireTerms, Job, Seller
from jobs.services.billing import draft_bill, issue_bill
from tests.inventory.yard import Yard, make_yard

A_DAY = {"rates": [{"day": "1.00"}], "tax": [{"rate": "10"}]}


def day(month: int, number: int) -> date:
    return date(2026, month, number)


def at(month: int, number: int, hour: int = 8) -> datetime:
    return datetime(2026, month, number, hour, tzinfo=UTC)


@dataclass
class Desk:
    """Everything the hire desk works with, on one job."""

    yard: Yard
    job: Job
    pieces: list[Piece] = field(default_factory=list)

    def terms(self, document: dict, **more) -> HireTerms:
        more.setdefault("recorded_at", at(1, 1))
        return HireTerms.objects.create(name="terms", document=document, **more)

    def out(self, pieces: list[Piece], when: datetime, known: datetime | None = None) -> Docket:
        """Loaded, left and received on a docket; recorded at once or when it came to be known."""
        now = known or when
        docket = dockets.open_docket(from_place=self.yard.yard, to_place=self.job.site, by=self.yard.hand, now=now)
        for piece in pieces:
            scan = docket_scans.Scan(piece=piece, by=self.yard.hand, at=when)
            docket_scans.load(docket, scan, now=now)
        signed = {"by": self.yard.hand, "signed_by": "A driver"}
        dockets.leave(docket, vehicle="T1", driver="A driver", at=when, now=now, **signed)
        dockets.receive(docket, at=when, now=now, **signed)
        return dockets.close(docket, now=now)

    def tell(self, kind: Kind, piece: Piece, when: datetime, known: datetime | None = None, **said):
        report = Report(kind, when, piece=piece.pk, seen=Seen.TYPED, **said)
        record([report], by=self.yard.hand, now=known or when)
        return report.id

    def back(self, piece: Piece, when: datetime, known: datetime | None = None, **data):
        return self.tell(Kind.RETURNED, piece, when, known, place=self.yard.yard.pk, data=data)

    def bill(self, until: date, known: datetime) -> Bill:
        """Issued whatever stands open: these stories are about what comes late."""
        return issue_bill(bill=self.draft(until, known), by=self.yard.hand, despite="It is the month's end.", now=known)

    def draft(self, until: date, known: datetime) -> Bill:
        return draft_bill(job=self.job, until=until, by=None, now=known)


def make_desk(codes: tuple[str, ...] = ("ABCDEF22", "ABCDEF23", "ABCDEF24", "ABCDEF25")) -> Desk:
    yard = make_yard()
    customer = Customer.objects.create(code="C1", name="A customer", street="1 Road", city="Town", country_code="AU")
    job = Job.objects.create(
        code="J1",
        name="A job",
        customer=customer,
        site=yard.site,
        yard=yard.yard,
        stage=Job.Stage.RUNNING,
        starts_on=day(3, 1),
        asked_at=at(2, 1),
    )
    Seller.objects.create(pk=1, name="A yard", street="2 Road", city="Town", country_code="AU", payment_days=14)
    new = [NewPiece(yard.form.pk, (with_check(code),), yard.yard.pk) for code in codes]
    pieces = register_pieces(new, by=yard.hand, happened_at=at(2, 1), now=at(2, 1))
    return Desk(yard, job, pieces)


def rows(bill: Bill) -> list[tuple[str, str, str]]:
    """What a bill says, shortly: kind, part, net."""
    return [(row.kind, row.part, f"{row.net:.2f}") for row in bill.lines.order_by("position")]
