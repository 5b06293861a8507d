"""A practice visit, drawn from the simulator: what the apprentice sees, what may be asked for, and what is hidden; in both
systems of units."""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from diagnose import units
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.practice.scenario import place_and_complaint, plausible, seen_at, slipped
from diagnose.rulebook import Rulebook
from diagnose.simulator import BASIC, HEATING_SETS, SETS, Mode, Practice, draw, faults_of, true_values
from diagnose.simulator.fault_sizes import NOTHING_WRONG, together
from diagnose.simulator.readings import written
from diagnose.units import Kind
from diagnose.visit import System
from diagnose.visit.fields import DEFROSTED, INSTRUMENTS, MACHINE, MINUTES, READINGS
from diagnose.yamlfile import did_you_mean, refusal

ReadingsGiven = Literal["few", "basic"]
FEW = (
    "suction pressure",
    "liquid pressure",
    "suction line temperature",
    "outdoor air temperature",
    "return air dry bulb",
)
GIVEN: Mapping[Mode, Mapping[ReadingsGiven, tuple[str, ...]]] = {
    "cooling": {"few": FEW, "basic": BASIC},
    "heating": {"few": FEW, "basic": HEATING_SETS["basic"]},
}
EVERY: Mapping[Mode, tuple[str, ...]] = {"cooling": SETS["all"], "heating": HEATING_SETS["all"]}
ICE = "indoor coil ice"
GAVE_UP = "gave up"

# How far the fault moves the reading that it moves most, in limits of error of that reading's instrument (judgement).
PLAIN_TO_SEE = 6.0
HARD_FROM, HARD_TO = 2.0, 8.0
MOST_DRAWS = 24  # what comes nearest is taken then
SEA_LEVEL = 99_000.0  # Pa; the street lies at a harbor
PAIRS, SLIPS = 0.12, 0.12  # of the hard visits: two faults at once; readings taken for one another


@dataclass(frozen=True, slots=True)
class Exercise:
    """Everything about one practice visit, hidden or not. Readings and figures as they are written down.

    size: of the fault, in the simulator's terms. readings: every reading with its instrument's error. true, healthy:
    what perfect instruments would read on this machine, and on it without the fault in the same weather. given: readings
    that stand in the file from the beginning. slip: readings that were written down wrongly there.
    """

    seed: int
    hard: bool
    truth: str
    size: float
    also: str | None
    complaint: str
    machine: Mapping[str, Any]
    readings: Mapping[str, str]
    true: Mapping[str, str]
    healthy: Mapping[str, str]
    seen: Mapping[str, str]
    given: tuple[str, ...]
    slip: Mapping[str, str] = field(default_factory=dict)

    @property
    def truths(self) -> tuple[str, ...]:
        """The fault, and the second one where there are two."""
        return (self.truth, self.also) if self.also else (self.truth,)

    @property
    def everything(self) -> tuple[str, ...]:
        """The names of all readings and things seen that can be had."""
        return (*self.readings, *self.seen)

    def visit(self, opened: Sequence[str] = ()) -> dict[str, Any]:
        """The visit mapping with the given readings and those opened since; a reading taken again has no slip left."""
        shown = {name: self.slip.get(name, self.readings[name]) for name in self.given}
        shown |= {name: text for name, text in self.readings.items() if name in opened}
        seen = {name: word for name, word in self.seen.items() if name in opened}
        found: dict[str, Any] = {"machine": dict(self.machine), "readings": {**self.since, **shown}}
        return found | ({"seen": seen} if seen else {})

    def judged(self, opened: Sequence[str]) -> dict[str, Any]:
        """The same without the ice on a coil: it would hold every verdict, and here it is too thin to change a reading."""
        return self.visit([name for name in opened if name != ICE])

    @property
    def mode(self) -> Mode:
        """What the machine does."""
        return "heating" if self.machine.get("mode") == "heating" else "cooling"

    @property
    def since(self) -> dict[str, Any]:
        """How long it has been running; in heating, since the last defrost too."""
        return {MINUTES: 20, **({DEFROSTED: 20} if self.mode == "heating" else {})}


