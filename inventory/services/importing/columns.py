"""The columns of each kind of file: one list for reading, for the template, and for the export."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from inventory.lifecycle.kinds import Fitness
from inventory.models import GearType
from inventory.services.importing import values
from inventory.services.importing.values import Reader


class FileKind(StrEnum):
    TYPES = "types"
    PIECES = "pieces"
    COUNTED = "counted goods"


@dataclass(frozen=True, slots=True)
class Column:
    """`key` is the field it fills, `heading` what stands in the first line, `says` what to write, for the template."""

    key: str
    heading: str
    reader: Reader
    says: str
    required: bool = False


_condition = values.one_of(fitness.value for fitness in Fitness)

TYPES = (
    Column("code", "code", values.text(40), "your own short code; no two alike", required=True),
    Column("name", "name", values.text(120), "what it is called", required=True),
    Column("kind", "kind", values.one_of(GearType.Kind.values), ", ".join(GearType.Kind.values), required=True),
    Column("tracked", "tracked", values.one_of(GearType.Tracked.values), "by tag (the default) or by count"),
    Column("section_mm", "section mm", values.whole(1, 2000), "height; edge forms need it"),
    Column("length_mm", "length mm", values.whole(1, 20_000), "edge forms need it"),
    Column("splayed_ends", "splayed ends", values.whole(0, 2), "0, 1 or 2"),
    Column("mass_kg", "mass kg", values.number(3, 100_000), "of one, weighed or by its maker's data"),
    Column("replacement_value", "replacement value", values.number(2, 10**9), "of one"),
    Column("rate_day", "hire a day", values.number(4, 10**5), "may be empty"),
    Column("rate_week", "hire a week", values.number(4, 10**5), "may be empty"),
    Column("rate_month", "hire a month", values.number(4, 10**5), "may be empty"),
    Column("rate_use", "hire a use", values.number(4, 10**5), "may be empty"),
    Column("rated_uses", "rated uses", values.whole(1, 1_000_000), "the maker's figure, if there is one"),
    Column("clean_after_every_pour", "clean after every pour", values.yes_no, "yes or no; edge forms: yes"),
    Column("used_up", "used up", values.yes_no, "yes for what stays in the concrete"),
    Column("withdrawn", "withdrawn", values.yes_no, "yes hides it from choices"),
)

PIECES = (
    Column("label", "tag", values.tag, "the code on its tag; empty for a new piece gets a new code"),
    Column("own_number", "own number", values.text(40), "your number on it; the tag or this must be there"),
    Column("type", "type", values.text(40), "the type's code in the catalogue", required=True),
    Column("place", "place", values.text(200), "for a new piece: where it is, as listed under Places"),
    Column("fitness", "condition", _condition, "for a new piece: sound, watch or unfit"),
    Column("dirty", "dirty", values.yes_no, "for a new piece: yes or no"),
    Column("uses", "uses", values.whole(0, 100_000), "for a new piece: times cast so far"),
    Column("crate", "crate", values.tag_or_number, "for a new piece: tag or own number of the crate it is in"),
    Column("giai", "GIAI", values.gs1, "GS1 asset identifier, only with a licensed prefix"),
    Column("bought_on", "bought on", values.day, "such as 2024-03-31"),
    Column("cost", "cost", values.number(2, 10**9), "what it cost"),
    Column("maker_batch", "maker's batch", values.text(40), "may be empty"),
    Column("note", "note", values.text(200), "may be empty"),
    Column("owner", "owner", values.text(120), "only if it is hired in: whose it is"),
    Column("their_number", "their number", values.text(60), "hired in: the owner's number on it"),
    Column("due_back", "due back", values.day, "hired in: when it must go back"),
    Column("cost_day", "cost a day", values.number(4, 10**5), "hired in: what it costs a day"),
)

COUNTED = (
    Column("type", "type", values.text(40), "the type's code in the catalogue", required=True),
    Column("place", "place", values.text(200), "where they were counted, as listed under Places", required=True),
    Column("condition", "condition", _condition, "sound (the default), watch or unfit"),
    Column("quantity", "quantity", values.whole(0, 10_000_000), "how many were counted", required=True),
    Column("counted_on", "counted on", values.day, "the day of the count; empty means now"),
)

COLUMNS = {FileKind.TYPES: TYPES, FileKind.PIECES: PIECES, FileKind.COUNTED: COUNTED}
