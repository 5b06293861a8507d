"""Whether the readings have settled: how far they still move from round to round."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from diagnose.quantities.judged import figure

# Minutes over which a drift, and a swing, is told. No judgement: the limits in findings.yaml and the sentences are written
# for them.
WINDOW = 5.0
SWUNG = 15.0


@dataclass(frozen=True, slots=True)
class SteadinessFigures:
    """How rounds are compared. Time in s; repeatability: K of a probe against itself; of a gauge, a share of its reading."""

    spacing: float = figure("time", "0 min", "30 min")
    repeatability: float = figure("difference", "0.01 F", "3 F")
    gauge_repeatability: float = figure("ratio", 0.0001, 0.05)


SWING = "superheat swing"

# What is followed from round to round, and whether its drift is told as a share of the value.
FOLLOWED = {"superheat": False, "subcooling": False, "suction pressure": True, "liquid pressure": True}


def drift(
    minutes: Sequence[float], values: Sequence[float], jitter: float, relative: bool, figures: SteadinessFigures
) -> tuple[float, float] | None:
    """(drift over five minutes, its standard deviation) at the last round; None with fewer than two rounds.

    From the last round to the nearest earlier one at least `spacing` before it, or to the first, however old: what settles
    moves slower at the end than on the whole, so the mean is the fastest that it can move now. Where the last ten minutes go
    up and down, how far they swing counts instead. Drift in the unit of the values, or as a share of the last value. jitter:
    standard deviation of one value against itself.
    """
    pairs = [(m, v) for m, v in zip(minutes, values, strict=True) if math.isfinite(v)]
    if len(pairs) < 2:
        return None
    end, last = pairs[-1]
    start, first = next(((m, v) for m, v in reversed(pairs[:-1]) if end - m >= figures.spacing / 60), pairs[0])
    scale = WINDOW / (end - start)
    by = abs(last) if relative and last else 1.0
    moved, sigma = (last - first) * scale, math.sqrt(2) * jitter * scale
    recent = [v for m, v in pairs if end - m <= 2 * WINDOW]
    steps = [b - a for a, b in pairwise(recent) if abs(b - a) > 4 * jitter]
    turns = sum(a * b < 0 for a, b in pairwise(steps))
    if turns:
        swung = max(recent) - min(recent)
        if swung > abs(moved) or turns > 1:  # what goes up and down again leads nowhere
            moved, sigma = math.copysign(swung, steps[-1]), math.sqrt(2) * jitter
    return moved / by, sigma / by


def swing(minutes: Sequence[float], values: Sequence[float], jitter: float) -> tuple[float, float] | None:
    """(Highest less lowest value, its standard deviation) where the values turn back twice or oftener; else None.

    Of the last 15 minutes. Twice: what only overshoots turns back once. jitter: standard deviation of one value against itself.
    """
    recent = [v for m, v in zip(minutes, values, strict=True) if max(minutes) - m <= SWUNG and math.isfinite(v)]
    steps = [b - a for a, b in pairwise(recent) if abs(b - a) > 4 * jitter]
    turns = sum(a * b < 0 for a, b in pairwise(steps))
    return (max(recent) - min(recent), math.sqrt(2) * jitter) if turns >= 2 else None


def followed(
    rounds: Sequence[tuple[float, Mapping[str, float]]], jitter: Mapping[str, float], figures: SteadinessFigures
) -> dict[str, tuple[float, float]]:
    """Drift of each followed quantity over rounds of (minutes, values)."""
    found = {}
    for name, relative in FOLLOWED.items():
        having = [(m, v[name]) for m, v in rounds if name in v]
        result = drift([m for m, _ in having], [v for _, v in having], jitter[name], relative, figures)
        if result is not None:
            found[f"{name} drift"] = result
    return found
