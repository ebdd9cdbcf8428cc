"""The revised lifting equation of 1991: what one person may be asked to lift by hand, in one kind of lift.

T. R. Waters, V. Putz-Anderson, A. Garg: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH)
Publication 94-110 (public domain). RWL = LC x HM x VM x DM x AM x FM x CM; the lifting index is load over RWL. An aid
for planning, for two-handed lifts in ordinary conditions: local codes and a competent person decide.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

LOAD_CONSTANT_KG = 23.0
FARTHEST_CM, HIGHEST_CM, LONGEST_CM, WIDEST_DEG = 63.0, 175.0, 175.0, 135.0


class Grip(StrEnum):
    """How well the hands hold it: handles, an edge to curl the fingers under, or neither."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Spell(StrEnum):
    """How long lifting goes on before a rest: up to 1, 2 or 8 hours."""

    SHORT = "up to 1 hour"
    MODERATE = "up to 2 hours"
    LONG = "up to 8 hours"


FREQUENCIES = (0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
"""Lifts a minute, as table 5 of the manual has them; between two rows the more frequent one holds."""
_LONG = (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18)
_MODERATE = (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26)
_SHORT = (1.00, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37)
FREQUENCY_TABLE: dict[tuple[Spell, bool], tuple[float, ...]] = {
    (Spell.LONG, False): _LONG,
    (Spell.LONG, True): (*_LONG, 0.15, 0.13),
    (Spell.MODERATE, False): _MODERATE,
    (Spell.MODERATE, True): (*_MODERATE, 0.23, 0.21),
    (Spell.SHORT, False): _SHORT,
    (Spell.SHORT, True): (*_SHORT, 0.34, 0.31, 0.28),
}
"""Table 5, by spell and by whether the hands are at 75 cm or higher; beyond a row's end the multiplier is 0."""


@dataclass(frozen=True, slots=True)
class Lift:
    """One kind of lift; lengths in cm, angle in degrees, as the manual takes them.

    across   from between the ankles to between the hands (H); height of the hands at the start (V); travel up or
    down (D); twist of the load from straight ahead (A); lifts a minute, spell and grip
    """

    across_cm: float
    height_cm: float
    travel_cm: float
    twist_deg: float = 0.0
    a_minute: float = 0.2
    spell: Spell = Spell.SHORT
    grip: Grip = Grip.FAIR


@dataclass(frozen=True, slots=True)
class Multipliers:
    """H, V, D, A, F and C, each between 0 and 1."""

    across: float
    height: float
    travel: float
    twist: float
    often: float
    grip: float

    def product(self) -> float:
        return self.across * self.height * self.travel * self.twist * self.often * self.grip

    def rounded(self) -> Multipliers:
        """To two places, half up, as the manual's worked examples print them."""
        return Multipliers(*(_two(value) for value in self._all()))

    def _all(self) -> tuple[float, ...]:
        return (self.across, self.height, self.travel, self.twist, self.often, self.grip)


def _two(value: float) -> float:
    return float(Decimal(repr(round(value, 9))).quantize(Decimal("0.01"), ROUND_HALF_UP))


def across_multiplier(cm: float) -> float:
    """HM = 25 / H; 1 up to 25 cm, 0 beyond 63 cm."""
    return 0.0 if cm > FARTHEST_CM else 1.0 if cm <= 25 else 25 / cm


def height_multiplier(cm: float) -> float:
    """VM = 1 - 0.003 x |V - 75|; 0 beyond 175 cm."""
    return 0.0 if cm > HIGHEST_CM or cm < 0 else 1 - 0.003 * abs(cm - 75)


def travel_multiplier(cm: float) -> float:
    """DM = 0.82 + 4.5 / D; 1 up to 25 cm, 0 beyond 175 cm."""
    return 0.0 if cm > LONGEST_CM else 1.0 if cm <= 25 else 0.82 + 4.5 / cm


def twist_multiplier(degrees: float) -> float:
    """AM = 1 - 0.0032 x A; 0 beyond 135 degrees."""
    return 0.0 if abs(degrees) > WIDEST_DEG else 1 - 0.0032 * abs(degrees)


def often_multiplier(a_minute: float, spell: Spell, height_cm: float) -> float:
    """FM, by table 5 of the manual."""
    table = FREQUENCY_TABLE[spell, height_cm >= 75]
    row = bisect_left(FREQUENCIES, a_minute)
    return table[row] if row < len(table) else 0.0


def grip_multiplier(grip: Grip, height_cm: float) -> float:
    """CM, by table 7 of the manual."""
    if grip == Grip.GOOD:
        return 1.0
    if grip == Grip.FAIR:
        return 1.0 if height_cm >= 75 else 0.95
    return 0.9


def multipliers(lift: Lift) -> Multipliers:
    return Multipliers(
        across_multiplier(lift.across_cm),
        height_multiplier(lift.height_cm),
        travel_multiplier(lift.travel_cm),
        twist_multiplier(lift.twist_deg),
        often_multiplier(lift.a_minute, lift.spell, lift.height_cm),
        grip_multiplier(lift.grip, lift.height_cm),
    )


def recommended_kg(lift: Lift) -> float:
    """The recommended weight limit in kg.

    >>> round(recommended_kg(Lift(40, 10, 65, grip=Grip.POOR)), 2)
    9.26
    """
    return LOAD_CONSTANT_KG * multipliers(lift).product()


def index(load_kg: float, lift: Lift) -> float | None:
    """Load over the recommended limit; the design goal is at most 1. None where the limit is nothing: do not lift so.

    For a lift shared evenly give each person's share of the load.
    """
    limit = recommended_kg(lift)
    return load_kg / limit if limit > 0 else None
