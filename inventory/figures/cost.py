"""What gear costs: per use, and spread evenly over the years it serves. Money is Decimal throughout."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class Spent:
    """Money over a number of uses: bought (less what moved on to parts cut from it), mended, cleaned, and what came
    back from sales and scrap; all of the same pieces and the same time."""

    bought: Decimal = Decimal(0)
    mended: Decimal = Decimal(0)
    cleaned: Decimal = Decimal(0)
    came_back: Decimal = Decimal(0)

    @property
    def net(self) -> Decimal:
        return self.bought + self.mended + self.cleaned - self.came_back


def per_use(spent: Spent, uses: int) -> Decimal | None:
    """Net cost a use so far; None without a use.

    >>> per_use(Spent(bought=Decimal(80), came_back=Decimal(8), cleaned=Decimal(50)), 100)
    Decimal('1.22')
    """
    return None if uses <= 0 else spent.net / uses


def over_life(price: Decimal, salvage: Decimal, uses: float, keep: Decimal) -> Decimal:
    """Straight-line cost of a use over all the uses a piece can be expected to see: (price - salvage) / uses, and what
    it takes to keep it fit for one. Common practice, no source.

    >>> over_life(Decimal(80), Decimal(8), 100, Decimal("0.5"))
    Decimal('1.22')
    """
    if uses <= 0:
        raise ValueError("the uses are more than none")
    return (price - salvage) / Decimal(str(uses)) + keep


def capital_recovery(rate: Decimal, years: int) -> Decimal:
    """A/P: the yearly amount that pays back 1 with interest over so many years. `rate` is a share, 0.07 for 7 %.

    From any engineering-economy text; for example A/P at 7 % over 10 years is 0.1424.

    >>> round(capital_recovery(Decimal("0.07"), 10), 4)
    Decimal('0.1424')
    """
    if years <= 0:
        raise ValueError("the years are at least one")
    if rate < 0:
        raise ValueError("the rate is not negative")
    if rate == 0:
        return Decimal(1) / years
    grown = (1 + rate) ** years
    return rate * grown / (grown - 1)


def yearly(price: Decimal, salvage: Decimal, rate: Decimal, years: int, running: Decimal = Decimal(0)) -> Decimal:
    """Equivalent annual cost: (price - salvage) x A/P + salvage x rate + what it costs a year to keep.

    >>> cents(yearly(Decimal(1000), Decimal(200), Decimal("0.07"), 10))
    Decimal('127.90')
    """
    return (price - salvage) * capital_recovery(rate, years) + salvage * rate + running


@dataclass(frozen=True, slots=True)
class Outlook:
    """What one piece of a kind can be expected to cost; None where too little is known.

    price, salvage   when bought, and as scrap at the end
    uses             expected in all; `seen` says that lives seen tell it, else it is the maker's figure
    keep             to mend and clean it, for each use
    a_year           uses a year it sees at present
    """

    price: Decimal
    salvage: Decimal
    uses: float | None
    seen: bool
    keep: Decimal | None
    a_year: float

    @property
    def per_use(self) -> Decimal | None:
        if not self.uses or self.keep is None:
            return None
        return over_life(self.price, self.salvage, self.uses, self.keep)

    @property
    def years(self) -> int | None:
        """Whole years that the expected uses last at the present pace, at least one."""
        return max(1, round(self.uses / self.a_year)) if self.uses and self.a_year > 0 else None

    @property
    def running(self) -> Decimal:
        return (self.keep or Decimal(0)) * Decimal(str(self.a_year))

    def a_year_at(self, rate: Decimal) -> Decimal | None:
        """Equivalent annual cost at that yearly cost of money (a share)."""
        if self.years is None or self.keep is None:
            return None
        return yearly(self.price, self.salvage, rate, self.years, self.running)


@dataclass(frozen=True, slots=True)
class Choice:
    """Mend it or buy another: cost of each further use either way. None where it cannot be said."""

    mend_per_use: Decimal | None
    replace_per_use: Decimal | None

    @property
    def words(self) -> str:
        if self.mend_per_use is None or self.replace_per_use is None:
            return "too little is known to say"
        if self.mend_per_use < self.replace_per_use:
            return "mending is cheaper a use"
        return "replacing is cheaper a use"


def mend_or_replace(
    mend: Decimal, worth_now: Decimal, left: float | None, price: Decimal, whole: float | None
) -> Choice:
    """Cost of each further use, by mending and by buying.

    mend       what the repair costs (so far, or as estimated)
    worth_now  what the piece would bring unmended: sale or scrap; it is given up by keeping it
    left       expected uses left once mended; whole: expected uses of a new one
    price      of a new one
    """

    def each(cost: Decimal, uses: float | None) -> Decimal | None:
        return None if uses is None or uses <= 0 else cost / Decimal(str(uses))

    return Choice(each(mend + worth_now, left), each(price, whole))


def shared_by_length(cost: Decimal, parent_mm: int, parts_mm: list[int]) -> list[Decimal]:
    """What each part cut from a length takes of its cost: by length, to the cent. Kerf and offcut keep their share.

    >>> shared_by_length(Decimal("100.00"), 6000, [2000, 3000])
    [Decimal('33.33'), Decimal('50.00')]
    """
    if parent_mm <= 0 or sum(parts_mm) > parent_mm:
        raise ValueError("the parts are longer than the length they were cut from")
    return [cents(cost * part / parent_mm) for part in parts_mm]
