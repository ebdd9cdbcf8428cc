"""What one reading does, and how its outcome is said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.http import HttpRequest

from inventory.errors import Refused
from inventory.forms.scanning import Doing
from inventory.lifecycle.kinds import Fitness, PlaceKind, Seen
from inventory.models import DamageReason, Docket, Piece, Place, Submission, Tag, YardSettings
from inventory.models.roles import Role, roles_of
from inventory.services import at_hand, docket_scans, pour_presses
from inventory.services.docket_scans import Damage, Scan
from inventory.services.recording import Answer
from inventory.tags import code as tag_code
from inventory.views.who import person_of


@dataclass(frozen=True, slots=True)
class Outcome:
    """A word in large type, a sentence, and what can be done about it."""

    tone: str
    head: str
    sentence: str
    piece: Piece | None = None
    event: UUID | None = None
    code: str = ""
    can_override: bool = False
    two_to_lift: bool = False

    @classmethod
    def stop(cls, sentence: str, **more: Any) -> Outcome:
        return cls("stop", "Not taken", sentence, **more)

    @classmethod
    def good(cls, head: str, sentence: str, **more: Any) -> Outcome:
        return cls("good", head, sentence, **more)


DONE = {
    Doing.LOAD: "Loaded",
    Doing.ARRIVE: "Counted",
    Doing.SET: "Set",
    Doing.STRIP: "Stripped",
    Doing.NOT_IN: "Left out of the last press",
    Doing.CLEAN: "Clean",
    Doing.COUNT: "Seen",
    Doing.DAMAGE: "Marked",
}


def act(request: HttpRequest, said: dict[str, Any]) -> Outcome:
    try:
        code = tag_code.validate(tag_code.from_scan(said["code"]))
    except Refused as refused:
        return Outcome.stop(refused.sentence)
    piece = _piece(code)
    if said["doing"] == Doing.LOOK_UP:
        return _pour_looked_up(code) or _looked_up(piece, code)
    seen = Seen.TYPED if said["typed"] else Seen.SCANNED
    scan = Scan(code=code, piece=piece, by=person_of(request), seen=seen)
    may_override = Role.MANAGER in roles_of(request.user)
    try:
        answers = _do(scan, said, said["override"] if may_override else "")
    except Refused as refused:
        can_override = refused.code == "unfit-refused" and may_override
        return Outcome.stop(refused.sentence, piece=piece, code=code, can_override=can_override)
    return _said(answers, said, _piece(code), code, may_override)


def _piece(code: str) -> Piece | None:
    tag = Tag.objects.select_related("piece__type", "piece__place__parent", "piece__docket").filter(code=code).first()
    return tag.piece if tag else None


def _do(scan: Scan, said: dict[str, Any], override: str) -> list[Answer]:
    docket: Docket | None = said["docket"]
    if said["doing"] == Doing.LOAD and docket:
        return [docket_scans.load(docket, scan, override=override)]
    if said["doing"] == Doing.ARRIVE and docket:
        if docket.to_place.kind != PlaceKind.YARD:
            return [docket_scans.arrive(docket, scan)]
        return docket_scans.come_back(docket, scan, dirty=said["state"] != "clean", damage=_damage(said["reason"]))
    if said["doing"] == Doing.SET:
        return [pour_presses.set_one(scan, said["place"], override=override)]
    if said["doing"] == Doing.STRIP:
        return [pour_presses.strip_one(scan, said["place"])]
    if said["doing"] == Doing.NOT_IN:
        return [pour_presses.was_not_in(scan, said["place"])]
    if said["doing"] == Doing.COUNT:
        return [at_hand.seen_here(scan, place=said["place"])]
    if said["doing"] == Doing.CLEAN:
        return [at_hand.clean(scan, place=said["place"])]
    reason: DamageReason = said["reason"]
    return [at_hand.found_damaged(scan, place=said["place"], reason=reason, grade=reason.usual_grade)]


def _damage(reason: DamageReason | None) -> Damage | None:
    return Damage(reason, reason.usual_grade) if reason else None


def _pour_looked_up(code: str) -> Outcome | None:
    pour = Place.objects.filter(tags__code=code).select_related("parent").first()
    return Outcome.good("A pour", f"This code stands for {pour}.", code=code) if pour else None


def _looked_up(piece: Piece | None, code: str) -> Outcome:
    if piece is None:
        return Outcome.stop(f"No piece carries {tag_code.format(code)}.", code=code)
    return Outcome.good("Found", _whereabouts(piece), piece=piece, code=code)


def _whereabouts(piece: Piece) -> str:
    if piece.place is not None:
        return f"At {piece.place}."
    return f"On docket {piece.docket}." if piece.docket is not None else f"It is {piece.standing}."


def _said(answers: list[Answer], said: dict[str, Any], piece: Piece | None, code: str, manager: bool) -> Outcome:
    first = answers[0]
    if first.answer == Submission.Answer.REFUSED:
        can_override = manager and first.code == "unfit-refused"
        return Outcome.stop(first.sentence, piece=piece, code=code, can_override=can_override)
    heavy = piece is not None and piece.type.mass_kg >= YardSettings.current().two_person_lift_kg
    worst = next((a for a in answers if a.answer == Submission.Answer.IN_REVIEW), None)
    if worst is not None:
        return Outcome("look", "Kept for review", worst.sentence, piece, first.id, code, two_to_lift=heavy)
    unfit = piece is not None and piece.fitness == Fitness.UNFIT
    tone, head = ("look", "Unfit: set it aside") if unfit else ("good", DONE[Doing(said["doing"])])
    return Outcome(tone, head, first.sentence, piece, first.id, code, two_to_lift=heavy)
