"""The scan page as a handheld meets it: it types a code and Enter, again and again, and nothing else."""

import pytest
from django.urls import reverse

from inventory.selectors.dockets import sheet
from inventory.services import dockets
from inventory.tags.code import with_check
from tests.browser.conftest import PHONE
from tests.inventory.yard import make_yard

CODES = [with_check(f"HJKMNPQ{last}") for last in "23456"]


@pytest.fixture
def loading(transactional_db):
    yard = make_yard()
    yard.pieces(*CODES)
    return dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 5})


@pytest.fixture
def page(loading, page_as):
    page = page_as("hand", width=PHONE)
    page.goto(f"{reverse('scan')}?doing=load&docket={loading.pk}")
    return page


def type_code(page, code):
    page.keyboard.type(code)
    page.keyboard.press("Enter")


@pytest.mark.slow
def test_codes_typed_faster_than_the_server_answers_are_all_taken_in_order(page, loading):
    for code in CODES:
        type_code(page, code)
    page.get_by_text("Nothing is missing").wait_for()
    assert sheet(loading).loaded == 5
    assert page.evaluate("document.activeElement.id") == "code"


@pytest.mark.slow
def test_a_slip_of_the_finger_is_caught_before_anything_is_sent(page, loading):
    sent = []
    page.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    type_code(page, CODES[0][:-1] + "Z")
    page.get_by_text("A character is wrong or two are swapped").wait_for()
    assert sent == []


@pytest.mark.slow
def test_everything_to_be_pressed_is_large_enough_for_a_glove(page):
    heights = page.eval_on_selector_all(
        ".scan-form button, .scan-form input:not([type=hidden]), #outcome button",
        "found => found.map(one => one.getBoundingClientRect().height)",
    )
    assert heights and min(heights) >= 56
