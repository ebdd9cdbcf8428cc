"""The charge of a stay up to a day, piece by piece, under every set of terms that held in that time.

A hire is one stay, or a chain of stays in which each continues the one before (an exchange for damage): its
days are counted as one hire, and a stay's own charge is the chain's up to it less the chain's before it.
Where new terms take over, units are counted anew from that day; minimum days and steps run on.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from jobs.errors import BadRequest
from jobs.hire.days import DAY, Span, end_of, hire_span, start_of
from jobs.hire.pricing import NIL, Part, Window, lay_out, price, total
from jobs.hire.stays import Facts, StandDown, Stay, Use, When, day_of, holding
from jobs.hire.terms import ALL, Rate, Terms, narrowest


class Piece(NamedTuple):
    """What one piece of a stay is charged under one set of terms.

    `made_up` of its days were added to make the minimum. In a chain, `parts` are the whole chain's, of which
    `carried_days` and `carried` stand on the stays before. `topped` of the amount makes the minimum for a piece.
    """

    terms: int
    days: int
    parts: tuple[Part, ...]
    amount: Fraction
    made_up: int = 0
    carried_days: int = 0
    carried: Fraction = NIL
    topped: Fraction = NIL


class Book:
    """Facts as known, indexed; answers what any stay costs up to a day. Remembers what it has worked out."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.versions = holding(facts.terms) or (Terms(),)
        self.zone = self.versions[-1].zone
        self.stays = {stay.id: stay for stay in facts.stays}
        self.continued = {stay.continues for stay in facts.stays if stay.continues}
        self.uses: dict[str, list[Use]] = {}
        for use in facts.uses:
            self.uses.setdefault(use.stay, []).append(use)
        self.warnings: dict[str, None] = {}
        downs = list(enumerate(facts.stand_downs))
        self._for_all = tuple(number for number, one in downs if not one.stays)
        named = {name for one in facts.stand_downs for name in one.stays}
        self._downs = {
            name: tuple(number for number, one in downs if not one.stays or name in one.stays) for name in named
        }
        self._kept: dict[tuple[int, str, str], Fraction] = {}
        self._pieces: dict[object, tuple[Piece, ...]] = {}
        self._rates: dict[tuple[int, str, str, bool], Rate | None] = {}

    # Which terms hold

    def version_on(self, day: date, started: date) -> int:
        """The number of the terms that hold on a day for gear that went out on `started`; -1 for none."""
        for number in range(len(self.versions) - 1, -1, -1):
            terms = self.versions[number]
            if terms.holds_from is None or terms.holds_from <= day:
                if terms.running_stays == "change" or number == 0:
                    return number
                if terms.holds_from is None or terms.holds_from <= started:
                    return number
        return -1

    def terms_on(self, when: When, started: When | None = None) -> Terms:
        """The terms that hold then, the first ones before any holds."""
        day = day_of(when, self.zone)
        return self.versions[max(0, self.version_on(day, day_of(started, self.zone) if started else day))]

    def rate(self, number: int, stay: Stay) -> Rate | None:
        """The rate of a stay's gear under a set of terms."""
        key = (number, stay.type, stay.kind, stay.hired_in)
        if key not in self._rates:
            self._rates[key] = self.versions[number].rate_for(stay.type, stay.kind, stay.hired_in)
        return self._rates[key]

    # What a piece costs

    def pieces(self, stay: Stay, period_end: date, costs: bool = False) -> tuple[Piece, ...]:
        """The charge of one piece of `stay` up to `period_end`, under each set of terms in turn.

        With `costs`, what a hired-in piece costs us by the same days instead: all of them in full, since neither a
        stand-down nor a rate for long hire agreed with the customer binds its owner (common practice, no source).
        """
        chain = self.chain(stay)
        if len(chain) == 1:
            return self._hire(chain, period_end, costs)
        whole = {one.terms: one for one in self._hire(chain, period_end, costs)}
        before = {one.terms: one for one in self._hire(chain[:-1], period_end, costs)}
        return tuple(_less(whole.get(number), before.get(number)) for number in sorted({*whole, *before}))

    def span(self, stay: Stay, period_end: date) -> Span | None:
        """The days a stay is on hire up to `period_end`."""
        if len(self.versions) == 1:
            return hire_span(stay, self.versions[0], self.versions[0], period_end)
        return hire_span(stay, self.terms_on(stay.out), self._closing(stay, period_end), period_end)

    def bounds(self, stay: Stay, period_end: date) -> tuple[When, When | None]:
        """What starts a stay's hire and what ends it, None while it runs."""
        return start_of(stay, self.terms_on(stay.out)), end_of(stay, self._closing(stay, period_end))

    def _closing(self, stay: Stay, period_end: date) -> Terms:
        """The terms that say how it ends: those that hold on the day of what ends it by their own word."""
        for when, ending in ((stay.off_hire, ("off_hire",)), (stay.collected, ("off_hire", "collected"))):
            if when is not None and self.terms_on(when, stay.out).ends in ending:
                return self.terms_on(when, stay.out)
        return self.terms_on(stay.back or period_end - DAY, stay.out)

    def chain(self, stay: Stay) -> tuple[Stay, ...]:
        """The hire that a stay goes on with, from its first stay up to this one."""
        if not stay.continues:
            return (stay,)
        chain, seen = [stay], {stay.id}
        while chain[0].continues:
            before = self.stays.get(chain[0].continues)
            if before is None:
                break
            if before.id in seen:
                raise BadRequest("stays", f"the stays that {stay.id} continues go round in a circle.")
            seen.add(before.id)
            chain.insert(0, before)
        return tuple(chain)

    def _hire(self, chain: tuple[Stay, ...], period_end: date, costs: bool) -> tuple[Piece, ...]:
        spans = [self.span(one, period_end) for one in chain]
        stay, started = chain[-1], day_of(chain[0].out, self.zone)
        downs = tuple(self._downs.get(one.id, self._for_all) for one in chain)
        least = stay.id not in self.continued
        gear = (stay.type, stay.kind, stay.hired_in, stay.end, stay.cost_day)
        dates = tuple(one and one.key for one in spans)
        key = (gear, costs, least, dates, started if len(self.versions) > 1 else None, downs)
        if key not in self._pieces:
            chosen = [tuple(self.facts.stand_downs[number] for number in numbers) for numbers in downs]
            self._pieces[key] = tuple(self._work_out(stay, spans, started, chosen, least, costs))
        return self._pieces[key]

    def _work_out(
        self,
        stay: Stay,
        spans: list[Span | None],
        started: date,
        downs: list[tuple[StandDown, ...]],
        least: bool,
        costs: bool,
    ) -> Iterable[Piece]:
        windows = self._windows(spans, started, downs)
        if costs:
            windows = {key: [one._replace(share=ALL) for one in several] for key, several in windows.items()}
        last = spans[-1]
        if last is None and not windows:
            return
        ended = last is not None and last.ended and least
        end = max((one.tail for one in spans if one), default=started)
        number = max(windows, default=max(0, self.version_on(end, started)))
        made_up = self._make_up(windows, number, end) if ended and not costs else 0
        pieces, before = [], 0
        for one in sorted(windows):
            piece = self._piece(stay, one, windows[one], before, costs)
            before += piece.days
            pieces.append(piece)
        if ended and not costs and pieces:
            pieces[-1] = self._at_least(stay, pieces, made_up)
        yield from pieces

    def _windows(
        self, spans: list[Span | None], started: date, downs: list[tuple[StandDown, ...]]
    ) -> dict[int, list[Window]]:
        found: dict[int, list[Window]] = {}
        done = date.min
        for span, standing in zip(spans, downs, strict=True):
            if span is None:
                continue
            for first, until, part in (
                (span.first, span.until, ALL),
                (span.until, span.tail, span.tail_share),
            ):
                first = max(first, done)
                for piece in _cut(first, until, self._edges(standing)):
                    number = self.version_on(piece[0], started)
                    if number < 0:
                        self.warn(f"No terms hold on {piece[0].isoformat()}: those days are not charged.")
                        continue
                    window = Window(*piece, _stood_down(piece[0], standing, part))
                    found.setdefault(number, []).append(window)
                done = max(done, until)
        return found

    def _edges(self, downs: tuple[StandDown, ...]) -> list[date]:
        edges = [one.holds_from for one in self.versions if one.holds_from]
        return sorted({*edges, *(one.from_ for one in downs), *(one.until for one in downs)})

    def _make_up(self, windows: dict[int, list[Window]], number: int, end: date) -> int:
        """Charged days to be added so that the hire makes its minimum, put after its end under its last terms."""
        terms = self.versions[number]
        if not terms.minimum.days:
            return 0
        had = sum(
            self.versions[key].calendar.count(one.first, one.until)
            for key, several in windows.items()
            for one in several
        )
        short = terms.minimum.days - had
        if short <= 0:
            return 0
        stop = terms.calendar.add(terms.calendar.on_or_after(end), short - 1) + DAY
        windows.setdefault(number, []).append(Window(end, stop, ALL))
        return short

    def _piece(self, stay: Stay, number: int, windows: list[Window], before: int, costs: bool) -> Piece:
        terms = self.versions[number]
        sheet = lay_out(windows, terms, before, steps=not costs)
        if costs:
            rate = narrowest(terms.hired_in_costs, stay.type, stay.kind)
            rate = rate if stay.cost_day is None else Rate(day=stay.cost_day)
            parts = price(sheet, rate, terms, windows[0].first) if rate else ()
            return Piece(number, sheet.days, parts, total(parts))
        rate = self.rate(number, stay)
        if rate is None and stay.end != "sold":
            self.warn(f"The terms give no rate for {stay.type}: its hire is charged at nothing.")
        parts = price(sheet, rate, terms, windows[0].first) if rate else ()
        kept = self.kept(number, stay)
        return Piece(number, sheet.days, parts, total(parts) if kept is ALL else total(parts) * kept)

    def kept(self, number: int, stay: Stay) -> Fraction:
        """The share left after the discount for a stay's gear."""
        key = (number, stay.type, stay.kind)
        if key not in self._kept:
            found = narrowest(self.versions[number].discounts, stay.type, stay.kind)
            self._kept[key] = 1 - Fraction(found.per_cent) / 100 if found else ALL
        return self._kept[key]

    def _at_least(self, stay: Stay, pieces: list[Piece], made_up: int) -> Piece:
        last = pieces[-1]._replace(made_up=made_up)
        least = self.versions[last.terms].minimum
        if least.per != "piece" or not least.amount or not has_time_rate(self.rate(last.terms, stay)):
            return last
        short = Fraction(least.amount) - sum((one.amount for one in pieces), NIL)
        return last._replace(amount=last.amount + short, topped=short) if short > 0 else last

    def warn(self, sentence: str) -> None:
        """Note something that the reader of a bill must look at."""
        self.warnings[sentence] = None


def has_time_rate(rate: Rate | None) -> bool:
    """Whether gear is charged for time at all."""
    return rate is not None and not (rate.day is None and rate.week is None and rate.month is None)


def _less(whole: Piece | None, before: Piece | None) -> Piece:
    if before is None:
        assert whole is not None
        return whole
    if whole is None:
        return Piece(before.terms, -before.days, (), -before.amount, carried=before.amount)
    return whole._replace(
        days=whole.days - before.days,
        amount=whole.amount - before.amount,
        carried_days=before.days,
        carried=before.amount,
    )


def _cut(first: date, until: date, edges: list[date]) -> Iterable[tuple[date, date]]:
    if first >= until:
        return
    stops = [one for one in edges if first < one < until]
    yield from zip([first, *stops], [*stops, until], strict=True)


def _stood_down(day: date, downs: tuple[StandDown, ...], share: Fraction) -> Fraction:
    """The share charged on a day: where stand-downs overlap, the least, of the share charged anyway."""
    standing = [one.share for one in downs if one.from_ <= day < one.until]
    return share * min(standing) if standing else share
