"""`replay` folds everything again and finds whatever the cache has wrong."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command

from inventory.lifecycle.kinds import Kind
from inventory.models import CountedStock, GroupMember, Piece, ReviewItem
from inventory.services.replaying import replay
from tests.inventory.yard import docket_group, pour_group


@pytest.fixture
def worked(yard):
    docket = yard.docket()
    yard.pieces("AAA", "BBB")
    yard.tell(Kind.COUNTED, 0.5, type=yard.bolt.pk, quantity=50, place=yard.yard.pk)
    yard.tell(Kind.SENT, 1, type=yard.bolt.pk, quantity=20, docket=docket.pk)
    for code in ("AAA", "BBB"):
        yard.tell(Kind.SENT, 1, tag=code, docket=docket.pk)
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.SET, 3, group=docket_group(docket), place=yard.pour.pk)
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    return yard


def said(found):
    return [str(each) for each in found]


def test_what_the_writer_cached_is_what_a_replay_finds(worked):
    outcome = replay()
    assert said(outcome.found) == []
    assert (outcome.pieces, outcome.types, outcome.events) == (2, 1, 9)


def test_a_changed_state_is_found_and_mended(worked):
    Piece.objects.filter(label="AAA").update(uses=7, place=worked.yard)
    assert len(replay().found) == 2
    replay(mend=True)
    assert replay().found == []
    assert Piece.objects.get(label="AAA").uses == 1


def test_a_changed_quantity_is_found_and_mended(worked):
    CountedStock.objects.filter(place=worked.yard).update(quantity=1)
    assert said(replay().found) == [
        f"M12: the sound quantity at place {worked.yard.pk} is 1 in the cache and 30 by the ledger"
    ]
    replay(mend=True)
    assert replay().found == []


def test_a_piece_missing_from_its_group_is_found_and_mended(worked):
    GroupMember.objects.filter(group_kind="pour").delete()
    assert len(replay().found) == 2
    replay(mend=True)
    assert replay().found == []


def test_a_contradiction_that_was_never_raised_is_found_and_mended(worked):
    ReviewItem.objects.all().delete()
    assert len(replay().found) == 2
    replay(mend=True)
    assert ReviewItem.objects.open().filter(code="strip-without-cast").count() == 2


def test_the_command_ends_badly_on_a_disagreement_and_well_once_mended(worked, capsys):
    Piece.objects.filter(label="AAA").update(dirty=False)
    with pytest.raises(CommandError, match="1 disagreements"):
        call_command("replay")
    call_command("replay", mend=True)
    call_command("replay")
    assert "agrees" in capsys.readouterr().out
