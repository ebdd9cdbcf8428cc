"""What each role must do next, counted from the record as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Min, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.lifecycle.kinds import Fitness
from inventory.models import Docket, GearType, Person, Piece, Place, ReviewItem, YardSettings
from jobs.models import CoverCheck, Customer, Job

SOON = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Out:
    """One job's gear, tagged pieces only, as it stands on its site."""

    job: Job
    pieces: int
    unfit: int
    since: datetime | None

    def is_overdue(self, today: date) -> bool:
        return self.job.ends_on is not None and self.job.ends_on < today

    def is_due(self, today: date) -> bool:
        return self.job.ends_on is not None and today <= self.job.ends_on <= today + SOON


def out_by_job() -> list[Out]:
    """Jobs whose sites hold gear, those due first at the top."""
    held = (
        Piece.objects.held()
        .exclude(place=None)
        .order_by()
        .values_list(Coalesce("place__parent", "place"))
        .annotate(n=Count("pk"), unfit=Count("pk", Q(fitness=Fitness.UNFIT)), since=Min("since"))
    )
    at = {place: rest for place, *rest in held}
    jobs = Job.objects.filter(site__in=at).select_related("customer", "site", "yard")
    found = [Out(job, *at[job.site_id]) for job in jobs]
    return sorted(found, key=lambda out: (out.job.ends_on or date.max, out.job.code))


@dataclass(frozen=True, slots=True)
class Yard:
    """The manager's numbers, each of which can be listed."""

    out: int
    on_the_road: int
    dirty: int
    unfit: int
    in_review: int
    loud: int


def yard_counts(outs: list[Out]) -> Yard:
    pieces = Piece.objects.held().aggregate(
        road=Count("pk", Q(place=None)), dirty=Count("pk", Q(dirty=True)), unfit=Count("pk", Q(fitness=Fitness.UNFIT))
    )
    review = ReviewItem.objects.open().one_a_card().aggregate(n=Count("pk"), loud=Count("pk", Q(loud=True)))
    out = sum(each.pieces for each in outs)
    return Yard(out, pieces["road"], pieces["dirty"], pieces["unfit"], review["n"], review["loud"])


@dataclass(frozen=True, slots=True)
class Step:
    """Something a new yard sets up, the page where, and whether it is done."""

    words: str
    page: str
    done: bool


def first_steps() -> list[Step]:
    """What is still to set up, in order; nothing more once there are pieces on the books."""
    if Piece.objects.exists():
        return []
    named = YardSettings.current().business_name != YardSettings._meta.get_field("business_name").default
    return [
        Step("Name the business, and who to call when gear is found", "yard-settings", named),
        Step("Add your yard, and its wash bay and workshop", "places", Place.objects.yards().exists()),
        Step("Bring in the catalogue, from a file or one type at a time", "imports", GearType.objects.exists()),
        Step("Bring in the pieces and the counted goods", "imports", False),
        Step("Print their labels", "labels", False),
        Step("Give everyone else a sign-in", "people", Person.objects.count() > 1),
    ]


def open_dockets() -> list[Docket]:
    """Trucks that somebody still has something to do with, the oldest first."""
    dockets = Docket.objects.open().select_related("from_place", "to_place")
    return list(dockets.order_by("opened_at", "id")[:20])


def jobs_asked() -> QuerySet[Job]:
    """Jobs asked for with the state and the answer of their newest check."""
    newest = CoverCheck.objects.filter(job=OuterRef("pk")).order_by("-asked_at", "-id")
    return (
        Job.objects.asked()
        .select_related("customer", "yard")
        .annotate(
            panel_count=Count("panels"),
            check_id=Subquery(newest.values("pk")[:1]),
            check_state=Subquery(newest.values("state")[:1]),
            check_covered=Subquery(newest.values("covered")[:1]),
        )
        .order_by("starts_on", "id")
    )


def answer_words(job: Job) -> str:
    """What the planner knows of a job asked for: nothing yet, waiting, covered, or short."""
    if not job.panel_count:  # type: ignore[attr-defined]
        return "no panels yet"
    state = job.check_state  # type: ignore[attr-defined]
    if state is None:
        return "not checked"
    if state == CoverCheck.State.ANSWERED:
        return "covered" if job.check_covered else "short"  # type: ignore[attr-defined]
    return str(state)


@dataclass(frozen=True, slots=True)
class Having:
    """What one customer has now: pieces on the sites of its jobs, since when, on which jobs."""

    customer: Customer
    pieces: int
    since: datetime | None
    jobs: tuple[Job, ...]


def by_customer(outs: list[Out]) -> list[Having]:
    found: dict[int, list[Out]] = {}
    for out in outs:
        found.setdefault(out.job.customer_id, []).append(out)
    having = [
        Having(
            some[0].job.customer,
            sum(out.pieces for out in some),
            min((out.since for out in some if out.since), default=None),
            tuple(out.job for out in some),
        )
        for some in found.values()
    ]
    return sorted(having, key=lambda each: each.customer.name)
