"""Every remedy for a job that is short, the best first: the one question asked from outside of this package."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from jobs.planning.limits import Limits, Progress, Watch
from jobs.planning.remedies.buy import buy
from jobs.planning.remedies.chase import Held, chase
from jobs.planning.remedies.clean_first import Waiting, clean_first
from jobs.planning.remedies.cut_down import cut_down
from jobs.planning.remedies.extras import coverable
from jobs.planning.remedies.mixing import Means, mix
from jobs.planning.remedies.more_words import bars_words, cut_words, mix_words, replan_words
from jobs.planning.remedies.move_pours import move_pours
from jobs.planning.remedies.new_bars import new_bars
from jobs.planning.remedies.question import Question, Remedy
from jobs.planning.remedies.replan import ReplanAnswer, replan
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.wait import wait
from jobs.planning.remedies.words import COVERED, buy_words, chase_words, clean_words, many, move_words, wait_words

Step = tuple[str, float, Callable[[Limits], Remedy]]


def find_remedies(
    question: Question,
    seconds: float | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Remedy, ...]:
    """Each remedy worked out within its share of the time, ranked. Called off, it stops with those it has."""
    limits = Limits(seconds=seconds, progress=progress, watch=None if cancelled is None else Watch(cancelled))
    steps = list(_steps(question))
    found, done, weight = [], 0.0, sum(weight for _, weight, _ in steps)
    for words, mine, work in steps:
        if limits.watch is not None and limits.watch.called_off():
            break
        limits.tell(0.9 * done / weight, words)
        part = limits.within(mine / (weight + 1.5 - done)).part(0.9 * done / weight, 0.9 * mine / weight)
        found.append(work(part))
        done += mine
    mixed = [] if limits.watch is not None and limits.watch.called_off() else _mixed(question, found, limits)
    limits.tell(1.0, "Done")
    but = len(question.answer.impossible)
    return tuple(_but_for(remedy, but) for remedy in sorted([*found, *mixed], key=Remedy.rank))


def _mixed(question: Question, found: Sequence[Remedy], limits: Limits) -> list[Remedy]:
    """Several at once, where that is better than each alone: none that turns the answer is as cheap and as soon."""
    good = [each for each in found if each.turns and each.days == 0 and each.cents is not None]
    if any(each.cents == 0 for each in good):
        return []
    limits.tell(0.9, "Looking at several at once")
    means = Means(question.waiting, question.held, question.sources, question.surplus, question.mill, question.kerf_mm)
    longest = 0 if any(each.turns for each in found) else question.longest_wait
    answer = mix(shortage_of(question), _timeline(question), means, longest, limits.part(0.9, 0.1))
    if answer.days is None:
        return [] if longest == 0 else [mix_words(answer, question.currency)]
    remedy = mix_words(answer, question.currency)
    dearer = [each for each in good if remedy.cents is None or (each.cents or 0) <= remedy.cents]
    return [remedy] if answer.kinds > 1 and not dearer else []


def _but_for(remedy: Remedy, impossible: int) -> Remedy:
    """Sides that no pieces make stay as they are, whatever is done: said, not passed over."""
    if not impossible:
        return remedy
    but = f"then all is covered but the {many(impossible, 'side')} that no pieces of the catalogue make"
    return replace(remedy, sentence=remedy.sentence.replace(COVERED, but))


def shortage_of(question: Question) -> Shortage:
    """All that is short as things stand."""
    timeline = question.timeline
    forms = timeline.with_owed(coverable(question.request, question.answer))
    return Shortage(forms if forms.runs else None, question.articles, timeline.spans({}), timeline.counting)


def _timeline(question: Question) -> Timeline:
    """Every section and article, short or not: what is enough now may be short on other days."""
    return question.timeline.without({(run.pour, run.side) for run in question.answer.impossible})


def _of_use(short: Shortage, there: Sequence[Waiting | Held]) -> int:
    """How many are of what is short now; what runs composed anew may want beside it is not counted."""
    codes = {article.code for article in short.articles} | {p.code for p in (short.forms.pieces if short.forms else ())}
    return sum(each.code in codes for each in there)


def _replanned(short: Shortage, answer: ReplanAnswer, jobs: int, others: Sequence[str]) -> Remedy:
    """In words. Where articles can be counted anew, whoever keeps the load lists must: what the other jobs no longer
    take is then free for this one."""
    return replan_words(answer, jobs, () if short.counting is not None else others)


def _steps(question: Question) -> Iterator[Step]:
    """Each remedy with the words for its progress and its share of the time."""
    short, timeline = shortage_of(question), _timeline(question)
    forms, others = short.forms is not None, [article.name for article in question.articles]
    waiting, held, bounds = question.waiting, question.held, question.bounds
    dirty, out = _of_use(short, waiting), _of_use(short, held)

    yield "Cleaning and mending", 1, lambda to: clean_words(clean_first(short, waiting, to), dirty)
    yield "Chasing", 1, lambda to: chase_words(chase(short, held, to), out)
    yield "Buying and hiring in", 1, lambda to: buy_words(buy(short, question.sources, to), question.currency)
    if question.surplus and forms:
        yield (
            "Cutting surplus lengths down",
            1,
            lambda to: cut_words(cut_down(short, question.surplus, question.kerf_mm, to)),
        )
    if question.mill and forms:
        yield (
            "Cutting new ones from mill bars",
            0.5,
            lambda to: bars_words(
                new_bars(question.request, question.answer.short, question.mill, question.kerf_mm, to),
                question.currency,
                others,
            ),
        )
    together = question.together
    if together is not None and forms:
        jobs = len(together.others)
        yield "Planning jobs together", 2, lambda to: _replanned(short, replan(together, to), jobs, others)
    if bounds is not None:
        yield "Moving pours", 3, lambda to: move_words(move_pours(timeline, bounds, to), timeline, bounds)
    yield "Waiting", 2, lambda to: wait_words(wait(timeline, question.longest_wait, to))
