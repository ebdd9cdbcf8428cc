"""A take-off rule, as the yard manager fits it to the yard's own gear."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.models import GearType
from jobs.models import TakeOffRule
from jobs.planning.rules import check_rules
from jobs.selectors.cutlist import rule_of


class RuleForm(forms.ModelForm):
    class Meta:
        model = TakeOffRule
        fields = (
            "name",
            "what",
            "type",
            "per",
            "levels",
            "quantity",
            "sets_positions",
            "spacing_mm",
            "end_distance_mm",
            "clear_of_joint_mm",
            "least",
            "used_up",
            "spare_percent",
            "off",
        )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        types = GearType.objects.filter(withdrawn=False).exclude(kind=GearType.Kind.EDGE_FORM)
        self.fields["type"].queryset = types  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """The rule must hold together with every other that is switched on."""
        said = super().clean() or {}
        if self.errors:
            return said
        others = TakeOffRule.objects.filter(off=False).exclude(pk=self.instance.pk).select_related("type")
        row = TakeOffRule(**{name: said[name] for name in self._meta.fields or ()})
        rules = [rule_of(other) for other in others] + ([] if row.off else [rule_of(row)])
        for finding in check_rules(rules):
            self.add_error(None, finding.sentence)
        return said
