"""Bundles of a docket, and one lift by the published equation, as pages."""

from decimal import Decimal

import pytest

from inventory.models import DocketLine
from tests.factories import CrateFactory, DocketFactory, GearTypeFactory, PieceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def docket():
    return DocketFactory()


def form():
    return GearTypeFactory(code="E150-30", mass_kg=Decimal("14.700"))


def test_what_is_loaded_is_bundled_for_two_people(docket, client_as):
    for _ in range(5):
        PieceFactory(type=form(), docket=docket, place=None)
    page = client_as("hand").get(f"/dockets/{docket.pk}/bundles/")
    assert [bundle["count"] for bundle in page.context["bundles"]] == [2, 2, 1]
    shown = page.content.decode()
    assert "5 pieces loaded, 73.5 kg in all; 3 bundles of at most 40.0 kg" in shown
    assert "axle loads, payload and lashing are the driver" in shown


def test_a_forklift_takes_more_and_a_crate_counts_its_contents(docket, client_as):
    crate = CrateFactory(docket=docket, place=None)
    for _ in range(3):
        PieceFactory(type=form(), docket=docket, place=None, crate=crate)
    PieceFactory(type=form(), docket=docket, place=None)
    page = client_as("hand").get(f"/dockets/{docket.pk}/bundles/?way=own&own_kg=100")
    masses = sorted(bundle["mass"] for bundle in page.context["bundles"])
    assert sum(masses) == Decimal("14.7") * 4 + crate.type.mass_kg and page.context["pieces"] == 2


def test_before_loading_what_is_wanted_is_bundled(docket, client_as):
    DocketLine.objects.create(docket=docket, type=form(), wanted=4)
    shown = client_as("hand").get(f"/dockets/{docket.pk}/bundles/?way=fork").content.decode()
    assert "4 pieces wanted, none loaded yet" in shown and "4 x E150-30" in shown


def test_what_is_too_heavy_alone_is_said(docket, client_as):
    piece = PieceFactory(type=GearTypeFactory(code="BIG", mass_kg=Decimal(60)), docket=docket, place=None)
    shown = client_as("hand").get(f"/dockets/{docket.pk}/bundles/").content.decode()
    assert "Too heavy by themselves" in shown and piece.label in shown


def test_a_lift_is_worked_out_beside_its_caution(client_as):
    """H 40, V 10, D 65, poor grip, seldom: 9.26 kg (the equation's own arithmetic)."""
    asked = "load_kg=18.5&people=2&across_cm=40&height_cm=10&travel_cm=65&twist_deg=0&a_minute=0.2&grip=poor"
    shown = client_as("hand").get(f"/lifting/?{asked}").content.decode()
    assert "at most 9.3 kg" in shown and "lifting index of 1.00" in shown and "An aid, not a permission" in shown


def test_beyond_the_limits_nobody_should_lift(client_as):
    assert "Nobody should lift so" in client_as("hand").get("/lifting/?across_cm=70").content.decode()
