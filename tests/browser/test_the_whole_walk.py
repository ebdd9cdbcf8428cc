"""From an empty database to the credit note, pressed by the five people whose work this is.

Nothing is prepared but the owner's account that `createsuperuser` would make. What the worker does in between is done
here as the worker would.
"""

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.utils import timezone
from pypdf import PdfReader

from inventory.lifecycle.kinds import Fitness
from inventory.models import Docket, Event, Piece, Tag
from inventory.services.proving import differences
from inventory.services.replaying import replay
from inventory.tags import code as tag_code
from jobs.models import Bill, CoverCheck, Job
from jobs.services.checking import solve_check
from tests.browser import walk_files
from tests.browser.conftest import PHONE
from tests.browser.test_scan_page import type_code, until
from tests.factories import UserFactory

PASSWORD = "first-gravel-77"
REASON = "flange split"
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
    boss.goto("/settings/")
    new = boss.get_by_role("group", name="A new reason")
    new.get_by_label("Words").fill(REASON)
    new.get_by_label("Usual grade").select_option("unfit")
    boss.get_by_role("button", name="Keep the settings").click()
    is_taken(boss)
    boss.goto("/our-details/")
    fill(boss, {"Legal name": "Example Yard Ltd", "Street": "1 Example Road", "City": "Exampleton", "Country": "GB"})


def tag_the_fleet(hand, boss):
    """Labels for everything; and a new tag, fixed to a length that was on no list and put on the books by it."""
    hand.goto("/labels/")
    shown = labels_printed(hand)
    labels = Piece.objects.values_list("label", flat=True)
    assert [label for label in labels if f"{label[:8]}-{label[8]}" not in shown] == []
    hand.get_by_label("new tags, to be fixed").check()
    hand.get_by_label("How many new tags").fill("1")
    shown, code = labels_printed(hand), Tag.objects.get(piece=None, place=None).code
    assert f"{code[:8]}-{code[8]}" in shown
    boss.goto(f"/T/{code}")
    boss.get_by_role("link", name="Put the piece it is on onto the books").click()
    fill(boss, {"Type": "F30", "Where it is": "Home yard"})
    assert Piece.objects.get(label=code).type.code == "F30"


def labels_printed(page):
    with page.expect_download() as paper:
        page.get_by_role("button", name="Make the PDF").click()
    shown = "".join(sheet.extract_text() for sheet in PdfReader(paper.value.path()).pages)
    return "".join(shown.split())  # a code stands on two lines of its label


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


def bend_one_on_site(lead, job, code):
    """Seen on the slab, said from the phone, with the words the yard gave for it."""
    lead.goto(f"/scan/?doing=damage&place={job.site_id}")
    lead.locator("#code").wait_for()
    type_code(lead, code)
    say_damaged(lead, "unfit")
    until(lambda: Piece.objects.get(label=code).fitness == Fitness.UNFIT)


def say_damaged(page, grade):
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("What is wrong").select_option(REASON)
    dialog.get_by_label(grade).check()
    dialog.get_by_role("button", name="Keep").click()


def send_back(hand, job, bent):
    """A docket from the site, its pieces counted off at the yard; one of them comes back bent, and is said to be."""
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
    last = [code for code in codes if code != bent] + [bent]
    home = Piece.objects.filter(label__in=codes, place__name="Home yard")
    scan_all(hand, "arrive", docket, last, lambda: home.count() == len(codes))
    # What is damaged is the last that was scanned: it must have been taken, and nothing be on its way.
    hand.locator("#waiting", has_text="Nothing waiting").wait_for()
    hand.get_by_role("button", name="Damaged").click()
    say_damaged(hand, "unfit")
    until(lambda: Piece.objects.get(label=bent).fitness == Fitness.UNFIT)
    assert Event.objects.get(piece__label=bent, kind="found damaged").docket == docket
    close(hand, docket)
    return codes


def scan_all(hand, doing, docket, codes, done):
    hand.goto(f"/scan/?doing={doing}&docket={docket.pk}")
    hand.locator("#tally:not(:empty)").wait_for()
    for code in codes:
        type_code(hand, code)
    until(done, seconds=120)


