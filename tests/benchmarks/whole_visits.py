"""What a technician gains by following `diagnose next`: `python tests/benchmarks/whole_visits.py [CASES] [SEED] [FAMILIES]`.

With `pairs` in the place of FAMILIES: how often the first advice settles faults that look alike (`settled`).

Not a test: a measurement. Machines of unseen families (`diagnose.simulator.family`), ten faults equally often, the usual
eight readings first. Then checks are done, and what they bring is fed back: what is measured is taken from the simulated
machine with the same instruments, what is looked at or asked is answered by chance with the shares below (judgement: no
eye is perfect, and sound machines are dirty too). Side by side:

- next: the first step that the program names and that pays, up to three of them or 45 minutes;
- next, on: the same with as many steps as fit into 45 minutes;
- fixed: the same checks in a fixed, sensible order until 45 minutes are gone, looks first, then clamps, then the long ones;
- shortest: the same checks by their minutes, until 45 are gone;
- fixed, until strong: the fixed order, ended as soon as the first fault is strong;
- everything: all the checks of the fixed order, however long: what the rule book reaches at most with these readings;
- charge only: superheat or subcooling alone, on the eight readings.

Right: the true fault comes first (restriction and underfeeding as one); strong: its share is that of `strong` too. Minutes:
those of the checks, without what `next` reckons for handling. Harmful: told at the end to add where charge is not low, or to
remove where it is not high. Hours: what acting on a wrong first fault wastes (`wrong_call` and coming back), over all machines.
Every way gets the same answer to the same check on the same machine: ways differ by what they ask for and when they stop alone.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose import Diagnosis, examine
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.value_of_information import hours
from diagnose.evaluation.drawing import advice_of, answer_of, protocol, truth_of, with_only
from diagnose.evaluation.model import RESTRICTED, Answered, Rate, merged
from diagnose.evaluation.scoring import is_first, is_harmful
from diagnose.quantities.uncertainty import estimate
from diagnose.rulebook import Rulebook, load_rules
from diagnose.simulator import BASIC, Practice, draw
from diagnose.visit import visit_from

STEPS, MINUTES = 3, 45.0
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
DOABLE = (*MEASURED, *ASKED)
COLD = 3.3  # K; a hand feels a drier that is so much colder at its outlet (judgement)
PAIRS = (
    ("liquid-line-restriction", "metering-underfeeding"),
    ("low-outdoor-airflow", "non-condensables"),
    ("low-charge", "liquid-line-restriction"),
)
FIXED = (
    "ask-the-history",
    "look-at-the-air-side",
    "look-at-the-outdoor-unit",
    "clamp-the-drier",
    "measure-the-thrown-out-air",
    "clamp-the-discharge",
    "clamp-the-current",
    "confirm-the-airflow",
    "check-the-bulb",
    "gauge-the-liquid-line",
    "rest-and-read",
)


def found_by(check: str, practice: Practice, chance: random.Random) -> dict[str, str]:
    """What looking and asking bring: (share with the fault, share without it) of each sign."""
    true = {practice.truth, practice.also}

    def one_of(fault: str, words: dict[str, tuple[float, float]]) -> set[str]:
        return {word for word, (ill, sound) in words.items() if chance.random() < (ill if fault in true else sound)}

    if check in ("clamp-the-drier", "follow-the-liquid-line"):
        drop = practice.state.liquid_temperature - practice.state.drier_outlet_temperature
        return {"filter drier": "cold or frosted at the outlet" if drop > COLD else "even"}
    if check == "look-at-the-outdoor-unit":
        signs = one_of("low-outdoor-airflow", {"coil": (0.60, 0.10), "fan": (0.20, 0.0), "air": (0.10, 0.01)})
        return {
            "outdoor coil": "dirty" if "coil" in signs else "clean",
            "outdoor fan": "slow or stopped" if "fan" in signs else "normal",
            "hot air return": "present" if "air" in signs else "none",
        }
    if check == "look-at-the-air-side":
        words = {"filter": (0.50, 0.10), "coil": (0.25, 0.05), "blower": (0.15, 0.02), "registers": (0.20, 0.05)}
        signs = one_of("low-indoor-airflow", words)
        return {
            "air filter": "dirty" if "filter" in signs else "clean",
            "indoor coil": "dirty" if "coil" in signs else "clean",
            "blower": "slow" if "blower" in signs else "normal",
            "registers": "closed or blocked" if "registers" in signs else "open",
        }
    if check == "ask-the-history":
        opened = one_of("non-condensables", {"badly": (0.60, 0.05), "well": (0.10, 0.10)})
        added = one_of("overcharge", {"added": (0.60, 0.08)})
        return {
            "recent opening": "not evacuated well"
            if "badly" in opened
            else "evacuated below 500 microns"
            if "well" in opened
            else "no",
            "charge changed": "added" if added else "no",
        }
    if check == "find-the-leak":
        return {"oil stains": "present" if one_of("low-charge", {"oil": (0.50, 0.03)}) else "none"}
    if check == "check-the-bulb" and practice.machine.metering == "TXV":
        loose = practice.faults.bulb_contact < 1.0
        return {
            "sensing bulb": "loose or bare" if chance.random() < (0.9 if loose else 0.03) else "tight and insulated"
        }
    return {}


@dataclass(frozen=True, slots=True)
class Ended:
    """How one visit ended."""

    answered: Answered
    strong: bool
    minutes: float
    steps: tuple[str, ...]
    lost: float  # hours


Way = Callable[[Diagnosis, tuple[str, ...]], Iterator[str]]


def by_next(found: Diagnosis, done: tuple[str, ...]) -> Iterator[str]:
    """The steps that the program names and that pay, best first."""
    yield from (c.check for c in next_checks(found) if c.worth > 0.0 and c.check in DOABLE and c.check not in done)


def in_order(order: tuple[str, ...], until_strong: bool = False) -> Way:
    """An order of steps, whatever is found."""

    def way(found: Diagnosis, done: tuple[str, ...]) -> Iterator[str]:
        if not (until_strong and strong(found)):
            valve = found.visit.machine.metering != "fixed orifice"
            yield from (check for check in order if check not in done and (valve or check != "check-the-bulb"))

    return way


def strong(found: Diagnosis) -> bool:
    """Whether the first place's share, restriction and underfeeding as one, is that of `strong`."""
    ranked = answer_of(found).ranked
    return bool(ranked) and ranked[0][1] >= found.rules.judgement.strengths.strong


