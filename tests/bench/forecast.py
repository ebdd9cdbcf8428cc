"""How often the forecast's band holds the truth, on 200 simulated fleets: `python -m tests.bench.forecast`."""

from __future__ import annotations

import sys

from tests.inventory.figures.fleets import AHEAD, WATCHED, back_test

FLEETS = 200


def main() -> int:
    held, tried = back_test(range(FLEETS))
    share = held / tried
    print(
        f"{FLEETS} fleets watched for {WATCHED} months and forecast for {AHEAD}: {tried} forecast, "
        f"the 95 % band holds the truth in {held} ({share:.1%}); wanted: 90 % to 99 %"
    )
    return not 0.90 <= share <= 0.99


if __name__ == "__main__":
    sys.exit(main())
