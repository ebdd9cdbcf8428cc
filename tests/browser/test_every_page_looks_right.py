"""Every page there is, in Chromium, at a desk and on a phone: axe by WCAG 2.2 AA, nothing wider than the screen, no
script error, and not one request to anybody else.

axe-core's rules by their published tags (dequelabs/axe-core, doc/rule-descriptions.md), through axe-playwright-python.
"""

import pytest
from axe_playwright_python.sync_playwright import Axe

from inventory.models.roles import Role
from tests import pages
from tests.browser.conftest import DESK, PHONE

pytestmark = [pytest.mark.looks, pytest.mark.django_db]

WCAG_22_AA = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


def what_axe_says(page):
    found = Axe().run(page, options=WCAG_22_AA).response["violations"]
    return [f"{rule['id']}: {node['html'][:120]}" for rule in found for node in rule["nodes"]]


def wider_than_the_screen(page):
    over = page.evaluate("document.scrollingElement.scrollWidth - window.innerWidth")
    return [f"{over} px wider than the screen"] if over > 0 else []


def html_pages(client, yard):
    """Whole pages: parts of one are seen where they stand."""
    for listed in pages.every_page(yard):
        answer = client.get(listed.path)
        is_html = answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html")
        if is_html and b"<html" in answer.content:
            yield listed
        answer.close()


@pytest.mark.slow
@pytest.mark.parametrize("width", [DESK, PHONE])
def test_every_page_at(width, small_yard, client_as, looker):
    client = client_as(*Role)
    page = looker(client, width)
    wrong = []
    for listed in html_pages(client, small_yard):
        page.goto(listed.path)
        found = page.faults + what_axe_says(page) + wider_than_the_screen(page)
        wrong += [f"{listed.name} {listed.path}: {fault}" for fault in found]
        page.faults.clear()
    assert wrong == []


def test_signed_out_pages_look_right_too(looker, client):
    page = looker(client, PHONE)
    for path in ("/sign-in/", "/no-such-page/"):
        page.goto(path)
        # Chromium logs the 404 of the missing page itself.
        faults = [fault for fault in page.faults if "404" not in fault]
        assert faults + what_axe_says(page) + wider_than_the_screen(page) == [], path