def mend_one(boss, piece):
    """Opened from the list of unfit gear, a bolt off the shelf, done, and inspected by a named person."""
    boss.goto("/repairs/")
    row = boss.get_by_role("row").filter(has_text=tag_code.format(piece.label))
    row.get_by_role("link", name="Open a repair").click()
    fill(boss, {"What is to be done": "Straighten the flange", "Estimated cost": "15"})
    boss.get_by_role("link", name="Take parts from the shelf").click()
    fill(boss, {"Goods": "Stud bolt", "From": "Home yard", "How many": "2"})
    boss.get_by_role("link", name="The work is done").click()
    fill(boss, {"What was done": "Straightened cold", "Cost of the work": "12"})
    boss.get_by_role("link", name="Inspect it").click()
    boss.get_by_label("sound", exact=True).check()
    fill(boss, {"Inspected by": "Example Inspector", "What was checked": "Flange straight by the rule; holes round"})
    assert Piece.objects.get(pk=piece.pk).fitness == Fitness.SOUND


def write_one_off(boss, piece):
    boss.goto(f"/pieces/{piece.pk}/")
    boss.get_by_role("link", name="Retire or sell it").click()
    boss.get_by_label("damaged beyond mending").check()
    fill(boss, {"Why": "Split through; not worth mending"})
    assert Piece.objects.get(pk=piece.pk).standing == "retired"


def fill(page, said):
    for label, value in said.items():
        field = page.locator("main").get_by_label(label, exact=False).first
        if field.evaluate("e => e.tagName") == "SELECT":
            field.select_option(label=next(o for o in field.locator("option").all_inner_texts() if value in o))
        else:
            field.fill(value)
    page.locator("main form button").last.click()
    is_taken(page)


def bill_and_credit(desk, job):
    """The yard's terms, the job's bill with its damage, issued, and given back."""
    desk.goto("/terms/new/")
    fill(desk, {"Name": "Yard terms", "Hire rates": "all: day 0.50", "Damage, by grade": "unfit: 25.00"})
    desk.goto(f"/jobs/{job.pk}/hire/")
    desk.get_by_role("button", name="Draft its bill").click()
    desk.get_by_role("button", name="Issue it").click()
    is_taken(desk)
    desk.get_by_label("Why it is given back").fill("Agreed to leave the damage out")
    desk.get_by_role("button", name="Give it back").click()
    is_taken(desk)


@pytest.mark.slow
def test_the_whole_walk(page_as, transactional_db):
    walk_files.as_migrated()
    walk = Walk(page_as)
    add_people(page_as(user=UserFactory(username="owner", is_superuser=True, is_staff=True)))
    set_up_the_yard(walk["boss"])
    tag_the_fleet(walk["hand"], walk["boss"])
    take_a_job(walk["planner"], timezone.localdate())
    check_and_accept(walk["planner"])
    job, docket = Job.objects.get(), Docket.objects.get()
    sent = load_and_send(walk["hand"], docket)
    leave(walk["hand"], docket)
    receive(walk["lead"], docket)
    close(walk["lead"], docket)
    press_at_the_pour(walk["lead"], "Set all of it", "Cast", "Stripped", "Cleaned", "Move up to Pour 2")
    press_at_the_pour(walk["lead"], "Cast", "Stripped", "Cleaned")
    cast = Piece.objects.filter(label__in=sent).exclude(type__kind="tool")
    assert cast.count() == Piece.objects.filter(uses=2).count() == len(sent) - 1 > 30
    bent, split = cast.order_by("pk")[:2]
    bend_one_on_site(walk["lead"], job, split.label)
    assert set(send_back(walk["hand"], job, bent.label)) == set(sent)
    mend_one(walk["boss"], bent)
    write_one_off(walk["boss"], split)
    end_the_job(walk["planner"], job)
    bill_and_credit(walk["desk"], job)
    bill, note = Bill.objects.order_by("pk")
    hired, harmed = (sum(line.net for line in bill.lines.filter(kind=kind)) for kind in ("hire", "damage"))
    assert (hired, harmed) == (len(sent) * Decimal("0.50"), 2 * Decimal("25.00"))
    assert note.credits == bill and note.gross == -bill.gross != 0
    assert replay().found == [] and differences() == []


def end_the_job(planner, job):
    planner.goto(f"/jobs/{job.pk}/")
    planner.get_by_role("button", name="All its gear is back").click()
    planner.get_by_text("is back. Nothing is reserved").wait_for()
