"""The values of a log: its columns over time, what happened, the stretches and what is said of each. All frozen, SI, s."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from diagnose.diagnosis.dangers import Danger
from diagnose.diagnosis.record import Diagnosis
from diagnose.units.table import Kind, Unit
from diagnose.visit import Machine
from diagnose.visit.reason import Reason

STATION = 101325.0
"""Pa; of the air at sea level, between a gauge pressure and an absolute one where they are only compared."""


@dataclass(frozen=True, slots=True)
class Log:
    """A log. times: s by its own clock, rising; values: reading -> SI, nan where missing, pressures as a gauge shows them;
    switches: 1, 0 or nan; words: machine facts that may change, by record. pieces: from and to (not included), within which
    nothing breaks off; units: unit of each reading in each piece. step: usual s between records. facts: what its columns say
    of the machine. kinds: of each reading.
    """

    name: str
    times: tuple[float, ...]
    values: Mapping[str, tuple[float, ...]]
    switches: Mapping[str, tuple[float, ...]]
    words: Mapping[str, tuple[str, ...]]
    pieces: tuple[tuple[int, int], ...]
    units: tuple[Mapping[str, Unit], ...]
    step: float
    facts: Mapping[str, str]
    notes: tuple[Reason, ...]
    kinds: Mapping[str, Kind]

    def piece_of(self, at: int) -> int:
        """In which piece a record lies."""
        return bisect_right([begin for begin, _ in self.pieces], at) - 1


def number_in(unit: Unit, kind: Kind, value: float) -> float:
    """The number to write in this unit for a value of a log."""
    return (value + (STATION if kind == "pressure" and not unit.gauge else 0.0)) / unit.scale - unit.offset


EventKind = Literal["defrost", "short cycling", "hunting", "unsettled"]
SwitchedBy = Literal["switch", "compressor current", "electric power", "pressures", "air temperature split", "nothing"]
StretchKind = Literal["steady", "hunting"]


@dataclass(frozen=True, slots=True)
class RunningSpell:
    """The compressor running without a stop within one piece: records from begin to end (not included). started, stopped:
    whether the log shows its start and its stop; otherwise it ran already, or on, where the piece breaks off.
    """

    begin: int
    end: int
    started: bool
    stopped: bool


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened, from and to, s by the log's clock; figures: of its sentence."""

    kind: EventKind
    begin: float
    end: float
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Records from begin to end (not included) of one spell that make one visit. minutes: running at its end; at_least: it ran
    already when the piece began. defrosted: minutes since a defrost ended, in heating.
    """

    kind: StretchKind
    begin: int
    end: int
    minutes: float
    at_least: bool
    defrosted: float | None = None


@dataclass(frozen=True, slots=True)
class ExaminedStretch:
    """A stretch with its diagnosis. begin, end: s."""

    stretch: Stretch
    begin: float
    end: float
    diagnosis: Diagnosis


@dataclass(frozen=True, slots=True)
class SeenDanger:
    """A danger with when it was worst, s, and the diagnosis of that moment, by which it is told."""

    danger: Danger
    at: float
    diagnosis: Diagnosis


@dataclass(frozen=True, slots=True)
class ExaminedLog:
    """All that a log says. by: what shows whether it runs. notes: what is odd about the file, or could not be found in it."""

    log: Log
    machine: Machine
    by: SwitchedBy
    spells: tuple[RunningSpell, ...]
    events: tuple[Event, ...]
    stretches: tuple[ExaminedStretch, ...]
    dangers: tuple[SeenDanger, ...]
    notes: tuple[Reason, ...]
