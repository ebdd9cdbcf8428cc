"""How a job's runs were composed before: what a new check falls back on before it says that anything is lacking."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from jobs.models import Job, RemedySearch
from jobs.selectors.planned import codes_planned

Codes = Mapping[str, Sequence[str]]
_SEARCHES = 3


def known_runs(job: Job) -> Iterator[Codes]:
    """Type codes by side: of the plan it is accepted with, then of each remedy set going, the newest first."""
    planned = codes_planned(job)
    if planned:
        yield planned
    searches = RemedySearch.objects.filter(check_asked__job=job).exclude(applied={}).select_related("check_asked")
    for search in searches[:_SEARCHES]:
        for remedy in (search.answer or {}).get("remedies", []):
            if remedy["name"] in search.applied:
                yield {**_of_check(search), **remedy.get("runs", {})}


def _of_check(search: RemedySearch) -> Codes:
    return {str(run["side"]): run["pieces"] for run in (search.check_asked.answer or {}).get("runs", [])}
