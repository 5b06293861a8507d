"""The values of an evaluation: what was true, what was answered, and the figures that come of it. Everything is frozen."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from diagnose.simulator import BASIC, HEATING_SETS, RUNNING, SETS, Families, Mode

NOTHING_WRONG = "nothing-wrong"
RESTRICTED = "liquid-line-restriction"
ALIKE: Mapping[str, str] = {
    "metering-underfeeding": RESTRICTED,
    "reversing-valve-leaking": "weak-compressor",
    "check-valve-leaking": "metering-overfeeding",
}
"""Faults that count as one, as in the book (`one_doubt`): gauges alone cannot part a restriction from a metering device that
passes too little, nor (in heating) a reversing valve that leaks from a compressor that does, nor an outdoor metering device
that passes too much from a check valve that lets liquid around it."""
SHOWN_AS: Mapping[str, str] = {RESTRICTED: "restriction/underfeeding"}

READINGS: Mapping[str, tuple[str, ...]] = {
    "basic": BASIC,
    "running": (*BASIC, *(name for name in RUNNING if name != "airflow")),
    "airflow": (*BASIC, *RUNNING),
    "all": SETS["all"],
}
"""What was measured. The simulator's own set `running` is `airflow` here: the measured airflow is worth its own column."""
HEATING_READINGS: Mapping[str, tuple[str, ...]] = {
    "basic": HEATING_SETS["basic"],
    "running": tuple(name for name in HEATING_SETS["running"] if name != "airflow"),
    "airflow": HEATING_SETS["running"],
    "all": HEATING_SETS["all"],
}
"""The same in heating."""
_READINGS_TEXT: Mapping[str, str] = {
    "basic": "the usual eight readings",
    "running": "these and discharge line temperature and current",
    "airflow": "these and the airflow",
    "all": "everything the simulator reads",
}
_IN_HEATING: Mapping[str, str] = {
    "basic": "the usual seven readings, and the frost that was seen",
    "running": "these, discharge, vapor line and valve tube temperature, and current",
}


def readings_of(mode: Mode) -> Mapping[str, tuple[str, ...]]:
    """What was measured, by the name of the set."""
    return HEATING_READINGS if mode == "heating" else READINGS


def readings_text(mode: Mode) -> Mapping[str, str]:
    """The same in words."""
    return {**_READINGS_TEXT, **_IN_HEATING} if mode == "heating" else _READINGS_TEXT


COVERAGE = 2.0  # ± is two standard deviations, as everywhere in the project
FEWEST = 30  # cases in a bin from which its place is judged
FURTHEST = 0.07  # from the diagonal
SIZES = ("mild", "middle", "severe")


def merged(fault: str) -> str:
    """The fault as it is counted: those that are alike are one."""
    return ALIKE.get(fault, fault)


@dataclass(frozen=True, slots=True)
class Truth:
    """What is wrong with a simulated machine.

    faults: one id, or the two of a pair. sort: within one sort the sizes of faults can be compared. severity: greater is
    worse, whichever way the size itself goes. charge: how far it is off, percent of the right one, negative where some is
    missing. lost: cooling and efficiency lost against the same machine without its fault in the same weather, percent.
    """

    place: int
    faults: tuple[str, ...]
    metering: str
    size: float
    sort: str
    severity: float
    charge: float = 0.0
    lost: tuple[float, float] = (0.0, 0.0)

    @property
    def fault(self) -> str:
        """The fault, or the first of a pair."""
        return self.faults[0]

    @property
    def counted(self) -> frozenset[str]:
        """The faults as they are counted."""
        return frozenset(merged(fault) for fault in self.faults)

    @property
    def healthy(self) -> bool:
        """Nothing is wrong."""
        return self.faults == (NOTHING_WRONG,)


