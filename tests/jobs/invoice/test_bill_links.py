"""A customer's link: one bill, its dockets and return records, and nothing else; until it expires or is taken back."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core import signing
from django.test import Client
from django.urls import reverse

from inventory.models import Docket
from inventory.views.access import every_view
from jobs.errors import Refused
from jobs.models import BillLink
from jobs.selectors.bill_links import SALT, token_of
from jobs.selectors.bill_sheet import BillSheet
from jobs.services.bill_links import make_link, revoke_link
from tests import factories
from tests.factories import NOON
from tests.jobs.invoice.bills import a_job, issue, our_details, whole_bill

pytestmark = pytest.mark.django_db
SHARED = ["shared-bill", "shared-bill-paper", "shared-bill-table", "shared-bill-invoice"]


@pytest.fixture(autouse=True)
def _scratch(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now(monkeypatch):
    """The pages' clock, to be moved."""
    from django.utils import timezone

    clock = [NOON]
    monkeypatch.setattr(timezone, "now", lambda: clock[0])
    return clock


def a_link(bill, days=30, at=NOON) -> BillLink:
    return make_link(bill=bill, sent_to="Ann of Flat Walls", days=days, by=None, now=at)


def get(name, *arguments):
    return Client().get(reverse(name, args=arguments))


def bodies(answer) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


# What it opens


def test_it_shows_the_bill_with_its_reasons_its_returns_and_its_photos(now):
    bill = whole_bill()
    said = get("shared-bill", token_of(a_link(bill))).content.decode()
    out, back = f"D-1-{bill.job_id}", f"D-2-{bill.job_id}"
    for wanted in ("364.08", "The reason for line 1.", out, back, "P7", "1 Feb 2027", "15 Feb 2027", "<img"):
        assert wanted in said, wanted


def test_each_paper_opens_without_an_account(now):
    token = token_of(a_link(whole_bill()))
    assert get("shared-bill-paper", token).content[:5] == b"%PDF-"
    assert b"196.00" in bodies(get("shared-bill-table", token))
    assert b"<ubl:Invoice" in get("shared-bill-invoice", token).content


def test_it_opens_the_dockets_and_photos_of_its_bill(now):
    bill = whole_bill()
    token, sheet = token_of(a_link(bill)), BillSheet(bill)
    assert [one.number for one in sheet.dockets] == [f"D-1-{bill.job_id}", f"D-2-{bill.job_id}"]
    for docket in sheet.dockets:
        assert get("shared-docket", token, docket.number).status_code == 200
    assert get("shared-photo", token, sheet.photos[0].photo.pk).headers["Content-Type"] == "image/jpeg"


def test_a_credit_note_shows_what_it_gives_back(now):
    from jobs.services.billing import credit_bill

    note = credit_bill(bill=whole_bill(), reason="Wrong job", by=None)
    said = get("shared-bill", token_of(a_link(note))).content.decode()
    assert "to your credit" in said and "Gives back" in said and "B-00001" in said


# And nothing else


def test_no_other_bill_docket_or_photo_is_reached_by_it(now):
    mine, other = whole_bill(), whole_bill(number="B-00002")
    token, theirs = token_of(a_link(mine)), BillSheet(other)
    assert {other.number, f"D-1-{other.job_id}", other.customer.name}.isdisjoint(
        get("shared-bill", token).content.decode().split()
    )
    for docket in theirs.dockets:
        assert get("shared-docket", token, docket.number).status_code == 404
    assert get("shared-photo", token, theirs.photos[0].photo.pk).status_code == 404


def test_a_docket_of_the_same_job_that_carried_nothing_on_the_bill_stays_shut(now):
    bill = whole_bill()
    factories.DocketFactory(number="D-9", from_place=bill.job.yard, to_place=bill.job.site)
    assert get("shared-docket", token_of(a_link(bill)), "D-9").status_code == 404


def test_a_docket_named_on_the_bill_that_never_touched_its_site_stays_shut(now):
    bill = whole_bill()
    elsewhere = factories.PlaceFactory()
    Docket.objects.filter(number=f"D-2-{bill.job_id}").update(from_place=elsewhere)
    assert get("shared-docket", token_of(a_link(bill)), f"D-2-{bill.job_id}").status_code == 404


def test_its_pages_lead_nowhere_but_to_its_own(now):
    import re

    bill = whole_bill()
    token = token_of(a_link(bill))
    pages = [get("shared-bill", token), get("shared-docket", token, f"D-1-{bill.job_id}")]
    links = {found for page in pages for found in re.findall(r'(?:href|src|action)="([^"]*)"', page.content.decode())}
    own = f"/shared/{token}/"
    assert {one for one in links if not one.startswith((own, "/static/", "mailto:"))} == set()


