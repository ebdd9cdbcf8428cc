"""Everything the search for remedies depends on, and what each remedy came to."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from jobs.planning.answer import CoverAnswer
from jobs.planning.goods import level
from jobs.planning.remedies.articles import Article
from jobs.planning.remedies.buy import Source
from jobs.planning.remedies.chase import Held
from jobs.planning.remedies.clean_first import Waiting
from jobs.planning.remedies.cut_down import Surplus
from jobs.planning.remedies.move_pours import Bounds
from jobs.planning.remedies.new_bars import MillLength
from jobs.planning.remedies.replan import Together
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request import CoverRequest

Name = Literal["clean", "chase", "wait", "move", "buy", "cut", "bars", "replan", "mix"]


@dataclass(frozen=True)
class Question:
    """A job that is short. `request` is its cover check's question and `answer` what came of it.

    Prices are in `currency`, by ISO 4217. `articles` are those of `timeline` that are short. `longest_wait` is in
    working days; `bounds` say how pours may be moved, None that they may not.
    """

    request: CoverRequest
    answer: CoverAnswer
    timeline: Timeline
    currency: str
    waiting: tuple[Waiting, ...] = ()
    held: tuple[Held, ...] = ()
    sources: tuple[Source, ...] = ()
    articles: tuple[Article, ...] = ()
    longest_wait: int = 40
    bounds: Bounds | None = None
    surplus: tuple[Surplus, ...] = ()
    mill: tuple[MillLength, ...] = ()
    kerf_mm: int = 0
    together: Together | None = None

    def owed(self) -> list[tuple[str, int]]:
        """Of what is short, by name or code: how many others have claimed that are not there, where this job needs it.
        Had in addition, these come first."""
        days, short = self.timeline.spans({}), {item.code for item in self.answer.short}
        found = [(article.name, article.owed(days)) for article in self.articles]
        for code in sorted(short & {*self.timeline.owed}):
            steps = self.timeline.owed[code]
            watched = {start for start, _ in days.values()}
            watched |= {day for day, _ in steps if any(start <= day < until for start, until in days.values())}
            found.append((code, -min([0, *(level(steps, day) for day in watched)])))
        return [(name, count) for name, count in found if count]

    def as_json(self) -> dict[str, Any]:
        """All of it as plain values, the same for the same question."""
        # What counts articles anew is no value: what it counts with is in the articles.
        plainly = replace(self, timeline=replace(self.timeline, counting=None))
        kept = _with_plain_keys(asdict(plainly))
        kept["answer"] = {"short": kept["answer"]["short"], "impossible": kept["answer"]["impossible"]}
        plain: dict[str, Any] = json.loads(json.dumps(kept, default=_plain, sort_keys=True))
        return plain


def _with_plain_keys(value: Any) -> Any:
    """The same with days as keys written out."""
    if isinstance(value, dict):
        return {str(key): _with_plain_keys(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_with_plain_keys(each) for each in value]
    return value


def _plain(value: Any) -> Any:
    return sorted(map(str, value)) if isinstance(value, (set, frozenset)) else str(value)


@dataclass(frozen=True)
class Remedy:
    """What one remedy came to.

    `turns`: the job is covered with it. `proved`: that no less would do, or that it cannot turn the answer.
    `runs` are the type codes of the runs that are composed anew with it, by side: with these it is enough.
    `cents` is its cost, None where no price is known. `days`: by how many working days the job, or its latest
    pour, is put off. `effort` counts pieces or pours. `lines` are plain values,
    for the page and for the press that sets it going.
    """

    name: Name
    turns: bool
    proved: bool
    sentence: str
    sure: str
    cents: int | None = 0
    days: int = 0
    effort: int = 0
    lines: tuple[Mapping[str, Any], ...] = field(default=())
    runs: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def rank(self) -> tuple[bool, float, int, int, str]:
        """Those that turn the answer first; then by cost, days and effort. What has no known cost comes last."""
        cost = float("inf") if self.cents is None else float(self.cents)
        return not self.turns, cost, self.days, self.effort, self.name

    def as_json(self) -> dict[str, Any]:
        """As it is stored."""
        return asdict(self) | {"lines": [dict(line) for line in self.lines]}
