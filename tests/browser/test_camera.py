"""The scan page with a camera: tags held up one after another through a whole dispatch and return."""

import io
from contextlib import suppress

import pytest
from django.urls import reverse
from PIL import Image

from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import DamageReason, Event, Photo, Piece
from inventory.selectors.dockets import sheet
from inventory.services import crates, dockets
from inventory.tags.code import with_check
from tests.browser.conftest import PHONE, session_cookie
from tests.browser.film import Film, blurred, label, muddy, turned
from tests.browser.test_scan_page import until
from tests.factories import UserFactory
from tests.inventory.yard import NOW, make_yard

CODES = [with_check(f"HJKMNPQ{last}") for last in "23456789"]
CRATE = with_check("CRATECRA")
LISTEN = """
    window.felt = [];
    const started = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...at) { felt.push('sound'); return started.apply(this, at); };
    navigator.vibrate = (how) => { felt.push('shake'); return true; };
    // The fake camera has no torch, and headless Chromium no screen: stand-ins note what is asked of them.
    MediaStreamTrack.prototype.getCapabilities = () => ({ torch: true });
    MediaStreamTrack.prototype.applyConstraints = async (wanted) => felt.push(`torch ${wanted.advanced[0].torch}`);
    const lock = { release: async () => {} };
    if (navigator.wakeLock) navigator.wakeLock.request = async (what) => { felt.push(`awake: ${what}`); return lock; };
"""


@pytest.fixture
def yard(transactional_db):
    yard = make_yard()
    yard.pieces(*CODES)
    yard.pieces(CRATE, type=yard.crate)
    crate = Piece.objects.get(label=CRATE)
    crates.pack(crate, CODES[6:8], by=yard.hand, now=NOW)
    return yard


@pytest.fixture
def film(tmp_path):
    return Film(tmp_path)


@pytest.fixture
def page(yard, film, new_profile, live_server):
    context = new_profile(*film.flags, base_url=live_server.url, viewport={"width": PHONE, "height": 640})
    context.add_cookies([session_cookie(UserFactory(roles=["hand"]), live_server.url)])
    context.add_init_script(LISTEN)
    page = context.pages[0]
    page.asked = []
    page.on("request", lambda request: page.asked.append(request.url))
    return page


def begin(page, doing, docket):
    page.goto(f"{reverse('scan')}?doing={doing}&docket={docket.pk}")
    page.locator("#camera").click()
    page.get_by_role("button", name="Close the camera").wait_for()


def hold_up(page, film, *tags, codes=None):
    """Show them until each stands in the list of what was taken."""
    film.show(*tags)
    for code in codes or tags:
        page.locator(f'#taken li[data-code="{code}"]').first.wait_for()
    film.show()


def all_sent(page):
    page.get_by_text("Nothing waiting").wait_for()


@pytest.mark.slow
def test_a_whole_dispatch_and_return_with_nothing_but_the_camera(page, film, yard, live_server):
    out = dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 8})
    begin(page, "load", out)
    hold_up(page, film, CODES[0])
    hold_up(page, film, muddy(label(CODES[1]), 0.08), codes=[CODES[1]])
    hold_up(page, film, blurred(label(CODES[2]), 2.5), codes=[CODES[2]])
    hold_up(page, film, turned(label(CODES[3], 200), 33), codes=[CODES[3]])
    hold_up(page, film, CODES[4], CODES[5])  # two ends in one view
    assert page.get_by_text("Still missing").is_visible()
    hold_up(page, film, CRATE)
    page.get_by_text("Nothing is missing").wait_for()
    all_sent(page)
    assert (sheet(out).met, sheet(out).loaded) == (8, 9)
    page.get_by_role("button", name="Torch").click()
    assert {"sound", "shake", "awake: screen", "torch true"} <= set(page.evaluate("window.felt"))
    assert {event.seen for event in Event.objects.filter(kind=Kind.SENT, docket=out, piece__isnull=False)} == {
        Seen.SCANNED
    }

    dockets.leave(out, by=yard.hand, vehicle="TR 1", driver="A driver", signed_by="A driver", signature="M1 1L2 2")
    begin(page, "arrive", out)
    for code in CODES[:6]:
        hold_up(page, film, code)
    hold_up(page, film, CRATE)
    page.get_by_text("Nothing is missing").wait_for()
    all_sent(page)
    assert not sheet(out).still_on_it

    back = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand)
    begin(page, "load", back)
    for code in CODES[:3]:
        hold_up(page, film, code)
    all_sent(page)
    begin(page, "arrive", back)
    hold_up(page, film, CODES[0])
    page.get_by_text("clean", exact=True).click()
    hold_up(page, film, CODES[1])
    page.reload()  # the last answer stays chosen
    begin(page, "arrive", back)
    hold_up(page, film, CODES[2])
    all_sent(page)
    assert [Piece.objects.get(label=code).dirty for code in CODES[:3]] == [True, False, False]
    assert {Piece.objects.get(label=code).place for code in CODES[:3]} == {yard.yard}
    assert all(url.startswith((live_server.url, "blob:", "data:")) for url in page.asked)


@pytest.mark.slow
def test_damage_takes_a_reason_a_grade_and_photos_made_small(page, film, yard):
    DamageReason.objects.create(words="bent flange", usual_grade=Fitness.UNFIT)
    back = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand)
    begin(page, "arrive", back)
    hold_up(page, film, CODES[0])
    page.get_by_role("button", name="Damaged").click()
    page.get_by_label("What is wrong").select_option("bent flange")
    assert page.get_by_label("unfit").is_checked()  # the reason's usual grade
    page.get_by_label("Photos").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": _photo()})
    page.get_by_text("1 taken").wait_for()
    page.get_by_role("button", name="Keep").click()
    page.get_by_text("Marked unfit: set it aside").wait_for()
    photo = until(lambda: Photo.objects.first())
    damage = Event.objects.get(kind=Kind.FOUND_DAMAGED)
    assert (damage.piece.label, damage.data["grade"], damage.data["reason"]) == (CODES[0], "unfit", "bent flange")
    assert photo.event_id == damage.id
    with Image.open(photo.image) as kept:
        assert max(kept.size) == 1600
        assert not kept.getexif()
    page.get_by_label("No readable tag").select_option(label="Form bracket")
    page.get_by_role("button", name="Take it", exact=True).click()
    untagged = until(lambda: Event.objects.filter(kind=Kind.RETURNED, piece=None).first())
    assert (untagged.type, untagged.quantity, untagged.data["untagged"]) == (yard.bracket, 1, True)


def _photo() -> bytes:
    """Larger than needed, and with what a phone writes into its photos (0x8825: where it was)."""
    image, file = Image.radial_gradient("L").resize((3000, 2000)), io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "A maker"
    with suppress(KeyError):
        exif.get_ifd(0x8825)[1] = "N"
    image.convert("RGB").save(file, "JPEG", exif=exif)
    return file.getvalue()
