"""Links for customers: given out, opened, taken back."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import F

from inventory.models import Person
from jobs.errors import Refused
from jobs.models import Bill
from jobs.models.sharing import BillLink

MOST_DAYS = 366


def make_link(*, bill: Bill, sent_to: str, days: int, by: Person | None, now: datetime) -> BillLink:
    """A link that holds for some days. Raises Refused: "not-issued", "no-name", "days"."""
    if bill.issued_at is None:
        raise Refused("not-issued", "A draft can still change: issue the bill, then give the link.")
    if not sent_to.strip():
        raise Refused("no-name", "Say who gets the link, so that it can be taken back from the right one.")
    if not 1 <= days <= MOST_DAYS:
        raise Refused("days", f"A link holds for 1 to {MOST_DAYS} days.")
    link = BillLink(bill=bill, sent_to=sent_to.strip(), made_at=now, made_by=by, expires_at=now + timedelta(days=days))
    link.full_clean()
    link.save()
    return link


def revoke_link(*, link: BillLink, by: Person | None, now: datetime) -> None:
    """It opens nothing any more, at once. Taking it back again changes nothing."""
    BillLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=now, revoked_by=by)


def note_opened(*, link: BillLink, now: datetime) -> None:
    """That the bill was looked at by this link."""
    BillLink.objects.filter(pk=link.pk).update(opened=F("opened") + 1, last_opened_at=now)
