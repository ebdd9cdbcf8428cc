"""The programs of the remedies handed to HiGHS: packed column by column, and solved within limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import highspy
import numpy as np

from jobs.planning.limits import Limits, Watch
from jobs.planning.program import quiet_highs


def column_program(
    columns: Sequence[Mapping[int, float]],
    costs: Sequence[float],
    most: Sequence[float],
    rows: Sequence[tuple[float, float]],
) -> highspy.HighsLp:
    """Columns as what each adds to which row, from nought to `most`; rows as (least, most). The cost is the least."""
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(columns), len(rows)
    lp.col_cost_ = np.array(costs, dtype=float)
    lp.col_lower_, lp.col_upper_ = np.zeros(len(columns)), np.array(most, dtype=float)
    lp.row_lower_ = np.array([low for low, _ in rows], dtype=float)
    lp.row_upper_ = np.array([high for _, high in rows], dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.cumsum([0, *map(len, columns)]).astype(np.int32)
    entries = [entry for column in columns for entry in sorted(column.items())]
    lp.a_matrix_.index_ = np.array([row for row, _ in entries], dtype=np.int32)
    lp.a_matrix_.value_ = np.array([value for _, value in entries], dtype=float)
    return lp


def solved(lp: highspy.HighsLp, limits: Limits, whole: Sequence[bool] = ()) -> highspy.Highs:
    """HiGHS when it is done with the program or over its limits; the columns that are `whole` in whole numbers, to the
    last unit of cost."""
    if any(whole):
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if each else kinds.kContinuous for each in whole]
    highs = quiet_highs(limits)
    highs.passModel(lp)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 0.5)
    if limits.watch is not None:
        highs.cbMipInterrupt += stop_if(limits.watch)
    highs.run()
    return highs


def stop_if(watch: Watch) -> Callable[[Any], None]:
    """What HiGHS asks now and then while it searches."""

    def look(event: Any) -> None:
        if watch.called_off():
            event.interrupt()

    return look
