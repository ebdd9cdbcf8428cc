"""What is printed, as Chromium prints it: the week on one page, and behind each chart the table it is drawn from."""

import io

import pytest
from pypdf import PdfReader

from tests.browser.conftest import DESK

pytestmark = pytest.mark.django_db


def printed(page, path):
    page.goto(path)
    return [sheet.extract_text() for sheet in PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages]


def test_the_week_is_one_page_and_charts_have_their_tables(small_yard, client_as, looker):
    page = looker(client_as("manager"), DESK)
    (week,) = printed(page, "/week/")
    assert "Worth doing now" in week and "What it cost, what it brought" in week
    figures = "\n".join(printed(page, "/figures/"))
    assert page.locator("details.behind:not([open])").count() == 1
    assert "Dirty at its end" in figures and "Uncleaned casts" in figures
    assert page.faults == []
