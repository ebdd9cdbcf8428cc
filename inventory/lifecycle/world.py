"""What the fold must know about places and about the piece itself, given to it as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.lifecycle.kinds import PlaceKind


@dataclass(frozen=True)
class Places:
    """Kinds and parents of places, by id. A wash bay's parent is its yard; a pour's parent is its site."""

    kinds: Mapping[int, PlaceKind] = field(default_factory=dict)
    parents: Mapping[int, int] = field(default_factory=dict)

    def root(self, place: int | None) -> int | None:
        """The yard or site that a place belongs to; itself when it has no parent."""
        while place is not None and place in self.parents:
            place = self.parents[place]
        return place

    def is_site(self, place: int | None) -> bool:
        root = self.root(place)
        return root is not None and self.kinds.get(root) == PlaceKind.SITE


@dataclass(frozen=True, slots=True)
class About:
    """The piece whose events are folded: its id, and what its type says of it."""

    piece: int
    clean_after_every_pour: bool = True
    is_crate: bool = False
    is_set: bool = True
    """Set with everything else from its docket. Tools and crates lie beside the pour."""
