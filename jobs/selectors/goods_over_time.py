"""The articles that a job's runs need beside the edge forms, pour by pour, for the search for remedies: counted for the
runs of its check, and anew for any other way to compose them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property

from inventory.models import GearType
from jobs.models import CoverCheck
from jobs.planning.availability import Steps
from jobs.planning.remedies.articles import Article
from jobs.planning.remedies.counting import Counting
from jobs.planning.rules import Rule
from jobs.planning.takeoff import Need, Takeoff, TakeoffRequest, take_off
from jobs.selectors.articles import sendable, type_for
from jobs.selectors.cutlist import take_off_asked
from jobs.selectors.plans import Plan, lengths_in, read_plan, well_ordered
from jobs.selectors.pours import programme_of
from jobs.selectors.stock import stock_for


def counting_of(check: CoverCheck, span: tuple[date, date], today: date, plan: Plan | None = None) -> Counting:
    """Counts the articles of a check's runs, however they are composed, with their stock over the half-open `span`."""
    plan = plan or read_plan(check)
    counted = _Counted(plan, span, today)
    return Counting(plan.pieces, counted.articles, counted.of(plan.cut_list().takeoff), counted.used_up)


@dataclass(frozen=True)
class _Counted:
    """Reads what a count hangs on once; as in the check itself, a pour already cast has had what it uses up."""

    plan: Plan
    span: tuple[date, date]
    today: date

    @cached_property
    def _asked(self) -> TakeoffRequest:
        return take_off_asked(self.plan.check.job, impossible=self.plan.impossible)

    @cached_property
    def _rules(self) -> dict[str, Rule]:
        return {rule.code: rule for rule in self.plan.cut_list().rules}

    @cached_property
    def _types(self) -> dict[tuple[str, bool], GearType | None]:
        known = tuple(sendable())
        rules = self._rules.values()
        return {(rule.what, rule.by_type): type_for(rule.what, rule.by_type, known) for rule in rules}

    @cached_property
    def used_up(self) -> dict[str, bool]:
        """Every article that the rules ask for, by code: whether any rule uses it up."""
        found: dict[str, bool] = {}
        for rule in self._rules.values():
            kind = self._types[rule.what, rule.by_type]
            if kind is not None:
                found[kind.code] = found.get(kind.code, False) or rule.used_up
        return found

    @cached_property
    def _used_up(self) -> set[str]:
        return {code for code, used_up in self.used_up.items() if used_up}

    @cached_property
    def _stock(self) -> dict[str, Steps]:
        return stock_for(
            self.plan.check.job, list(self.used_up), self.span, self.today, used_up=self._used_up, owed=True
        )

    @cached_property
    def _pours(self) -> tuple[set[str], set[str]]:
        """Those whose gear is not free yet, and those that are cast."""
        programme = programme_of(self.plan.check.job)
        return {name for name, days in programme.days.items() if days.free > self.today}, set(programme.cast)

    def articles(self, codes: Mapping[str, Sequence[str]]) -> tuple[Article, ...]:
        """Every article of one known type that pours still need, with the runs so composed."""
        plan = self.plan
        made = {key: tuple(pieces) for key, pieces in codes.items()}
        ordered = {**made, **well_ordered(plan.check.job, made, plan.types)}
        return self.of(take_off(replace(self._asked, pieces=lengths_in(ordered, plan.types))))

    def of(self, takeoff: Takeoff) -> tuple[Article, ...]:
        """The same of a take-off."""
        pours, _ = self._pours
        needs: dict[str, list[Need]] = defaultdict(list)
        for need in takeoff.needs:
            kind = self._types[need.what, need.by_type]
            if kind is not None and need.quantity and (not need.pour or need.pour in pours):
                needs[kind.code].append(need)
        return tuple(self._articles(needs))

    def _articles(self, needs: Mapping[str, Sequence[Need]]) -> Iterator[Article]:
        names = {kind.code: kind.name for kind in self._types.values() if kind is not None}
        for code, own in needs.items():
            gone = self._pours[1] if code in self._used_up else set()
            by_pour: dict[str, Decimal] = defaultdict(Decimal)
            for need in own:
                if need.pour not in gone:
                    by_pour[need.pour] += need.quantity
            standing = by_pour.pop("", Decimal(0))
            listed = tuple(sorted(by_pour.items()))
            yield Article(code, names[code], listed, standing, code in self._used_up, self._stock[code])
