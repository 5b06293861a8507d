"""How often the ranking is right on machines of our own simulator: `python tests/benchmarks/simulated.py [CASES] [SEED]`.

Not a test: a measurement, whose figures the README quotes. Ten faults drawn alike, made-up machines and weather, noisy
instruments. A restriction and a metering device that passes too little count as one: gauges alone cannot part them.
Harmful advice: told to add where charge was not low, or to take out where it was not high.
"""

import sys
from collections import Counter

from diagnose import examine
from diagnose.simulator import population

ALIKE = {"metering-underfeeding": "liquid-line-restriction"}
RIGHT = {"low": "low-charge", "high": "overcharge"}


def measure(cases: int, seed: int, which: str) -> Counter[str]:
    """Counts over one population with one set of readings."""
    count: Counter[str] = Counter()
    for practice in population(seed, cases, which=which):
        found = examine(practice.visit)
        truth = ALIKE.get(practice.truth, practice.truth)
        order = list(dict.fromkeys(ALIKE.get(f.fault, f.fault) for f in found.faults))
        count["first"] += order[:1] == [truth]
        count["first two"] += truth in order[:2]
        count["harmful advice"] += RIGHT.get(found.charge.verdict, practice.truth) != practice.truth
        healthy = practice.truth == "nothing-wrong"
        count["healthy"] += healthy
        count["false alarms"] += healthy and order[:1] != [truth]
    return count


def main() -> None:
    """Prints one line for each set of readings."""
    cases, seed = (int(x) for x in (sys.argv[1:] + ["700", "2024"][len(sys.argv) - 1 :]))
    for which, name in (("basic", "the usual eight readings"), ("running", "with discharge, current, airflow")):
        count = measure(cases, seed, which)
        shares = ", ".join(f"{key} {count[key] / cases:.3f}" for key in ("first", "first two", "harmful advice"))
        alarms = f"false alarms on healthy machines {count['false alarms']} of {count['healthy']}"
        print(f"{name}: {cases} cases, seed {seed}: {shares}, {alarms}")


if __name__ == "__main__":
    main()
