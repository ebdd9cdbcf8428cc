"""A length cut into parts: saw loss, scrap, history, uses, cost; and what is refused."""

from decimal import Decimal

import pytest

from inventory.errors import Refused
from inventory.figures.survival import Span
from inventory.lifecycle.kinds import Fitness, Kind, Standing
from inventory.models import Event, GearType, HiredIn, Piece, PieceLife
from inventory.selectors.figures_of_types import spans_of
from inventory.services.cutting_down import Part, cut_down, reckon
from inventory.services.planned_cuts import plan_cut
from inventory.services.summing import bring_up_to_date
from tests.inventory.yard import NOW, make_yard

D = Decimal
CODES = ["BCDEFGHJ4", "CDEFGHJK5"]


@pytest.fixture
def yard(db):
    return make_yard()


def form_of(length, section=150, ends=0):
    return GearType.objects.create(
        code=f"E{section}-{length}-{ends}",
        name=f"Edge form {section} x {length}",
        kind="edge form",
        section_mm=section,
        length_mm=length,
        splayed_ends=ends,
        mass_kg=D(length) / 200,
    )


@pytest.fixture
def six(yard):
    (piece,) = yard.pieces("ABCDEFGH3", type=form_of(6000), uses=40, cost=D("120.00"), maker_batch="B7")
    return piece


@pytest.fixture
def codes():
    from inventory.tags.code import with_check

    return [with_check(f"ABCDEF{n}{n}") for n in "2345"]


def test_the_arithmetic_of_a_cut(six):
    cut = reckon(six, [form_of(2500), form_of(3000)], 4)
    assert (cut.parts_mm, cut.cuts, cut.kerf_mm, cut.offcut_mm) == (5500, 2, 8, 492)
    assert cut.offcut_kg == D("2.460")  # 30 kg x 492 / 6000


def test_parts_that_use_the_whole_length_take_one_cut_less(six):
    cut = reckon(six, [form_of(2996), form_of(3000)], 4)
    assert (cut.cuts, cut.kerf_mm, cut.offcut_mm, cut.offcut_kg) == (1, 4, 0, 0)


def test_an_offcut_shorter_than_the_blade_goes_into_the_saw(six):
    cut = reckon(six, [form_of(2994), form_of(3000)], 4)
    assert (cut.kerf_mm, cut.offcut_mm) == (6, 0)


@pytest.mark.parametrize(("lengths", "says"), [((3000, 3001), "take 6,005 mm"), ((6000,), "shorter"), ((), "which")])
def test_parts_that_do_not_fit_are_refused(six, lengths, says):
    kinds = [GearType.objects.filter(length_mm=n).first() or form_of(n) for n in lengths]
    with pytest.raises(Refused, match=says):
        reckon(six, kinds, 4)


def test_parts_keep_uses_history_grade_and_their_share_of_the_cost(yard, six, codes):
    yard.tell(Kind.FOUND_DAMAGED, 5, piece=six.pk, data={"grade": "unfit"})
    six.refresh_from_db()
    made = cut_down(
        six, [Part(form_of(2500), codes[0]), Part(form_of(3000), codes[1])], kerf_mm=4, why="bent end", by=None, now=NOW
    )
    six.refresh_from_db()
    assert six.standing == Standing.CUT_DOWN
    assert [(p.uses, p.cost, p.cut_from, p.maker_batch, p.fitness, p.place) for p in made] == [
        (40, D("50.00"), six, "B7", Fitness.UNFIT, yard.yard),
        (40, D("60.00"), six, "B7", Fitness.UNFIT, yard.yard),
    ]
    data = Event.objects.get(kind=Kind.CUT_DOWN).data
    assert (data["scrap_kg"], data["offcut_mm"], data["parts"]) == ("2.460", 492, [p.pk for p in made])


