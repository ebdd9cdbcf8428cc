"""The manager's review pages: alarms first, one card for one contradiction, settled with what it needs."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import Kind
from inventory.models import Event, ReviewItem
from inventory.models.roles import Role
from inventory.services.reports import Report
from inventory.views.reviews import ReviewFilter
from tests import factories
from tests.inventory.yard import at, docket_group, pour_group

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(client_as):
    return client_as(Role.MANAGER)


@pytest.fixture
def stripped(yard):
    """Two pieces stripped from a pour with neither a cast nor a call-off."""
    docket = yard.docket()
    yard.pieces("AAA", "BBB")
    yard.send(*(Report(Kind.SENT, at(1), tag=code, docket=docket.pk) for code in ("AAA", "BBB")))
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.SET, 3, group=docket_group(docket), place=yard.pour.pk)
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    return ReviewItem.objects.open().order_by("pk").first()


def page(client, item):
    return reverse("review-card", args=[item.pk])


def test_pieces_that_share_a_contradiction_are_one_row(manager, stripped):
    answer = manager.get(reverse("review"))
    assert [row.pieces for row in answer.context["page"]] == [2]


def test_alarms_come_first(manager, stripped, yard):
    """Unfit gear in a pour stands above what waited longer."""
    yard.tell(Kind.FOUND_DAMAGED, 2.5, tag="BBB", place=yard.site.pk, data={"grade": "unfit"})
    answer = manager.get(reverse("review"))
    assert [row.code for row in answer.context["page"]] == ["unfit-set", "strip-without-cast"]


def test_a_card_shows_what_was_reported_and_offers_its_ways(manager, stripped):
    text = manager.get(page(manager, stripped)).content.decode()
    assert "neither a cast nor a call-off" in text
    assert "It was called off on" in text and "It was cast on" in text
    assert "pour Mill Lane, Pour 1" in text


def test_settling_writes_the_missing_word_and_leaves_the_list_empty(manager, stripped, yard):
    said = {"way": "was-called-off", "was-called-off-when": "2026-03-03T02:00"}
    answer = manager.post(page(manager, stripped), said)
    assert answer.status_code == 302
    assert Event.objects.filter(kind=Kind.CALLED_OFF, group_id=yard.pour.pk).exists()
    assert not ReviewItem.objects.open().exists()


def test_a_reason_left_out_is_asked_for_and_nothing_is_settled(manager, stripped):
    answer = manager.post(page(manager, stripped), {"way": "stands", "stands-reason": ""})
    assert answer.status_code == 200
    assert "required" in answer.content.decode()
    assert ReviewItem.objects.open().count() == 2


def test_a_code_nobody_knows_is_said_to_be_a_piece(manager, yard):
    yard.pieces("AAA")
    answer = yard.tell(Kind.CLEANED, 5, tag="AAB", place=yard.bay.pk)
    item = ReviewItem.objects.open().get()
    assert "AAB" in manager.get(page(manager, item)).content.decode()
    manager.post(page(manager, item), {"way": "it-was", "it-was-piece": "aaa"})
    assert Event.objects.get(pk=answer.id).piece.label == "AAA"


def test_a_card_settled_meanwhile_says_so(manager, stripped, yard):
    yard.tell(Kind.CALLED_OFF, 20, group=pour_group(yard.pour))
    answer = manager.get(page(manager, stripped), follow=True)
    assert "settled already" in answer.content.decode()


@pytest.mark.parametrize("said", ["ABCD-EFGH-3", "abcd-ef", "HTTPS://YARD.EXAMPLE/T/ABCDEFGH3"])
def test_a_tag_is_found_as_it_is_shown_typed_or_scanned(said):
    wanted = factories.ReviewItemFactory(piece__label="ABCDEFGH3")
    factories.ReviewItemFactory()
    assert list(ReviewFilter({"q": said}, queryset=ReviewItem.objects.all()).qs) == [wanted]
