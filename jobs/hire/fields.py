"""A dataclass field that says what it means, so that code, checks and published schema have one source.

The words and limits travel in the field's metadata: `codec` reads them to check values, `schema` to
describe them.

>>> from dataclasses import dataclass, fields
>>> @dataclass(frozen=True)
... class Box:
...     count: int = said(1, "How many.", least=1)
>>> Box().count, fields(Box)[0].metadata["least"]
(1, 1)
"""

from __future__ import annotations

from dataclasses import MISSING, field
from typing import Any


def said(default: Any, words: str, **limits: Any) -> Any:
    """A field with a default. `limits` may hold least, most, numbers (JSON numbers taken too), one_or_many."""
    return field(default=default, metadata={"words": words, **limits})


def needed(words: str, **limits: Any) -> Any:
    """A field without a default: leaving it out is an error."""
    return field(default=MISSING, metadata={"words": words, **limits})
