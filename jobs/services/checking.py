"""Cover checks as long work: asked, worked out by the engine with no transaction open, and answered."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone

from inventory.models import Person
from inventory.services.work import WorkCancelled, answered, begin, cancelled, failed
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.planning.cover import check as check_cover
from jobs.planning.request_json import parse_request
from jobs.selectors.beside import beside_of
from jobs.selectors.cover import build_request, digest_of, request_as_json
from jobs.selectors.goods import short_of
from jobs.services.composing import FEWER_JOINTS_SECONDS, settled
from jobs.services.watching import Watching

SECONDS = 60.0
# How far a check is once its runs are composed: what else they need is still to be counted.
COMPOSED = 0.9
BROKE_OFF = "The check broke off. Ask again; if it breaks twice, tell the person who runs the server."


def ask_check(
    *, job: Job, by: Person | None = None, today: date | None = None, now: datetime | None = None
) -> CoverCheck:
    """The question as it stands now, waiting for a worker. One that waits or works already is given back."""
    request = request_as_json(build_request(job, today or timezone.localdate()))
    digest = digest_of(request)
    under_way = job.checks.filter(state__in=[CoverCheck.State.WAITING, CoverCheck.State.WORKING], cancel_asked=False)
    same = under_way.filter(digest=digest).first()
    if same is not None:
        return same
    return CoverCheck.objects.create(
        job=job, asked_at=now or timezone.now(), asked_by=by, digest=digest, request=request
    )


def solve_check(*, check: CoverCheck, seconds: float | None = SECONDS, today: date | None = None) -> None:
    """Answers a check that waits: the edge forms, then everything else its composed runs need.

    What goes wrong is stored in words, and raised for the log.
    """
    if not begin(check):
        return
    try:
        watch = Watching(check)
        request = parse_request(check.request)
        answer = check_cover(request, seconds, watch.part(COMPOSED), watch.cancelled)
        watch.progress(COMPOSED, "Counting everything else the pours need")
        today = today or timezone.localdate()
        longest = None if seconds is None else FEWER_JOINTS_SECONDS
        found = settled(check, request, answer, today, watch, longest)
        if watch.cancelled(at_once=True):
            raise WorkCancelled
        beside = beside_of(check.job, request, found.answer, today) | {"instead": list(found.instead)}
        covered = found.answer.covered and not short_of(found.goods)
        answered(check, answer=found.answer.as_json(), goods=found.goods, beside=beside, covered=covered)
    except WorkCancelled:
        cancelled(check)
    except Refused as refused:
        failed(check, refused.sentence)
    except Exception:
        failed(check, BROKE_OFF)
        raise
