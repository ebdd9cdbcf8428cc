"""The articles that a check's composed runs need beside the edge forms, pour by pour, for the search for remedies."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from inventory.models import GearType
from jobs.models import CoverCheck
from jobs.planning.remedies.articles import Article
from jobs.planning.takeoff import Need
from jobs.selectors.articles import type_for
from jobs.selectors.plans import Plan, read_plan
from jobs.selectors.pours import programme_of
from jobs.selectors.stock import stock_for


def articles_of(check: CoverCheck, span: tuple[date, date], today: date, plan: Plan | None = None) -> Iterator[Article]:
    """Every article of one known type that pours still need, with its stock over the half-open `span`.

    As in the check itself, a pour already cast has had what it uses up.
    """
    job, cut = check.job, (plan or read_plan(check)).cut_list()
    programme = programme_of(job)
    pours = {name for name, days in programme.days.items() if days.free > today}
    rules = {rule.code: rule for rule in cut.rules}
    needs: dict[str, list[Need]] = defaultdict(list)
    types: dict[str, GearType] = {}
    for need in cut.takeoff.needs:
        if not need.quantity or (need.pour and need.pour not in pours):
            continue
        kind = type_for(need.what, need.by_type, cut.types)
        if kind is not None:
            needs[kind.code].append(need)
            types[kind.code] = kind
    used_up = {code for code, own in needs.items() if any(rules[need.rule].used_up for need in own)}
    stock = stock_for(job, list(types), span, today, used_up=used_up)
    for code, own in needs.items():
        gone = set(programme.cast) if code in used_up else set()
        by_pour: dict[str, Decimal] = defaultdict(Decimal)
        for need in own:
            if need.pour not in gone:
                by_pour[need.pour] += need.quantity
        standing = by_pour.pop("", Decimal(0))
        yield Article(code, types[code].name, tuple(sorted(by_pour.items())), standing, code in used_up, stock[code])
