"""All tables of a squashed migration in one step.

Django renders every model that a new one is related to, again with each new one: of seventy models that all know each
other that is most of what migrating an empty database takes. Here they are all told first, and rendered once.
"""

from __future__ import annotations

from typing import Any

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation, OperationCategory


class CreateModels(Operation):
    category = OperationCategory.ADDITION

    def __init__(self, models: list[CreateModel]) -> None:
        self.models = models

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return self.__class__.__qualname__, [self.models], {}

    def state_forwards(self, app_label: str, state: Any) -> None:
        state.__dict__.pop("apps", None)  # what is rendered of it: rendered anew when it is next asked for
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """In any order: a table may name one that is yet to come, on both engines."""
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def references_model(self, name: str, app_label: str) -> bool:
        return any(model.references_model(name, app_label) for model in self.models)

    def describe(self) -> str:
        return f"Create {len(self.models)} models"