def test_an_open_link_opens_no_page_of_ours(now):
    client, token = Client(), token_of(a_link(whole_bill()))
    client.get(reverse("shared-bill", args=[token]))
    assert client.get("/bills/for-the-books/").status_code == 302
    assert not client.session.keys()


def test_it_takes_nothing_in(now):
    token = token_of(a_link(whole_bill()))
    for name in SHARED:
        for press in (Client().post, Client().put, Client().delete):
            assert press(reverse(name, args=[token])).status_code == 405


def test_every_page_of_it_is_kept_out_of_search_engines_caches_and_referrers(now):
    bill = whole_bill()
    link = a_link(bill)
    token = token_of(link)
    asked = [get(name, token) for name in SHARED]
    asked += [
        get("shared-docket", token, f"D-1-{bill.job_id}"),
        get("shared-bill", "wrong"),
        get("shared-docket", token, "no"),
    ]
    for answer in asked:
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer.headers["X-Robots-Tag"]
        assert "no-store" in answer.headers["Cache-Control"]


def test_whatever_is_reached_by_a_token_is_guarded_by_the_link():
    named = [pattern for route, _name, pattern in every_view() if "<str:token>" in route]
    assert len(named) == 6
    assert all(getattr(one.callback, "asks_for_a_link", False) for one in named)


# Signed, expiring, revocable


@pytest.mark.parametrize(
    "spoil",
    [
        lambda token: token[:-1] + ("a" if token[-1] != "a" else "b"),
        lambda token: "0" + token[1:] if token[0] != "0" else "1" + token[1:],
        lambda token: token.partition(":")[0],
        lambda token: signing.Signer(salt="another").sign(token.partition(":")[0]),
        lambda token: signing.Signer(key="another key", salt=SALT).sign(token.partition(":")[0]),
        lambda token: signing.Signer(salt=SALT).sign("not-a-key"),
        lambda token: signing.Signer(salt=SALT).sign("0" * 32),
        lambda token: "'; drop table",
    ],
)
def test_an_address_that_was_never_given_out_opens_nothing(now, spoil):
    token = spoil(token_of(a_link(whole_bill())))
    for name in SHARED:
        answer = get(name, token)
        assert answer.status_code == 404
        assert b"North Yard Hire" not in bodies(answer)


def test_it_opens_nothing_once_its_time_is_over(now):
    token = token_of(a_link(whole_bill(), days=7))
    now[0] = NOON + dt.timedelta(days=7, seconds=-1)
    assert get("shared-bill", token).status_code == 200
    now[0] = NOON + dt.timedelta(days=7)
    for name in SHARED:
        answer = get(name, token)
        assert answer.status_code == 410
        assert b"364.08" not in bodies(answer)


def test_it_opens_nothing_once_it_is_taken_back_and_others_still_do(now):
    bill = whole_bill()
    link, other = a_link(bill), a_link(bill)
    revoke_link(link=link, by=None, now=NOON)
    assert {get(name, token_of(link)).status_code for name in SHARED} == {410}
    assert get("shared-bill", token_of(other)).status_code == 200


def test_when_it_was_opened_is_kept(now):
    link = a_link(whole_bill())
    for _ in range(2):
        get("shared-bill", token_of(link))
    link.refresh_from_db()
    assert (link.opened, link.last_opened_at) == (2, NOON)


# The desk


def test_a_draft_has_no_link():
    our_details()
    with pytest.raises(Refused) as refused:
        a_link(issue(a_job(), {"net": "1.00"}, draft=True))
    assert refused.value.code == "not-issued"


@pytest.mark.parametrize(
    ("given", "code"), [({"days": 0}, "days"), ({"days": 367}, "days"), ({"sent_to": " "}, "no-name")]
)
def test_a_link_needs_a_name_and_an_end(given, code):
    with pytest.raises(Refused) as refused:
        make_link(**({"bill": whole_bill(), "sent_to": "Ann", "days": 30, "by": None, "now": NOON} | given))
    assert refused.value.code == code


def test_the_desk_makes_a_link_reads_its_address_and_takes_it_back(client_as):
    bill, client = whole_bill(), client_as("hire desk")
    page = reverse("bill-links", args=[bill.pk])
    assert client.post(page, {"sent_to": "Ann", "days": 30}).status_code == 302
    link = bill.links.get()
    assert f"http://testserver/shared/{token_of(link)}/" in client.get(page).content.decode()
    client.post(reverse("bill-link-revoke", args=[link.pk]))
    link.refresh_from_db()
    assert link.revoked_at is not None
    assert token_of(link) not in client.get(page).content.decode()
    assert client.post(page, {"sent_to": "", "days": 30}).status_code == 200
    assert bill.links.count() == 1
