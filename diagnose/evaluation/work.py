"""Draws and examines cases, one after the other or on several processors at once; the figures are the same."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.evaluation.drawing import (
    answer_of,
    beside,
    device_of,
    features,
    protocol,
    seen_features,
    shows,
    truth_of,
    with_only,
)
from diagnose.evaluation.model import NOTHING_WRONG, RankedAnswer, Truth, readings_of
from diagnose.evaluation.processes import fresh_processes, processors, without_interrupts
from diagnose.quantities.uncertainty import estimate
from diagnose.rulebook import Rulebook
from diagnose.simulator import REFRIGERANTS, Families, Mode, Practice, draw, faults_of
from diagnose.simulator.readings import VisitMapping
from diagnose.visit import visit_from

TWINS = (frozenset({"R-410A", "R-32", "R-454B"}), frozenset({"R-22", "R-407C"}))
"""Refrigerants whose pressures lie so near to one another that gauges can hardly tell them apart."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One kind of slip.

    made: the visit with the slip. codes: it is named where the result holds one of these doubts.
    """

    name: str
    made: Callable[[VisitMapping, random.Random], VisitMapping]
    codes: tuple[str, ...]

    def named(self, diagnosis: Diagnosis) -> bool:
        """Whether the result says so."""
        return any(doubt.reason.code in self.codes for doubt in diagnosis.doubts)


def swap(first: str, second: str) -> Callable[[VisitMapping, random.Random], VisitMapping]:
    """Two readings written, or probes clamped, in each other's place."""

    def made(visit: VisitMapping, chance: random.Random) -> VisitMapping:
        del chance
        taken = visit["readings"]
        assert isinstance(taken, Mapping)
        other = {first: second, second: first}
        return {**visit, "readings": {name: taken[other.get(name, name)] for name in taken}}

    return made


def _other_refrigerant(twin: bool) -> Callable[[VisitMapping, random.Random], VisitMapping]:
    """Another refrigerant is entered than the machine holds: a near twin, or one of quite other pressures."""

    def made(visit: VisitMapping, chance: random.Random) -> VisitMapping:
        machine = visit["machine"]
        assert isinstance(machine, Mapping)
        right = str(machine["refrigerant"])
        near = next(family for family in TWINS if right in family)
        options = [name for name in REFRIGERANTS if name != right and (name in near) == twin]
        return {**visit, "machine": {**machine, "refrigerant": chance.choice(options)}}

    return made


SLIPS: tuple[Slip, ...] = (
    Slip(
        "line clamps swapped",
        swap("suction line temperature", "liquid line temperature"),
        ("clamps-swapped",),
    ),
    Slip(
        "return and supply swapped",
        swap("return air dry bulb", "supply air dry bulb"),
        ("supply-air-above-return-air",),
    ),
    Slip(
        "wet and dry bulb swapped",
        swap("return air wet bulb", "return air dry bulb"),
        ("return-wet-bulb-above-dry-bulb",),
    ),
    Slip(
        "gauges swapped",
        swap("suction pressure", "liquid pressure"),
        ("suction-above-liquid",),
    ),
    Slip("another refrigerant", _other_refrigerant(twin=False), ("saturations-too-high", "saturations-too-low")),
    Slip("near-twin refrigerant", _other_refrigerant(twin=True), ("saturations-too-high", "saturations-too-low")),
)


CaseProgress = Callable[[int, int], None]
TaskKind = Literal["case", "lesson", "own lesson", "pair"]
LESSONS: tuple[TaskKind, ...] = ("lesson", "own lesson")
CHUNK = 10  # cases handed to a processor at once
WORTH = 60  # cases below which starting more processes takes longer than they save


@dataclass(frozen=True, slots=True)
class Task:
    """One case to draw. lesson: only for the classifier to learn from; own lesson: the same, of the families that are
    measured where the classifier learns from others; pair: two faults at once.

    names: of `readings_of(mode)`. slips: those of `names` for which the slips are tried as well.
    """

    kind: TaskKind
    seed: int
    place: int
    names: tuple[str, ...]
    baseline: bool = False
    slips: tuple[str, ...] = ()
    families: Families = "plain"
    mode: Mode = "cooling"


@dataclass(frozen=True, slots=True)
class CaseView:
    """One case with one set of readings. rules and the rest are None where nobody asked (a lesson)."""

    shows: bool
    rules: RankedAnswer | None
    with_baseline: RankedAnswer | None
    protocol: RankedAnswer | None
    off_chart: bool
    features: dict[str, float] = field(hash=False)
    features_baseline: dict[str, float] = field(hash=False)