# -- drawing one ---------------------------------------------------------------------------------------------------


def new(
    seed: int,
    rules: Rulebook,
    fault: str | None = None,
    hard: bool = False,
    readings: ReadingsGiven | None = None,
    elsewhere: Collection[str] = (),
    mode: Mode = "cooling",
) -> Exercise:
    """A practice visit; the same for the same arguments and rule book.

    Not hard: a fault that is plain to see, with the eight basic readings. hard: a mild one, or one that its look-alikes
    hide, perhaps two, perhaps a slip of the pen; fewer readings. What the program itself cannot find with every reading
    is not asked of an apprentice. elsewhere: shops that are not taken where others are left. Raises InputProblems for a
    fault that the simulator does not know.
    """
    known = faults_of(mode)
    if fault is not None and fault not in known:
        fix = did_you_mean(fault, known) or f"Known: {', '.join(known)}."
        where = " in heating" if mode == "heating" else ""
        raise refusal(f"the simulator has no fault `{fault}`{where}", fix)
    chance = random.Random(f"practice {seed} {fault} {hard}{' heating' if mode == 'heating' else ''}")
    truth = fault or chance.choice(known)
    second, slip = chance.random() < PAIRS, chance.random() < SLIPS
    both = hard and fault is None and second and truth != NOTHING_WRONG
    other = chance.choice([one for one in known if one != NOTHING_WRONG and together(one, truth)] or [NOTHING_WRONG])
    sets = GIVEN[mode]
    by_chance = chance.choice((sets["few"], sets["basic"])) if hard else sets["basic"]
    given = sets[readings] if readings else by_chance
    best: tuple[int, Exercise] | None = None
    for place in range(MOST_DRAWS):
        try:
            case = draw(seed, place, faults=(truth, other) if both else (truth,), pairs=both, mode=mode)
        except RuntimeError:  # no machine and weather with a steady state: the next place has others
            continue
        machine = case.visit["machine"]
        if case.conditions.station_pressure < SEA_LEVEL or not (isinstance(machine, dict) and plausible(machine)):
            continue
        made = _exercise(
            case, seed, hard, given, chance, rules, elsewhere, slip=hard and fault is None and slip and not both
        )
        fits = _fits(made, case, rules)
        if best is None or sum(fits) > best[0]:
            best = sum(fits), made
        if all(fits):
            break
    if best is None:
        raise refusal(f"seed {seed} gives no machine with {truth}", "Take another seed.")
    return best[1]


def _exercise(
    case: Practice,
    seed: int,
    hard: bool,
    given: tuple[str, ...],
    chance: random.Random,
    rules: Rulebook,
    elsewhere: Collection[str],
    slip: bool,
) -> Exercise:
    name, complaint = place_and_complaint(chance, case.truth, elsewhere, case.mode)
    machine = case.visit["machine"]
    taken = case.visit["readings"]
    assert isinstance(machine, dict)
    assert isinstance(taken, dict)
    readings = {name: str(text) for name, text in taken.items() if name in EVERY[case.mode]}
    known = {name: entry.words for name, entry in rules.seen.items()}
    looked = seen_at(case, chance, forgetful=hard)
    return Exercise(
        seed=seed,
        hard=hard,
        truth=case.truth,
        size=case.size,
        also=case.also,
        complaint=complaint,
        machine={"name": name, **machine},
        readings=readings,
        true={n: written(n, v) for n, v in true_values(case.conditions, case.state).items()},
        healthy={n: written(n, v) for n, v in true_values(case.conditions, case.healthy).items()},
        seen={name: word for name, word in looked.items() if word in known.get(name, ())},
        given=given,
        slip=slipped(chance, readings, given) if slip else {},
    )


