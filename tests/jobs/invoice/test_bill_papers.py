"""A bill on paper, as a table, and as an electronic invoice."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from jobs.hire.invoice.checks import check
from jobs.hire.invoice.ubl import write
from jobs.models import Bill
from jobs.selectors.bill_sheet import BillSheet
from jobs.selectors.invoices import document_of
from jobs.services.billing import credit_bill
from jobs.views.bill_paper import as_pdf
from jobs.views.bill_table import COLUMNS, header, rows_of
from tests import factories
from tests.jobs.invoice.bills import a_job, issue, our_details, whole_bill
from tests.jobs.invoice.official import broken_rules, schema_faults

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _photos_in_scratch(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def words(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def table_of(answer) -> list[dict[str, str]]:
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


# Electronic


def test_a_bill_and_its_credit_note_are_accepted_by_the_standards_own_judges():
    bill = whole_bill()
    note = credit_bill(bill=bill, reason="Billed to the wrong job", by=None)
    for one in (bill, note):
        document = document_of(one)
        assert check(document) == []
        assert schema_faults(write(document)) == []
        assert broken_rules(write(document)) == []
    there, back = document_of(bill), document_of(note)
    assert (there.kind, back.kind) == ("invoice", "credit_note")
    assert there.totals == back.totals
    assert [one.number for one in back.preceding] == [bill.number]


def test_what_stands_on_the_bill_stands_on_the_invoice():
    document = document_of(whole_bill())
    hire, damage, _ = document.lines
    totals = document.totals
    assert (hire.quantity, hire.unit, hire.price, hire.item) == (560, "DAY", Decimal("0.35"), "E150-30")
    assert (damage.quantity, damage.unit, damage.price) == (1, "C62", 25)
    assert [str(one) for one in (totals.net, totals.tax, totals.due)] == ["296.00", "68.08", "364.08"]
    assert (document.first.isoformat(), document.last.isoformat()) == ("2027-02-01", "2027-02-28")
    assert (document.seller.name, document.buyer.vat_id) == ("North Yard Hire", "IE7654321WB")


def test_the_invoice_is_what_was_frozen_not_what_stands_in_the_settings_now(client_as):
    bill = whole_bill()
    our_details(name="Other Name", country_code="FR")
    assert document_of(Bill.objects.get(pk=bill.pk)).seller.name == "North Yard Hire"


def test_a_tax_number_without_a_countrys_letters_goes_where_it_needs_none():
    our_details(tax_id="12 345 678 901", registration_id="")
    job = factories.JobFactory(customer=factories.CustomerFactory(country_code="AU", tax_id="98 765"))
    document = document_of(issue(job, {"net": "1.00"}))
    assert (document.seller.vat_id, document.seller.tax_number, document.buyer.registration) == (
        "",
        "12345678901",
        "98765",
    )
    assert broken_rules(write(document)) == []


def test_an_adjustment_names_the_bills_it_adjusts():
    job = a_job()
    our_details()
    first = issue(job, {"net": "100.00"}, number="B-00001", facts={})
    again = issue(
        job,
        {"net": "-40.00", "part": "adjustment", "causes": ["P7 was back on 10 February 2027."]},
        number="C-00001",
        issued_at=first.issued_at.replace(hour=13),
    )
    document = document_of(again)
    assert (document.kind, [one.number for one in document.preceding]) == ("credit_note", ["B-00001"])
    assert "P7 was back on 10 February 2027." in document.lines[0].description
    assert broken_rules(write(document)) == []


def test_a_bill_that_breaks_a_rule_says_which_and_what_to_do(client_as):
    our_details(country_code="")
    bill = issue(a_job(), {"net": "1.234", "tax": "5"}, currency="KWD")
    page = client_as("hire desk").get(reverse("bill-invoice", args=[bill.pk])).content.decode()
    assert "BR-09" in page and "BR-DEC-23" in page and "country" in page


def test_the_desk_takes_the_invoice_as_a_file(client_as):
    bill = whole_bill()
    answer = client_as("hire desk").get(reverse("bill-invoice", args=[bill.pk]))
    assert answer.headers["Content-Disposition"] == 'attachment; filename="bill-B-00001.xml"'
    assert schema_faults(answer.content) == []


# Paper


def test_the_paper_says_everything_and_numbers_its_pages():
    bill = whole_bill()
    said = words(as_pdf(BillSheet(bill)))
    for wanted in (
        "Bill B-00001",
        "North Yard Hire",
        "1 February 2027 to 28 February 2027",
        "40 x 14 days",
        "0.35 a day",
        "The reason for line 1.",
        f"Docket D-1-{bill.job_id} together 221.00",
        "E150-30 edge form 150 x 3.0 m 196.00 25.00 221.00",
        "23 per cent of 296.00, standard rate 68.08",
        "EUR 364.08",
        "IE29AIBK93115212345678",
        "Photos of the damage charged",
        "Page 1 of",
    ):
        assert wanted in said, wanted


def test_pages_are_counted_to_the_last():
    our_details()
    bill = issue(a_job(), *({"net": "1.00", "docket": f"D-{n // 10}"} for n in range(120)))
    pages = PdfReader(io.BytesIO(as_pdf(BillSheet(bill)))).pages
    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page.extract_text()


def test_the_same_bill_makes_the_same_paper():
    bill = whole_bill()
    assert as_pdf(BillSheet(bill)) == as_pdf(BillSheet(Bill.objects.get(pk=bill.pk)))


def test_a_photo_of_damage_charged_is_on_the_paper_and_a_lost_file_is_said():
    bill = whole_bill()
    images = [image for page in PdfReader(io.BytesIO(as_pdf(BillSheet(bill)))).pages for image in page.images]
    assert len(images) == 1
    BillSheet(bill).photos[0].photo.image.storage.delete(BillSheet(bill).photos[0].photo.image.name)
    assert "no longer kept" in words(as_pdf(BillSheet(bill)))


def test_a_credit_note_mirrors_the_paper():
    note = credit_bill(bill=whole_bill(), reason="Billed to the wrong job", by=None)
    said = words(as_pdf(BillSheet(note)))
    for wanted in (
        "Credit note C-",
        "Gives back B-00001",
        "Billed to the wrong job",
        "-196.00",
        "To your credit EUR 364.08",
    ):
        assert wanted in said, wanted


def test_a_draft_says_that_it_is_none_and_whom_it_would_be_for(client_as):
    our_details()
    bill = issue(a_job(), {"net": "1.00"}, draft=True)
    said = words(client_as("hire desk").get(reverse("bill-paper", args=[bill.pk])).content)
    assert "Draft bill, not a demand for payment" in said and "none yet" in said
    assert "North Yard Hire" in said and "2 Panel Street" in said


def test_a_draft_is_told_beforehand_whether_it_would_be_an_electronic_invoice(client_as):
    client = client_as("hire desk")
    our_details()
    bill = issue(a_job(), {"net": "1.00"}, draft=True)
    page = reverse("bill-invoice", args=[bill.pk])
    assert "it breaks no rule of EN 16931" in client.get(page).content.decode()
    our_details(country_code="")
    said = client.get(page).content.decode()
    assert "BR-09" in said and "BR-02" not in said


@pytest.mark.parametrize(("currency", "net", "gross"), [("JPY", "105", "JPY 129"), ("KWD", "1.234", "KWD 1.518")])
def test_the_paper_has_the_decimals_of_its_currency(currency, net, gross):
    # ISO 4217: the yen has none, the dinar of Kuwait three. 105 + 23 per cent is 129.15; 1.234 + 0.28382.
    our_details()
    said = words(as_pdf(BillSheet(issue(a_job(), {"net": net}, currency=currency))))
    assert gross in said and f"{net} 23" not in said


def test_text_that_the_font_lacks_leaves_the_rest_readable():
    our_details()
    said = words(
        as_pdf(BillSheet(issue(a_job(), {"net": "1.00", "description": "Façade \u2260 <b>bold</b> & Plzeň, Wrocław"})))
    )
    assert "Façade ? <b>bold</b> & Plzen, Wroclaw" in said


# Table


def test_the_table_has_one_row_a_line_and_the_columns_it_says(client_as):
    bill = whole_bill()
    rows = table_of(client_as("hire desk").get(reverse("bill-table", args=[bill.pk])))
    assert list(rows[0]) == [name for name, _ in COLUMNS]
    assert [row["net"] for row in rows] == ["196.00", "25.00", "75.00"]
    assert {row["bill_gross"] for row in rows} == {"364.08"}
    assert sum(Decimal(row["net"]) for row in rows) == Decimal(rows[0]["bill_net"])
    assert (rows[0]["number"], rows[0]["issued_on"], rows[0]["last_day"]) == ("B-00001", "2027-03-03", "2027-02-28")


def test_text_cannot_become_a_formula_and_a_credit_stays_a_number(client_as):
    our_details()
    bill = issue(a_job(), {"net": "-1.00", "description": '=HYPERLINK("x")', "why": "+1"}, number="C-00001")
    (row,) = table_of(client_as("hire desk").get(reverse("bill-table", args=[bill.pk])))
    assert (row["description"], row["net"]) == ('\'=HYPERLINK("x")', "-1.00")


def test_all_bills_of_some_days_are_one_table(client_as):
    our_details()
    issue(a_job(), {"net": "1.00"}, {"net": "2.00"}, number="B-00001")
    issue(a_job(), {"net": "3.00"}, number="B-00002", issued_on="2027-04-01")
    issue(a_job(), {"net": "4.00"}, draft=True)
    client = client_as("hire desk")
    page = reverse("bills-export")
    rows = table_of(client.get(page, {"first": "2027-03-01", "last": "2027-03-31"}))
    assert [(row["number"], row["line"], row["net"]) for row in rows] == [
        ("B-00001", "1", "1.00"),
        ("B-00001", "2", "2.00"),
    ]
    wrong = client.get(page, {"first": "2027-03-02", "last": "2027-03-01"}).content.decode()
    assert "The last day lies before the first." in wrong
    assert all(f"<code>{name}</code>" in wrong for name in header())


def test_a_table_of_many_bills_asks_no_more_for_more_bills(django_assert_max_num_queries):
    our_details()
    for number in range(1, 6):
        issue(a_job(), {"net": "1.00"}, number=f"B-0000{number}")
    from jobs.views.bill_papers import whole_bills

    with django_assert_max_num_queries(3):
        assert len(list(rows_of(whole_bills()))) == 5