def lost_by(first: str | None, true: frozenset[str], rules: Rulebook) -> float:
    """Hours wasted by acting on the first fault, and another trip where a fault stays."""
    if first is None or first in true:
        return 0.0
    again = 0.0 if true == {"nothing-wrong"} else rules.judgement.next_checks.come_back / 3600.0
    return hours(first, rules) + again


def with_check(visit: dict[str, Any], check: str, practice: Practice, of: str) -> dict[str, Any]:
    """The visit with what the check brings; of: the machine, by which chance is the same whenever it is asked."""
    whole: Any = practice.visit["readings"]
    more = {name: whole[name] for name in MEASURED.get(check, ())}
    looked = found_by(check, practice, random.Random(f"{of} {check}"))
    return visit | {"readings": visit["readings"] | more, "seen": visit["seen"] | looked}


def visited(
    practice: Practice, place: int, seed: int, way: Way, steps: int, rules: Rulebook, most: float = MINUTES
) -> Ended:
    """One visit from the eight readings to its end. most: minutes."""
    visit: dict[str, Any] = with_only(practice.visit, BASIC) | {"seen": {}}
    found, minutes = examine(visit, rules), 0.0
    done: tuple[str, ...] = ()
    while len(done) < steps:
        check = next((c for c in way(found, done) if minutes + rules.checks[c].minutes <= most), None)
        if check is None:
            break
        done, minutes = (*done, check), minutes + rules.checks[check].minutes
        visit = with_check(visit, check, practice, f"{seed} {place}")
        found = examine(visit, rules)
    answered = Answered(truth_of(practice, place), True, answer_of(found))
    lost = lost_by(answered.answer.first, answered.truth.counted, rules)
    return Ended(answered, strong(found), minutes, done, lost)


def by_charge_alone(practice: Practice, place: int, rules: Rulebook) -> Ended:
    """Superheat or subcooling alone. Right: it says what goes with the true fault, where that is the charge or nothing."""
    said, _ = protocol(estimate(visit_from(with_only(practice.visit, BASIC))), practice.machine.metering)
    first = {"low": "low-charge", "high": "overcharge"}.get(said.verdict, "nothing-wrong")
    truth = truth_of(practice, place)
    answered = Answered(truth, True, type(said)(((first, 1.0),), frozenset(), advice_of(first)))
    return Ended(answered, True, 0.0, (), lost_by(first, truth.counted, rules))


