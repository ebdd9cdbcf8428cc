"""Out of signal: the page opens from its cache, scans are kept, and each of them arrives once and in order."""

import re
import time

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from django.utils import timezone

from inventory.lifecycle.kinds import Fitness, Kind
from inventory.models import Batch, Event, Person, Photo, ReviewItem, Submission
from inventory.services import dockets
from inventory.tags.code import ALPHABET, with_check
from inventory.views import offline
from tests.browser.conftest import PHONE, session_cookie
from tests.browser.stoppable import Server
from tests.browser.test_scan_page import all_sent, type_code, until
from tests.factories import UserFactory
from tests.inventory.yard import make_yard

FIFTY = [with_check(f"HJKMNP{first}{last}") for first in "AB" for last in ALPHABET[:25]]
UNFIT = with_check("UNFTUNFT")
SLOW_CLOCK = """
    const RealDate = Date, off = 2 * 3600 * 1000;
    Date = class extends RealDate {
        constructor(...given) { given.length ? super(...given) : super(RealDate.now() - off); }
        static now() { return RealDate.now() - off; }
    };
"""
HASTY = """
    const timeout = AbortSignal.timeout.bind(AbortSignal);
    AbortSignal.timeout = (ms) => timeout(ms / 60);
"""
MANY = """
    async ([store, codes, place, person]) => {
        const { writing, changed } = await import(store);
        await writing(['scans', 'known'], (scans, known) => {
            codes.forEach((code, nth) => {
                const id = crypto.randomUUID(), at = Date.now() - 1000 * (codes.length - nth);
                const wire = { id, seq: nth + 1, happened: new Date(at).toISOString(), what: 'cleaned', tag: code,
                               seen: 'scanned', place, by: person };
                scans.add({ release: 1, id, at, state: 'waiting', tried: false, wire, doing: 'clean',
                            where: `clean ${place}`, code, type: '', pieces: [], who: { id: person, name: 'Ash' } });
            });
            known.put(codes.length, 'seq');
        });
        changed();
    }
"""


@pytest.fixture
def yard(transactional_db):
    yard = make_yard()
    yard.pieces(*FIFTY)
    return yard


@pytest.fixture
def server(yard):
    server = Server()
    server.start()
    yield server
    server.stop()


@pytest.fixture
def phone(server, new_profile):
    """A browser with a profile of its own, signed in as Ash; `phone.asked` collects every request it makes."""
    phone = new_profile(base_url=server.url, viewport={"width": PHONE, "height": 640})
    phone.asked = []
    phone.on("request", lambda request: phone.asked.append(request.url))
    phone.user = UserFactory(username="ash", first_name="Ash", last_name="Grey", roles=["hand"])
    # kept when the last tab is closed, as the real cookie of 30 days is
    phone.add_cookies([session_cookie(phone.user, server.url) | {"expires": time.time() + 86_400}])
    return phone


def loading(yard):
    docket = dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 50})
    return docket, f"{reverse('scan')}?doing=load&docket={docket.pk}"


def ready_for_no_signal(page):
    """The worker looks after this page, and the page itself is in its cache."""
    cached = "async () => !!navigator.serviceWorker.controller && !!(await caches.match('/scan/'))"
    until(lambda: page.evaluate(cached), 20)


@pytest.mark.slow
def test_fifty_scans_without_a_server_each_arrive_once_and_in_order(yard, server, phone):
    yard.pieces(UNFIT, fitness=Fitness.UNFIT)
    docket, address = loading(yard)
    page = phone.pages[0]
    page.goto(address)
    page.locator("#tally", has_text="of 50 wanted").wait_for()
    ready_for_no_signal(page)
    wanted = {url.removeprefix(server.url) for url in phone.asked if "/static/" in url or "webmanifest" in url}
    assert wanted <= {f"/static/{name}" for name in offline.files()} | {reverse("manifest")}

    server.stop()
    phone.set_offline(True)
    page.goto(address)  # from the cache
    page.locator("#tally", has_text="of 50 wanted").wait_for()
    page.get_by_text("This phone knows 51 pieces here, 1 unfit").click()
    page.locator("#knows li", has_text="UNFT").wait_for()
    type_code(page, UNFIT)
    page.get_by_text("is marked unfit and stays here").wait_for()
    for code in FIFTY:
        type_code(page, code)
    page.get_by_text(re.compile(r"50 scans waiting, oldest (under a minute|\d+ min)")).wait_for()
    page.get_by_text("Nothing is missing").wait_for()
    page.close()

    first, second = phone.new_page(), phone.new_page()
    for page in (first, second):
        page.goto(address)
        page.get_by_text("50 scans waiting").wait_for()
    server.lose = 1
    server.start()
    phone.set_offline(False)
    for page in (first, second):
        page.get_by_text("Nothing waiting").wait_for()
    sent = Event.objects.filter(kind=Kind.SENT).order_by("device", "seq")
    assert [event.piece.label for event in sent] == FIFTY
    assert server.lost == 1
    assert {submission.answer for submission in Submission.objects.all()} == {"recorded"}
    assert not ReviewItem.objects.exists()
    assert {docket.pk} == set(sent.values_list("docket", flat=True))
    assert all(url.startswith(server.url) for url in phone.asked)


