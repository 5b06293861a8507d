"""Many visits as columns, and back: each row is one visit of one round. SI, pressures as they were read, gauge or absolute."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.properties import REFRIGERANTS, refrigerant, standard_pressure
from diagnose.quantities.uncertainty import INSTEAD
from diagnose.rulebook.facts import STAGED_SEER, machine_facts, small_charge
from diagnose.visit import DEFROSTED, MINUTES, READINGS, Machine, Reading, Round, System, Visit
from diagnose.visit.fields import (
    CHOICES,
    INSTRUMENTS,
    MACHINE,
    MACHINE_WORDS,
    METERING_DEVICE,
    STATION_ERROR,
    THIS_DAY,
    Field,
)
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.reason import Reason

Numbers = NDArray[np.float64]
GivenColumn = Sequence[Any] | NDArray[Any] | tuple[NDArray[Any], Sequence[str]]
"""Figures; or words, one a row (None: a gap), or their numbers (-1: a gap) and what each number stands for."""
ERROR_OF = "error of "
SEEN = "seen: "
_STATIONS = ("measured", "altitude", "assumed")
_PLATE = ("rated subcooling", "rated heating subcooling", "rated superheat", "rated current")
"""Facts of which the origin of an expected value, or of a doubt, hangs on whether they are there."""


@dataclass(frozen=True, slots=True)
class Worded:
    """A column of words. codes: -1 for a gap."""

    codes: NDArray[np.int64]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VisitTable:
    """n visits. errors: limits of error of readings; gauge: pressures that count from the air, by name of the reading.

    station_from: numbers in `_STATIONS`; lines: of which sort the line set is, 0 where none is known; notes: codes that hold
    for every row; visits: as they were given, where they were. own: the lines that a company has added.
    """

    n: int
    readings: Mapping[str, Numbers]
    errors: Mapping[str, Numbers]
    gauge: Mapping[str, NDArray[np.bool_]]
    units: Mapping[str, str | NDArray[np.object_]]
    minutes: Numbers
    defrosted: Numbers
    facts: Mapping[str, Numbers]
    words: Mapping[str, Worded]
    seen: Mapping[str, Worded]
    station: Numbers
    station_error: Numbers
    station_from: NDArray[np.int8]
    lines: NDArray[np.int64]
    notes: tuple[str, ...] = ()
    visits: Sequence[Visit] = field(default=(), repr=False)
    own: Own = NOTHING_OWN

    def visit(self, row: int) -> Visit:
        """One row as a visit."""
        if self.visits:
            return self.visits[row]
        found = {
            name: self.words[name].words[code] for name in self.words if (code := self.words[name].codes[row]) >= 0
        }
        added = {one.name: one for one in self.own.readings}
        readings = {
            name: Reading(
                name,
                float(column[row]),
                float(self.errors[name][row]),
                str(self._unit(name, row)),
                bool(self.gauge[name][row]),
                added.get(name),
            )
            for name, column in self.readings.items()
            if math.isfinite(column[row])
        }
        machine = Machine(
            name=found.pop("name", Machine().name),
            mode=found.pop("mode", None),
            refrigerant=refrigerant(gas) if (gas := found.pop("refrigerant", None)) else None,
            metering=found.pop("metering", None),
            facts={name: float(column[row]) for name, column in self.facts.items() if math.isfinite(column[row])},
            words=found,
            station_pressure=float(self.station[row]),
            station_error=float(self.station_error[row]),
            station_from=_STATIONS[self.station_from[row]],
        )
        minutes, defrosted = (float(c[row]) if math.isfinite(c[row]) else None for c in (self.minutes, self.defrosted))
        seen = {name: column.words[code] for name, column in self.seen.items() if (code := column.codes[row]) >= 0}
        notes = tuple(Reason(code) for code in self.notes)
        system: System = "us"
        return Visit(machine, (Round(minutes, readings, defrosted),), seen, None, notes, system, own=self.own)

    def in_columns(self) -> NDArray[np.bool_]:
        """The rows that hold nothing but what columns are for."""
        rows = np.ones(self.n, dtype=bool)
        for name in THIS_DAY:
            if name in self.facts:
                rows &= ~np.isfinite(self.facts[name])
        for row, visit in enumerate(self.visits):
            rows[row] &= len(visit.rounds) == 1 and visit.baseline is None and visit.start_up is None
            rows[row] &= visit.own == self.own
        return rows

    def kinds(self) -> list[NDArray[np.int64]]:
        """The rows of each kind of machine: those for which the same rules, limits and expected values are asked."""
        parts: list[Any] = [worded.codes + 1 for name, worded in self.words.items() if name != "name"]
        parts += [np.isfinite(self.facts[name]) for name in _PLATE if name in self.facts]
        for name, counted in self.gauge.items():
            taken = np.isfinite(self.readings[name])
            if 0 < np.count_nonzero(counted & taken) < np.count_nonzero(taken):
                parts.append(counted | ~taken)
        parts.append(self.lines)
        parts.append(small_charge(self._fact("factory charge"), self._fact("nominal capacity")))
        parts.append(self._fact("SEER") >= STAGED_SEER)
        both = [line for gauge, line in INSTEAD.items() if gauge in self.readings and line in self.readings]
        parts += [np.isfinite(self.readings[line]) for line in both]
        key = np.zeros(self.n, dtype=np.int64)
        for more in parts:
            key = _with(key, more)
        _, numbers = np.unique(key, return_inverse=True)
        order = np.argsort(numbers, kind="stable")
        return np.split(order, np.flatnonzero(np.diff(numbers[order])) + 1)

    def _fact(self, name: str) -> Numbers:
        return self.facts.get(name, np.full(self.n, math.nan))

    def _unit(self, name: str, rows: Any) -> Any:
        """In which unit a reading was written; where that differs, row by row."""
        unit = self.units.get(name, "")
        return unit if isinstance(unit, str) else unit[rows]

    def of_columns(self, rows: NDArray[np.int64]) -> Visit:
        """Some rows of one kind as a visit of columns; what none of them has is left out."""
        first = int(rows[0])
        words = {n: w.words[code] for n, w in self.words.items() if n != "name" and (code := w.codes[first]) >= 0}
        readings = {}
        added = {one.name: one for one in self.own.readings}
        # In one order, whatever that of the columns is: so sums of them come out the same, bit for bit.
        for name in (*READINGS, *added):
            values = self.readings[name][rows] if name in self.readings else np.zeros(0)
            if np.isfinite(values).any():
                errors = self.errors[name][rows]
                unit = self._unit(name, rows)
                gauge = bool((self.gauge[name][rows] & np.isfinite(values)).any())
                readings[name] = Reading(name, values, errors, unit, gauge, added.get(name))
        sizes = (*MACHINE, *(one.name for one in self.own.sizes))
        facts = {name: self.facts[name][rows] for name in sizes if name in self.facts}
        facts = {name: values for name, values in facts.items() if np.isfinite(values).any()}
        machine = Machine(
            mode=words.pop("mode", None),
            refrigerant=refrigerant(gas) if (gas := words.pop("refrigerant", None)) else None,
            metering=words.pop("metering", None),
            facts=facts,
            words=words,
            line_set=self.visits[first].machine.line_set if self.visits else None,
            station_pressure=self.station[rows],
            station_error=self.station_error[rows],
        )
        minutes, defrosted = (c[rows] if np.isfinite(c[rows]).any() else None for c in (self.minutes, self.defrosted))
        return Visit(machine, (Round(minutes, readings, defrosted),), {}, None, (), "us", own=self.own)

    def seen_rows(self, rows: NDArray[np.int64]) -> dict[str, dict[str, NDArray[np.bool_]]]:
        """What was seen in those rows: finding -> word -> in which of them."""
        found: dict[str, dict[str, NDArray[np.bool_]]] = {}
        for name, column in self.seen.items():
            codes = column.codes[rows]
            for code in np.unique(codes[codes >= 0]):
                found.setdefault(name, {})[column.words[code]] = codes == code
        return found


def _with(key: NDArray[np.int64], more: Any) -> NDArray[np.int64]:
    """The key of a row with one more thing in it, as small as it can be."""
    more = np.asarray(more, dtype=np.int64)
    most = int(more.max(initial=0)) + 1
    if most == 1:
        return key
    if int(key.max(initial=0)) > 2**40:
        key = np.unique(key, return_inverse=True)[1].astype(np.int64)
    return key * most + more


def of_table(
    columns: Mapping[str, GivenColumn],
    units: Mapping[str, str],
    absolute: Collection[str],
    notes: Sequence[str],
    own: Own,
) -> VisitTable:
    """A table from its columns, by the names of visit/fields.py and of what a company has added. Raises ValueError for columns
    that cannot be meant.
    """
    lengths = {name: len(column[0]) if isinstance(column, tuple) else len(column) for name, column in columns.items()}
    n = next(iter(lengths.values()), 0)
    if odd := [name for name, length in lengths.items() if length != n]:
        raise ValueError(f"the columns are of different lengths: {n} rows, but {lengths[odd[0]]} of `{odd[0]}`")
    readings, errors, gauge, facts = {}, {}, {}, {}
    words: dict[str, Worded] = {}
    seen: dict[str, Worded] = {}
    times = {MINUTES: np.full(n, math.nan), DEFROSTED: np.full(n, math.nan)}
    known_readings = READINGS | {one.name: one for one in own.readings}
    sizes = MACHINE.keys() | {one.name for one in own.sizes}
    choices = CHOICES | {one.name: one.choices for one in own.words}
    for name, column in columns.items():
        if name in times:
            times[name] = _numbers(column)
        elif name in known_readings:
            one = known_readings[name]
            readings[name] = _numbers(column)
            gauge[name] = np.full(n, one.kind == "pressure" and name not in absolute)
            errors[name] = _errors(one, readings[name], columns.get(ERROR_OF + name))
        elif name in sizes:
            facts[name] = _numbers(column)
        elif name in (*MACHINE_WORDS, METERING_DEVICE) or name in choices:
            words[name] = _known(name, _words(column), choices)
        elif name.startswith(SEEN):
            seen[name.removeprefix(SEEN)] = _known(name, _words(column), choices)
        elif not (name.startswith(ERROR_OF) and name.removeprefix(ERROR_OF) in known_readings):
            raise ValueError(f"`{name}` is no line of a visit that a column can hold")
    read = facts.pop("station pressure", np.full(n, math.nan))
    altitude = facts.get("altitude", np.full(n, math.nan))
    known = np.isfinite(altitude)
    likely = standard_pressure(np.where(known, altitude, 0.0))
    origin = np.where(np.isfinite(read), 0, np.where(known, 1, 2)).astype(np.int8)
    error = np.array([STATION_ERROR[each] for each in _STATIONS])[origin]
    station = np.where(np.isfinite(read), read, likely)
    return VisitTable(
        n, readings, errors, gauge, units, times[MINUTES], times[DEFROSTED], facts, words, seen, station, error, origin,
        np.zeros(n, dtype=np.int64), tuple(notes), own=own
    )  # fmt: skip


def _numbers(column: Any) -> Numbers:
    return np.array(
        [math.nan if v is None else v for v in column] if isinstance(column, (list, tuple)) else column, dtype=float
    )


def _errors(one: Field, values: Numbers, given: Any) -> Numbers:
    """Limits of error: those given, else what the instrument usually has; see `rounds._reading`."""
    limit = one.default or INSTRUMENTS[one.instrument]
    usual: Numbers = limit.error(values)  # type: ignore[assignment]
    if given is None:
        return usual
    told = _numbers(given)
    return np.where(np.isfinite(told), told, np.where(np.isfinite(values), usual, math.nan))


def _words(column: Any) -> Worded:
    if isinstance(column, tuple) and len(column) == 2 and not isinstance(column[0], str):
        return Worded(np.asarray(column[0], dtype=np.int64), tuple(column[1]))
    numbers: dict[str, int] = {}
    codes = [-1 if word is None else numbers.setdefault(str(word), len(numbers)) for word in column]
    return Worded(np.array(codes, dtype=np.int64), tuple(numbers))


def _known(name: str, worded: Worded, known: Mapping[str, tuple[str, ...]]) -> Worded:
    """The same. Raises ValueError for words that a machine does not have under such a name, as it has them."""
    if worded.codes.size and not -1 <= worded.codes.min() <= worded.codes.max() < len(worded.words):
        raise ValueError(f"the numbers of `{name}` must be those of its {len(worded.words)} words, or -1 for a gap")
    choices = REFRIGERANTS if name == "refrigerant" else known.get(name, worded.words)
    for code in np.unique(worded.codes[worded.codes >= 0]).tolist():
        if worded.words[code] not in choices:
            raise ValueError(f"`{name}` must be one of {', '.join(choices)}, not {worded.words[code]!r}")
    return worded


def of_visits(visits: Sequence[Visit]) -> VisitTable:
    """Visits of one round each as a table."""
    n = len(visits)

    def column(dtype: Any = float, fill: Any = math.nan) -> Any:
        return np.full(n, fill, dtype=dtype)

    readings, errors, facts = (defaultdict[str, Numbers](column) for _ in range(3))
    gauge = defaultdict[str, NDArray[np.bool_]](lambda: column(bool, False))
    units = defaultdict[str, NDArray[np.object_]](lambda: column(object, ""))
    words, seen = (defaultdict[str, list[str | None]](lambda: [None] * n) for _ in range(2))
    minutes, defrosted, station, station_error = (column() for _ in range(4))
    origin, lines = column(np.int8, 0), column(np.int64, 0)
    for row, visit in enumerate(visits):
        machine, last = visit.machine, visit.last
        for name, reading in last.readings.items():
            readings[name][row], errors[name][row], gauge[name][row] = reading.value, reading.error, reading.gauge
            units[name][row] = reading.unit
        for name, figure in machine.facts.items():
            facts[name][row] = figure
        gas = machine.refrigerant.name if machine.refrigerant else None
        own = {"mode": machine.mode, "refrigerant": gas, "metering": machine.metering}
        for name, word in (*own.items(), *machine.words.items()):
            words[name][row] = word
        for name, word in visit.seen.items():
            seen[name][row] = word
        minutes[row] = math.nan if last.minutes is None else last.minutes
        defrosted[row] = math.nan if last.defrosted is None else last.defrosted
        station[row], station_error[row] = machine.station_pressure, machine.station_error
        origin[row] = _STATIONS.index(machine.station_from)
        if machine.line_set is not None:
            lines[row] = 1 + (machine_facts(machine)["lines"] == "long")
    return VisitTable(
        n, dict(readings), dict(errors), dict(gauge), dict(units), minutes, defrosted, dict(facts),
        {name: _words(c) for name, c in words.items()}, {name: _words(c) for name, c in seen.items()}, station, station_error,
        origin, lines, (), visits, visits[0].own if visits else NOTHING_OWN,
    )  # fmt: skip
