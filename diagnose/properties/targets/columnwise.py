"""The protocol's tables for whole columns."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from diagnose.properties.targets import protocol

if TYPE_CHECKING:
    from diagnose.properties.targets.protocol import _Table


def between_cells(table: _Table, y: Any, x: Any) -> tuple[Any, Any]:
    """See `_Table.at`: the value and the weight of blank corners; y, x: rows and columns from the first cell."""
    cells, blank = _arrays(table)
    i, j = (np.minimum(np.nan_to_num(at).astype(np.intp), end - 2) for at, end in zip((y, x), cells.shape, strict=True))
    value, empty = 0.0, 0.0
    for r, c, w in protocol.corners(i, j, y - i, x - j):
        value, empty = value + w * cells[r, c], empty + w * blank[r, c]
    return value, empty


@lru_cache(maxsize=4)
def _arrays(table: _Table) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.array(table.cells), np.array(table.blank, dtype=float)