def test_the_figures_count_the_parents_uses_once(yard, six, codes):
    made = cut_down(six, [Part(form_of(3000), codes[0])], kerf_mm=4, why="surplus", by=None, now=NOW)
    bring_up_to_date()
    parent, part = PieceLife.objects.get(piece=six), PieceLife.objects.get(piece=made[0])
    assert (parent.ended, parent.uses, part.entry_uses, part.uses) == ("cut down", 40, 40, 40)
    assert [dict(some) for some in spans_of("type").values()] == [{Span(40, 40, False): 1}] * 2


def test_a_taken_tag_undoes_the_whole_cut(yard, six, codes):
    with pytest.raises(Refused, match="already in use"):
        cut_down(six, [Part(form_of(3000), "ABCDEFGH3")], kerf_mm=4, why="surplus", by=None, now=NOW)
    six.refresh_from_db()
    assert six.standing == Standing.HELD and Piece.objects.count() == 1


def test_gear_of_somebody_else_is_never_cut(yard, six, codes):
    HiredIn.objects.create(piece=six, owner="Another yard")
    with pytest.raises(Refused, match="hired in"):
        cut_down(six, [Part(form_of(3000), codes[0])], kerf_mm=4, why="surplus", by=None, now=NOW)


def test_a_planned_cut_is_done_once_the_length_is_cut(yard, six, codes, client_as):
    half = form_of(2900)
    cut = plan_cut(six, [half, half], ready_on=NOW.date(), why="for J1", by=None, now=NOW)
    with pytest.raises(Refused, match="planned to be cut already"):
        plan_cut(six, [half], ready_on=NOW.date(), why="for J2", by=None, now=NOW)
    planner = client_as("planner")
    assert "for J1" in planner.get("/recut/").content.decode()
    assert "2 parts" in planner.get("/on-order/").content.decode()
    cut_down(six, [Part(half, code) for code in codes[:2]], kerf_mm=4, why="for J1", by=None, now=NOW)
    cut.refresh_from_db()
    assert cut.done_at == NOW and "for J1" not in planner.get("/recut/").content.decode()
    refused = planner.post(f"/recut/planned/{cut.pk}/", {"done": "off"})
    assert b"is cut already" in refused.content


def test_another_section_is_refused(yard, six, codes):
    with pytest.raises(Refused, match="another section"):
        cut_down(six, [Part(form_of(3000, 200), codes[0])], kerf_mm=4, why="surplus", by=None, now=NOW)


def test_a_plan_opens_the_page_filled_in(yard, six, client_as):
    form_of(2500), form_of(3000)
    manager = client_as("manager")
    which = manager.get("/recut/?from=E150-6000-0&into=E150-2500-0,E150-3000-0&why=for+J1").content.decode()
    assert f"/pieces/{six.pk}/recut/?into=E150-2500-0%2CE150-3000-0&amp;why=for+J1" in which
    page = manager.get(f"/pieces/{six.pk}/recut/?into=E150-2500-0,E150-3000-0&why=for+J1")
    form = page.context["form"]
    said = dict(form.initial)
    assert said["why"] == "for J1" and "492 mm" in page.content.decode()
    assert manager.post(f"/pieces/{six.pk}/recut/", said).status_code == 302
    assert Piece.objects.filter(cut_from=six).count() == 2


def test_a_length_and_its_parts_lead_to_each_other(yard, six, codes, client_as):
    """2 x 2,900 and two cuts of 4 leave 192 mm of 6,000; its 30 kg make 0.96 kg of scrap; half of 120 is 58.00."""
    half = form_of(2900)
    parts = cut_down(six, [Part(half, code) for code in codes[:2]], kerf_mm=4, why="bent", by=None, now=NOW)
    manager = client_as("manager")
    whole, part = (manager.get(f"/pieces/{each.pk}/").content.decode() for each in (six, parts[0]))
    assert all(f'href="/pieces/{each.pk}/"' in whole for each in parts) and "scrap, kg: 0.960" in whole
    assert f'href="/pieces/{six.pk}/"' in part and "58.00" in part and "B7" in part
