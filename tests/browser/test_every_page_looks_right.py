"""Every page there is, in Chromium, at a desk and on a phone: axe by WCAG 2.2 AA, nothing wider than the screen, no
script error, and not one request to anybody else.

axe-core's rules by their published tags (dequelabs/axe-core, doc/rule-descriptions.md), through axe-playwright-python.
"""

import pytest
from axe_playwright_python.sync_playwright import Axe

from inventory.models.roles import Role
from tests import pages
from tests.browser.conftest import DESK, PHONE, size

pytestmark = [pytest.mark.looks, pytest.mark.django_db]

AXE_SCRIPT = Axe().axe_script
# Only what is wrong is sent back: describing every node that passed takes three times as long as finding the rest.
WCAG_22_AA = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
}


def what_axe_says(page):
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("options => axe.run(options)", WCAG_22_AA)["violations"]
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
def test_every_page_at_a_desk_and_on_a_phone(small_yard, client_as, looker):
    client = client_as(*Role)
    page = looker(client, DESK)
    wrong = []
    for listed in html_pages(client, small_yard):
        page.set_viewport_size(size(DESK))
        page.goto(listed.path)
        found = what_axe_says(page) + wider_than_the_screen(page)
        page.set_viewport_size(size(PHONE))
        found += [f"on a phone: {fault}" for fault in what_axe_says(page) + wider_than_the_screen(page)]
        wrong += [f"{listed.name} {listed.path}: {fault}" for fault in page.faults + found]
        page.faults.clear()
    assert wrong == []


def test_signed_out_pages_look_right_too(looker, client):
    page = looker(client, PHONE)
    for path in ("/sign-in/", "/no-such-page/"):
        page.goto(path)
        # Chromium logs the 404 of the missing page itself.
        faults = [fault for fault in page.faults if "404" not in fault]
        assert faults + what_axe_says(page) + wider_than_the_screen(page) == [], path
