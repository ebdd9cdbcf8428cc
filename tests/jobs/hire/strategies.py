"""Made-up hires for property tests: short dates, awkward rates, every rule switched on at times."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import strategies as st

from jobs.hire.stays import Facts, StandDown, Stay, Use
from jobs.hire.terms import Discount, Loss, Minimum, Price, Rate, Step, Terms

FIRST = date(2026, 1, 5)
LAST = date(2026, 6, 30)
days = st.integers(0, 170).map(lambda n: FIRST + timedelta(days=n))
cents = st.integers(1, 20_000).map(lambda n: Decimal(n).scaleb(-2))
mills = st.integers(1, 30_000).map(lambda n: Decimal(n).scaleb(-3))
shares = st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(2, 3), Fraction(9, 10), Fraction(1)])
types = st.sampled_from(["EF-3000", "EF-1500", "FB-150"])


@st.composite
def moments(draw, day: date):
    """A day, or an instant of that day in UTC."""
    if draw(st.booleans()):
        return day
    return datetime.combine(day, time(draw(st.integers(0, 23)), draw(st.sampled_from([0, 30]))), UTC)


@st.composite
def rates(draw):
    units = {unit: draw(mills) for unit in ("day", "week", "month", "use") if draw(st.booleans())}
    if not units:
        units = {"day": draw(mills)}
    fixed = [unit for unit in units if unit != "use"]
    return Rate(
        type=draw(st.sampled_from(["", "", "EF-3000", "FB-150"])),
        choose=draw(st.sampled_from(["cheapest", "cheapest", *fixed])),
        odd_days=draw(st.sampled_from(["pro_rata", "whole"])),
        uses=draw(st.sampled_from(["added", "cheaper"])),
        **units,
    )


@st.composite
def terms(draw, holds_from=None, name="first", replaces=""):
    steps = sorted(draw(st.sets(st.integers(0, 90), max_size=2)))
    return Terms(
        id=name,
        holds_from=holds_from,
        replaces=replaces,
        running_stays=draw(st.sampled_from(["change", "keep"])),
        rates=tuple(draw(st.lists(rates(), min_size=1, max_size=3))),
        days_charged=draw(st.sampled_from(["out", "back", "both", "neither"])),
        cut_off_out=draw(st.sampled_from([None, None, time(12)])),
        cut_off_back=draw(st.sampled_from([None, None, time(9, 30)])),
        week=draw(st.sampled_from(["calendar", "six_day", "five_day"])),
        holidays=frozenset(draw(st.sets(days, max_size=4))),
        month=draw(st.sampled_from(["calendar", "28", "30"])),
        minimum=Minimum(
            days=draw(st.sampled_from([0, 0, 7, 28])),
            amount=draw(st.sampled_from([Decimal(0), Decimal("25.00"), Decimal("900.00")])),
            per=draw(st.sampled_from(["piece", "line", "delivery"])),
        ),
        steps=tuple(Step(after, draw(shares)) for after in steps),
        steps_for=draw(st.sampled_from(["beyond", "whole"])),
        discounts=tuple(draw(st.lists(st.builds(Discount, per_cent=st.integers(0, 100).map(Decimal)), max_size=1))),
        loss=Loss(share=draw(shares), until_settled=draw(shares)),
        replacement=(Price(draw(cents)),),
        sales=tuple(draw(st.lists(st.builds(Price, amount=cents), max_size=1))),
    )


@st.composite
def histories(draw):
    """One to three sets of terms, each holding from a later day."""
    first = draw(terms())
    starts = sorted(draw(st.sets(days, max_size=2)))
    later = [draw(terms(holds_from=day, name=f"from {day}")) for day in starts]
    return (first, *later)


@st.composite
def stays(draw, name: str):
    out = draw(days)
    back = out + timedelta(days=draw(st.integers(0, 100))) if draw(st.booleans()) else None
    end = draw(st.sampled_from(["returned", "returned", "lost", "sold"])) if back else "returned"
    settled = back + timedelta(days=draw(st.integers(0, 30))) if end == "lost" and draw(st.booleans()) else None
    left, came = draw(moments(out)), draw(moments(back)) if back else None
    if isinstance(left, datetime) and isinstance(came, datetime):
        came = max(left, came)  # on one day, not back before it went out
    return Stay(
        id=name,
        type=draw(types),
        count=draw(st.integers(1, 40)),
        out=left,
        back=came,
        end=end,
        settled=settled,
        line=draw(st.sampled_from(["", "", "D1"])),
    )


@st.composite
def exchanges(draw, before: Stay, name: str):
    """A stay that goes on with what an earlier one began."""
    out = (before.back or before.out) if not isinstance(before.back or before.out, datetime) else None
    out = out or (before.back or before.out).date()
    out += timedelta(days=draw(st.integers(0, 5)))
    back = out + timedelta(days=draw(st.integers(0, 60))) if draw(st.booleans()) else None
    return Stay(id=name, type=before.type, count=before.count, out=out, back=back, continues=before.id)


@st.composite
def stand_downs(draw, names):
    first = draw(days)
    return StandDown(
        from_=first,
        until=first + timedelta(days=draw(st.integers(1, 20))),
        share=draw(shares),
        stays=tuple(draw(st.sets(st.sampled_from(names), max_size=2))),
    )


@st.composite
def facts(draw):
    """A whole customer's hire."""
    found = [draw(stays(f"S{number}")) for number in range(draw(st.integers(1, 4)))]
    returned = [one for one in found if one.back is not None and one.end == "returned"]
    if returned and draw(st.booleans()):
        found.append(draw(exchanges(returned[0], "X1")))
    names = [one.id for one in found]
    uses = st.builds(Use, stay=st.sampled_from(names), date=days, count=st.integers(1, 40))
    return Facts(
        terms=draw(histories()),
        stays=tuple(found),
        uses=tuple(draw(st.lists(uses, max_size=4))),
        stand_downs=tuple(draw(st.lists(stand_downs(names), max_size=3))),
    )
