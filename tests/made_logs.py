"""Logs as a data logger would write them of a simulated machine: invented data, from the project's own simulator.

The simulator knows steady states only; between them every reading nears the next one like a first-order lag (a time constant
of two minutes for pressures, three for pipes and air), and standing the pressures come together at outdoor temperature.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

from diagnose.simulator import TON, Faults, Weather, design, fahrenheit, solve, true_values
from diagnose.simulator.model import NoSolution
from diagnose.units import from_si
from diagnose.visit.fields import READINGS

COLUMNS = {
    "suction pressure": "psig",
    "liquid pressure": "psig",
    "suction line temperature": "F",
    "liquid line temperature": "F",
    "discharge line temperature": "F",
    "outdoor air temperature": "F",
    "return air dry bulb": "F",
    "return air wet bulb": "F",
    "supply air dry bulb": "F",
    "compressor current": "A",
}
OUTDOOR = (75.0, 85.0, 95.0)  # F; steady states between them are interpolated
TWO, THREE = 120.0, 180.0
BEGIN = datetime(2026, 7, 14, 9, 0, 0)
Row = dict[str, float]


@cache
def steady_states(charge: float, metering: str) -> tuple[Row, ...]:
    """What perfect instruments read at each outdoor temperature, SI, gauge."""
    machine = design("R-410A", metering, 3 * TON)  # type: ignore[arg-type]
    found = []
    for outdoor in OUTDOOR:
        weather = Weather(fahrenheit(outdoor), fahrenheit(76.0), fahrenheit(63.0))
        state = solve(machine, weather, Faults(charge=charge))
        assert not isinstance(state, NoSolution), state
        true = true_values(weather, state)
        found.append({name: true[name] for name in (*COLUMNS, "standing pressure")})
    return tuple(found)


def _running(charge: float, metering: str, outdoor: float) -> Row:
    low, high = next((i, i + 1) for i in range(len(OUTDOOR) - 1) if outdoor <= OUTDOOR[i + 1] or i + 2 == len(OUTDOOR))
    share = (outdoor - OUTDOOR[low]) / (OUTDOOR[high] - OUTDOOR[low])
    one, other = steady_states(charge, metering)[low], steady_states(charge, metering)[high]
    return {name: one[name] + share * (other[name] - one[name]) for name in one}


def _standing(running: Row) -> Row:
    air = running["outdoor air temperature"]
    found = dict.fromkeys(running, air)
    found |= {name: running["standing pressure"] for name in running if "pressure" in name}
    found |= {name: running[name] for name in running if name.startswith(("outdoor", "return"))}
    return {**found, "supply air dry bulb": running["return air dry bulb"], "compressor current": 0.0}


@dataclass(frozen=True, slots=True)
class MadeRow:
    """One record: when, whether it runs, and what is read (SI, gauge)."""

    time: datetime
    runs: bool
    values: Row


def day(
    spells: Sequence[tuple[float, float]],
    hours: float,
    charge: float = 1.0,
    metering: str = "TXV",
    step: float = 60.0,
    seed: int = 1,
    outdoor: Callable[[float], float] = lambda hour: 84.0 + 3.0 * hour / 4.0,
    noise: float = 1.0,
) -> Iterator[MadeRow]:
    """Records of `hours`, every `step` s; spells: minutes from the beginning between which it runs."""
    chance = random.Random(f"log {seed}")
    now: Row | None = None
    for i in range(int(hours * 3600 / step)):
        t = i * step
        runs = any(60 * a <= t < 60 * b for a, b in spells)
        running = _running(charge, metering, outdoor(t / 3600))
        aim = running if runs else _standing(running)
        if now is None:
            now = dict(aim)
        for name in now:
            lag = TWO if "pressure" in name else 5.0 if name == "compressor current" else THREE
            now[name] += (aim[name] - now[name]) * (1 - math.exp(-step / lag))
            if name.startswith(("outdoor", "return")):
                now[name] = aim[name]
        read = {name: _noisy(name, now[name], chance, noise) for name in COLUMNS}
        yield MadeRow(BEGIN + timedelta(seconds=t), runs, read)


def _noisy(name: str, value: float, chance: random.Random, noise: float) -> float:
    if name == "compressor current":
        return max(0.0, value + noise * chance.gauss(0, 0.02))
    return value + noise * chance.gauss(0, 0.002 * abs(value) if "pressure" in name else 0.06)


def csv_of(
    rows: Sequence[MadeRow],
    columns: Mapping[str, str] = COLUMNS,
    stamp: Callable[[datetime], str] = lambda t: t.strftime("%Y-%m-%d %H:%M:%S"),
    delimiter: str = ",",
    head: bool = True,
) -> str:
    """The log as text: `time`, then a column a reading with its unit in brackets."""
    lines = [delimiter.join(["time", *(f"{name} [{unit}]" for name, unit in columns.items())])] if head else []
    for row in rows:
        figures = [f"{from_si(row.values[name], unit, READINGS[name].kind):.1f}" for name, unit in columns.items()]
        lines.append(delimiter.join([stamp(row.time), *figures]))
    return "\n".join(lines) + "\n"


MACHINE = (
    "machine: {name: 'harbor street, shop 2', mode: cooling, refrigerant: R-410A, metering: TXV, nominal capacity: 3 ton, "
    "rated subcooling: 10 F}"
)
SPELLS = [(10, 100), (120, 124), (130, 134), (140, 143), (150, 153), (170, 230)]
ROWS = list(day(SPELLS, 4, charge=0.75))
