"""Reading a file against the books: what each row would do, and everything that is wrong. Writes nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from inventory.services.importing.checking_counts import check_counted
from inventory.services.importing.checking_pieces import check_pieces
from inventory.services.importing.checking_types import check_types
from inventory.services.importing.columns import FileKind
from inventory.services.importing.files import read_table
from inventory.services.importing.findings import Checked, Outcome, read_cells

_CHECKS: dict[FileKind, Callable[[Checked, datetime], None]] = {
    FileKind.TYPES: check_types,
    FileKind.PIECES: check_pieces,
    FileKind.COUNTED: check_counted,
}


def check(kind: FileKind, name: str, content: bytes, now: datetime) -> Checked:
    """Refused when the file cannot be read at all; every other fault stands in what comes back."""
    checked = read_cells(kind, read_table(name, content))
    _CHECKS[kind](checked, now)
    for row in checked.rows:
        if row.faults:
            row.outcome = Outcome.FAULTY
    return checked
