"""What can still be had of a supply, in words for its list and its page."""

from __future__ import annotations

from datetime import date

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.views.markup import both_ways
from jobs.models import Supply
from jobs.planning.remedies.left import Left
from jobs.selectors.supplies import OrderRow, least_left


def left_words(left: Left, today: date) -> str:
    """So many today, and what it sinks to later, where other jobs have ordered for later."""
    steps, least = list(left.steps(today)), least_left(left, today)
    if least is None:
        return "any number"
    now, (fewest, day) = steps[0][1], least
    if fewest < now:
        return format_html("{}; {} from {}", f"{now:,}", f"{fewest:,}", both_ways(day))
    return f"{now:,}"


def standing_words(supply: Supply, left: Left, orders: list[OrderRow], today: date) -> SafeString:
    """The sentence at the head of its page."""
    ordered = sum(row.count for row in orders)
    if supply.way == Supply.Way.BUY:
        if supply.most is None:
            return format_html("Any number can be bought; {} ordered so far.", _many(ordered))
        still = f"{max(0, supply.most - ordered):,}"
        return format_html("{} of {} can still be bought; {} ordered.", still, f"{supply.most:,}", _many(ordered))
    if supply.most is None:
        return format_html("Any number can be hired in; {} with us or on order.", _many(ordered))
    steps = [(f"{count:,}", "" if day == today else both_ways(day)) for day, count in left.steps(today)]
    still = format_html_join(", ", "{} from {}", steps[1:])
    first = format_html("{} today", steps[0][0])
    said = format_html("{}, {}", first, still) if still else first
    return format_html("{} can be hired in at any one time. Still to be had: {}.", f"{supply.most:,}", said)


def _many(count: int) -> str:
    return f"{count:,} {'is' if count == 1 else 'are'}"
