"""The pieces every page is set from: filters that say dates and sizes, tags for the parts of a page.

They are built into the template engine, so that no template has to load them.

    {{ docket.due|both_ways }}                  Fri 12 Mar, in 3 days
    {{ piece.length_mm|metres }}                3.0 m
    {% standing %}This site holds {% tally 214 "piece" "pieces" url %}.{% endstanding %}
    {% next_thing url "Load the truck for Thursday" %}
    {% status "unfit" %}                        the word, with its mark and colour
    {% notice "stop" "Two to lift" %}...{% endnotice %}      also "look" and "plain"
    {% empty "No dockets yet" %}What will be here and how it gets here.{% endempty %}
    {% facts %}{% fact "From" docket.origin %}{% fact "To" docket.target url %}{% endfacts %}
    {% may "docket-new" as can_open %}{% if can_open %}...{% endif %}
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import template
from django.template.context import Context
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.models.roles import roles_of
from inventory.views import access, navigation

register = template.Library()

# What a state word asks of the reader: stop (red), look (ochre), good or plain (ink).
TONES = {
    "stop": ("unfit", "short", "overdue", "lost", "refused", "failed", "conflict", "not covered", "missing"),
    "look": (
        "dirty",
        "watch",
        "due",
        "late",
        "stale",
        "in review",
        "in repair",
        "different",
        "stopped",
        "flagged",
        "running",
        "waiting",
    ),
    "good": ("clean", "sound", "covered", "received", "closed", "done", "found", "accepted", "fit"),
}
_TONE_OF = {word: tone for tone, words in TONES.items() for word in words}


@register.filter
def both_ways(when: dt.date | dt.datetime | None) -> str:
    """The day as a date and as a distance from today: "Fri 12 Mar, in 3 days". Empty when there is none."""
    if when is None or when == "":
        return ""
    moment = timezone.localtime(when) if isinstance(when, dt.datetime) and timezone.is_aware(when) else when
    words = said_both_ways(moment, timezone.localdate())
    return format_html('<time datetime="{}">{}</time>', moment.isoformat(), words)


def said_both_ways(when: dt.date | dt.datetime, today: dt.date) -> str:
    day = when.date() if isinstance(when, dt.datetime) else when
    year = f" {day.year}" if day.year != today.year else ""
    clock = f" {when:%H:%M}" if isinstance(when, dt.datetime) else ""
    return f"{day:%a} {day.day} {day:%b}{year}{clock}, {distance((day - today).days)}"


def distance(days: int) -> str:
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if days in near:
        return near[days]
    return f"in {days:,} days" if days > 0 else f"{-days:,} days ago"


@register.filter
def metres(length_mm: int | None) -> str:
    """3000 -> "3.0 m", 3450 -> "3.45 m": as many places as the millimetres need, and at least one."""
    if length_mm is None:
        return ""
    text = f"{Decimal(length_mm) / 1000:,.3f}"
    whole, _, places = text.partition(".")
    return f"{whole}.{places.rstrip('0') or '0'} m"


@register.filter
def mm(length_mm: int | None) -> str:
    return "" if length_mm is None else f"{length_mm:,} mm"


@register.filter
def places_mm(places: Iterable[int]) -> str:
    """[300, 1350] -> "300; 1,350 mm": the unit once, and never alone on a line."""
    said = "; ".join(f"{place:,}" for place in places)
    return f"{said}\u00a0mm" if said else ""


@register.filter
def kilograms(mass: Decimal | float | int | None) -> str:
    return "" if mass is None else f"{mass:,.1f} kg"


@register.filter
def thousands(number: int | None) -> str:
    return "" if number is None else f"{number:,}"


@register.simple_tag
def tally(number: int, one: str, many: str = "", url: str = "") -> SafeString:
    """A number with its word, as a link to the list it counts."""
    word = one if number == 1 else (many or f"{one}s")
    if not url:
        return format_html('<span class="tally">{} {}</span>', f"{number:,}", word)
    return format_html('<a class="tally" href="{}">{} {}</a>', url, f"{number:,}", word)


@register.simple_tag
def status(word: Any, tone: str = "") -> SafeString:
    text = str(word)
    known = tone or _TONE_OF.get(text.lower(), "plain")
    return format_html('<span class="status status-{}">{}</span>', known, text)


@register.simple_tag
def next_thing(url: str, label: str) -> SafeString:
    return format_html('<p class="next"><a class="press" href="{}">{}</a></p>', url, label)


@register.simple_block_tag
def standing(content: str) -> SafeString:
    return format_html('<p class="standing">{}</p>', content)


@register.simple_block_tag
def notice(content: str, tone: str = "plain", heading: str = "") -> SafeString:
    """Something to stop at or look at. The heading says which in words."""
    words = heading or {"stop": "Stop", "look": "Look at this"}.get(tone, "")
    head = format_html('<p class="notice-head">{}</p>', words) if words else ""
    return format_html('<div class="notice notice-{}" role="note">{}<div>{}</div></div>', tone, head, content)


@register.simple_block_tag
def empty(content: str, heading: str) -> SafeString:
    return format_html('<div class="empty"><p class="empty-head">{}</p><p>{}</p></div>', heading, content)


@register.simple_block_tag
def facts(content: str) -> SafeString:
    return format_html('<dl class="facts">{}</dl>', content)


@register.simple_tag
def fact(label: str, value: Any, url: str = "") -> SafeString:
    said = format_html('<a href="{}">{}</a>', url, value) if url else value
    said = "not said" if said is None or said == "" else said
    return format_html('<div class="fact"><dt>{}</dt><dd>{}</dd></div>', label, said)


@register.simple_tag(takes_context=True)
def may(context: Context, url_name: str, *args: Any, writing: bool = False, **kwargs: Any) -> bool:
    user = getattr(context.get("request"), "user", None)
    return user is not None and access.may(user, url_name, *args, writing=writing, **kwargs)


@register.simple_block_tag(takes_context=True)
def way(context: Context, content: str, url_name: str, *args: Any) -> SafeString | str:
    """A link for those who may follow it; for anybody else its words alone."""
    if not may(context, url_name, *args):
        return content
    return format_html('<a href="{}">{}</a>', reverse(url_name, args=args), content)


@register.simple_tag(takes_context=True)
def navigation_groups(context: Context) -> list[navigation.Group]:
    request = context.get("request")
    return navigation.groups(request) if request is not None else []


@register.simple_tag(takes_context=True)
def role_words(context: Context) -> str:
    user = getattr(context.get("request"), "user", None)
    return access.joined(sorted(role.label for role in roles_of(user)), "and") if user else ""
