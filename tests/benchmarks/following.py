"""How often following the first advice settles faults that look alike: `python tests/benchmarks/following.py [CASES] [SEED]`.

Not a test: a measurement, whose figures the README quotes. Machines of our own simulator whose truth is one of a pair
of faults that look alike, with the usual eight readings, and whose two likeliest faults are that pair. The check that
the program names first is done: what it measures is taken from the simulated machine with the same instruments; what
must be looked at or asked is answered by chance with the shares below, for no eye is perfect. Settled: the true fault
then comes first.
"""

import random
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from diagnose import Diagnosis, examine
from diagnose.diagnosis.next_checks import next_checks
from diagnose.simulator import draw
from diagnose.simulator.population import Practice
from diagnose.simulator.readings import BASIC

PAIRS = (
    ("liquid-line-restriction", "metering-underfeeding"),
    ("low-outdoor-airflow", "non-condensables"),
    ("low-charge", "liquid-line-restriction"),
)
MEASURED = {
    "clamp-the-drier": ("drier inlet temperature", "drier outlet temperature"),
    "follow-the-liquid-line": ("metering inlet temperature", "drier inlet temperature", "drier outlet temperature"),
    "gauge-the-liquid-line": ("metering inlet pressure",),
    "measure-the-thrown-out-air": ("condenser leaving air temperature",),
    "rest-and-read": ("standing pressure", "standing air temperature"),
    "clamp-the-discharge": ("discharge line temperature",),
    "clamp-the-current": ("compressor current",),
    "clamp-the-coil-outlet": ("coil outlet temperature",),
    "confirm-the-airflow": ("airflow",),
    "measure-the-capacity": ("airflow", "supply air wet bulb"),
}
ASKED = ("look-at-the-outdoor-unit", "look-at-the-air-side", "ask-the-history", "find-the-leak", "check-the-bulb")
COLD = 3.3  # K; a hand feels a drier that is so much colder at its outlet (judgement)

DEVICE = "metering-underfeeding"


def seen(check: str, practice: Practice, chance: random.Random) -> dict[str, str]:
    """What is found by looking and asking. Shares: judgement."""
    truth = practice.truth
    if check in ("clamp-the-drier", "follow-the-liquid-line"):
        drop = practice.state.liquid_temperature - practice.state.drier_outlet_temperature
        return {"filter drier": "cold or frosted at the outlet" if drop > COLD else "even"}
    if check == "look-at-the-outdoor-unit":
        shares = (55, 20, 10, 15) if truth == "low-outdoor-airflow" else (10, 0, 0, 90)
        found = chance.choices(("coil", "fan", "air", ""), shares)[0]
        return {
            "outdoor coil": "dirty" if found == "coil" else "clean",
            "outdoor fan": "slow or stopped" if found == "fan" else "normal",
            "hot air return": "present" if found == "air" else "none",
        }
    if check == "look-at-the-air-side":
        return {"air filter": "dirty" if chance.random() < 0.1 else "clean", "indoor coil": "clean", "blower": "normal"}
    if check == "ask-the-history":
        words = ("not evacuated well", "evacuated below 500 microns", "no")
        return {
            "recent opening": chance.choices(words, (70, 15, 15) if truth == "non-condensables" else (10, 15, 75))[0]
        }
    if check == "find-the-leak":
        return {"oil stains": "present" if truth == "low-charge" and chance.random() < 0.5 else "none"}
    return {}


def with_check(visit: dict[str, Any], check: str, practice: Practice, chance: random.Random) -> dict[str, Any]:
    """The visit with what the check brings."""
    whole: Any = practice.visit["readings"]
    more = {name: whole[name] for name in MEASURED.get(check, ())}
    return visit | {"readings": visit["readings"] | more, "seen": visit["seen"] | seen(check, practice, chance)}


def alike(cases: int, seed: int, pair: Sequence[str]) -> Iterator[tuple[Practice, dict[str, Any], Diagnosis]]:
    """Cases with the eight readings whose truth and whose two first faults are of the pair.

    An underfeeding device, which gauges cannot part from a restriction, is passed over where it is not of the pair.
    """
    for place in range(cases):
        practice = draw(seed, place, faults=pair)
        taken: Any = practice.visit["readings"]
        basic = practice.visit | {"readings": {k: taken[k] for k in ("minutes running", *BASIC)}, "seen": {}}
        found = examine(basic)
        leaders = [r.fault for r in found.ranked if r.fault in pair or r.fault != DEVICE]
        if set(leaders[:2]) == set(pair):
            yield practice, basic, found


def settled(cases: int, seed: int, pair: Sequence[str], steps: int = 3) -> Counter[Any]:
    """Counts: `all`, and by step how many have the truth first; also (step, truth)."""
    count: Counter[Any] = Counter()
    for number, (practice, start, begun) in enumerate(alike(cases, seed, pair)):
        visit, found, done = start, begun, set()
        chance = random.Random(f"{seed} {number}")
        count["all"] += 1
        count["all", practice.truth] += 1
        for step in range(steps + 1):
            if step:
                ways = (c.check for c in next_checks(found) if c.check in MEASURED or c.check in ASKED)
                check = next((way for way in ways if way not in done), None)
                if check is not None:
                    done.add(check)
                    visit = with_check(visit, check, practice, chance)
                    found = examine(visit)
            first = next(r.fault for r in found.ranked if r.fault in pair or r.fault != DEVICE)
            right = first == practice.truth
            count[step] += right
            count[step, practice.truth] += right
    return count


def main() -> None:
    """Prints one line for each pair."""
    cases, seed = (int(x) for x in (sys.argv[1:] + ["300", "2025"][len(sys.argv) - 1 :]))
    for pair in PAIRS:
        count = settled(cases, seed, pair)
        told = []
        for step, name in enumerate(("with no check", "one check", "two", "three")):
            each = " and ".join(f"{count[step, fault] / max(count['all', fault], 1):.2f}" for fault in pair)
            told.append(f"{name} {count[step] / max(count['all'], 1):.3f} ({each})")
        print(f"{' or '.join(pair)}: {count['all']} of {cases} cases, true fault first {', '.join(told)}")


if __name__ == "__main__":
    main()
