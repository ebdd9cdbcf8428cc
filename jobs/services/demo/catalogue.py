"""The demo's catalogue and how much of each type its two yards own. No maker's part; all of it invented."""

from __future__ import annotations

from decimal import Decimal

from inventory.lifecycle.kinds import Fitness
from inventory.models import DamageReason, GearType

Kind = GearType.Kind
SECTIONS = {125: Decimal("0.9"), 150: Decimal("1.5"), 175: Decimal("1.2"), 200: Decimal("1.0")}
"""Sections in mm, each with the weight its stock has against the others."""
SPLAYED = {1000: 6, 1500: 9, 2000: 12, 2500: 9, 3000: 15, 3500: 9, 4000: 12, 5000: 8, 6000: 12}
SQUARE = {1000: 5, 1500: 5, 2000: 6, 2500: 4, 3000: 6}
BOTH_ENDS = {2000: 3, 3000: 3}
SOUTH_SHARE = Decimal("0.4")
ENDS = {0: "square", 1: "one splayed end", 2: "both ends splayed"}

# code, name, kind, mass kg, value, day rate, north, south
TAGGED = (
    ("FB-1", "Form bracket", Kind.FORM_BRACKET, "3.4", "78", "0.12", 270, 100),
    ("SB-1", "Stack bracket", Kind.STACK_BRACKET, "5.1", "112", "0.18", 190, 50),
    ("CC-1", "Corner clamp", Kind.CORNER_CLAMP, "1.9", "46", "0.08", 72, 28),
    ("SP-1", "Splice plate", Kind.SPLICE_PLATE, "0.9", "24", "0.05", 44, 18),
    ("TL-1", "Set of setting-out tools", Kind.TOOL, "9.5", "260", "0.60", 4, 2),
    ("CR-1", "Bracket crate", Kind.CRATE, "41.0", "320", "0.30", 9, 3),
)
# Invented for the demo: a yard takes these from the maker's data and the local rules.
INSPECT_USES = {Kind.STACK_BRACKET: 60}
INSPECT_DAYS = {Kind.STACK_BRACKET: 180, Kind.CORNER_CLAMP: 100, Kind.TOOL: 90}
# code, name, kind, mass kg, value, used up, north, south
COUNTED = (
    ("M12x50-IN", "Insert", Kind.INSERT, "0.060", "1.10", True, 4200, 1500),
    ("M12-SB", "Stud bolt", Kind.BOLT, "0.090", "1.40", False, 2600, 900),
    ("M12-FB", "Flanged bolt", Kind.BOLT, "0.080", "1.20", False, 1800, 700),
    ("M12-SC", "Screw", Kind.SCREW, "0.055", "0.60", False, 3000, 1200),
    ("M12-SPB", "Splice bolt", Kind.BOLT, "0.085", "1.30", False, 900, 300),
    ("M12-WA", "Washer", Kind.WASHER, "0.010", "0.08", False, 5000, 2000),
    ("SF-1", "Slab fixing", Kind.FIXING, "0.120", "0.90", False, 2400, 900),
)
DAMAGE = (
    ("bent flange", Fitness.WATCH),
    ("twisted along its length", Fitness.UNFIT),
    ("cracked weld", Fitness.UNFIT),
    ("splayed end burred", Fitness.WATCH),
    ("concrete that will not come off", Fitness.WATCH),
    ("bracket hook opened", Fitness.UNFIT),
)


def edge_form_mass(section_mm: int, length_mm: int) -> Decimal:
    """kg of a channel of 3 mm wall with two flanges of 60 mm, aluminium at 2,700 kg per cubic metre."""
    area_mm2 = 3 * (section_mm + 2 * 60)
    return (Decimal(area_mm2 * length_mm) * Decimal("2.7e-6")).quantize(Decimal("0.001"))


def make_catalogue() -> dict[str, GearType]:
    GearType.objects.bulk_create([*_edge_forms(), *_tagged(), *_counted()])
    DamageReason.objects.bulk_create(
        (DamageReason(words=words, usual_grade=grade) for words, grade in DAMAGE), ignore_conflicts=True
    )
    return {type_.code: type_ for type_ in GearType.objects.all()}


def form_code(section: int, length: int, splayed: int) -> str:
    return f"E{section}-{length}-{splayed}"


def _edge_forms() -> list[GearType]:
    made = []
    for section in SECTIONS:
        for splayed, lengths in ((1, SPLAYED), (0, SQUARE), (2, BOTH_ENDS)):
            made += [_edge_form(section, length, splayed) for length in lengths]
    return made


def _edge_form(section: int, length: int, splayed: int) -> GearType:
    metres = Decimal(length) / 1000
    return GearType(
        code=form_code(section, length, splayed),
        name=f"Edge form {section} x {metres:.1f} m, {ENDS[splayed]}",
        kind=Kind.EDGE_FORM,
        section_mm=section,
        length_mm=length,
        splayed_ends=splayed,
        mass_kg=edge_form_mass(section, length),
        replacement_value=(metres * 62).quantize(Decimal("0.01")),
        rate_day=(metres * Decimal("0.11")).quantize(Decimal("0.0001")),
        rated_uses=120,
        clean_after_every_pour=True,
    )


def _tagged() -> list[GearType]:
    return [
        GearType(
            code=code,
            name=name,
            kind=kind,
            mass_kg=Decimal(mass),
            replacement_value=Decimal(value),
            rate_day=Decimal(rate),
            rated_uses=200,
            inspect_every_uses=INSPECT_USES.get(kind),
            inspect_every_days=INSPECT_DAYS.get(kind),
        )
        for code, name, kind, mass, value, rate, *_ in TAGGED
    ]


def _counted() -> list[GearType]:
    return [
        GearType(
            code=code,
            name=name,
            kind=kind,
            mass_kg=Decimal(mass),
            replacement_value=Decimal(value),
            used_up=used_up,
            tracked=GearType.Tracked.BY_COUNT,
        )
        for code, name, kind, mass, value, used_up, *_ in COUNTED
    ]


def owned() -> list[tuple[str, int, int]]:
    """(type code, pieces in the north yard, pieces in the south yard) of everything tagged save crates."""
    rows = [(code, north, south) for code, _n, kind, _m, _v, _r, north, south in TAGGED if kind != Kind.CRATE]
    for section, weight in SECTIONS.items():
        for splayed, lengths in ((1, SPLAYED), (0, SQUARE), (2, BOTH_ENDS)):
            for length, number in lengths.items():
                north = int(number * weight)
                rows.append((form_code(section, length, splayed), north, int(north * SOUTH_SHARE)))
    return rows
