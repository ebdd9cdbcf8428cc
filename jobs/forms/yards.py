"""How far each two yards are apart."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.models import Place


class RoadsForm(forms.Form):
    """One field for each two yards; an empty one is a road that is not known."""

    def __init__(self, *args: Any, pairs: list[tuple[Place, Place, int | None]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pairs = {f"road_{one.pk}_{other.pk}": (one.pk, other.pk) for one, other, _ in pairs}
        for one, other, km in pairs:
            self.fields[f"road_{one.pk}_{other.pk}"] = forms.IntegerField(
                min_value=0, max_value=20_000, required=False, initial=km, label=f"{one} to {other} (km)"
            )

    @property
    def roads(self) -> dict[tuple[int, int], int | None]:
        return {ids: self.cleaned_data[name] for name, ids in self.pairs.items()}