def settled(cases: int, seed: int, pair: Sequence[str], steps: int = STEPS) -> Counter[Any]:
    """Of machines whose truth and whose two likeliest faults are the pair: how many (`all`), and by step how many are right.

    An underfeeding device, which gauges cannot part from a restriction, is passed over where it is not of the pair.
    """
    count: Counter[Any] = Counter()
    for place in range(cases):
        practice, done = draw(seed, place, faults=pair), ()
        visit = with_only(practice.visit, BASIC) | {"seen": {}}
        found = examine(visit)
        for step in range(steps + 1):
            if step and (check := next(by_next(found, done), None)) is not None:
                done = (*done, check)
                visit = with_check(visit, check, practice, f"{seed} {place}")
                found = examine(visit)
            leaders = [r.fault for r in found.ranked if r.fault in pair or r.fault != "metering-underfeeding"]
            if not step and set(leaders[:2]) != set(pair):
                break
            count["all"] += not step
            count[step] += leaders[0] == practice.truth
    return count


def told(name: str, ends: list[Ended]) -> str:
    """One line of figures."""
    n = len(ends)
    right = [is_first(e.answered) for e in ends]
    both = Rate(sum(r and e.strong for r, e in zip(right, ends, strict=True)), n)
    sure = [r for r, e in zip(right, ends, strict=True) if e.strong]
    harmful = Rate(sum(is_harmful(e.answered) for e in ends), n)
    return (
        f"{name:22} first {Rate(sum(right), n)}  first and strong {both}  strong is right {Rate(sum(sure), len(sure))}  "
        f"harmful {harmful}  steps {sum(len(e.steps) for e in ends) / n:.1f}  "
        f"minutes {sum(e.minutes for e in ends) / n:.1f}  hours lost {sum(e.lost for e in ends) / n:.2f}"
    )


def main() -> None:
    """Prints one line a way, then how often each step was done and what it changed."""
    given = sys.argv[1:] + ["300", "7", "unseen"][len(sys.argv) - 1 :]
    cases, seed, families = int(given[0]), int(given[1]), given[2]
    if families == "pairs":
        for pair in PAIRS:
            count = settled(cases, seed, pair)
            right = ", ".join(str(count[step]) for step in range(STEPS + 1))
            print(
                f"{' or '.join(pair)}: {count['all']} of {cases}, true fault first after 0 to {STEPS} checks in {right}"
            )
        return
    rules = load_rules()
    shortest = tuple(sorted(FIXED, key=lambda check: rules.checks[check].minutes))
    ways: dict[str, tuple[Way, int]] = {
        "eight readings": (by_next, 0),
        "next": (by_next, STEPS),
        "next, on": (by_next, 99),
        "fixed": (in_order(FIXED), 99),
        "fixed, three": (in_order(FIXED), STEPS),
        "shortest": (in_order(shortest), 99),
        "fixed, until strong": (in_order(FIXED, until_strong=True), 99),
    }
    ends: dict[str, list[Ended]] = {name: [] for name in (*ways, "everything", "charge only")}
    for place in range(cases):
        practice = draw(seed, place, families=families)  # type: ignore[arg-type]
        for name, (way, steps) in ways.items():
            ends[name].append(visited(practice, place, seed, way, steps, rules))
        ends["everything"].append(visited(practice, place, seed, in_order(FIXED), 99, rules, most=float("inf")))
        ends["charge only"].append(by_charge_alone(practice, place, rules))
    for name, of in ends.items():
        print(told(name, of))
    steps_done = Counter(step for e in ends["next"] for step in e.steps)
    print("steps of next:", ", ".join(f"{step} {count}" for step, count in steps_done.most_common()))
    for name in ("next", "everything"):
        wrong = [e for e in ends[name] if not is_first(e.answered)]
        stopped = sum(e.strong for e in wrong)
        pairs = Counter(f"{merged(e.answered.truth.fault)} -> {e.answered.answer.first}" for e in wrong)
        print(f"still wrong, {name}: {len(wrong)}, of which {stopped} strong ({RESTRICTED} with underfeeding):")
        print("  " + ", ".join(f"{pair} {count}" for pair, count in pairs.most_common(10)))


if __name__ == "__main__":
    main()
