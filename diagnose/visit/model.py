"""The values a visit is made of. All frozen, all SI; a gauge pressure stays one until the station pressure is added."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from diagnose.properties import Refrigerant
from diagnose.units import System
from diagnose.visit.fields import AT_REST, READINGS, Field
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.reason import Reason
from diagnose.yamlfile import Problem


class Reading(NamedTuple):
    """One measured value.

    value: SI (K, Pa, m³/s, A, 1); above the station pressure where `gauge`. error: limit of error, SI, 95 of 100.
    unit: as the technician wrote it. own: its line of the table of fields, where a company has added it.
    """

    name: str
    value: float
    error: float
    unit: str
    gauge: bool = False
    own: Field | None = None

    @property
    def field(self) -> Field:
        """Its line of the table of fields."""
        return self.own if self.own is not None else READINGS[self.name]


class Round(NamedTuple):
    """Readings taken together, `minutes` after the machine was started (None: nobody noted it).

    defrosted: minutes since the last defrost ended, in heating; None where nobody heard one.
    """

    minutes: float | None
    readings: Mapping[str, Reading]
    defrosted: float | None = None

    @property
    def lacks_minutes(self) -> bool:
        """Whether nobody noted how long the machine had run, and a reading was taken of it while it did."""
        return self.minutes is None and not self.readings.keys() <= AT_REST


class LineSet(NamedTuple):
    """The lines between the units, as `visit/fields.py` lists them; m, kg, kg/m. None where the visit does not say.

    liquid_line, suction_line, included_liquid_line: outside diameters. lift: negative where the indoor unit stands lower.
    """

    liquid_line: float
    length: float
    included: float | None = None
    included_liquid_line: float | None = None
    suction_line: float | None = None
    suction_length: float | None = None
    allowance: float | None = None
    indoor_coil: float | None = None
    drier: float | None = None
    lift: float | None = None


class Machine(NamedTuple):
    """What the machine is. None where the visit does not say."""

    name: str = "unnamed machine"
    mode: str | None = None
    refrigerant: Refrigerant | None = None
    metering: str | None = None
    facts: Mapping[str, float] = {}  # nominal capacity, SEER … in SI
    words: Mapping[str, str] = {}  # kind, compressor, running at …
    line_set: LineSet | None = None
    station_pressure: float = 101325.0
    station_error: float = 3000.0
    station_from: Literal["measured", "altitude", "assumed"] = "assumed"

    def fact(self, name: str) -> float | None:
        """The machine fact in SI, or None."""
        return self.facts.get(name)


class StartUp(NamedTuple):
    """What was done and measured when the machine was first started, as `start_up_fields.py` lists it.

    figures, words: group -> line -> what was read (SI) or seen. rows: of `vacuum` (s, Pa absolute) and `blower table` (Pa,
    m³/s), the pairs of figures in their order. told: what the customer was told.
    """

    figures: Mapping[str, Mapping[str, Reading]] = {}
    words: Mapping[str, Mapping[str, str]] = {}
    rows: Mapping[str, tuple[tuple[Reading, Reading], ...]] = {}
    told: tuple[str, ...] = ()

    def of(self, group: str) -> Mapping[str, Reading]:
        """The figures of one group; empty where there are none."""
        return self.figures.get(group, {})

    def looks(self, group: str) -> Mapping[str, str]:
        """The words of one group."""
        return self.words.get(group, {})

    def pairs(self, group: str) -> tuple[tuple[Reading, Reading], ...]:
        """The rows of one group."""
        return self.rows.get(group, ())


@dataclass(frozen=True, slots=True)
class Visit:
    """One look at one machine.

    rounds: at least one, in the order of their minutes; the last is the one judged. seen: what was looked at, in
    words. baseline: the same machine when it was right. notes: what had to be assumed. remarks: complaint, date, technician,
    notes, done, as they were written; kept and printed, never judged. start_up: where this visit is the machine's first.
    weighed: refrigerant `added` and `recovered`, kg. own: what the company whose rules it was read with has added.
    left_out: lines that only rules know which cannot be used now.
    """

    machine: Machine
    rounds: tuple[Round, ...]
    seen: Mapping[str, str]
    baseline: Visit | None
    notes: tuple[Reason, ...]
    system: System
    document: str = ""
    seen_at: Mapping[str, Problem] = field(default_factory=dict)  # where each thing seen is written, for messages
    remarks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    start_up: StartUp | None = None
    weighed: Mapping[str, float] = field(default_factory=dict)
    own: Own = NOTHING_OWN
    left_out: tuple[str, ...] = ()

    @classmethod
    def parse(cls, source: Mapping[str, object] | str | os.PathLike[str], own: Own = NOTHING_OWN) -> Visit:
        """The visit in a mapping laid out as a visit file, or in the file at a path (`-`: standard input).

        A case file will do: the visit in it is meant. Raises VisitError, with every problem and how to mend it, and nothing
        else, whatever is given. own: the lines that a rule book adds (`rules.own`).
        """
        from diagnose.visit.reading import read_visit, visit_from

        return visit_from(source, own=own) if isinstance(source, Mapping) else read_visit(source, own)

    def __repr__(self) -> str:
        machine = self.machine
        name = machine.name if len(machine.name) <= 40 else machine.name[:37] + "..."
        facts = (machine.refrigerant.name if machine.refrigerant else None, machine.metering, machine.mode)
        count = len(self.last.readings)
        told = [repr(name), *(fact for fact in facts if fact), f"{count} reading{'s' if count != 1 else ''}"]
        if len(self.rounds) > 1:
            told.append(f"{len(self.rounds)} rounds")
        return f"<Visit {', '.join(told)}>"

    @property
    def last(self) -> Round:
        """The round that is judged."""
        return self.rounds[-1]


def machine_key(name: str) -> str:
    """By which a machine is known: spaces, capitals and ways to write an accent make no difference."""
    return " ".join(unicodedata.normalize("NFC", name).split()).casefold()
