"""Public holidays of a region, from the `holidays` library: a country and, where it has them, a subdivision.

What the library knows depends on its version, and governments declare holidays late: the list is a
starting point that a yard can add to, not a promise.

>>> public_holidays("AU-NSW", [2026])[date(2026, 4, 3)]
'Good Friday'
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import holidays as library

from jobs.errors import Refused


def public_holidays(region: str, years: Iterable[int]) -> dict[date, str]:
    """The public holidays of `region` ("AU-NSW", "GB-ENG", "NZ") in those years, by day, with their names.

    Raises Refused ("region") for a region that the library does not know. An empty region has none.
    """
    if not region:
        return {}
    country, _, part = region.partition("-")
    try:
        found = library.country_holidays(country, subdiv=part or None, years=list(years), language="en_US")
    except NotImplementedError as unknown:
        raise Refused(
            "region", f"No holidays are known for {region!r}. Give one such as AU-NSW, or leave it empty."
        ) from unknown
    return dict(sorted(found.items()))


def known_regions() -> list[str]:
    """Every region `public_holidays` takes, countries first with their parts after them."""
    regions = []
    for country, parts in sorted(library.list_supported_countries(include_aliases=False).items()):
        regions.append(country)
        regions += [f"{country}-{part}" for part in parts]
    return regions