@pytest.mark.slow
def test_an_ended_session_keeps_the_queue_and_another_hand_delivers_it_under_the_first_ones_name(yard, server, phone):
    _, address = loading(yard)
    page = phone.pages[0]
    page.goto(address)
    page.locator("#tally", has_text="of 50 wanted").wait_for()
    type_code(page, FIFTY[0])
    all_sent(page, 1)
    Session.objects.all().delete()
    type_code(page, FIFTY[1])
    page.get_by_text("You are signed out. The scans are kept: sign in to send them.").wait_for()
    assert page.get_by_text("1 scan waiting").is_visible()
    assert Event.objects.filter(kind=Kind.SENT).count() == 1
    phone.add_cookies([session_cookie(UserFactory(first_name="Rowan", last_name="Hill", roles=["hand"]), server.url)])
    page.goto(address)
    page.get_by_text("Nothing waiting").wait_for()
    assert {event.person.name for event in Event.objects.filter(kind=Kind.SENT)} == {"Ash Grey"}
    assert {batch.person.name for batch in Batch.objects.filter(device__isnull=False)} == {"Ash Grey", "Rowan Hill"}


@pytest.mark.slow
@pytest.mark.parametrize("hangs", ["**/api/me", "**/api/scans"])
def test_a_request_that_hangs_is_given_up_and_sent_again(yard, server, phone, hangs):
    _, address = loading(yard)
    phone.add_init_script(HASTY)  # half a second and one and a half, not half a minute and one and a half
    page = phone.pages[0]
    page.goto(address)
    page.get_by_text("Nothing waiting").wait_for()
    hung = []
    page.route(hangs, lambda route: route.fallback() if hung else hung.append(route))
    type_code(page, FIFTY[0])
    page.get_by_text("No answer from the server").wait_for()
    all_sent(page, 1)
    assert len(hung) == 1
    assert Event.objects.filter(kind=Kind.SENT).count() == 1


@pytest.mark.slow
def test_a_phone_too_old_to_give_up_a_request_sends_all_the_same(yard, server, phone):
    _, address = loading(yard)
    phone.add_init_script("delete AbortSignal.timeout")
    page = phone.pages[0]
    page.goto(address)
    page.get_by_text("Nothing waiting").wait_for()
    type_code(page, FIFTY[0])
    all_sent(page, 1)
    assert Event.objects.filter(kind=Kind.SENT).count() == 1


@pytest.mark.slow
def test_a_wrong_clock_is_corrected_and_said(yard, server, phone):
    _, address = loading(yard)
    phone.add_init_script(SLOW_CLOCK)
    page = phone.pages[0]
    page.goto(address)
    page.locator("#tally", has_text="of 50 wanted").wait_for()
    type_code(page, FIFTY[0])
    page.get_by_text("It is 120 minutes slow").wait_for()
    event = Event.objects.get(kind=Kind.SENT)
    assert abs(event.happened_at - timezone.now()).total_seconds() < 120
    assert 7000 < (timezone.now() - event.said_at).total_seconds() < 7400


@pytest.mark.slow
def test_a_photo_taken_out_of_signal_waits_with_its_scan(yard, server, phone):
    from inventory.models import DamageReason
    from tests.browser.test_camera import _photo

    DamageReason.objects.create(words="bent flange", usual_grade="watch")
    page = phone.pages[0]
    page.goto(f"{reverse('scan')}?doing=damage&place={yard.yard.pk}")
    page.locator("#here", has_text="Home yard").wait_for()
    server.stop()
    phone.set_offline(True)
    type_code(page, FIFTY[0])
    page.get_by_label("What is wrong").select_option("bent flange")
    page.get_by_label("Photos").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": _photo()})
    page.get_by_text("1 taken").wait_for()
    page.get_by_role("button", name="Keep").click()
    page.get_by_text("1 scan waiting").wait_for()
    server.start()
    phone.set_offline(False)
    photo = until(lambda: Photo.objects.first())
    assert Event.objects.get(kind=Kind.FOUND_DAMAGED).pk == photo.event_id
    page.get_by_text("Nothing waiting").wait_for()


@pytest.mark.slow
def test_a_queue_of_five_thousand_scans_is_worked_off(yard, server, phone):
    page = phone.pages[0]
    page.goto(f"{reverse('scan')}?doing=clean&place={yard.yard.pk}")
    page.get_by_text("Nothing waiting").wait_for()
    server.stop()
    phone.set_offline(True)
    store = page.evaluate("document.querySelector('script[type=module][src*=scan]').src").replace(
        "scan.js", "scan-store.js"
    )
    person = Person.objects.get(user=phone.user).pk
    page.evaluate(MANY, [store, FIFTY * 100, yard.yard.pk, person])
    page.get_by_text("5,000 scans waiting").wait_for()
    type_code(page, with_check("ZZZZZZZ2"))  # one more is still taken
    page.get_by_text("5,001 scans waiting").wait_for()
    server.start()
    phone.set_offline(False)
    page.get_by_text("Nothing waiting").wait_for(timeout=300_000)
    page.close()
    server.stop()  # so that nobody else is asking over the one connection that all threads share on SQLite
    assert Event.objects.filter(kind=Kind.CLEANED).count() == 5000
    assert Submission.objects.filter(batch__device__isnull=False).count() == 5001
