"""Every page there is, in Chromium, at a desk and on a phone: axe by WCAG 2.2 AA, nothing wider than the screen, no
script error, and not one request to anybody else.

axe-core's rules by their published tags (dequelabs/axe-core, doc/rule-descriptions.md), through axe-playwright-python.
"""

from itertools import zip_longest

import pytest
from axe_playwright_python.sync_playwright import Axe

from inventory.models.roles import Role
from tests import pages
from tests.browser.conftest import DESK, PHONE, size

pytestmark = pytest.mark.django_db

AXE_SCRIPT = Axe().axe_script
# Only what is wrong is sent back: describing every node that passed takes three times as long as finding the rest.
WCAG_22_AA = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
}


# It runs by itself, so that meanwhile another page can be fetched; `what_axe_says` waits for it.
RUN_AXE = "options => { window.axeSays = new Promise((done) => setTimeout(() => done(axe.run(options)))); }"


def ask_axe(page):
    page.evaluate(RUN_AXE, WCAG_22_AA)


def what_axe_says(page):
    found = page.evaluate("window.axeSays")["violations"]
    return [f"{rule['id']}: {node['html'][:120]}" for rule in found for node in rule["nodes"]]


def wider_than_the_screen(page):
    over = page.evaluate("document.scrollingElement.scrollWidth - window.innerWidth")
    return [f"{over} px wider than the screen"] if over > 0 else []


def html_pages(client, yard):
    """Whole pages, with their answers: parts of one are seen where they stand."""
    for listed in pages.every_page(yard):
        answer = client.get(listed.path)
        is_html = answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html")
        if is_html and not answer.streaming and b"<html" in answer.content:
            yield listed, answer
        elif answer.streaming:
            b"".join(answer.streaming_content)  # the test client closes what was read to its end


def look_at_each(page, work, seen, wrong):
    """Takes one page after another from `work`; each time it yields, axe is busy in the browser by itself."""
    for listed, answer in work:
        page.set_viewport_size(size(DESK))
        page.had[listed.path] = answer
        page.goto(listed.path)
        ask_axe(page)
        yield
        found = what_axe_says(page) + wider_than_the_screen(page)
        page.set_viewport_size(size(PHONE))
        ask_axe(page)
        yield
        found += [f"on a phone: {fault}" for fault in what_axe_says(page) + wider_than_the_screen(page)]
        wrong += [f"{listed.name} {listed.path}: {fault}" for fault in page.faults + found]
        page.faults.clear()
        seen.append(listed.name)


@pytest.mark.slow
def test_every_page_at_a_desk_and_on_a_phone(small_yard, client_as, looker):
    client = client_as(*Role)
    tabs = [looker(client, DESK) for _ in range(2)]
    for tab in tabs:
        tab.add_init_script(AXE_SCRIPT)
    work, seen, wrong = html_pages(client, small_yard), [], []
    for _ in zip_longest(*(look_at_each(tab, work, seen, wrong) for tab in tabs)):
        """While axe looks at one tab's page the other tab fetches its own."""
    assert wrong == []
    assert len(seen) > 100


def test_signed_out_pages_look_right_too(looker, client):
    page = looker(client, PHONE)
    page.add_init_script(AXE_SCRIPT)
    for path in ("/sign-in/", "/no-such-page/"):
        page.goto(path)
        ask_axe(page)
        # Chromium logs the 404 of the missing page itself.
        faults = [fault for fault in page.faults if "404" not in fault]
        assert faults + what_axe_says(page) + wider_than_the_screen(page) == [], path
