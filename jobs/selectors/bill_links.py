"""The address of a link to a bill, and the link of an address."""

from __future__ import annotations

from uuid import UUID

from django.core import signing

from jobs.models.sharing import BillLink

SALT = "pourback.bill-link"


def token_of(link: BillLink) -> str:
    """What the address carries: the row's id with a signature that only this installation can make."""
    return signing.Signer(salt=SALT).sign(link.pk.hex)


def link_of(token: str) -> BillLink | None:
    """The row of an address, whether it still holds or not; None for an address that was never given out."""
    try:
        key = UUID(hex=signing.Signer(salt=SALT).unsign(token))
    except (signing.BadSignature, ValueError):
        return None
    rows = BillLink.objects.select_related("bill__customer", "bill__job__site", "bill__credits")
    return rows.filter(pk=key).first()