def _fits(made: Exercise, case: Practice, rules: Rulebook) -> tuple[bool, ...]:
    """What a good practice visit must be, each by itself: visible, to be found with everything, not given away."""
    whole = examine(made.judged(made.everything), rules)
    findable = bool(whole.faults) and whole.faults[0].fault in made.truths and whole.faults[0].share >= 0.5
    shift = visible(case)
    begin = examine({**made.visit(), "readings": {**made.since, **{n: made.readings[n] for n in made.given}}}, rules)
    order = [fault.fault for fault in begin.faults]
    if not made.hard:
        near = made.truth in order[:3]
        return findable, findable, made.truth == NOTHING_WRONG or shift >= PLAIN_TO_SEE, near
    share = sum(fault.share for fault in begin.faults if fault.fault in made.truths)
    mild = made.truth == NOTHING_WRONG or HARD_FROM <= shift <= HARD_TO
    noticed = not made.slip or _notices(examine(made.visit(), rules), begin)
    return findable, findable, mild or share < 0.6, share < 0.9, noticed, noticed


def visible(case: Practice) -> float:
    """How far the fault moves the basic reading that it moves most, in limits of error of its instrument."""
    ill, well = true_values(case.conditions, case.state), true_values(case.conditions, case.healthy)

    def limit(name: str) -> float:
        instrument = INSTRUMENTS[READINGS[name].instrument]
        return max(instrument.share * abs(well[name]) + instrument.fixed, instrument.least)

    return max(abs(ill[name] - well[name]) / limit(name) for name in GIVEN[case.mode]["basic"])


def _notices(slipped_visit: Diagnosis, right_visit: Diagnosis) -> bool:
    """Whether the program says more of the readings with the slip than of the right ones."""
    known = {doubt.reason.code for doubt in right_visit.doubts}
    more = any(doubt.reason.code not in known for doubt in slipped_visit.doubts)
    return more or slipped_visit.status != "diagnosed"


# -- as a class reads it -----------------------------------------------------------------------------------------------


def shown(name: str, text: str, system: System) -> str:
    """A reading in the units of a system: `132 psig`, `910 kPa gauge`."""
    return _in(text, READINGS[name].kind, system)


def fact(name: str, value: Any) -> str:
    """A machine fact with the other system's unit behind it, where it has one: `3.0 ton (10.6 kW)`."""
    kind = _kind_of(name)
    if kind is None:
        return str(value)
    us, si = _in(str(value), kind, "us"), _in(str(value), kind, "si")
    return us if us == si else f"{us} ({si})"


def _in(text: str, kind: Kind, system: System) -> str:
    unit = units.unit_for(kind, system)
    return units.show(units.parse(text, kind).value, kind, unit, decimals=_DECIMALS.get((kind, system)))


# What instruments of the trade show; where nothing stands here, units.show knows.
_DECIMALS: Mapping[tuple[Kind, System], int] = {("pressure", "us"): 1, ("temperature", "si"): 1}


def converted(exercise: Exercise, system: System) -> Exercise:
    """The same practice visit with every reading and fact in the units of a system, as its instruments would show them."""

    def readings(texts: Mapping[str, str]) -> dict[str, str]:
        return {name: _plain(shown(name, text, system)) for name, text in texts.items()}

    facts = {
        name: _plain(_in(str(value), kind, system)) if (kind := _kind_of(name)) else value
        for name, value in exercise.machine.items()
    }
    return replace(
        exercise,
        machine=facts,
        readings=readings(exercise.readings),
        true=readings(exercise.true),
        healthy=readings(exercise.healthy),
        slip=readings(exercise.slip),
    )


def _plain(text: str) -> str:
    """Without the comma between thousands and the minus sign of print, which a visit file had better not have."""
    return text.replace(",", "").replace("−", "-")


def _kind_of(name: str) -> Kind | None:
    kind = MACHINE[name].kind if name in MACHINE else None
    return None if kind == "number" else kind
