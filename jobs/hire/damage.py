"""Which job damage belongs to: the last one, if it was found soon enough and before the next send.

Common practice, no source: hire conditions give a number of days, and a piece sent on unseen has been
accepted as sound. The person who charges it still decides; fair wear and tear is not damage (CPA Model
Conditions and the published terms of hirers say so).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from jobs.hire.stays import Stay, When, day_of
from jobs.hire.terms import Terms


def damaged_on(found: When, stays: Iterable[Stay], terms: Terms) -> Stay | None:
    """The stay, of one piece's stays, that damage found then belongs to; None when it is the owner's own.

    Damage found while the piece is out belongs to the stay it is on. The day it was sent on counts as sent.
    """
    day = day_of(found, terms.zone)
    begun = [stay for stay in stays if day_of(stay.out, terms.zone) <= day]
    if not begun:
        return None
    last = max(begun, key=lambda stay: day_of(stay.out, terms.zone))
    if last.back is None or day_of(last.back, terms.zone) >= day:
        return last
    limit = day_of(last.back, terms.zone) + timedelta(days=terms.damage.within_days)
    return last if day <= limit else None
