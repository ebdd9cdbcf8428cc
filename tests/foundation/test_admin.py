"""The admin shows the ledger and writes nothing to it."""

import pytest
from django.urls import reverse

from inventory.models import Event, Piece
from tests.factories import EventFactory, PieceFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    client.force_login(UserFactory(is_superuser=True, is_staff=True))
    return client


@pytest.mark.parametrize("model", ["event", "submission", "piece", "tag", "docket", "batch", "person", "device"])
def test_each_list_opens(owner, model):
    assert owner.get(reverse(f"admin:inventory_{model}_changelist")).status_code == 200


def test_an_event_is_shown_and_can_be_neither_changed_nor_deleted_nor_added(owner):
    event = EventFactory(piece=PieceFactory())
    assert owner.get(reverse("admin:inventory_event_change", args=[event.pk])).status_code == 200
    for name, args in (("change", [event.pk]), ("delete", [event.pk]), ("add", [])):
        assert owner.post(reverse(f"admin:inventory_event_{name}", args=args), {"post": "yes"}).status_code == 403
    assert Event.objects.filter(pk=event.pk).exists()


def test_cached_state_cannot_be_edited(owner):
    piece = PieceFactory(dirty=False)
    owner.post(reverse("admin:inventory_piece_change", args=[piece.pk]), {"dirty": "on"})
    assert not Piece.objects.get(pk=piece.pk).dirty