@dataclass(frozen=True, slots=True)
class Slipped:
    """One slip in one visit: whether it is named, and whether it is without the slip."""

    name: str
    slip: str
    named: bool
    false: bool


@dataclass(frozen=True, slots=True)
class Looked:
    """All looks at one case, by the name of the set of readings."""

    kind: TaskKind
    truth: Truth
    matcher: str
    looks: dict[str, CaseView] = field(hash=False)
    slips: tuple[Slipped, ...] = ()


def look(task: Task, rules: Rulebook) -> Looked:
    """Draws one case and looks at it with each set of readings."""
    pair = task.kind == "pair"
    all_, sets = faults_of(task.mode), readings_of(task.mode)
    drawn = tuple(fault for fault in all_ if fault != NOTHING_WRONG) if pair else all_
    practice = draw(task.seed, task.place, faults=drawn, pairs=pair, families=task.families, mode=task.mode)
    truth = truth_of(practice, task.place)
    looks: dict[str, CaseView] = {}
    slips: list[Slipped] = []
    matcher = ""
    for name in task.names:
        visit = with_only(practice.visit, sets[name])
        good_day = with_only(practice.baseline, sets[name])
        diagnosis = None if task.kind in LESSONS else examine(visit, rules)
        if diagnosis is not None:
            matcher = diagnosis.matcher
            if name in task.slips:
                slips += _slips(task, name, visit, diagnosis, rules)
        looks[name] = _look(task, practice, name, visit, good_day, diagnosis, rules)
    return Looked(task.kind, truth, matcher, looks, tuple(slips))


def _look(
    task: Task,
    practice: Practice,
    name: str,
    visit: VisitMapping,
    good_day: VisitMapping,
    diagnosis: Diagnosis | None,
    rules: Rulebook,
) -> CaseView:
    metering = device_of(practice)
    estimates = estimate(visit_from(visit))
    asked = diagnosis is not None
    said, off_chart = protocol(estimates, metering, task.mode)
    today = features(estimates, metering) | seen_features(practice)
    then = features(estimate(visit_from(good_day)), metering) if task.baseline else {}
    known = answer_of(examine({**visit, "baseline": good_day}, rules)) if asked and task.baseline else None
    return CaseView(
        shows=task.kind == "case" and shows(practice, readings_of(task.mode)[name]),
        rules=answer_of(diagnosis) if diagnosis is not None else None,
        with_baseline=known,
        protocol=said if asked else None,
        off_chart=off_chart,
        features=today,
        features_baseline=beside(today, then) if task.baseline else {},
    )


def _slips(task: Task, name: str, visit: VisitMapping, diagnosis: Diagnosis, rules: Rulebook) -> Iterator[Slipped]:
    for slip in SLIPS:
        slipped = slip.made(visit, random.Random(f"slip {slip.name} {task.seed} {task.place}"))
        yield Slipped(name, slip.name, slip.named(examine(slipped, rules)), slip.named(diagnosis))


# -- on several processors -----------------------------------------------------------------------------------------

_RULES: list[Rulebook] = []  # of a worker process, which gets the book once


def _begin(rules: Rulebook) -> None:
    _RULES[:] = [rules]


def _work(tasks: Sequence[Task]) -> list[Looked]:
    return [look(task, _RULES[0]) for task in tasks]


def look_at_all(
    tasks: Sequence[Task], rules: Rulebook, jobs: int | None = None, progress: CaseProgress | None = None
) -> list[Looked]:
    """All tasks, in their order, however many processes (`jobs`; as many as there are processors unless said) share them."""
    jobs = jobs or (1 if len(tasks) < WORTH else processors())
    found = []
    for done in _one_by_one(tasks, rules) if jobs == 1 else _shared(tasks, rules, jobs):
        found.append(done)
        if progress is not None:
            progress(len(found), len(tasks))
    return found


def _one_by_one(tasks: Sequence[Task], rules: Rulebook) -> Iterator[Looked]:
    for task in tasks:
        yield look(task, rules)


def _shared(tasks: Sequence[Task], rules: Rulebook, jobs: int) -> Iterator[Looked]:
    pool = fresh_processes(jobs, _begin, rules)
    try:
        with without_interrupts():
            found = [pool.submit(_work, tasks[i : i + CHUNK]) for i in range(0, len(tasks), CHUNK)]
        for one in found:
            yield from one.result()
    finally:  # not `pool.map`: it takes back work itself, and its processes may not be ended meanwhile
        pool.shutdown(cancel_futures=True)
