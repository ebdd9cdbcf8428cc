"""What is printed, as Chromium prints it: the week on one page, and behind each chart the table it is drawn from."""

import io
from datetime import date
from decimal import Decimal

import pytest
from pypdf import PdfReader

from jobs.selectors.week import NOTED, THINGS, Change, Money, Thing, Week
from tests.browser.conftest import DESK

LATE = "Get 1,283 overdue pieces back: J-1001 (400), J-1002 (300), J-1003 (300), J-1004 (283)"
WHY = "Mended is not fit: they stay locked until somebody has inspected them."
FULL = Week(
    date(2026, 3, 2),
    date(2026, 3, 8),
    1234,
    [Change(1234, words) for words in NOTED.values()],
    [Money(Decimal("123456.78"), "gear written off, at replacement value", bool(nth % 2)) for nth in range(5)],
    Decimal("1.5"),
    [Thing(False, Decimal("123456.78"), LATE, WHY, "/missing/")] * THINGS,
)
pytestmark = pytest.mark.django_db


def printed(page, path):
    page.goto(path)
    return [sheet.extract_text() for sheet in PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages]


def test_the_fullest_week_is_one_page_and_charts_have_their_tables(small_yard, client_as, looker, monkeypatch):
    page = looker(client_as("manager"), DESK)
    monkeypatch.setattr("jobs.views.week.the_week", lambda *_: FULL)
    (week,) = printed(page, "/week/")
    assert "Worth doing now" in week and "are scrap" in week and "EUR" in week
    figures = "\n".join(printed(page, "/figures/"))
    assert page.locator("details.behind:not([open])").count() == 1
    assert "Dirty at its end" in figures and "Uncleaned casts" in figures
    assert page.faults == []
