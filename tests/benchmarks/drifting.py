"""How often a slow leak is told, and a sound machine told to drift: `python tests/benchmarks/drifting.py [MACHINES] [SEED]`.

Not a test: a measurement, on which `drifts/told` in rules/judgement.yaml was set. Machines of the seen families, five
visits a month apart at 75 to 95 °F outdoors, all readings with the usual instruments, each time with errors of their own.
"""

import random
import sys
from dataclasses import replace

from diagnose import examine, load_rules
from diagnose.diagnosis.story import Drift, Look, drifts, tell
from diagnose.simulator import HEALTHY, NoSolution, readings, solve
from diagnose.simulator.family import member
from diagnose.simulator.population import ICE, weather

VISITS = 5
LEAKS = (0.0, 0.02, 0.04)  # of the charge a month
OF_A_LEAK = (("subcooling", False), ("superheat", True))


def machine(name: str, leak: float) -> list[Drift] | None:
    """What is found on one machine; None where it cannot be built."""
    chance = random.Random(name)
    try:
        plant = member(chance, "seen")
    except ValueError:
        return None
    charge = min(max(chance.gauss(1.0, 0.025), 0.95), 1.05)
    station = weather(chance).station_pressure
    looks = []
    for month in range(VISITS):
        day = replace(weather(chance, 75.0, 95.0), station_pressure=station)
        faults = replace(HEALTHY, charge=charge - leak * month)
        state = solve(plant, day, faults)
        if not isinstance(state, NoSolution) and state.surface >= ICE:
            story = tell(examine(readings(plant, day, faults, state, f"{name} {month}")))
            looks.append(Look(name, f"2026-{month + 4:02}-01", story))
    return drifts(looks, load_rules().judgement.drifts)


def main(machines: int = 100, seed: str = "drift") -> None:
    """Prints a line a leak."""
    for leak in LEAKS:
        found: list[list[Drift]] = []
        place = 0
        while len(found) < machines:
            place += 1
            if (one := machine(f"{seed} {place}", leak)) is not None:
                found.append([drift for drift in one if drift.sure])
        of_leak = sum(any((d.name, d.slope > 0) in OF_A_LEAK for d in one) for one in found)
        print(f"{leak:.0%} a month: {sum(map(bool, found))} of {machines} told to drift, {of_leak} as a leak does")


if __name__ == "__main__":
    main(*(int(word) if i == 0 else word for i, word in enumerate(sys.argv[1:3])))  # type: ignore[arg-type]
