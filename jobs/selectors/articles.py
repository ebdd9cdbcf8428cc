"""Which type of the catalogue an article of a take-off rule means."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.models import GearType


def sendable() -> list[GearType]:
    """Types that go out beside the edge forms."""
    return list(GearType.objects.filter(withdrawn=False).exclude(kind=GearType.Kind.EDGE_FORM))


def type_for(what: str, by_type: bool, types: Sequence[GearType]) -> GearType | None:
    """By code where the rule names a type; else by name; else the only one of the kind."""
    if by_type:
        return next((kind for kind in types if kind.code == what), None)
    named = [kind for kind in types if kind.name.lower() == what.lower()]
    alike = named or [kind for kind in types if kind.kind == what]
    return alike[0] if len(alike) == 1 else None
