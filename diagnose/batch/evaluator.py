"""Many visits examined at once, over columns: equal to `examine` on every one of them.

What cannot be done in columns (several rounds, a baseline, a start-up, a scale), and kinds of machines of which there are
few, are done by `examine`, row by row, and counted (`Outcome.by_row`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.batch.columnwise.charging import VERDICTS
from diagnose.batch.columnwise.codes import Coded, Lexicon, Listed, Pile
from diagnose.batch.columnwise.examining import ExaminedRows, examined
from diagnose.batch.columnwise.judging import DIAGNOSED, STATUSES, MachineKind
from diagnose.batch.columnwise.table import GivenColumn, VisitTable, of_table, of_visits
from diagnose.diagnosis.charge import confirmed_by
from diagnose.diagnosis.findings import seen_problems
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import NO_VERDICT, ChargeVerdict
from diagnose.report.sentences import problems
from diagnose.rulebook import Rulebook, load_rules
from diagnose.visit import Visit, VisitError

CHUNK = 65536
"""Rows of one kind worked out together: what a call costs is spread over many, and memory stays small."""
FEW = 16
"""Rows of one kind of machine in a call from which columns are quicker; fewer are done by `examine`."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of each row, SI, and its standard deviation; nan where it is not there. kind: see `units.Kind`."""

    value: NDArray[np.float64]
    sigma: NDArray[np.float64]
    kind: str


@dataclass(frozen=True, slots=True)
class TableOutcome:
    """What came of n visits, row by row.

    faults: of the book, in its order. status; fault, second, share: the leader, the second fault, the leader's share. shares,
    scores (points): (n, faults), nan where nothing is ranked and for what such a machine cannot have. charge_verdict,
    charge_code: the verdict and its first reason; charge_check: on which a charge that is off hangs. estimate_low,
    estimate_high: how far the charge is off, percent; at_least: only the near end is meant. dangers, cautions, problems: codes
    in their order; held: why nothing is ranked. by_row: how many rows were examined one by one.
    """

    n: int
    faults: tuple[str, ...]
    status: Coded
    fault: Coded
    second: Coded
    share: NDArray[np.float64]
    shares: NDArray[np.float64]
    scores: NDArray[np.float64]
    charge_verdict: Coded
    charge_code: Coded
    charge_check: Coded
    estimate_low: NDArray[np.float64]
    estimate_high: NDArray[np.float64]
    at_least: NDArray[np.bool_]
    dangers: Listed
    cautions: Listed
    problems: Listed
    held: Listed
    quantities: Mapping[str, Quantity]
    by_row: int

    def row(self, i: int) -> dict[str, Any]:
        """One row in plain values; lists of codes as tuples, quantities by name as (value, sigma)."""
        low, high = float(self.estimate_low[i]), float(self.estimate_high[i])

        def by_fault(figures: NDArray[np.float64]) -> dict[str, float]:
            return {fault: float(x) for fault, x in zip(self.faults, figures[i], strict=True) if math.isfinite(x)}

        quantities = {name: (float(q.value[i]), float(q.sigma[i])) for name, q in self.quantities.items()}
        return {
            "status": self.status.of(i),
            "fault": self.fault.of(i),
            "share": float(self.share[i]) if math.isfinite(self.share[i]) else None,
            "second": self.second.of(i),
            "charge verdict": self.charge_verdict.of(i),
            "charge code": self.charge_code.of(i),
            "charge check": self.charge_check.of(i),
            "estimate": None if math.isnan(low) else (round(low), round(high)),
            "at least": bool(self.at_least[i]),
            "shares": by_fault(self.shares),
            "scores": by_fault(self.scores),
            **{name: getattr(self, name).of(i) for name in ("dangers", "cautions", "problems", "held")},
            "quantities": {name: both for name, both in quantities.items() if math.isfinite(both[0])},
        }

    def rows(self) -> list[dict[str, Any]]:
        """All rows; see `row`."""
        return [self.row(i) for i in range(self.n)]


