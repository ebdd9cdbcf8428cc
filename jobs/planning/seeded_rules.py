"""The take-off rules a new yard starts with: common practice, no source. Spacing, end distance and clearances
are placeholders until the maker's and the engineer's figures are put in; say so where they are set.
"""

from __future__ import annotations

from decimal import Decimal

from jobs.planning.brackets import Spacing
from jobs.planning.rules import Rule

EVERY = Spacing(greatest_mm=1200, end_mm=300)


def seeded_rules() -> tuple[Rule, ...]:
    """The rules, in the order in which a person would read a cut list."""
    two, four = Decimal(2), Decimal(4)
    five_percent = Decimal(5)
    return (
        Rule("form-brackets", "form bracket", "run", spacing=EVERY, sets_positions=True),
        Rule("slab-fixings", "slab fixing", "bracket position", "first"),
        Rule("stack-brackets", "stack bracket", "bracket position", "above first"),
        Rule("corner-clamps", "corner clamp", "corner"),
        Rule("splice-plates", "splice plate", "joint"),
        Rule("splice-bolts", "splice bolt", "joint", quantity=four, spare_percent=five_percent),
        Rule("bracket-stud-bolts", "stud bolt", "bracket position", spare_percent=five_percent),
        Rule("clamp-stud-bolts", "stud bolt", "corner", quantity=two, spare_percent=five_percent),
        Rule(
            "stack-flanged-bolts",
            "flanged bolt",
            "bracket position",
            "above first",
            quantity=two,
            spare_percent=five_percent,
        ),
        Rule(
            "inserts",
            "insert",
            "bracket position above",
            "all but top",
            used_up=True,
            spare_percent=five_percent,
        ),
        Rule("insert-screws", "screw", "bracket position above", "all but top", spare_percent=five_percent),
        Rule("insert-washers", "washer", "bracket position above", "all but top", spare_percent=five_percent),
        Rule("tools", "tool", "crew"),
    )
