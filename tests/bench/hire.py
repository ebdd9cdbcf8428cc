"""Charges for ten thousand to a million stays, against a plain recomputation that looks at every day.

Run by `make bench`, or alone: ``python -m tests.bench.hire``. A stay is one tagged piece. Figures from
different runs are not to be compared: each is shown as a ratio to a baseline in the same run, which does no
more than count each stay's working days with numpy and multiply. Seconds are the processor's, so that what
else the machine does matters less.
"""

from __future__ import annotations

import random
import time
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import numpy

from jobs.hire.adjust import Period, statement
from jobs.hire.book import Book
from jobs.hire.charges import dues
from jobs.hire.stays import Facts, StandDown, Stay
from jobs.hire.terms import Minimum, Rate, Step, Terms
from tests.jobs.hire.plain import plain_lines

FIRST, UNTIL = date(2025, 1, 1), date(2026, 1, 1)
HOLIDAYS = frozenset({date(2025, 1, 1), date(2025, 1, 27), date(2025, 4, 18), date(2025, 4, 21), date(2025, 12, 25)})
TERMS = Terms(
    rates=tuple(
        Rate(type=f"EF-{600 + 300 * n}", day=Decimal(20 + n).scaleb(-2), week=Decimal(95 + 4 * n).scaleb(-2),
             month=Decimal(350 + 15 * n).scaleb(-2))
        for n in range(20)
    ),
    week="six_day",
    holidays=HOLIDAYS,
    minimum=Minimum(days=7),
    steps=(Step(60, Fraction(9, 10)),),
)  # fmt: skip
DOWNS = (
    StandDown(date(2025, 3, 10), date(2025, 3, 13), Fraction(1, 2), "rain"),
    StandDown(date(2025, 12, 22), date(2025, 12, 31), Fraction(0), "shutdown"),
)


DOCKET = 20


def made_up(count: int) -> Facts:
    """So many pieces' stays over a year, of twenty types, one in ten still out. The same every time.

    Pieces go out twenty to a docket, of one type, and come back in lots of one to twenty.
    """
    chance = random.Random(20_251_125)
    stays: list[Stay] = []
    while len(stays) < count:
        out, type = FIRST + timedelta(days=chance.randrange(350)), f"EF-{600 + 300 * chance.randrange(20)}"
        left = min(DOCKET, count - len(stays))
        while left:
            lot = chance.randint(1, left)
            back = None if chance.random() < 0.1 else out + timedelta(days=chance.randrange(1, 120))
            stays += [Stay(f"S{len(stays) + n}", type, 1, out, back) for n in range(lot)]
            left -= lot
    return Facts((TERMS,), tuple(stays), (), DOWNS)


def seconds(work) -> tuple[float, object]:
    begun = time.process_time()
    done = work()
    return time.process_time() - begun, done


def baseline(facts: Facts) -> float:
    """Working days of every stay by numpy, times one rate: the least that any way of charging must do."""
    outs = numpy.array([one.out for one in facts.stays], dtype="datetime64[D]")
    backs = numpy.array([min(one.back or UNTIL, UNTIL) for one in facts.stays], dtype="datetime64[D]")
    days = numpy.busday_count(outs, backs, weekmask="1111110", holidays=sorted(HOLIDAYS))
    return float(sum(Decimal(int(one)) * Decimal("0.30") for one in days))


def main() -> None:
    """Print the table, and fail if the two ways of charging differ by a cent on any line."""
    print(
        f"{'stays':>10} {'charges s':>10} {'bill with reasons s':>20} {'numpy baseline s':>17} {'charges/baseline':>17}"
    )
    times = {}
    for count in (10_000, 100_000, 1_000_000):
        facts = made_up(count)
        least, _ = seconds(lambda facts=facts: baseline(facts))
        charging, _ = seconds(lambda facts=facts: dues(Book(facts), UNTIL, 2))
        whole = None
        if count <= 100_000:
            whole, _ = seconds(lambda facts=facts: statement(facts, Period(FIRST, UNTIL), "AUD"))
        times[count] = charging
        shown = f"{whole:20.2f}" if whole is not None else f"{'-':>20}"
        print(f"{count:>10,} {charging:10.2f} {shown} {least:17.3f} {charging / least:17.1f}", flush=True)
    print(f"growth: ten times the stays take {times[100_000] / times[10_000]:.1f}x, then")
    print(f"        {times[1_000_000] / times[100_000]:.1f}x the time (10 is linear)", flush=True)
    compare(100_000)


def compare(count: int) -> None:
    """Every line of both ways side by side."""
    facts = made_up(count)
    fast, found = seconds(lambda: dues(Book(facts), UNTIL, 2))
    slow, plain = seconds(lambda: plain_lines(facts, UNTIL))
    wrong = [one for one in found.values() if one.amount != plain[("hire", one.line[5:], one.type, 0)]]
    total = sum(one.amount for one in found.values())
    print(f"day by day, {count:,} stays: {slow:.1f} s against {fast:.1f} s ({slow / fast:.0f}x); {total} in all")
    if wrong or len(found) != len(plain):
        raise SystemExit(f"{len(wrong)} lines differ, {len(found)} lines against {len(plain)}.")
    print("every line agrees to the cent")


if __name__ == "__main__":
    main()
