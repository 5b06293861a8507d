"""The figures by which readings are doubted, all in one place. rules/judgement.yaml holds them, each with its reason.

None of them has a printed source: they are common practice and judgement, and generous.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from diagnose.quantities.judged import FigureSpec, figure, rows

RANGED = (
    "superheat", "subcooling", "condensing over ambient", "return air over evaporating", "evaporating",
    "liquid line over outdoor air", "liquid line over suction line", "suction line over the warmest air",
    "air temperature split", "supply air over evaporating", "return air", "humidity",
)  # fmt: skip
"""What running machines keep to: all that strain.py works out. Temperatures and their differences, and a share."""


@dataclass(frozen=True, slots=True)
class RunningRange:
    """What running machines keep to: lowest, highest, and over how much it becomes unlikely below and above. K, or a share."""

    low: float = figure("difference", "-100 F", "200 F", absent=-math.inf)
    high: float = figure("difference", "-100 F", "200 F", absent=math.inf)
    below: float = figure("difference", "0.5 F", "20 F")
    above: float = figure("difference", "0.5 F", "20 F")


def _of_range(name: str, field: str, spec: FigureSpec, _: Mapping[str, str]) -> FigureSpec:
    if name == "humidity":
        return replace(spec, kind="ratio", low=0.01, high=1)
    if name in ("evaporating", "return air") and field in ("low", "high"):
        return replace(spec, kind="temperature")
    return spec


@dataclass(frozen=True, slots=True)
class PlausibilityLimits:
    """Where a doubt about the readings begins. K, A, plain numbers; every comparison of temperatures allows for errors.

    A pair is a limit and how far to either side of it the doubt grows from nothing to certain.
    """

    # -- readings that cannot be -------------------------------------------------------------------------------------
    lag: float = figure("difference", "0.1 F", "5 F")
    fading: tuple[float, float] = figure("ratio", 0, 10, 2, rising=True)
    least_share: float = figure("ratio", 0, 0.1)
    vacuum: tuple[float, float] = figure("ratio", 0.001, 0.5, 2)
    standing_ratio: tuple[float, float] = figure("ratio", 0.001, 2, 2)
    idle_current_share: float = figure("ratio", 0.01, 0.5)
    idle_current: float = figure("current", "0 A", "5 A")
    humidity_gap: tuple[float, float] = figure("ratio", 0.01, 0.5, 2)
    fog: tuple[float, float] = figure("ratio", 0.001, 1.5, 2)
    no_water: tuple[float, float] = figure("ratio", 0.001, 0.5, 2)
    as_gauge_superheat: float = figure("difference", "0 F", "100 F")
    same_as_air: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    air_superheat: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    air_subcooling: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    above_air: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    line_warms: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    coil_is_fed: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    liquid_same_as_air: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    liquid_air_subcooling: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    liquid_below_house: float = figure("difference", "0 F", "100 F")
    freezing: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)

    # -- slips told by what the readings would mean without them -----------------------------------------------------
    outside: float = figure("ratio", 10, 1000)
    per_degree: float = figure("share per kelvin", "1 %/F", "50 %/F")
    strained: tuple[float, float] = figure("ratio", 0.1, 100, 2)
    eased: tuple[float, float] = figure("ratio", 0.1, 100, 2)
    gained: tuple[float, float] = figure("ratio", 0.1, 100, 2)
    near: float = figure("ratio", 0, 100)
    named: int = figure("count", 1, 20)
    liquid_fits: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)

    # -- both saturations far off, whatever may fit them -------------------------------------------------------------
    off: float = figure("difference", "0.1 F", "20 F")
    high_over_ambient: float = figure("difference", "0 F", "100 F")
    high_below_return: float = figure("difference", "0 F", "100 F")
    high_superheat: float = figure("difference", "-50 F", "50 F")
    low_subcooling: float = figure("difference", "-50 F", "50 F")
    low_over_ambient: float = figure("difference", "-50 F", "50 F")
    low_below_return: float = figure("difference", "0 F", "100 F")
    low_superheat: float = figure("difference", "0 F", "100 F")
    sound_over_ambient: tuple[float, float] = figure("difference", "-20 F", "100 F", 2, rising=True)
    sound_below_return: tuple[float, float] = figure("difference", "-20 F", "100 F", 2, rising=True)
    sound_superheat: tuple[float, float] = figure("difference", "-20 F", "100 F", 2, rising=True)

    # -- a gauge at rest ---------------------------------------------------------------------------------------------
    at_rest: float = figure("difference", "0.1 F", "10 F")
    below_rest: float = figure("difference", "0 F", "100 F")
    as_when_running: tuple[float, float] = figure("ratio", 0.001, 2, 2)
    liquid_there: float = figure("difference", "0 F", "100 F")

    # -- against the plate and the capacity --------------------------------------------------------------------------
    over_current: tuple[float, float] = figure("ratio", 0.01, 5, 2)
    current_per_ton: float = figure("current", "3 A", "30 A")
    airflow_low: tuple[float, float] = figure("airflow per capacity", "1 cfm/ton", "400 cfm/ton", 2)
    airflow_high: tuple[float, float] = figure("airflow per capacity", "1 cfm/ton", "2000 cfm/ton", 2)
    discharge_hot: float = figure("temperature", "200 F", "500 F")
    discharge_width: float = figure("difference", "1 F", "100 F")
    same_air: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)
    too_cold: tuple[float, float] = figure("difference", "1 F", "200 F", 2)
    moves_heat: tuple[float, float] = figure("difference", "0.1 F", "100 F", 2)

    # -- what every running machine keeps to, sound or faulty: in cooling ---------------------------------------------
    ranges: Mapping[str, RunningRange] = rows(RunningRange, RANGED, _of_range)
