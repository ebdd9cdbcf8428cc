"""Take-off rules: what is needed per what, on which levels, how many. Data, so that a user fits them.

A rule counts a kind of gear or one type (`what`: a kind such as "form bracket", or a type's code). Either
it has a `quantity` per unit, or, per run, a `spacing`: its articles then stand along the run at that greatest
spacing. The rule that `sets_positions` gives the bracket positions which "bracket position" rules count.
Values are the maker's and the engineer's to give; the seeded ones are in `seeded_rules`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from jobs.planning.brackets import Spacing
from jobs.planning.findings import Finding

Per = Literal["run", "piece", "corner", "joint", "bracket position", "bracket position above", "metre", "panel", "crew"]
PERS: tuple[Per, ...] = (
    "run",
    "piece",
    "corner",
    "joint",
    "bracket position",
    "bracket position above",
    "metre",
    "panel",
    "crew",
)
Levels = Literal["all", "first", "above first", "all but top"]
LEVELS: tuple[Levels, ...] = ("all", "first", "above first", "all but top")

WORDS: dict[Per, str] = {
    "run": "run",
    "piece": "piece of a run",
    "corner": "90 degree corner where two runs meet",
    "joint": "joint",
    "bracket position": "form bracket of the panel",
    "bracket position above": "form bracket of the panel above",
    "metre": "metre of run",
    "panel": "panel",
    "crew": "crew",
}


@dataclass(frozen=True, slots=True)
class Rule:
    """One take-off rule. `code` names it in its set.

    `what` is a kind, or with `by_type` a type's code. `quantity` is per unit (whole, except per metre).
    `used_up` is gear that stays in the concrete, so that a job needs the sum over its pours and not the
    greatest number in use at once. `spare_percent` is added on the load list, rounded up.
    """

    code: str
    what: str
    per: Per
    levels: Levels = "all"
    quantity: Decimal = Decimal(1)
    spacing: Spacing | None = None
    by_type: bool = False
    sets_positions: bool = False
    used_up: bool = False
    spare_percent: Decimal = Decimal(0)


def applies(rule: Rule, level: int, has_above: bool) -> bool:
    """Whether a rule counts a panel at a level of its stack, with or without another on it.

    >>> [applies(Rule("x", "insert", "panel", "all but top"), 1, above) for above in (True, False)]
    [True, False]
    """
    if rule.levels == "first":
        return level == 1
    if rule.levels == "above first":
        return level > 1
    return has_above if rule.levels == "all but top" else True


def position_rule(rules: Sequence[Rule], level: int, has_above: bool) -> Rule | None:
    """The rule that gives the bracket positions of a panel at that level, or None."""
    return next((rule for rule in rules if rule.sets_positions and applies(rule, level, has_above)), None)


def check_rules(rules: Sequence[Rule]) -> list[Finding]:
    """Every fault of a set of rules, each with what to do."""
    found = [finding for rule in rules for finding in _check_rule(rule)]
    found += [
        _fault(code, "rule-code", "Two rules have this code: give each its own.")
        for code, times in Counter(rule.code for rule in rules).items()
        if times > 1
    ]
    return found + _check_positions(rules)


def sound_rules(rules: Sequence[Rule]) -> tuple[Rule, ...]:
    """The rules that can be worked out; the faults of the others are what `check_rules` says."""
    return tuple(rule for rule in rules if not _check_rule(rule))


def _check_rule(rule: Rule) -> list[Finding]:
    faults = [*_check_words(rule), *_check_numbers(rule)]
    if rule.spacing is not None:
        faults += _check_spacing(rule, rule.spacing)
    return [_fault(rule.code, code, sentence) for code, sentence in faults]


def _check_words(rule: Rule) -> list[tuple[str, str]]:
    faults = []
    if not rule.what.strip():
        faults.append(("rule-what", "Say what the rule counts: a kind of gear, or a type's code."))
    if rule.per not in PERS:
        faults.append(("rule-per", f"Count per one of: {', '.join(PERS)}."))
    if rule.levels not in LEVELS:
        faults.append(("rule-levels", f"Levels are one of: {', '.join(LEVELS)}."))
    if rule.per == "bracket position above" and rule.levels not in ("all", "all but top"):
        faults.append(("rule-levels", "What the panel above needs is on all levels but the top."))
    return faults


def _check_numbers(rule: Rule) -> list[tuple[str, str]]:
    faults = []
    if rule.quantity <= 0:
        faults.append(("rule-quantity", "Give a quantity above 0, or delete the rule."))
    elif rule.quantity % 1 and rule.per != "metre":
        faults.append(("rule-quantity", "Give a whole quantity; only a rule per metre may have a part of one."))
    if not 0 <= rule.spare_percent <= 100:
        faults.append(("rule-spare", "Give spares from 0 to 100 per cent."))
    if rule.sets_positions and rule.spacing is None:
        faults.append(("rule-spacing", "Bracket positions need a greatest spacing and an end distance."))
    if rule.spacing is not None and rule.per != "run":
        faults.append(("rule-spacing", "Only a rule per run may have a spacing."))
    return faults


def _check_spacing(rule: Rule, spacing: Spacing) -> list[tuple[str, str]]:
    faults = []
    if spacing.greatest_mm <= 0 or spacing.end_mm < 0 or spacing.clear_of_joint_mm < 0:
        faults.append(("rule-spacing", "Give a spacing above 0 mm and distances of 0 mm or more."))
    if spacing.end_mm <= spacing.clear_of_joint_mm:
        faults.append(("rule-spacing", "The end distance must be more than the clearance from a joint."))
    if spacing.greatest_mm <= 2 * spacing.clear_of_joint_mm:
        faults.append(("rule-spacing", "The spacing must be more than twice the clearance from a joint."))
    if spacing.least < 2:
        faults.append(("rule-spacing", "A run needs at least two brackets."))
    return faults


def _check_positions(rules: Sequence[Rule]) -> list[Finding]:
    counting = any(rule.per in ("bracket position", "bracket position above") for rule in rules)
    found = []
    for level, has_above in ((1, False), (1, True), (2, False), (2, True)):
        setters = [rule for rule in rules if rule.sets_positions and applies(rule, level, has_above)]
        if len(setters) > 1:
            codes = " and ".join(rule.code for rule in setters)
            sentence = f"Rules {codes} both set bracket positions on the same level: keep one."
            found.append(_fault(setters[1].code, "rule-positions", sentence))
        if counting and not setters:
            sentence = "Rules count bracket positions, and on some level no rule sets them: add one."
            found.append(_fault("", "rule-positions", sentence))
    return list(dict.fromkeys(found))


def _fault(rule: str, code: str, sentence: str) -> Finding:
    return Finding(code, sentence, f"rule {rule}" if rule else "rules", "refuse")
