"""Visits as they come in a firm's table: of simulated machines, with gaps, slips, other plates and other words in them.

What a technician wrote of a simulated machine is spoiled: readings and facts of the plate are missing,
figures are off, two hoses or clamps change places, a figure is in the wrong unit, things are seen that are not so.
"""

from __future__ import annotations

import random
from typing import Any

from diagnose.rulebook import Rulebook
from diagnose.visit import Visit, VisitError, visit_from
from diagnose.visit.fields import CHOICES

EIGHT = (
    "suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature", "outdoor air temperature",
    "return air dry bulb", "return air wet bulb", "supply air dry bulb",
)  # fmt: skip
_SLIPS = (
    ("suction pressure", "liquid pressure"), ("suction line temperature", "liquid line temperature"),
    ("return air dry bulb", "return air wet bulb"), ("return air dry bulb", "supply air dry bulb"),
    ("outdoor air temperature", "return air dry bulb"), ("drier inlet temperature", "drier outlet temperature"),
)  # fmt: skip
_MORE = {
    "altitude": "4200 ft", "rated superheat": "11 F", "rated heating subcooling": "9 F", "high pressure cut-out": "610 psig",
    "factory charge": "6 lb 4 oz", "SEER2": 13.4,
}  # fmt: skip
_ALSO_READ = {
    "return air relative humidity": "48 %", "supply air relative humidity": "88 %", "external static pressure": "0.6 inH2O",
    "electric power": "2.6 kW", "gauge superheat": "13 F", "gauge subcooling": "8 F", "voltage 1 to 2": "228 V",
    "contactor coil voltage": "25 V", "capacitor": "41 uF",
}  # fmt: skip
_GASES = ("R-410A", "R-22", "R-32", "R-454B", "R-407C", "R-134a", "R-290", "R-404A", "R-507A")


def with_gaps(plate: dict[str, Any], written: dict[str, Any], rules: Rulebook, rng: random.Random) -> dict[str, Any]:
    """The visit as a careless hand, or a hasty one, would have written it; plate: what it says of the machine."""
    readings = dict(written["readings"])
    few = rng.random()
    kept = EIGHT if few < 0.3 else tuple(name for name in readings if rng.random() < max(few, 0.3))
    readings = {name: value for name, value in readings.items() if name in kept or name.startswith("minutes")}
    for name, value in _ALSO_READ.items():
        if rng.random() < 0.04:
            readings[name] = value
    for name in [name for name in readings if rng.random() < 0.12]:
        readings[name] = _off(readings[name], rng)
    if rng.random() < 0.12:
        one, other = rng.choice(_SLIPS)
        if one in readings and other in readings:
            readings[one], readings[other] = readings[other], readings[one]
    if rng.random() < 0.15:
        readings.pop("minutes running", None)
    elif rng.random() < 0.1:
        readings["minutes running"] = rng.choice([2, 6, 9, 12, 14, 300])
    seen = dict(written.get("seen", {}))
    while rng.random() < 0.4:
        name = rng.choice(list(rules.seen))
        seen[name] = rng.choice(list(rules.seen[name].words))
    found: dict[str, Any] = {"machine": plate, "readings": readings, "seen": seen}
    if rng.random() < 0.1:
        found["instruments"] = rng.choice([{"gauges": "3 %"}, {"pipe clamps": "0.3 F"}, {"air thermometers": "3 F"}])
    return found


def plate_with_gaps(written: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """What is said of the machine, with gaps, more facts, another refrigerant, or another kind."""
    machine = dict(written["machine"])
    for name in [name for name in machine if rng.random() < 0.1]:
        del machine[name]
    for name, value in _MORE.items():
        if rng.random() < 0.06:
            machine[name] = value
    if rng.random() < 0.08:
        machine["refrigerant"] = rng.choice(_GASES)
    if rng.random() < 0.15:
        name = rng.choice(list(CHOICES))
        machine[name] = rng.choice(CHOICES[name])
    return machine


def _off(written: Any, rng: random.Random) -> Any:
    """The figure, a little off or far off, or in the unit of the other system."""
    number, _, unit = str(written).partition(" ")
    value, how = float(number), rng.random()
    if unit == "F" and how < 0.15:
        return f"{number} C" if value < 70 else f"{(value - 32) / 1.8:.1f} F"
    far = value * rng.choice([0.1, 0.5, 2.0, 10.0]) if how < 0.25 else value * rng.gauss(1, 0.25 if how < 0.5 else 0.06)
    return f"{far:.1f} {unit}" if unit else round(far, 1)


def spoiled(written: list[dict[str, Any]], count: int, rules: Rulebook, seed: int, alike: int = 1) -> list[Visit]:
    """So many visits that can be read at all, of these machines in turn; alike: so many one after another of one plate."""
    rng, found = random.Random(seed), []
    while len(found) < count:
        machine = rng.choice(written)
        plate, mode = plate_with_gaps(machine, rng), machine["machine"].get("mode")
        others = [machine] if alike == 1 else [each for each in written if each["machine"].get("mode") == mode]
        for _ in range(alike):
            try:
                found.append(visit_from(with_gaps(plate, rng.choice(others), rules, rng), own=rules.own))
            except VisitError:
                continue
    return found[:count]