def examine_vectors(
    columns: Mapping[str, GivenColumn],
    rules: Rulebook | None = None,
    *,
    units: Mapping[str, str] = {},
    absolute: Collection[str] = (),
    notes: Sequence[str] = (),
    uncertainty: bool = True,
    quantities: Collection[str] | None = None,
) -> TableOutcome:
    """Examine the visits of a table, one a row.

    columns: by the names of visit/fields.py and of the book's own lines, SI, all of one length: readings, `minutes running`
    (minutes), facts of the machine (nan: a gap), `error of READING` (limit of error; else the usual instrument's), words of
    the machine and `seen: THING` (text or None; or numbers, -1 for none, and what they stand for). absolute: pressures that
    do not count from the air; units: of readings as they were written. notes: codes told of every row. uncertainty: False
    takes every instrument as exact. quantities: those that are wanted beside what the book asks for; None: all. Raises
    ValueError for columns that cannot be meant, VisitError where something seen is not known to the book.
    """
    rules = rules if rules is not None else load_rules()
    return _outcome(of_table(columns, units, absolute, notes, rules.own), rules, uncertainty, quantities)


def examine_columns(
    visits: Sequence[Visit], rules: Rulebook | None = None, *, uncertainty: bool = True
) -> TableOutcome:
    """Examine visits, one a row; see `examine_vectors`. Raises VisitError as `examine` does."""
    rules = rules if rules is not None else load_rules()
    return _outcome(of_visits([*visits]), rules, uncertainty, None)


def _outcome(table: VisitTable, rules: Rulebook, uncertainty: bool, quantities: Collection[str] | None) -> TableOutcome:
    _check_seen(table, rules)
    wanted = None if quantities is None else frozenset(quantities) | _asked_for(rules)
    making = _Making(table.n, tuple(rules.faults))
    single = table.in_columns()
    making.alone += np.flatnonzero(~single).tolist()
    with np.errstate(all="ignore"):
        for rows in table.kinds() if table.n else []:
            rows = rows[single[rows]]
            if rows.size < FEW:
                making.alone += rows.tolist()
                continue
            kind = MachineKind.of(table.visit(int(rows[0])).machine, rules)
            for start in range(0, rows.size, CHUNK):
                some = rows[start : start + CHUNK]
                making.take(examined(table, some, kind, wanted, not uncertainty, making.lexicon))
    for row in making.alone:
        visit = table.visit(row)
        making.put(row, examine(visit if uncertainty else without_errors(visit), rules))
    return making.outcome()


def without_errors(visit: Visit) -> Visit:
    """The same visit taken with instruments that have none, and tables that are exact."""
    machine = visit.machine
    gas = None if machine.refrigerant is None else replace(machine.refrigerant, saturation_error=0.0)
    rounds = tuple(
        taken._replace(readings={n: reading._replace(error=0.0) for n, reading in taken.readings.items()})
        for taken in visit.rounds
    )
    return replace(visit, machine=machine._replace(refrigerant=gas, station_error=0.0), rounds=rounds)


def _check_seen(table: VisitTable, rules: Rulebook) -> None:
    for name, column in table.seen.items():
        known = rules.seen.get(name)
        for code, word in enumerate(column.words):
            if known is None or word not in known.words:
                rows = np.flatnonzero(column.codes == code)
                if rows.size:
                    raise VisitError(seen_problems(table.visit(int(rows[0])), rules))


def _asked_for(rules: Rulebook) -> frozenset[str]:
    """The quantities that findings are made of."""
    return frozenset(entry.quantity for entry in rules.findings.values() if entry.quantity is not None) | _BESIDE


_BESIDE = frozenset(
    {
        "superheat", "subcooling", "condensing over ambient", "evaporator temperature difference", "evaporating temperature",
        "condensing temperature", "standing pressure excess", "liquid line approach", "discharge superheat",
        "outdoor coil below outdoor air", "condensing over return air",
    }
)  # fmt: skip
"""Quantities that doubts look at."""


