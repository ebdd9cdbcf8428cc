"""The question put to the search for remedies, built from the check, the yards, the other jobs and the supplies."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import date, timedelta

from inventory.models import GearType, YardSettings
from jobs.errors import Refused
from jobs.models import CoverCheck, Job, RemedySearch, Supply
from jobs.planning.answer import CoverAnswer, Impossible, Short
from jobs.planning.remedies.buy import Source
from jobs.planning.remedies.extras import coverable
from jobs.planning.remedies.left import Left
from jobs.planning.remedies.move_pours import Bounds
from jobs.planning.remedies.question import Question
from jobs.planning.remedies.timeline import PlannedPour, Timeline
from jobs.planning.request import CoverRequest
from jobs.planning.stacks import by_stack, neighbours
from jobs.selectors.cover import build_request, digest_of, request_as_json
from jobs.selectors.cutting import mill_lengths, surplus_lengths
from jobs.selectors.goods_over_time import counting_of
from jobs.selectors.panels import planned_panels
from jobs.selectors.plans import Plan
from jobs.selectors.pours import cast_pours, days_of, job_calendar, pour_times
from jobs.selectors.stock import stock_for
from jobs.selectors.supplies import left_of
from jobs.selectors.together import planned_together
from jobs.selectors.waiting import Arrivals, held_by_others, waiting_pieces

LONGEST_WAIT = 40
# What an article without any price weighs beside others, in the hundredth part of money.
UNKNOWN_PRICE = 10


def build_question(check: CoverCheck, today: date, plan: Plan | None = None) -> Question:
    """What is asked about a check that is short. Raises Refused ("stale", "not-short")."""
    job = check.job
    request = build_request(job, today)
    if digest_of(request_as_json(request)) != check.digest:
        raise Refused("stale", "Panels, dates or stock have changed since this check: check again first.")
    answer = short_answer(check)
    short = {item.code for item in answer.short}
    sections = {piece.section_mm for piece in request.pieces if piece.code in short}
    arrivals = Arrivals(job, today, job_calendar(job, today))
    timeline = _timeline(arrivals, request, check, plan)
    lacking = tuple(article for article in timeline.articles if article.lack(timeline.spans({})))
    if not sections and not lacking:
        raise Refused("not-short", "This check is not short of anything: there is nothing to remedy.")
    codes = [piece.code for piece in request.pieces if piece.section_mm in sections]
    # Runs composed anew may need more of any article than those of the check, so each is looked for.
    articles = timeline.counting.used_up if timeline.counting else {}
    wanted = [*codes, *sorted(articles)]
    for_good = {code for code, used_up in articles.items() if used_up}
    # Of what is used up, what lies on another site is that job's to use up.
    lent = [code for code in wanted if code not in for_good]
    yard = YardSettings.current()
    return Question(
        request=request,
        answer=answer,
        timeline=timeline,
        currency=yard.currency,
        waiting=tuple(waiting_pieces(arrivals, wanted)),
        held=tuple(held_by_others(arrivals, lent)),
        sources=tuple(_sources(arrivals, request, wanted, for_good)),
        articles=lacking,
        longest_wait=LONGEST_WAIT,
        bounds=_bounds(job, today),
        surplus=tuple(surplus_lengths(arrivals, codes, max(run.until for run in request.runs))),
        mill=tuple(mill_lengths(arrivals, sections)),
        kerf_mm=yard.saw_kerf_mm,
        together=planned_together(arrivals, coverable(request, answer)) if sections else None,
    )


def _bounds(job: Job, today: date) -> Bounds:
    return Bounds(
        today=today,
        cycle_days=job.cycle_days,
        panels_a_day=job.most_panels_a_day,
        panels_a_crew=job.most_panels_a_crew,
        crews=job.crews,
    )


def short_answer(check: CoverCheck) -> CoverAnswer:
    """As much of a stored answer as the remedies need."""
    said = check.answer or {}
    return CoverAnswer(
        covered=bool(said.get("covered")),
        short_mm=said["short_mm"],
        short_bound_mm=said["short_bound_mm"],
        cost_mm=said["cost_mm"],
        cost_bound_mm=said["cost_bound_mm"],
        gap=said["gap"],
        proved=said["proved"],
        seconds=0.0,
        runs=(),
        load=(),
        short=tuple(Short(s["code"], s["count"], date.fromisoformat(s["first"])) for s in said["short"]),
        impossible=tuple(Impossible(i["pour"], i["side"], i["reason"]) for i in said["impossible"]),
    )


def _timeline(arrivals: Arrivals, request: CoverRequest, check: CoverCheck, plan: Plan | None) -> Timeline:
    """The pours of the request and what they need, with the stock known for as long as they may be put off or
    brought forward."""
    job, today = arrivals.job, arrivals.today
    days, cast = days_of(job, arrivals.calendar), cast_pours(job)
    panels = planned_panels(job)
    asked = {str(run.pour) for run in request.runs}
    pours = tuple(
        PlannedPour(
            name=pour.name,
            cast=pour.cast_on,
            panels=sum(panel.pour == pour.name for panel in panels),
            set_given=pour.set_on,
            free_given=pour.free_on,
            fixed=pour.name in cast or days[pour.name].set <= today,
        )
        for pour in job.pours.all()
        if days[pour.name].free > today
    )
    pairs = {(low.pour, high.pour) for stack in by_stack(panels).values() for low, high in neighbours(stack)}
    above = tuple(sorted(pair for pair in pairs if set(pair) <= asked and pair[0] != pair[1]))
    span = _known_span(arrivals, request)
    stock = stock_for(job, [piece.code for piece in request.pieces], span, today, owed=True)
    owed = {code: steps for code, steps in stock.items() if any(count < 0 for _, count in steps)}
    there = {code: [(day, max(0, count)) for day, count in steps] for code, steps in stock.items()}
    counting = counting_of(check, span, today, plan)
    known = request.with_stock({**there})
    return Timeline(known, pours, pour_times(job), arrivals.calendar, above, counting.present, counting, owed)


def _known_span(arrivals: Arrivals, request: CoverRequest) -> tuple[date, date]:
    """Days for which stock must be known: before the first of the request, from today, and after its last."""
    first, last = min(run.start for run in request.runs), max(run.until for run in request.runs)
    return min(first, arrivals.today), arrivals.calendar.add(last, LONGEST_WAIT + 5) + timedelta(days=14)


def _sources(
    arrivals: Arrivals, request: CoverRequest, codes: Sequence[str], for_good: Collection[str]
) -> Iterator[Source]:
    """What each type costs to buy or to hire in. A type that no supply is listed for is bought at its replacement
    value, and taken to be here in time; without one its price is not known. What is used up is not hired."""
    types = GearType.objects.filter(code__in=codes).prefetch_related("supplies")
    first, last = min(run.start for run in request.runs), max(run.until for run in request.runs)
    left = left_of(supply for kind in types for supply in kind.supplies.all())
    for kind in types:
        supplies = [s for s in kind.supplies.all() if kind.code not in for_good or s.way == Supply.Way.BUY]
        yield from (_source(arrivals, kind, supply, left[supply.pk], first, last) for supply in supplies)
        if not supplies:
            value = round(kind.replacement_value * 100)
            weight = value or kind.length_mm or UNKNOWN_PRICE
            yield Source(f"{kind.code}|buy", kind.code, weight, first, priced=bool(value))


def _source(arrivals: Arrivals, kind: GearType, supply: Supply, left: Left, first: date, last: date) -> Source:
    """What is hired in is paid for from when it is loaded for the job's first pour until the job's gear is back,
    and is then gone; `last` is the day the last pour is free.

    So many can be had as no order has taken: of what is hired in, on the days that this job would have it, which are
    others where the job is put off.
    """
    start = max(first, arrivals.on_site(arrivals.after(supply.lead_days)))
    cents = round(supply.cost * 100)
    due, leaves = start, date.max
    later: tuple[int, ...] = ()
    if supply.way == Supply.Way.HIRE:
        due, leaves = arrivals.hired(supply.lead_days, first, last - timedelta(days=1))
        cents *= max(1, (leaves - due).days)
        if left.taken and left.most is not None:
            later = tuple(_left_later(arrivals, supply, left, first, leaves))
    key = f"{kind.code}|{supply.way}|{supply.pk}"
    return Source(key, kind.code, cents, start, None, left.between(due, leaves), later=later)


def _left_later(arrivals: Arrivals, supply: Supply, left: Left, first: date, leaves: date) -> Iterator[int]:
    """How many can be hired in where the job starts one working day later, two, and so on."""
    soonest = arrivals.on_site(arrivals.after(supply.lead_days))
    for days in range(1, LONGEST_WAIT + 1):
        due = arrivals.load_day(max(arrivals.calendar.add(first, days), soonest))
        yield left.between(due, arrivals.calendar.add(leaves, days)) or 0


def digest_of_question(question: Question) -> str:
    return digest_of(question.as_json())


def is_stale(search: RemedySearch, today: date, plan: Plan | None = None) -> bool:
    """Whether the question put now would be another one. `plan` is its check's, where it is read already."""
    try:
        return digest_of_question(build_question(search.check_asked, today, plan)) != search.digest
    except Refused:
        return True
