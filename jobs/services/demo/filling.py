"""Fill an empty database with the demo: the same yard every time, its days counted from today."""

from __future__ import annotations

import heapq
import random
from datetime import date, timedelta

from django.db import transaction

from inventory.models import Piece
from jobs.models import Job
from jobs.services.demo.fleet import Fleet, make_fleet
from jobs.services.demo.hire import bill_the_past, make_terms, quote_the_running
from jobs.services.demo.jobs import PLOTS, make_customers, make_job
from jobs.services.demo.people import make_people
from jobs.services.demo.story import at, tell

SEED = 20261
BEFORE_TODAY = 92


def is_filled() -> bool:
    return Piece.objects.exists() or Job.objects.exists()


@transaction.atomic
def fill(today: date) -> Fleet:
    """Everything up to the end of yesterday. One transaction: a demo is whole or not there."""
    bought = at(today - timedelta(days=BEFORE_TODAY), 8)
    fleet = make_fleet(make_people(), bought, random.Random(SEED))
    customers = make_customers()
    make_terms(customers, fleet.people["desk"], bought)
    stories = []
    for number, plot in enumerate(PLOTS):
        yard = fleet.south if plot.south else fleet.north
        asked = min(bought, at(today, 0)) if plot.panels else at(today - timedelta(days=3), 9)
        job = make_job(plot, customers[plot.customer], yard, today, asked)
        if plot.panels:
            acts = tell(fleet, plot, job)
            stories.append((next(acts), number, acts))
    heapq.heapify(stories)
    until = at(today, 0)
    while stories:
        when, number, acts = heapq.heappop(stories)
        if when < until and (after := next(acts, None)) is not None:
            heapq.heappush(stories, (after, number, acts))
    bill_the_past(today, fleet.people["desk"])
    quote_the_running(fleet.people["desk"])
    return fleet