@dataclass(frozen=True, slots=True)
class RankedAnswer:
    """What somebody (the rules, a yardstick) says to one visit.

    ranked: faults as they are counted with their shares, best first; empty where none is ranked. firm: those of them
    called strong or fair. verdict: on the charge. also: second faults that are named. ranks: whether it ranks at all.
    amount: how far the charge is said to be off, percent; its far end is infinite where only "at least" is said. costs:
    cooling and efficiency said to be lost, percent. None where nothing is said.
    """

    ranked: tuple[tuple[str, float], ...]
    firm: frozenset[str]
    verdict: str
    also: tuple[str, ...] = ()
    ranks: bool = True
    amount: tuple[float, float] | None = None
    costs: tuple[tuple[int, int] | None, tuple[int, int] | None] = (None, None)

    @property
    def order(self) -> tuple[str, ...]:
        """The faults, best first."""
        return tuple(fault for fault, _ in self.ranked)

    @property
    def first(self) -> str | None:
        """The fault in first place; None where none is ranked."""
        return self.ranked[0][0] if self.ranked else None


@dataclass(frozen=True, slots=True)
class Answered:
    """A visit with its answer. shows: the fault moves at least one quantity by more than its uncertainty."""

    truth: Truth
    shows: bool
    answer: RankedAnswer


@dataclass(frozen=True, slots=True)
class Rate:
    """A count out of a number of cases, with its uncertainty."""

    count: int
    of: int

    @property
    def share(self) -> float | None:
        """From 0 to 1; None where there was no case."""
        return self.count / self.of if self.of else None

    @property
    def interval(self) -> tuple[float, float]:
        """Two-sigma limits of the share behind it."""
        return wilson(self.count, self.of)

    @property
    def margin(self) -> float:
        """±: the further of the two limits."""
        low, high = self.interval
        share = self.share
        return 1.0 if share is None else max(share - low, high - share)

    def __str__(self) -> str:
        share = self.share
        return "-" if share is None else f"{share:.2f} ±{self.margin:.2f}"


def wilson(count: float, of: float, z: float = COVERAGE) -> tuple[float, float]:
    """Limits of a share from a count (Wilson, J. Am. Stat. Assoc. 22, 1927, 209-212); 0 and 1 where there was no case.

    count: also a sum of shares, which counts a doubtful case in part. Unlike plain binomial limits they stay within 0 and 1,
    and no case in ten is not taken for never.
    """
    if of == 0:
        return 0.0, 1.0
    share, more = count / of, z * z / of
    centre = (share + more / 2.0) / (1.0 + more)
    half = z / (1.0 + more) * math.sqrt(share * (1.0 - share) / of + more / (4.0 * of))
    return max(0.0, centre - half), min(1.0, centre + half)


@dataclass(frozen=True, slots=True)
class Score:
    """The figures of one judge on a number of cases; every one says out of how many.

    first, first_two: the true fault in first place, in the first two. no_answer: nothing is ranked.
    false_alarm: of the healthy, another fault first. firm_false_alarm: of the healthy, any fault called strong or fair.
    missed: of the faults that show, nothing-wrong first. misdiagnosis: of all faults, another fault first.
    shows: of all faults, those that move at least one quantity by more than its uncertainty.
    harmful: of all, told to add where charge is not low, or to remove where it is not high. right_charge: of low charge
    and overcharge, the verdict agrees. right_advice: of these and the healthy. undecided: of the same, `do not judge`.
    """

    first: Rate
    first_two: Rate
    no_answer: Rate
    false_alarm: Rate
    firm_false_alarm: Rate
    missed: Rate
    misdiagnosis: Rate
    shows: Rate
    harmful: Rate
    right_charge: Rate
    right_advice: Rate
    undecided: Rate


@dataclass(frozen=True, slots=True)
class ToldBeside:
    """What is told beside the ranking, of machines with one fault or none.

    second_in_vain: of all, a second fault is named that is not there. amount: of machines with their charge off on which a
    range is printed, the truth lies in it. at_least: of these, the range is open. width: mean width of the others, percent
    of the charge. cooling, efficiency: of all for which a cost is printed, what is lost lies in it; a loss below nothing is
    in a range that begins at nothing.
    """

    second_in_vain: Rate
    amount: Rate
    at_least: Rate
    width: float | None
    cooling: Rate
    efficiency: Rate


