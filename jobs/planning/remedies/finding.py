"""Every remedy for a job that is short, the best first: the one question asked from outside of this package."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from jobs.planning.limits import Limits, Progress, Watch
from jobs.planning.remedies.buy import buy
from jobs.planning.remedies.chase import chase
from jobs.planning.remedies.clean_first import clean_first
from jobs.planning.remedies.cut_down import cut_down
from jobs.planning.remedies.extras import coverable
from jobs.planning.remedies.more_words import bars_words, cut_words, replan_words
from jobs.planning.remedies.move_pours import move_pours
from jobs.planning.remedies.new_bars import new_bars
from jobs.planning.remedies.question import Question, Remedy
from jobs.planning.remedies.replan import replan
from jobs.planning.remedies.wait import wait
from jobs.planning.remedies.words import buy_words, chase_words, clean_words, move_words, wait_words

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
        limits.tell(done / weight, words)
        part = limits.within(mine / (weight - done)).part(done / weight, mine / weight)
        found.append(work(part))
        done += mine
    limits.tell(1.0, "Done")
    return tuple(sorted(found, key=Remedy.rank))


def _steps(question: Question) -> Iterator[Step]:
    """Each remedy with the words for its progress and its share of the time."""
    request = coverable(question.request, question.answer)
    sections = sorted({piece.section_mm for piece in request.pieces})
    gone = {(run.pour, run.side) for run in question.answer.impossible}
    timeline = question.timeline.only(sections, gone)
    waiting, held, bounds = question.waiting, question.held, question.bounds

    yield "Cleaning and mending", 1, lambda to: clean_words(clean_first(request, waiting, to), len(waiting))
    yield "Chasing", 1, lambda to: chase_words(chase(request, held, to), len(held))
    yield "Buying and hiring in", 1, lambda to: buy_words(buy(request, question.sources, to), question.priced)
    if question.surplus:
        yield (
            "Cutting surplus lengths down",
            1,
            lambda to: cut_words(cut_down(request, question.surplus, question.kerf_mm, to)),
        )
    if question.mill:
        yield (
            "Cutting new ones from mill bars",
            0.5,
            lambda to: bars_words(
                new_bars(question.request, question.answer.short, question.mill, question.kerf_mm, to)
            ),
        )
    together = question.together
    if together is not None:
        yield "Planning jobs together", 2, lambda to: replan_words(replan(together, to), len(together.others))
    if bounds is not None:
        yield "Moving pours", 3, lambda to: move_words(move_pours(timeline, bounds, to), timeline, bounds)
    yield "Waiting", 2, lambda to: wait_words(wait(timeline, question.longest_wait, to))