class _Making:
    """An outcome in the making."""

    def __init__(self, n: int, faults: tuple[str, ...]):
        self.n, self.faults, self.lexicon = n, faults, Lexicon()
        self.alone: list[int] = []
        self._place = {fault: i for i, fault in enumerate(faults)}
        self._status, self._fault, self._second, self._verdict, self._code, self._check = np.full(
            (6, n), -1, dtype=np.int16
        )
        self._share, self._low, self._high = np.full((3, n), math.nan)
        self._shares, self._scores = np.full((2, n, len(faults)), math.nan)
        self._at_least = np.zeros(n, dtype=bool)
        self._piles = {name: Pile.empty() for name in ("dangers", "cautions", "problems", "held")}
        self._quantities: dict[str, tuple[Any, Any, str]] = {}

    def take(self, block: ExaminedRows) -> None:
        """What came of rows in columns; those to be done alone are kept for later."""
        self.alone += block.rows[block.alone].tolist()
        fine = ~block.alone
        rows = block.rows[fine]
        scored, charged, second = block.judged.scored, block.judged.charged, block.judged.explained.second[fine]
        places = np.array([self._place[fault] for fault in scored.faults], dtype=np.int16)
        self._status[rows] = block.judged.status[fine]
        leader, ranked = scored.order[0, fine], (block.judged.status == DIAGNOSED)[fine]
        shares, scores = (np.where(ranked, of[:, fine], math.nan) for of in (scored.shares, scored.scores))
        self._fault[rows] = np.where(ranked, places[leader], -1)
        self._second[rows] = np.where(second >= 0, places[second], -1)
        self._shares[np.ix_(rows, places)], self._scores[np.ix_(rows, places)] = shares.T, scores.T
        self._share[rows] = shares[leader, np.arange(rows.size)]
        self._verdict[rows], self._code[rows] = charged.verdict[fine], charged.code.codes[fine]
        self._check[rows] = charged.check.codes[fine]
        self._low[rows], self._high[rows] = charged.low[fine], charged.high[fine]
        self._at_least[rows] = charged.at_least[fine]
        for name, pile in self._piles.items():
            own: Pile = block.judged.held if name == "held" else getattr(block, name)
            if block.alone.any():
                own.without(np.flatnonzero(block.alone), block.rows.size)
            pile.rows += [block.rows[where] for where in own.rows]
            pile.codes += own.codes
        for name, (value, sigma, kind) in block.quantities.items():
            values, sigmas = self._quantity(name, kind)
            values[rows], sigmas[rows] = value[fine], np.where(np.isnan(value[fine]), math.nan, sigma[fine])

    def _quantity(self, name: str, kind: str) -> tuple[Any, Any]:
        if name not in self._quantities:
            self._quantities[name] = np.full(self.n, math.nan), np.full(self.n, math.nan), kind
        return self._quantities[name][:2]

    def put(self, row: int, d: Diagnosis) -> None:
        """What came of one row examined alone."""
        self._status[row] = STATUSES.index(d.status)
        for place in d.faults:
            at = self._place[place.fault]
            self._shares[row, at], self._scores[row, at] = place.share, place.score
        if d.faults:
            self._fault[row], self._share[row] = self._place[d.faults[0].fault], d.faults[0].share
        self._second[row] = self._place[d.also[0]] if d.also else -1
        charge = d.charge
        self._verdict[row] = -1 if charge.verdict == NO_VERDICT else VERDICTS.index(charge.verdict)
        self._code[row] = self.lexicon.number(charge.reasons[0].code) if charge.reasons else -1
        check = confirmed_by(charge, d.rules)
        self._check[row] = -1 if check is None else self.lexicon.number(check)
        if isinstance(charge, ChargeVerdict) and charge.percent is not None:
            self._low[row], self._high[row], self._at_least[row] = *charge.percent, charge.at_least
        told = {
            "dangers": [danger.code for danger in d.dangers],
            "cautions": [rule.id for rule in d.cautions],
            "problems": [reason.code for reason, _ in problems(d)],
            "held": [reason.code for reason in d.held],
        }
        for name, codes in told.items():
            for code in codes:
                self._piles[name].add([row], self.lexicon.number(code))
        for name, e in d.estimates.items():
            values, sigmas = self._quantity(name, str(e.kind))
            values[row], sigmas[row] = e.value, e.sigma

    def outcome(self) -> TableOutcome:
        """All of it."""
        n, words = self.n, self.lexicon.words
        verdicts = np.where(self._verdict < 0, len(VERDICTS), self._verdict).astype(np.int16)
        return TableOutcome(
            n=n,
            faults=self.faults,
            status=Coded(self._status, STATUSES),
            fault=Coded(self._fault, self.faults),
            second=Coded(self._second, self.faults),
            share=self._share,
            shares=self._shares,
            scores=self._scores,
            charge_verdict=Coded(verdicts, (*VERDICTS, NO_VERDICT)),
            charge_code=Coded(self._code, words),
            charge_check=Coded(self._check, words),
            estimate_low=self._low,
            estimate_high=self._high,
            at_least=self._at_least,
            quantities={name: Quantity(*each) for name, each in self._quantities.items()},
            by_row=len(self.alone),
            **{name: pile.listed(n, words) for name, pile in self._piles.items()},
        )


assert DIAGNOSED == 0
