"""Bounds that need no solver: what the runs of one day must have in use, whatever is chosen for them."""

from __future__ import annotations

import numpy as np

from jobs.planning.model import IntArray, Section


def least_of_any_day(section: Section) -> tuple[int, int]:
    """Least shortage and least gear cost in mm, each by the day that asks most.

    On a day each active run takes at least its least total length, and at least its least costly choice;
    what is on hand that day is all there is. Where the table of choices was cut off only the least length
    that each run's window allows is counted.
    """
    if section.complete:
        cost_of = section.choices.counts.astype(np.int64) @ section.price
        joints = (section.choices.pieces - 1) * section.joint_price
        lengths = [int(section.choices.totals[group.choices].min()) for group in section.groups]
        in_use = [int((cost_of + joints)[group.choices].min()) for group in section.groups]
        made = [int(joints[group.choices].min()) for group in section.groups]
    else:
        lengths = [max(group.least, 0) for group in section.groups]
        in_use, made = lengths, [0] * len(lengths)
    always = sum(joint * len(group.runs) for joint, group in zip(made, section.groups, strict=True))
    more = [use - joint for use, joint in zip(in_use, made, strict=True)]
    cost = int(_active_sums(section, more).max(initial=0)) + always
    short = int((_active_sums(section, lengths) - section.lengths @ section.on_hand).max(initial=0))
    return max(short, 0), cost


def _active_sums(section: Section, values: list[int]) -> IntArray:
    """(days,): the sum over the runs active on each watched day of their group's value."""
    steps = np.zeros(len(section.days) + 1, dtype=np.int64)
    for group, value in zip(section.groups, values, strict=True):
        steps[group.first] += value * len(group.runs)
        steps[group.last + 1] -= value * len(group.runs)
    return steps.cumsum()[:-1]
