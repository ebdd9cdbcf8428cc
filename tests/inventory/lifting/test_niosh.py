"""The lifting equation against the worked examples of DHHS (NIOSH) Publication 94-110.

The manual works in inches and pounds with multipliers rounded to two places; both roundings are checked here.
"""

import pytest

from inventory.lifting.niosh import (
    Grip,
    Lift,
    Multipliers,
    Spell,
    across_multiplier,
    grip_multiplier,
    height_multiplier,
    index,
    multipliers,
    often_multiplier,
    recommended_kg,
    travel_multiplier,
    twist_multiplier,
)

POUND, INCH = 51 / 23, 2.54


# The manual's tables 1 to 4, in cm: HM at 40 is .63 (half up), VM at 0 .78 and 175 .70, DM at 40 .93 and 175 .85,
# AM at 45 degrees .86 and at 135 degrees .57.
@pytest.mark.parametrize(
    ("found", "printed"),
    [
        (across_multiplier(40), 0.63),
        (across_multiplier(25), 1.00),
        (across_multiplier(63), 0.40),
        (height_multiplier(0), 0.78),
        (height_multiplier(75), 1.00),
        (height_multiplier(175), 0.70),
        (travel_multiplier(40), 0.93),
        (travel_multiplier(175), 0.85),
        (twist_multiplier(45), 0.86),
        (twist_multiplier(135), 0.57),
    ],
)
def test_tables_of_the_manual(found, printed):
    assert Multipliers(found, 1, 1, 1, 1, 1).rounded().across == printed


def test_beyond_the_limits_nobody_should_lift():
    assert across_multiplier(63.1) == travel_multiplier(176) == twist_multiplier(136) == height_multiplier(176) == 0
    assert recommended_kg(Lift(70, 75, 25)) == 0 and index(5, Lift(70, 75, 25)) is None


# Corners of table 5 of the manual, from memory.
@pytest.mark.parametrize(
    ("a_minute", "spell", "height", "printed"),
    [
        (0.2, Spell.SHORT, 0, 1.00),
        (1, Spell.SHORT, 0, 0.94),
        (5, Spell.LONG, 75, 0.35),
        (9, Spell.LONG, 0, 0.0),
        (10, Spell.LONG, 75, 0.13),
        (12, Spell.MODERATE, 75, 0.21),
        (15, Spell.SHORT, 75, 0.28),
        (15, Spell.SHORT, 0, 0.0),
        (16, Spell.SHORT, 75, 0.0),
    ],
)
def test_how_often(a_minute, spell, height, printed):
    assert often_multiplier(a_minute, spell, height) == printed


def test_grip():
    assert grip_multiplier(Grip.GOOD, 0) == 1 and grip_multiplier(Grip.POOR, 100) == 0.9
    assert grip_multiplier(Grip.FAIR, 74) == 0.95 and grip_multiplier(Grip.FAIR, 75) == 1


# Example 1, loading punch press stock (pp. 33-37; values from memory): H 23, V 15, D 48 in, fair grip, 44 lb.
PRESS_START = Lift(23 * INCH, 15 * INCH, 48 * INCH)
PRESS_END = Lift(23 * INCH, 63 * INCH, 48 * INCH)


def test_punch_press_with_the_manuals_rounding():
    rounded = Multipliers(0.44, 0.89, 0.86, 1, 1, 0.95)
    assert round(51 * rounded.product(), 1) == 16.3
    assert round(44 / (51 * rounded.product()), 1) == 2.7


def test_punch_press_in_metric_units():
    """16.03 and 14.31 lb by the formulas in inches; the metric ones take 75 cm for 30 in and 4.5 cm for 1.8 in."""
    start, end = recommended_kg(PRESS_START) * POUND, recommended_kg(PRESS_END) * POUND
    assert start == pytest.approx(16.03, rel=0.03) and end == pytest.approx(14.31, rel=0.03)
    assert index(44 / POUND, PRESS_START) == pytest.approx(2.74, rel=0.03)


# Example 4, package inspection (Fig. 14, p. 46): 51 x 1.0 x .94 x .87 x 1.0 x .88 x .95 = 34.9 lb at the origin.
# The same lift in cm: H 25, V 55, D 90, three lifts a minute for up to an hour, fair grip.
def test_package_inspection_with_both_roundings():
    printed = Multipliers(1.0, 0.94, 0.87, 1.0, 0.88, 0.95)
    lift = Lift(25, 55, 90, a_minute=3, spell=Spell.SHORT, grip=Grip.FAIR)
    assert multipliers(lift).rounded() == printed
    assert round(51 * printed.product(), 1) == 34.9
    assert round(recommended_kg(lift) * POUND, 1) == 34.9


def test_an_edge_form_lifted_from_the_slab():
    # arithmetic: 23 x 0.625 x 0.805 x 0.8892 x 0.9
    assert round(recommended_kg(Lift(40, 10, 65, grip=Grip.POOR)), 2) == 9.26


def test_the_index_of_a_shared_lift_takes_each_persons_share():
    lift = Lift(40, 10, 65, grip=Grip.POOR)
    assert index(18.52 / 2, lift) == pytest.approx(1.0, abs=0.001)
