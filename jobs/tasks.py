"""Long work, run by the worker beside the server."""

from __future__ import annotations

from django_tasks import task

from jobs.errors import Refused
from jobs.models import BillRun, CoverCheck, RemedySearch
from jobs.services.bill_runs import do_run
from jobs.services.checking import solve_check
from jobs.services.remedying import ask_remedies, solve_remedies


@task()
def answer_cover_check(check_id: int) -> None:
    """Answers it; where it is short, what would make it fit is worked out next."""
    check = CoverCheck.objects.filter(pk=check_id).first()
    if check is None:
        return
    solve_check(check=check)
    if check.state != CoverCheck.State.ANSWERED or check.covered:
        return
    try:
        search = ask_remedies(check=check, by=check.asked_by)
    except Refused:
        return  # changed meanwhile, or short of nothing that gear can remedy: the page says so
    answer_remedy_search.enqueue(search.pk)


@task()
def answer_remedy_search(search_id: int) -> None:
    search = RemedySearch.objects.filter(pk=search_id).first()
    if search is not None:
        solve_remedies(search=search)


@task()
def draft_bills(run_id: int) -> None:
    _bill_run(run_id)


@task()
def issue_bills(run_id: int) -> None:
    _bill_run(run_id)


def _bill_run(run_id: int) -> None:
    run = BillRun.objects.filter(pk=run_id).first()
    if run is not None:
        do_run(run=run)
