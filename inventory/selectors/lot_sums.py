"""Each lot's sums, from one query: what happened to it in a period, and in all.

Lots are few, so that whatever the figures group by is added up from these.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Case, F, Q, Sum, Value, When
from django.db.models.expressions import CombinedExpression

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Lot, LotMonth
from inventory.selectors.periods import Period, month_after

ON_SITES = Q(place__kind=PlaceKind.SITE)
NUMBERS = ("casts", "damaged", "unfit", "lost", "cleans", "uncleaned")


@dataclass(frozen=True, slots=True)
class LotSums:
    """One lot.

    cost         of one piece, None where it is not known; value, mass_kg and rated uses of its type
    casts .. uncleaned   of the period, as `inventory.figures.life.Month` has them
    out, owned   piece-days of the period on sites and on the books
    bought, gone, all_casts, all_cleans   since the beginning
    """

    lot: int
    casts: int
    damaged: int
    unfit: int
    lost: int
    cleans: int
    uncleaned: int
    out: int
    owned: int
    bought: int
    gone: int
    all_casts: int
    all_cleans: int
    type: int
    batch: str
    age: int | None
    ours: bool
    cost: Decimal | None
    part: bool
    value: Decimal
    mass_kg: Decimal
    rated: int | None

    @property
    def price(self) -> Decimal:
        """What days of it are weighted by."""
        return self.value if self.cost is None else self.cost

    @property
    def paid(self) -> Decimal:
        """Of a part of a length whose cost is not known, nothing: the length's own value stands for both."""
        return Decimal(0) if self.cost is None and self.part else self.price


FACTS = (
    "type",
    "maker_batch",
    "year",
    "ours",
    "cost",
    "part",
    "type__replacement_value",
    "type__mass_kg",
    "type__rated_uses",
)


def lot_sums(period: Period) -> list[LotSums]:
    within = Q(month__gte=period.first, month__lt=period.after)
    so_far = Q(month__lt=period.after)
    counted = (
        LotMonth.objects.order_by()
        .values_list("lot")
        .annotate(
            **{f"s_{name}": Sum(name, filter=within, default=0) for name in NUMBERS},
            out=Sum(days("came", "left", period), filter=ON_SITES & so_far, default=0),
            owned=Sum(days("bought", "gone", period), filter=so_far, default=0),
            s_bought=Sum("bought"),
            s_gone=Sum("gone"),
            all_casts=Sum("casts"),
            all_cleans=Sum("cleans"),
        )
    )
    facts = {pk: rest for pk, *rest in Lot.objects.order_by().values_list("pk", *FACTS)}
    return [LotSums(lot, *numbers, *facts[lot]) for lot, *numbers in counted]


def days(came: str, left: str, period: Period) -> CombinedExpression:
    """Who came before the period is there for all of it; who came in a month of it, for the days to that month's end
    and then on; who left is taken off likewise."""
    then_on = [When(month=month, then=Value((period.after - month_after(month)).days)) for month in period.months]
    to_its_end = When(month__gte=period.first, then=F(f"{came}_days") - F(f"{left}_days"))
    return (F(came) - F(left)) * Case(*then_on, default=Value(period.days)) + Case(to_its_end, default=Value(0))
