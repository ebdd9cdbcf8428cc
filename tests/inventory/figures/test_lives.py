"""A piece's life as numbers, and the summaries that follow the ledger."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.forms.models import model_to_dict
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.figures.life import LifeWalk, Month, MonthKey, Run, life_of, walked
from inventory.lifecycle.events import Group
from inventory.lifecycle.fold import fold
from inventory.lifecycle.kinds import GroupKind, Kind, Standing
from inventory.lifecycle.world import About
from inventory.models import CastSet, HiredIn, Lot, LotMonth, Piece, PieceLife, PieceRun, SpanCount
from inventory.selectors.lives import stored_lives, untold
from inventory.selectors.lives import told as told_as_text
from inventory.selectors.piece_sets import unpacked
from inventory.services.lots import entered_anew, strays
from inventory.services.proving import adrift, differences, sums_that_differ
from inventory.services.summing import bring_up_to_date, sum_everything
from tests.inventory.yard import make_yard, pour_group
from tests.strategies import PIECE, WORLD, ledgers

MARCH = date(2026, 3, 1)


@pytest.fixture
def yard(db):
    return make_yard()


def told(events):
    own = [e for e in events if e.piece is not None]
    presses = {}
    for event in events:
        if event.group is not None and event.kind != Kind.REVERSED:
            presses.setdefault(event.group, []).append(event)
    book = lambda g: sorted(presses.get(g, []), key=lambda e: e.key)  # noqa: E731
    life = life_of(own, book, WORLD, About(PIECE), lambda when: when.date())
    return fold(own, book, WORLD, About(PIECE)), life


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(ledgers())
def test_a_life_counts_what_the_fold_counts(events):
    folded, life = told(events)
    months = life.months.values()
    assert life.uses == folded.state.uses
    assert sum(m.casts for m in months) == life.own_uses
    assert (life.dirty_since is not None) == folded.state.dirty
    for month in months:
        assert 0 <= month.unfit <= month.damaged <= month.casts
        assert 0 <= month.lost <= month.casts and month.uncleaned <= month.casts
    assert sum(run.exit - run.entry for run in life.runs) == life.own_uses
    for before, after in zip(life.runs, life.runs[1:], strict=False):
        assert before.exit == after.entry and before.place != after.place
    assert not life.runs or (life.runs[0].entry, life.runs[-1].exit) == (life.entry_uses, life.uses)
    for before, after in zip(life.dirt, life.dirt[1:], strict=False):
        assert before.until is not None and before.since <= before.until <= after.since
    held_dirty = folded.state.dirty and folded.state.standing == Standing.HELD
    assert bool(life.dirt and life.dirt[-1].until is None) == held_dirty


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(ledgers())
def test_stays_follow_one_another_and_only_the_last_is_open(events):
    _, life = told(events)
    for before, after in zip(life.stays, life.stays[1:], strict=False):
        assert before.until is not None and before.since <= before.until <= after.since
        assert before.place != after.place or before.until <= after.since
    assert all(stay.until is not None for stay in life.stays[:-1])


def stood_on(events):
    """For a group, its events in order."""
    return lambda g: sorted((e for e in events if e.group == g), key=lambda e: e.key)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(ledgers(), st.integers(0, 30))
def test_a_life_walked_on_is_the_life_walked_whole(events, at):
    """From wherever the walk was halted and kept as text."""
    events = sorted((e for e in events if e.kind != Kind.REVERSED), key=lambda e: e.key)
    about, own = About(PIECE), [e for e in events if e.piece is not None]
    earlier, later = events[:at], {e.id for e in events[at:]}
    day = lambda when: when.date()  # noqa: E731
    life, halt = walked([e for e in own if e.id not in later], stood_on(earlier), WORLD, about, day)
    kept = replace(life, stays=[], dirt=[], months={})
    assert untold(told_as_text(life, halt), kept) == halt and kept == life
    walk = LifeWalk.onward(kept, halt, day, WORLD, about)
    folded = fold([e for e in own if e.id in later], stood_on(events), WORLD, about, halt.state, walk)
    assert walk.at(folded.state) == walked(own, stood_on(events), WORLD, about, day)
    assert kept == life


def rows(model):
    key = ("lot", "piece", "place", "month", "entry", "cell")
    found = [model_to_dict(row, exclude=["id"]) for row in model.objects.all()]
    if model is CastSet:
        return sorted((str(c.month), str(c.place_id), unpacked(c.pieces).tolist()) for c in model.objects.all())
    for row in found:  # lots are numbered anew when all is summed anew
        row |= {"lot": Lot.objects.get(pk=row["lot"]).key} if row.get("lot") else {}
    return sorted(found, key=lambda row: [str(row.get(name)) for name in key])


def summed():
    return [rows(model) for model in (PieceLife, PieceRun, LotMonth, SpanCount, CastSet)]


def use_twice(yard, piece):
    group = pour_group(yard.pour)
    yard.tell(Kind.RECEIVED, 20, piece=piece.pk, place=yard.site.pk)
    yard.tell(Kind.SET, 30, piece=piece.pk, place=yard.pour.pk)
    yard.tell(Kind.CAST, 40, group=group)
    yard.tell(Kind.STRIPPED, 60, group=group)
    yard.tell(Kind.SET, 70, piece=piece.pk, place=yard.upper.pk)
    yard.tell(Kind.CAST, 80, group=pour_group(yard.upper))
    yard.tell(Kind.STRIPPED, 90, group=pour_group(yard.upper))
    yard.tell(Kind.FOUND_DAMAGED, 91, piece=piece.pk, place=yard.site.pk, data={"grade": "unfit"})
    yard.tell(Kind.RETURNED, 120, piece=piece.pk, place=yard.yard.pk, data={"dirty": True})


def test_two_pours_one_uncleaned_then_damage(yard):
    (piece,) = yard.pieces("ABCDEFGH3", uses=7)
    use_twice(yard, piece)
    bring_up_to_date()
    life = stored_lives([piece.pk])[piece.pk]
    assert (life.entry_uses, life.uses, life.uses_since_inspected, life.site) == (7, 9, 9, yard.site.pk)
    here = MonthKey(MARCH, yard.site.pk)
    assert life.months == {here: Month(casts=2, damaged=1, unfit=1, uncleaned=1)}
    begun = date(2026, 3, 2)
    assert [(s.place, (s.since - begun).days, s.until and (s.until - begun).days) for s in life.stays] == [
        (yard.yard.pk, 0, 1),
        (yard.site.pk, 1, 5),
        (yard.yard.pk, 5, None),
    ]


def test_an_inspection_begins_the_count_of_uses_anew(yard):
    (piece,) = yard.pieces("ABCDEFGH3", uses=7)
    yard.tell(Kind.INSPECTED, 10, piece=piece.pk, data={"grade": "sound"})
    use_twice(yard, piece)
    bring_up_to_date()
    life = PieceLife.objects.get(piece=piece)
    assert life.uses_since_inspected == 2 and life.inspected_at is not None and life.unfit_since is not None


def test_a_sale_ends_a_life_with_its_proceeds_and_taking_it_back_undoes_both(yard):
    (piece,) = yard.pieces("ABCDEFGH3")
    said = uuid4()
    yard.tell(Kind.RETIRED, 10, id=said, piece=piece.pk, data={"how": "sold", "proceeds": "42.50"})
    bring_up_to_date()
    life = PieceLife.objects.get(piece=piece)
    assert (life.ended, life.proceeds, life.off_books) == ("sold", Decimal("42.50"), date(2026, 3, 2).toordinal())
    yard.tell(Kind.REVERSED, 11, piece=piece.pk, target=said)
    bring_up_to_date()
    life = PieceLife.objects.get(piece=piece)
    assert (life.ended, life.proceeds, life.off_books) == ("", 0, None)


def test_a_find_takes_a_loss_out_of_the_figures(yard):
    (piece,) = yard.pieces("ABCDEFGH3")
    use_twice(yard, piece)
    yard.tell(Kind.LOST, 130, piece=piece.pk)
    bring_up_to_date()
    here = MonthKey(MARCH, yard.site.pk)
    assert stored_lives([piece.pk])[piece.pk].months[here].lost == 1
    yard.tell(Kind.FOUND, 140, piece=piece.pk, place=yard.yard.pk)
    bring_up_to_date()
    assert stored_lives([piece.pk])[piece.pk].months[here].lost == 0


def test_following_the_ledger_gives_what_summing_it_whole_gives(yard):
    pieces = yard.pieces("ABCDEFGH3", "BCDEFGHJ4", uses=3)
    bring_up_to_date()
    for piece in pieces:
        use_twice(yard, piece)
        bring_up_to_date()
    late = yard.tell(Kind.CLEANED, 65, group=pour_group(yard.pour))
    assert late.answer != "refused"
    bring_up_to_date()
    yard.tell(Kind.REVERSED, 95, group=Group(GroupKind.POUR, yard.pour.pk), target=late.id)
    bring_up_to_date()
    assert sums_that_differ() == []
    followed = summed()
    assert sum_everything() == 2
    assert summed() == followed


def test_what_is_stored_is_what_the_ledger_tells(yard):
    (piece,) = yard.pieces("ABCDEFGH3", uses=3)
    use_twice(yard, piece)
    assert differences() == []
    PieceRun.objects.update(exit=7)
    assert differences() == [piece.pk] and len(sums_that_differ()) == 2


def test_too_much_at_once_is_left_to_the_worker(yard):
    yard.pieces("ABCDEFGH3", "BCDEFGHJ4")
    standing = bring_up_to_date(most=1)
    assert standing.behind == 2 and not PieceLife.objects.exists()
    assert bring_up_to_date().behind == 0


def test_an_attribute_entered_later_moves_the_piece_to_another_lot(yard):
    pieces = yard.pieces("ABCDEFGH3", "BCDEFGHJ4", uses=3)
    bring_up_to_date()
    assert strays(10) == []
    HiredIn.objects.create(piece=pieces[0], owner="Another yard")
    Piece.objects.filter(pk=pieces[1].pk).update(cost=Decimal("80.00"), bought_on=date(2024, 5, 1))
    assert adrift() == [piece.pk for piece in pieces]
    entered_anew(piece.pk for piece in pieces)
    assert strays(10) == [piece.pk for piece in pieces] and adrift() == []
    bring_up_to_date()
    assert strays(10) == adrift() == sums_that_differ() == []
    assert {(lot.ours, lot.cost, lot.year) for lot in Lot.objects.filter(lives__isnull=False)} == {
        (False, None, 2026),
        (True, Decimal("80.00"), 2024),
    }


def test_what_is_put_right_on_the_pages_of_a_piece_moves_it(yard, client_as):
    (piece,) = yard.pieces("ABCDEFGH3")
    bring_up_to_date()
    manager = client_as("manager")
    assert manager.post(f"/pieces/{piece.pk}/details/", {"cost": "75.00", "maker_batch": "B9"}).status_code == 302
    assert manager.post(f"/pieces/{piece.pk}/hired-in/", {"owner": "Another", "cost_day": "0"}).status_code == 302
    bring_up_to_date()
    lot = PieceLife.objects.get(piece=piece).lot
    assert (lot.cost, lot.maker_batch, lot.ours) == (Decimal("75.00"), "B9", False) and adrift() == []


def test_a_spell_of_dirt_ends_where_it_is_taken_away_or_cleaned(yard):
    (piece,) = yard.pieces("ABCDEFGH3")
    use_twice(yard, piece)
    yard.tell(Kind.CLEANED, 150, piece=piece.pk, place=yard.yard.pk)
    bring_up_to_date()
    life = stored_lives([piece.pk])[piece.pk]
    assert [(s.place, s.until is not None) for s in life.dirt] == [(yard.site.pk, True), (yard.yard.pk, True)]
    assert life.runs == [Run(yard.site.pk, 0, 2)]
