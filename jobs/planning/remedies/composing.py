"""The cover check asked within a remedy's share of the time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from jobs.planning.answer import CoverAnswer
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.request import CoverRequest

_A_CHECK = 6.0
# A joint as dear as so much form: then runs are made of the fewest pieces that the stock allows.
DEAR_JOINT_MM = 20_000


def covered_within(request: CoverRequest, limits: Limits, most_seconds: float = _A_CHECK) -> CoverAnswer:
    """Whether a request is covered, asked within the limits and no longer than one check may take."""
    return _asked(replace(request, ask="covered"), limits, most_seconds)


def fewest_joints(request: CoverRequest, limits: Limits, most_seconds: float = _A_CHECK) -> CoverAnswer:
    """The answer with hardly more joints than there must be: it needs the fewest brackets and plates."""
    rules = replace(request.rules, joint_handling_mm=DEAR_JOINT_MM)
    return _asked(replace(request, ask="plan", rules=rules), limits, most_seconds)


def _asked(request: CoverRequest, limits: Limits, most_seconds: float) -> CoverAnswer:
    left = limits.left()
    seconds = None if left == float("inf") else min(left, most_seconds)
    cancelled: Callable[[], bool] | None = limits.watch.called_off if limits.watch else None
    return check(request, seconds, None, cancelled)
