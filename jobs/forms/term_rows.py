"""Lists inside hire terms as a clerk writes them: one a line, "what it is for: what holds".

What it is for is "all", a kind of gear such as edge form, or a catalogue code. Written back the same way, so that
new terms start from the old ones' text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from django import forms

from inventory.models import GearType

UNITS = ("day", "week", "month", "use")
Row = dict[str, Any]


def _for_whom(text: str) -> Row:
    if text.lower() in ("all", "any", ""):
        return {}
    return {"kind": text.lower()} if text.lower() in GearType.Kind.values else {"type": text}


def _whom(row: Row) -> str:
    return str(row.get("type") or row.get("kind") or "all")


def _halves(line: str) -> tuple[str, str]:
    left, colon, right = line.partition(":")
    if not colon or not right.strip():
        raise ValueError("write what it is for, a colon, and what holds")
    return left.strip(), right.strip()


def read_rate(line: str) -> Row:
    """ "edge form: day 0.35, week 2.10, whole weeks" and the like."""
    whom, rest = _halves(line)
    row = _for_whom(whom)
    for part in (one.strip() for one in rest.split(",")):
        word, _, value = part.partition(" ")
        if word in UNITS:
            row[word] = value.strip()
        elif word == "always" and value in UNITS:
            row["choose"] = value
        elif part == "whole":
            row["odd_days"] = "whole"
        elif part == "time or uses":
            row["uses"] = "cheaper"
        elif part == "hired in":
            row["hired_in"] = True
        else:
            raise ValueError(f"{part!r} is not known; write day, week, month or use with a price")
    return row


def say_rate(row: Row) -> str:
    said = [f"{unit} {row[unit]}" for unit in UNITS if row.get(unit) is not None]
    if row.get("choose", "cheapest") != "cheapest":
        said.append(f"always {row['choose']}")
    said += ["whole"] if row.get("odd_days") == "whole" else []
    said += ["time or uses"] if row.get("uses") == "cheaper" else []
    said += ["hired in"] if row.get("hired_in") else []
    return f"{_whom(row)}: {', '.join(said)}"


def read_price(line: str) -> Row:
    whom, amount = _halves(line)
    return _for_whom(whom) | {"amount": amount}


def say_price(row: Row) -> str:
    return f"{_whom(row)}: {row['amount']}"


def read_discount(line: str) -> Row:
    whom, per_cent = _halves(line)
    return _for_whom(whom) | {"per_cent": per_cent.rstrip("% ")}


def say_discount(row: Row) -> str:
    return f"{_whom(row)}: {row['per_cent']}"


def read_step(line: str) -> Row:
    days, share = _halves(line)
    if not days.isdigit():
        raise ValueError("write the number of days, a colon, and the share charged from there, such as 30: 0.9")
    return {"after_days": int(days), "share": share}


def say_step(row: Row) -> str:
    return f"{row['after_days']}: {row['share']}"


def read_grade(line: str) -> Row:
    grade, price = _halves(line)
    word, _, share = price.partition(" ")
    return {"grade": grade, "share": share.strip()} if word == "share" else {"grade": grade, "amount": price}


def say_grade(row: Row) -> str:
    return f"{row['grade']}: share {row['share']}" if row.get("share") else f"{row['grade']}: {row['amount']}"


def read_tax(line: str) -> Row:
    rate, _, kinds = line.partition(":")
    found = re.fullmatch(r"\s*([\d.]+)\s*%?\s*([A-Z]{1,2})?\s*", rate)
    if not found:
        raise ValueError("write the rate and its category, such as 20 S, then a colon and the kinds of line it is for")
    row: Row = {"rate": found[1], "category": found[2] or "S"}
    of = [one.strip() for one in kinds.split(",") if one.strip()]
    return row | ({"of": of} if of else {})


def say_tax(row: Row) -> str:
    of = ", ".join(row.get("of", ()))
    return f"{row['rate']} {row.get('category', 'S')}" + (f": {of}" if of else "")


class RowsField(forms.CharField):
    """Lines of text that become a list; every faulty line is named, with what to write instead."""

    widget = forms.Textarea(attrs={"rows": 4, "spellcheck": "false"})

    def __init__(self, read: Callable[[str], Row], say: Callable[[Row], str], **options: Any) -> None:
        super().__init__(required=False, **options)
        self.read, self.say = read, say

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(self.say(row) for row in value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        rows, faults = [], []
        for number, line in enumerate((value or "").splitlines(), start=1):
            if not line.strip():
                continue
            try:
                rows.append(self.read(line))
            except ValueError as fault:
                faults.append(f"Line {number}, {line.strip()!r}: {fault}.")
        if faults:
            raise forms.ValidationError(faults)
        return rows

    def validate(self, value: Any) -> None:
        """Empty is fine: there is nothing of the kind."""


def unknown_types(rows: Iterable[Row]) -> list[str]:
    """Catalogue codes among rows that the catalogue does not have."""
    named = {row["type"] for row in rows if row.get("type")}
    return sorted(named - set(GearType.objects.filter(code__in=named).values_list("code", flat=True)))
