"""From an empty database to gear back in the yard, pressed by the five people whose work this is.

Nothing is prepared but the owner's account that `createsuperuser` would make.
"""

import datetime as dt
import re

import pytest
from django.utils import timezone

from inventory.models import Docket, Piece
from inventory.services.replaying import replay
from jobs.models import CoverCheck, Job
from jobs.services.checking import solve_check
from tests.browser import walk_files
from tests.browser.conftest import PHONE
from tests.browser.test_scan_page import type_code, until
from tests.factories import UserFactory

PASSWORD = "first-gravel-77"
PEOPLE = {"hand": "yard hand", "lead": "site lead", "planner": "planner", "desk": "hire desk", "boss": "yard manager"}


class Walk:
    """The pages of the five, and the presses they share."""

    def __init__(self, page_as):
        self.page_as = page_as
        self.pages = {}

    def sign_in(self, name):
        page = self.page_as(width=PHONE if name in ("hand", "lead") else 1280)
        page.on("dialog", lambda dialog: dialog.accept())
        page.goto("/sign-in/")
        page.get_by_label("Username").fill(name)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="Pourback").wait_for()
        self.pages[name] = page
        return page

    def __getitem__(self, name):
        return self.pages.get(name) or self.sign_in(name)


def is_taken(page):
    """The page says what came of the press, and it is no refusal."""
    page.locator(".messages").wait_for()
    assert not page.locator(".messages .notice-stop").count(), page.locator(".messages").inner_text()


def bring_in(page, kind, content):
    page.goto(f"/bring-in/{kind}/")
    page.locator("input[type=file]").set_input_files(
        {"name": f"{kind}.csv", "mimeType": "text/csv", "buffer": content.encode()}
    )
    page.locator("main form button").first.click()
    page.get_by_role("button", name="Take it").click()
    page.get_by_text("Taken:").wait_for()


def workday(after, days):
    """So many working days later, by weekdays alone; the walk keeps no holidays."""
    while days:
        after += dt.timedelta(days=1)
        days -= after.weekday() < 5
    return after


def add_people(owner):
    for username, role in PEOPLE.items():
        owner.goto("/people/new/")
        owner.get_by_label("Name", exact=True).fill(f"Example {username.title()}")
        owner.get_by_label("Signs in as").fill(username)
        owner.get_by_label("First password").fill(PASSWORD)
        owner.get_by_label(role, exact=True).check()
        owner.get_by_role("button", name="Add").click()
        owner.get_by_text("may sign in now").wait_for()


def set_up_the_yard(boss):
    boss.goto("/places/new/")
    boss.get_by_label("Name").fill("Home yard")
    boss.get_by_label("Kind").select_option("yard")
    boss.get_by_role("button", name="Keep it").click()
    boss.get_by_text("is there now").wait_for()
    bring_in(boss, "types", walk_files.TYPES)
    bring_in(boss, "pieces", walk_files.pieces("Home yard"))
    bring_in(boss, "counted", walk_files.counted("Home yard"))


def take_a_job(planner, today):
    planner.goto("/customers/new/")
    planner.get_by_label("Code", exact=True).fill("C1")
    planner.get_by_label("Name", exact=True).fill("Invented Walls")
    planner.locator("main form button").first.click()
    planner.goto("/jobs/new/")
    planner.get_by_label("Code", exact=True).fill("J1")
    planner.get_by_label("Name", exact=True).fill("Tool shed")
    planner.get_by_label("Customer").select_option(label="Invented Walls")
    planner.get_by_label("Sent from").select_option(label="Home yard")
    planner.get_by_label("Starts on").fill(today.isoformat())
    planner.get_by_role("button", name="Enter this job").click()
    planner.get_by_role("link", name="Bring in a panel schedule").first.click()
    content = walk_files.schedule(workday(today, 2), workday(today, 9)).encode()
    planner.locator("input[type=file]").set_input_files(
        {"name": "panels.csv", "mimeType": "text/csv", "buffer": content}
    )
    planner.locator("main form button").first.click()
    planner.get_by_text("2 new, 0 changed, 0 the same").wait_for()
    planner.locator("main form button").first.click()
    planner.get_by_text("2 panels in 2 pours").wait_for()


