"""Doubts about whole columns of visits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from diagnose.quantities.plausibility.view import Doubt


def taken(found: Sequence[Doubt]) -> Any:
    """See `view.taken`."""
    both = np.broadcast_arrays(*(d.start for d in found), *(d.end for d in found))
    starts, ends = (np.nan_to_num(np.stack(each)) for each in (both[: len(found)], both[len(found) :]))
    order = np.lexsort((ends, starts), axis=0)
    total, until = np.zeros(starts.shape[1]), np.zeros(starts.shape[1])
    for start, end in zip(np.take_along_axis(starts, order, 0), np.take_along_axis(ends, order, 0), strict=True):
        total += np.maximum(0.0, end - np.maximum(start, until))
        until = np.maximum(until, end)
    return total
