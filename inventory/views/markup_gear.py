"""How tags, lateness and what an event said are written; built into the template engine beside `markup`.

{{ piece.label|tag_code }}       ABCD-EFGH-3
{{ line.late|span_words }}       3 h
{% for word in row|said_words %}{{ word }}{% endfor %}
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template

from inventory.lifecycle.kinds import Kind
from inventory.tags import code

register = template.Library()


@register.filter
def tag_code(text: str | None) -> str:
    """A tag grouped for reading; anything else as it is."""
    return code.format(text) if text else ""


@register.filter
def span_words(span: dt.timedelta | None) -> str:
    """About how long: 40 min, 3 h, 2 days."""
    if span is None:
        return ""
    minutes = round(span.total_seconds() / 60)
    if minutes < 120:
        return f"{minutes} min"
    hours = round(minutes / 60)
    return f"{hours} h" if hours < 48 else f"{round(hours / 24)} days"


@register.filter
def said_words(row: Any) -> list[str]:
    """What an event said beside its kind, in words."""
    data, found = row.data, []
    if row.kind in (Kind.FOUND_DAMAGED, Kind.INSPECTED, Kind.REGISTERED) and data.get("grade"):
        found.append(str(data["grade"]))
    found += [str(data[name]) for name in ("reason", "note") if data.get(name)]
    found += _kept_fit(data)
    if data.get("dirty") is not None:
        found.append("dirty" if data["dirty"] else "clean")
    if data.get("code"):
        found.append(f"tag {code.format(data['code'])}")
    if data.get("instead_of"):
        found.append(f"instead of {code.format(data['instead_of'])}")
    if data.get("override"):
        found.append(f"overridden: {data['override']}")
    if data.get("uses"):
        found.append(f"{data['uses']} uses before")
    return found


def _kept_fit(data: Any) -> list[str]:
    """Inspections, sales, and who is charged."""
    found = [f"{words} {data[name]}" for name, words in _SAID.items() if data.get(name) not in (None, "")]
    if "charge" in data:
        found.append("charged to the job" if data["charge"] else "not charged")
    return found


_SAID = {
    "found_by": "found by",
    "by_name": "inspected by",
    "checked": "checked:",
    "how": "how:",
    "proceeds": "it brought",
    "buyer": "to",
    "value": "at",
    "kerf_mm": "lost to the saw, mm:",
    "scrap_kg": "scrap, kg:",
}
