"""Long work, run by the worker beside the server."""

from __future__ import annotations

from django.utils import timezone
from django_tasks import task

from inventory.models import Taking
from inventory.services.importing.keeping import carry_out
from inventory.services.summing import sum_everything


@task()
def take_file(taking_id: int) -> None:
    taking = Taking.objects.select_related("brought", "asked_by").filter(pk=taking_id).first()
    if taking is not None:
        carry_out(taking, now=timezone.now())


@task()
def sum_lives() -> None:
    """Make the summaries of lives from the whole ledger: the first time, and after a great many reports at once."""
    sum_everything()
