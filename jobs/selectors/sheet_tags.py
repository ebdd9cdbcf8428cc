"""Which tag goes to which side of a job's pours, for the sheets they are set out from.

Dealt over the whole job, whichever of its sheets is asked for, so that two of them never name one tag for one day:
those that stand in a pour are its own; the others come from what lies on the site, what stands in pours before, and
what was chosen for the job's trucks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Min, Q

from inventory.lifecycle.kinds import Fitness, Phase
from inventory.models import GearType, Piece
from jobs.models import Job
from jobs.planning.dealing import PourSides, Tag, deal
from jobs.planning.levels import sides_below
from jobs.planning.panels import Panel
from jobs.selectors.pours import Programme

IN_IT = "in this pour"
ON_SITE, IN_OTHERS, CHOSEN = "on the site now", "in pours before it now", "chosen for its trucks"
FORMS = Q(type__kind=GearType.Kind.EDGE_FORM)
Codes = Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class SheetTags:
    """Labels by run, from the seat; where each label was found; and the pours in which gear stands, by name."""

    labels: Mapping[str, Sequence[str]]
    found: Mapping[str, str]
    standing: frozenset[str]

    def source(self, pour: str, keys: Sequence[str]) -> str:
        """In words, where the tags of these runs were found; empty without any."""
        labels = [label for key in keys for label in self.labels.get(key, ()) if label]
        if labels and pour in self.standing:
            return IN_IT
        places = {self.found[label] for label in labels}
        return " and ".join(words for words in (ON_SITE, IN_OTHERS, CHOSEN) if words in places)


def sheet_tags(job: Job, panels: Sequence[Panel], codes: Codes, programme: Programme) -> SheetTags:
    """The tags of all sides of a job that are composed. `panels` are all of it. A pour that is cast and has no gear in
    it any more is left out."""
    inside, there = _on_site(job)
    keys: dict[str, list[str]] = defaultdict(list)
    for panel in panels:
        keys[panel.pour] += [f"{panel.mark}/{side + 1}" for side in range(len(panel.outline.sides))]
    pours = [
        PourSides(name, *programme.days[name].held, {key: codes[key] for key in own if key in codes}, inside[name])
        for name, own in keys.items()
        if inside[name] or name not in programme.cast
    ]
    found = {label: IN_OTHERS for own in inside.values() for _, label in own}
    free = []
    for tag, words in (*there, *_coming(job)):
        if tag.label not in found:
            found[tag.label] = words
            free.append(tag)
    return SheetTags(deal(pours, free, sides_below(panels)), found, frozenset(n for n, own in inside.items() if own))


def _on_site(job: Job) -> tuple[dict[str, list[tuple[str, str]]], list[tuple[Tag, str]]]:
    """(type code, label) of the pieces that stand in each pour, by its name; and the fit ones that lie on the site or
    were stripped there."""
    inside: dict[str, list[tuple[str, str]]] = defaultdict(list)
    free = []
    rows = Piece.objects.held().filter(FORMS).filter(Q(place=job.site, pour=None) | Q(pour__parent=job.site))
    fields = ("pour__pour__name", "phase", "fitness", "type__code", "label")
    for name, phase, fitness, code, label in rows.order_by("label").values_list(*fields):
        if name and phase != Phase.STRIPPED:
            inside[name].append((code, label))
        elif fitness != Fitness.UNFIT:
            free.append((Tag(code, label, date.min), ON_SITE))
    return inside, free


def _coming(job: Job) -> list[tuple[Tag, str]]:
    """Fit pieces chosen for trucks that have not arrived, from the day of loading."""
    trucks = job.deliveries.filter(is_return=False, docket__received_at=None)
    picked = Piece.objects.fit().filter(FORMS, picks__delivery__in=trucks).order_by("label")
    days = picked.values_list("type__code", "label").annotate(Min("picks__delivery__load_on"))
    return [(Tag(*row), CHOSEN) for row in days]
