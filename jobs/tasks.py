"""Long work, run by the worker beside the server."""

from __future__ import annotations

from django_tasks import task

from jobs.models import CoverCheck
from jobs.services.checking import solve_check


@task()
def answer_cover_check(check_id: int) -> None:
    check = CoverCheck.objects.filter(pk=check_id).first()
    if check is not None:
        solve_check(check=check)
