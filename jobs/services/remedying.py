"""The search for remedies as long work: asked of a check that is short, worked out, and stored with its question."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone

from inventory.models import Person
from inventory.services.work import WorkCancelled, answered, begin, cancelled, failed
from jobs.errors import Refused
from jobs.models import CoverCheck, RemedySearch
from jobs.planning.limits import Limits
from jobs.planning.remedies.finding import find_remedies
from jobs.planning.remedies.question import Question, Remedy
from jobs.selectors.remedies import build_question, digest_of_question
from jobs.services.replanning import with_articles, with_fewer_joints, with_other_load_lists
from jobs.services.watching import Watching

SECONDS = 90.0
BROKE_OFF = "The search broke off. Ask again; if it breaks twice, tell the person who runs the server."
CHANGED = "Stock, dates or other jobs changed before the search began. Ask again."


def ask_remedies(
    *, check: CoverCheck, by: Person | None = None, today: date | None = None, now: datetime | None = None
) -> RemedySearch:
    """The question as it stands now, waiting for a worker. One that waits or works already is given back.

    Raises Refused ("not-answered", "stale", "not-short").
    """
    if check.state != CoverCheck.State.ANSWERED:
        raise Refused("not-answered", "This check has no answer yet: wait for it, or ask again.")
    question = build_question(check, today or timezone.localdate())
    digest = digest_of_question(question)
    states = [RemedySearch.State.WAITING, RemedySearch.State.WORKING]
    under_way = check.remedy_searches.filter(state__in=states, cancel_asked=False, digest=digest).first()
    if under_way is not None:
        return under_way
    return RemedySearch.objects.create(
        check_asked=check, asked_at=now or timezone.now(), asked_by=by, digest=digest, question=question.as_json()
    )


def solve_remedies(*, search: RemedySearch, seconds: float | None = SECONDS, today: date | None = None) -> None:
    """Answers a search that waits. What goes wrong is stored in words, and raised for the log."""
    if not begin(search):
        return
    try:
        today = today or timezone.localdate()
        question = build_question(search.check_asked, today)
        if digest_of_question(question) != search.digest:
            raise Refused("changed", CHANGED)
        watch, limits = Watching(search), Limits(seconds)
        found = find_remedies(question, seconds, watch.progress, watch.cancelled)
        if watch.cancelled(at_once=True):
            raise WorkCancelled
        whole = [_with_articles(each, question, search, today, limits) for each in found]
        ranked = [each.as_json() for each in sorted(whole, key=Remedy.rank)]
        answered(search, answer={"remedies": ranked, "owed": question.owed()})
    except WorkCancelled:
        cancelled(search)
    except Refused as refused:
        failed(search, refused.sentence)
    except Exception:
        failed(search, BROKE_OFF)
        raise


def _with_articles(remedy: Remedy, question: Question, search: RemedySearch, today: date, limits: Limits) -> Remedy:
    """A joint plan turns the answer only if all that hangs on its runs is there too; where it is not, it may be with
    fewer joints, from the same load lists or from others."""
    if remedy.name != "replan" or not remedy.turns or question.together is None:
        return remedy
    together, now = question.together, timezone.now()
    counted = with_articles(remedy, search.check_asked, question.timeline, today, now)
    if counted.turns:
        return counted
    for fewer in (lambda: with_fewer_joints(remedy, together, limits), lambda: with_other_load_lists(together, limits)):
        other = with_articles(fewer(), search.check_asked, question.timeline, today, now)
        if other.turns:
            return other
    return counted
