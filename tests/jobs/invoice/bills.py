"""An issued bill as the database keeps it, with gear out and back by dockets, and damage with a photo."""

from __future__ import annotations

import datetime as dt
import io
from decimal import Decimal
from uuid import UUID

from django.core.files.base import ContentFile
from PIL import Image

from inventory.lifecycle.kinds import Kind
from inventory.models import Docket, Photo
from jobs.currencies import minor_units
from jobs.hire.rounding import rounded
from jobs.models import Bill, BillLine, BillTax, Seller
from jobs.services.billing import buyer_details, seller_details
from tests import factories
from tests.factories import NOON

US = {
    "name": "North Yard Hire",
    "street": "1 Slab Lane",
    "city": "Dublin",
    "postcode": "D01 A1B2",
    "country_code": "IE",
    "tax_id": "IE1234567WA",
    "registration_id": "700001",
    "email": "desk@yard.example",
    "account_number": "IE29AIBK93115212345678",
    "payment_note": "By bank transfer, please.",
}
THEM = {
    "street": "2 Panel Street",
    "city": "Cork",
    "postcode": "T12 X3Y4",
    "country_code": "IE",
    "tax_id": "IE7654321WB",
}
OUT, BACK, HURT = (UUID(f"0000000{n}-0000-4000-8000-000000000000") for n in (1, 2, 3))


def our_details(**more: str) -> Seller:
    Seller.objects.update_or_create(pk=1, defaults=US | more)
    return Seller.current()


def a_job():
    return factories.JobFactory(customer=factories.CustomerFactory(**THEM))


def line(bill: Bill, position: int, net: str, tax: str = "23", **more) -> BillLine:
    given = {"key": f"hire:D-1:{position}", "kind": "hire", "description": f"Line {position}", "tax_category": "S"}
    given |= {"why": f"The reason for line {position}."}
    if not Decimal(tax):
        given["tax_category"] = "Z"
    return BillLine(bill=bill, position=position, net=Decimal(net), tax_rate=Decimal(tax), **(given | more))


def issue(job, *lines: dict, number: str = "B-00001", currency: str = "EUR", **more) -> Bill:
    """A bill with these lines, as if issued at noon."""
    places = minor_units(currency)
    rows = [line(Bill(), place, **one) for place, one in enumerate(lines, 1)]
    bases: dict[tuple[Decimal, str], Decimal] = {}
    for row in rows:
        key = (row.tax_rate, row.tax_category)
        bases[key] = bases.get(key, Decimal(0)) + row.net
    taxes = {key: rounded(base * key[0] / 100, places) for key, base in bases.items()}
    net, tax = sum(bases.values(), Decimal(0)), sum(taxes.values(), Decimal(0))
    given = {
        "kind": Bill.Kind.CREDIT_NOTE if net + tax < 0 else Bill.Kind.BILL,
        "number": number,
        "series": number[:2],
        "sequence": int(number[2:]),
        "issued_at": NOON,
        "issued_on": NOON.date(),
        "due_on": NOON.date() + dt.timedelta(days=30),
        "seller": seller_details(Seller.current()),
        "buyer": buyer_details(job.customer),
    }
    draft = more.pop("draft", False)
    bill = Bill.objects.create(
        customer=job.customer,
        job=job,
        period_from=dt.date(2027, 2, 1),
        period_until=dt.date(2027, 3, 1),
        currency=currency,
        known_at=NOON,
        drafted_at=NOON,
        net=net,
        tax=tax,
        gross=net + tax,
        kind=given["kind"],
        facts=more.pop("facts", {}),
        after=more.pop("after", None),
    )
    for row in rows:
        row.bill = bill
    BillLine.objects.bulk_create(rows)
    BillTax.objects.bulk_create(
        BillTax(bill=bill, rate=key[0], category=key[1], base=bases[key], amount=taxes[key]) for key in bases
    )
    for name, value in ({} if draft else given | more).items():
        setattr(bill, name, value)
    bill.save()
    return bill


def whole_bill(job=None, number: str = "B-00001") -> Bill:
    """40 forms out by D-1, one of them back damaged by D-2: hire, damage with its photo, and a delivery."""
    our_details()
    job = job or a_job()
    gear = factories.GearTypeFactory(code="E150-30")
    piece = factories.TagFactory(piece__type=gear, piece__label=f"P7-{job.pk}").piece
    out = factories.DocketFactory(number=f"D-1-{job.pk}", from_place=job.yard, to_place=job.site, left_at=NOON)
    back = factories.DocketFactory(
        number=f"D-2-{job.pk}", direction=Docket.Direction.BACK, from_place=job.site, to_place=job.yard, left_at=NOON
    )
    sent, returned, hurt = (UUID(int=one.int + (job.pk << 64)) for one in (OUT, BACK, HURT))
    factories.EventFactory(id=sent, kind=Kind.SENT, piece=piece, docket=out)
    factories.EventFactory(id=returned, kind=Kind.RETURNED, piece=piece, docket=back)
    factories.EventFactory(id=hurt, kind=Kind.FOUND_DAMAGED, piece=piece)
    photo = Photo(event_id=hurt, stored_at=NOON)
    photo.image.save("bent.jpg", ContentFile(_picture()), save=True)
    stay = {"id": f"{sent}/{piece.pk}", "type": gear.code, "count": 1, "line": out.number, "out": "2027-02-01"}
    stay |= {"back": "2027-02-15", "out_event": str(sent), "back_event": str(returned)}
    facts = {"stays": [stay], "charges": [{"kind": "damage", "id": "S1", "event": str(hurt)}]}
    hire = {"net": "196.00", "type_code": gear.code, "docket": out.number, "quantity": 40, "days": 14, "per": "day"}
    return issue(
        job,
        hire | {"rate": Decimal("0.35")},
        {"net": "25.00", "kind": "damage", "key": "charge:damage:S1", "type_code": gear.code, "docket": out.number},
        {"net": "75.00", "kind": "delivery", "key": "charge:delivery:D-1", "per": "each"},
        number=number,
        facts=facts,
    )


def _picture() -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (400, 300), "#886644").save(file, "JPEG")
    return file.getvalue()