@dataclass(frozen=True, slots=True)
class Bin:
    """Shares from `low` up to `high`: how many, their mean, how often it was true."""

    low: float
    high: float
    mean: float | None
    true: Rate

    @property
    def off(self) -> float | None:
        """Mean share less how often it was true; positive is too sure of itself."""
        share = self.true.share
        return None if self.mean is None or share is None else self.mean - share

    @property
    def bad(self) -> bool:
        """Enough cases, and further than allowed from the diagonal."""
        return self.off is not None and self.true.of >= FEWEST and abs(self.off) > FURTHEST


@dataclass(frozen=True, slots=True)
class Confusion:
    """One wrong pair, how often on each metering device. first: the fault in first place; None where none was ranked."""

    truth: str
    first: str | None
    by_metering: Mapping[str, int]

    @property
    def count(self) -> int:
        """How often altogether."""
        return sum(self.by_metering.values())


@dataclass(frozen=True, slots=True)
class Detail:
    """All figures of the rules with one set of readings.

    by_fault: fault -> metering device -> figures. by_size: fault -> mild, middle, severe -> figures (thirds by size, each
    within its own kind of machine and damage). reliability_first: shares of the fault in first place;
    reliability_all: shares of every fault. confusions: the commonest wrong pairs, commonest first.
    """

    score: Score
    told: ToldBeside
    by_fault: Mapping[str, Mapping[str, Score]]
    by_size: Mapping[str, Mapping[str, Score]]
    reliability_first: tuple[Bin, ...]
    reliability_all: tuple[Bin, ...]
    confusions: tuple[Confusion, ...]


@dataclass(frozen=True, slots=True)
class Measurement:
    """One set of readings.

    protocol: the charge-only protocol, floor. off_chart: how often the chart has no figure and its nearest one was used.
    right_on_chart: the rules' right advice on low charge and overcharge where the chart has a figure; elsewhere the
    protocol forbids a verdict, and the rules give none.
    classifier: the trained yardstick, ceiling; None where it was not trained. at_home: one trained on the unseen
    families themselves, the best that is possible there; None elsewhere. with_baseline: None unless asked for.
    """

    name: str
    readings: tuple[str, ...]
    rules: Detail
    with_baseline: Detail | None
    protocol: Score
    off_chart: Rate
    right_on_chart: Rate
    classifier: Score | None
    classifier_with_baseline: Score | None
    at_home: Score | None
    at_home_with_baseline: Score | None


@dataclass(frozen=True, slots=True)
class PairsMeasured:
    """Two faults at once. both_named: both among the first place and the second faults that the result names; both_told: so,
    or in the first two places."""

    name: str
    one_first: Rate
    both_first_two: Rate
    both_named: Rate
    both_told: Rate
    no_answer: Rate
    harmful: Rate


@dataclass(frozen=True, slots=True)
class SlipMeasured:
    """One slip with one set of readings: how often it is named, and how often it is named though nobody slipped."""

    name: str
    slip: str
    named: Rate
    false: Rate


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Everything one run measured.

    families, mode: which machines, and what they do. trained: cases the classifier learnt from; classifier_note: why it is
    missing.
    """

    seed: int
    cases: int
    trained: int
    rulebook: str
    matcher: str
    measured: tuple[Measurement, ...]
    pairs: tuple[PairsMeasured, ...]
    pairs_with_baseline: tuple[PairsMeasured, ...]
    slips: tuple[SlipMeasured, ...]
    classifier_note: str
    families: Families
    mode: Mode = "cooling"

    def to_dict(self) -> dict[str, Any]:
        """All figures, ready for JSON. A rate is {count, of, share, low, high}, the last two its two-sigma limits."""
        found: dict[str, Any] = {"format": 1, **_plain(self)}
        return found


_WORKED_OUT: Mapping[type, tuple[str, ...]] = {Bin: ("off", "bad"), Confusion: ("count",)}


def _plain(value: Any) -> Any:
    if isinstance(value, Rate):
        low, high = value.interval
        return {
            "count": value.count, "of": value.of, "share": _plain(value.share), "low": _plain(low), "high": _plain(high),
        }  # fmt: skip
    if is_dataclass(value):
        names = [f.name for f in fields(value)] + list(_WORKED_OUT.get(type(value), ()))
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return round(value, 5) if isinstance(value, float) else value