def check_and_accept(planner):
    """The worker's part is done here in between, as a worker would."""
    planner.get_by_role("button", name="Check the stock").click()
    planner.get_by_text("for a worker").wait_for()
    solve_check(check=CoverCheck.objects.get())
    planner.get_by_role("button", name="Accept the job and reserve its gear").click()
    planner.get_by_text("is accepted, and its load list reserved").wait_for()
    planner.get_by_role("button", name="Open its docket").first.click()
    planner.get_by_text("is open, with the load list").wait_for()


def load_and_send(hand, docket):
    wanted = {line.type.code: line.wanted for line in docket.lines.select_related("type")}
    codes = [label for code, count in wanted.items() for label in labels_of(code)[:count]]
    scan_all(hand, "load", docket, codes, lambda: Piece.objects.filter(docket=docket).count() == len(codes))
    return codes


def labels_of(type_code):
    return list(Piece.objects.filter(type__code=type_code).order_by("pk").values_list("label", flat=True))


def press_on(page, docket, press, **said):
    """One of the forms that hang from a docket."""
    page.goto(f"/dockets/{docket.pk}/{press}/")
    for label, value in said.items():
        field = page.get_by_label(label.replace("_", " "), exact=False).first
        field.select_option(label=value) if field.evaluate("e => e.tagName") == "SELECT" else field.fill(value)
    page.locator("main form button[type=submit], main form button:not([type])").last.click()
    is_taken(page)


def leave(page, docket):
    press_on(page, docket, "leave", Truck="Blue lorry", Driver="Example Driver", Name_of_who_signs="Example Driver")
    docket.refresh_from_db()
    assert docket.left_at


def receive(page, docket):
    press_on(page, docket, "receive", Name_of_who_signs="Example Receiver")
    docket.refresh_from_db()
    assert docket.received_at


def close(page, docket):
    page.goto(f"/dockets/{docket.pk}/")
    page.get_by_role("button", name="Close it: counted and settled").click()
    is_taken(page)


def press_at_the_pour(lead, *names):
    for name in names:
        lead.goto("/slab/")
        lead.get_by_role("button", name=name, exact=True).first.click()
        is_taken(lead)


def send_back(hand, job):
    """A docket from the site, its pieces counted off at the yard: dirty, but for one that is bent."""
    hand.goto("/dockets/new/")
    hand.get_by_label("From").select_option(label=str(job.site))
    hand.get_by_label("To", exact=True).select_option(label="Home yard")
    hand.locator("main form button").last.click()
    hand.wait_for_url(re.compile(r"/dockets/\d+/$"))
    docket = Docket.objects.order_by("pk").last()
    codes = list(Piece.objects.within(job.site).values_list("label", flat=True))
    scan_all(hand, "load", docket, codes, lambda: Piece.objects.filter(docket=docket).count() == len(codes))
    leave(hand, docket)
    receive(hand, docket)
    scan_all(hand, "arrive", docket, codes, lambda: Piece.objects.filter(place__name="Home yard").count() >= len(codes))
    close(hand, docket)
    return codes


def scan_all(hand, doing, docket, codes, done):
    hand.goto(f"/scan/?doing={doing}&docket={docket.pk}")
    hand.locator("#tally:not(:empty)").wait_for()
    for code in codes:
        type_code(hand, code)
    until(done, seconds=120)


@pytest.mark.slow
def test_the_whole_walk(page_as, transactional_db):
    walk = Walk(page_as)
    add_people(page_as(user=UserFactory(username="owner", is_superuser=True, is_staff=True)))
    set_up_the_yard(walk["boss"])
    take_a_job(walk["planner"], timezone.localdate())
    check_and_accept(walk["planner"])
    job, docket = Job.objects.get(), Docket.objects.get()
    sent = load_and_send(walk["hand"], docket)
    leave(walk["hand"], docket)
    receive(walk["lead"], docket)
    close(walk["lead"], docket)
    press_at_the_pour(walk["lead"], "Set all of it", "Cast", "Stripped", "Cleaned", "Move up to Pour 2")
    press_at_the_pour(walk["lead"], "Cast", "Stripped", "Cleaned")
    assert Piece.objects.filter(uses=2).count() == len(sent)
    assert set(send_back(walk["hand"], job)) == set(sent)
    planner = walk["planner"]
    planner.goto(f"/jobs/{job.pk}/")
    planner.get_by_role("button", name="All its gear is back").click()
    planner.get_by_text("is back. Nothing is reserved").wait_for()
    assert replay().found == []
