"""The check on which a charge that is off hangs, for columns of visits: see `charge.confirmed_by` and `charge._caveats`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from diagnose.batch.columnwise.charging import EMPTIED, HIGH, LOW, Charged
from diagnose.batch.columnwise.codes import First, Lexicon
from diagnose.batch.columnwise.explaining import Weighed
from diagnose.diagnosis.charge import (
    BESIDE,
    CONFIRMS,
    DEVICE,
    LIQUID_LINE,
    MUCH,
    ON_THE_SAME_LINE,
    OTHER_DEVICE,
    READS_AIR,
)
from diagnose.diagnosis.ranking import TOLD
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.visit import FIXED_ORIFICE, HEATING, Visit

CLAMP = "liquid-clamp-reads-air"


def confirmed_by(
    w: Weighed,
    visit: Visit,
    charge: Charged,
    estimates: Mapping[str, Estimate],
    doubts: Sequence[Doubt],
    lexicon: Lexicon,
) -> First:
    """The name of the check in each row."""
    found = First(w.n, lexicon)
    emptied = (charge.verdict == LOW) & (charge.code.codes == lexicon.number(EMPTIED))
    low, high = (charge.verdict == LOW) & ~emptied, charge.verdict == HIGH
    if not (low | high | emptied).any():
        return found
    seen = {"low": _seen(w, "low"), "high": _seen(w, "high")}
    air = _suction_clamp_reads_air(w, visit, seen["low"])
    said = _caveats(w, visit, low, high, air, seen, estimates, doubts)
    for code, rows in [(READS_AIR, emptied & air), *said]:
        if CONFIRMS[code] in w.rules.checks:
            found.add(CONFIRMS[code], np.broadcast_to(rows, w.n))
    return found


def _caveats(
    w: Weighed,
    visit: Visit,
    low: Any,
    high: Any,
    reads_air: Any,
    seen: Mapping[str, Any],
    estimates: Mapping[str, Estimate],
    doubts: Sequence[Doubt],
) -> Iterator[tuple[str, Any]]:
    heats, orifice = visit.machine.mode == HEATING, visit.machine.metering == FIXED_ORIFICE
    by_liquid, off = heats or not orifice, low | high
    doubted: Any = np.zeros(w.n, dtype=bool)
    for doubt in doubts:
        if doubt.reason.code == CLAMP and not heats:
            doubted = doubted | (doubt.told if by_liquid else doubt.firm)
    doubted = doubted & high & ~_read_twice(visit, -1)
    yield "subcooling-by-a-doubted-clamp", doubted
    if by_liquid:
        missing = low & ~w.there("superheat")
        yield "superheat-not-measured", missing
        shown = [_shown_alone(w, visit, side, rows & ~seen[side]) for side, rows in (("low", low), ("high", high))]
        alone = ~doubted & ~missing & (shown[0] | shown[1])
        otherwise = np.zeros(w.n, dtype=bool)
        for name in ON_THE_SAME_LINE:
            if name in visit.last.readings:
                otherwise |= np.isfinite(visit.last.readings[name].value)
        yield "liquid-line-read-otherwise", alone & otherwise
        yield "subcooling-shows-it-alone", alone & ~otherwise
    else:
        there = w.there("subcooling")
        yield "subcooling-not-measured", off & ~there
        yield OTHER_DEVICE, off & there & _right_behind_a_valve(w, estimates)
        little = np.asarray(w.chance("subcooling", "low", "very low") > 0.5)
        yield "subcooling-not-low", low & there & ~little & ~w.there("drier temperature drop")
    yield READS_AIR, low & reads_air
    if not heats:
        left = low & ~reads_air & ~seen["low"]
        yield "liquid-is-left", left & _liquid_is_left(w, visit, orifice, estimates)
    minutes = visit.last.minutes
    yield "running-time-not-confirmed", off & (True if minutes is None else ~np.isfinite(minutes))


def _read_twice(visit: Visit, wrong: int) -> Any:
    once = visit.last.readings.get(LIQUID_LINE)
    others = [visit.last.readings[name] for name in ON_THE_SAME_LINE if name in visit.last.readings]
    found: Any = np.False_
    for other in others if once is not None else ():
        found = found | (wrong * (once.value - other.value) <= once.error + other.error)  # type: ignore[union-attr]
    return found


def _seen(w: Weighed, side: str) -> Any:
    """See `charge._seen`."""
    found: Any = np.zeros(w.n, dtype=bool)
    for fault in w.scored.faults:
        if w.rules.faults[fault].charge != side:
            continue
        for e in w.scored.evidence[fault]:
            for name, _ in w.making.asked[e.pattern]:
                if name in w.words and not w.words[name].measured:
                    found = found | ((e.weight >= TOLD) & w.words[name].there)
    return found


def _shown_alone(w: Weighed, visit: Visit, side: str, rows: Any) -> Any:
    alone = rows & ~_read_twice(visit, 1 if side == "low" else -1)
    for name in BESIDE[side]:
        alone = alone & ~np.asarray(w.chance(name, *MUCH) > 0.5)
    return alone


def _right_behind_a_valve(w: Weighed, estimates: Mapping[str, Estimate]) -> Any:
    """See `charge._right_behind_the_other_device`."""
    superheat = estimates.get("superheat")
    if superheat is None:
        return np.False_
    limits = w.rules.findings["metering check"].scales[-1].limits
    within = (limits[0] <= superheat.value) & (superheat.value <= limits[-1])
    return w.there("superheat") & ~w.there(DEVICE) & (w.chance("subcooling", "normal") > 0.5) & within


def _suction_clamp_reads_air(w: Weighed, visit: Visit, seen: Any) -> Any:
    """See `charge._suction_clamp_reads_air`."""
    line, air = (visit.last.readings.get(name) for name in ("suction line temperature", "outdoor air temperature"))
    if line is None:
        return np.False_
    starved = (w.chance("superheat", *MUCH) > 0.5) & ~w.there("coil superheat") & ~seen
    split = "air temperature split"
    near = np.asarray(w.chance("evaporator temperature difference", "very low", "low", "normal") > 0.5)
    near = near & ~np.asarray(w.chance("discharge superheat", *MUCH) > 0.5)
    if air is not None:
        near = near | (np.abs(line.value - air.value) <= w.rules.judgement.plausibility.same_as_air[0])
    cooled = w.chance(split, "normal", *MUCH) > 0.5
    return starved & np.isfinite(line.value) & ((w.chance(split, *MUCH) > 0.5) | (near & cooled))


def _liquid_is_left(w: Weighed, visit: Visit, orifice: bool, estimates: Mapping[str, Estimate]) -> Any:
    """See `charge._liquid_is_left`."""
    liquid = estimates.get("subcooling")
    if liquid is None:
        return np.False_
    starved = (w.chance("superheat", *(MUCH[-1:] if orifice else MUCH)) > 0.5) & (
        w.chance("subcooling", "low", "very low") > 0.5
    )
    some = w.there("subcooling") & ~(liquid.value <= COVERAGE * liquid.sigma)
    return starved & some & ~_read_twice(visit, 1)
