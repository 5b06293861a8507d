"""Rows of one kind of machine examined at once: the table of contents of this evaluator, as `pipeline.py` is of the first."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from diagnose.batch.columnwise.charging import NONE, RIGHT, charged
from diagnose.batch.columnwise.codes import Lexicon, Pile
from diagnose.batch.columnwise.endangered import Endangered, endangered, meaningless, standing
from diagnose.batch.columnwise.estimating import Estimated
from diagnose.batch.columnwise.explaining import Weighed, explained
from diagnose.batch.columnwise.judging import DIAGNOSED, Judged, MachineKind, Rows, judge
from diagnose.batch.columnwise.layering import acting, expecting, layered
from diagnose.batch.columnwise.matching import Fired, fired, scored
from diagnose.batch.columnwise.table import VisitTable
from diagnose.diagnosis.dangers import RUNNING
from diagnose.diagnosis.pipeline import IN_HEATING_ONLY, ON_THE_GAUGE
from diagnose.quantities.plausibility import Doubt, doubts, doubts_of_any_machine
from diagnose.quantities.plausibility.columnwise import rows_of
from diagnose.quantities.uncertainty import Estimate
from diagnose.visit import HEATING, Visit
from diagnose.visit.fields import AT_REST

ToldQuantities = dict[str, tuple[Any, Any, str]]
"""Quantity -> its value and sigma in each row, and its kind."""


@dataclass(slots=True)
class ExaminedRows:
    """What came of some rows of a table: `rows` their numbers there, everything else in their order.

    alone: those that must be examined one by one, of which nothing here holds.
    """

    rows: Any
    judged: Judged
    dangers: Pile
    cautions: Pile
    problems: Pile
    quantities: ToldQuantities
    alone: Any


def examined(
    table: VisitTable, rows: Any, kind: MachineKind, wanted: Collection[str] | None, exact: bool, lexicon: Lexicon
) -> ExaminedRows:
    """Rows of one kind; see `Rows`."""
    visit = _without_errors(table.of_columns(rows)) if exact else table.of_columns(rows)
    return _Examining(Rows(visit, rows.size, table.seen_rows(rows), kind, wanted, exact, lexicon)).block(table, rows)


def _by_row(doubt: Doubt, n: int) -> Doubt:
    """The doubt with figures in every row."""
    weight, start = (np.nan_to_num(np.broadcast_to(np.asarray(x, dtype=float), n)) for x in (doubt.weight, doubt.start))
    return doubt._replace(weight=weight, start=start)


def _without_errors(visit: Visit) -> Visit:
    last = visit.last
    exact = {name: reading._replace(error=0.0 * reading.error) for name, reading in last.readings.items()}
    machine = visit.machine._replace(station_error=0.0 * visit.machine.station_error)
    return replace(visit, machine=machine, rounds=(last._replace(readings=exact),))


class _Examining:
    """Rows on their way. found, words, matched: of all readings as they were read; judged, quantities: put right afterwards of
    rows in which something is doubted, or that lie outside.
    """

    def __init__(self, whole: Rows) -> None:
        self.whole, kind, n = whole, whole.kind, whole.n
        found = whole.estimated()
        self.as_read, self.limits = found.estimates, kind.rules.judgement.plausibility
        about = doubts(whole.visit, self.as_read, self.limits, textbook=not kind.rules.silent)
        by_row = [_by_row(each, n) for each in about]
        self.about = [doubt for doubt in by_row if np.any(doubt.weight > 0)]
        self.found = Estimated(expecting(self.as_read, kind), found.touched)
        self.words = whole.said(self.found.estimates)
        self.matched = fired(kind.book, self.words)
        self.danger = self._dangers()
        self.judged = judge(whole, self.found, self.words, self.matched, self.matched, self.about, self.danger.stop)
        self.quantities: ToldQuantities = {
            name: (e.value, np.broadcast_to(e.sigma, n), str(e.kind)) for name, e in self.found.estimates.items()
        }
        self.alone = np.zeros(n, dtype=bool)
        some = np.flatnonzero(acting(self.about, n))
        if some.size:
            self.alone[some] = self._judge_in_layers(some)
        if self.judged.outside.any():
            self._leave()

    def _dangers(self) -> Endangered:
        """What could hurt: of machines that stand, or whose hoses changed places, without what is made of their pressures."""
        whole, stands = self.whole, standing(self.whole)
        danger = endangered(whole, self.matched, stands)
        rows = np.flatnonzero(meaningless(whole.visit, stands))
        if not rows.size:
            return danger
        few = whole.some(rows)
        readings = {name: reading for name, reading in few.visit.last.readings.items() if name not in RUNNING}
        words = few.said(few.reading(readings).estimated().estimates)
        return danger.but(rows, endangered(few, fired(whole.kind.book, words), stands[rows]), whole.n)

    def _judge_in_layers(self, rows: Any) -> Any:
        """Judge again the rows of which something is left out, and put that in place. Returns which must be done alone."""
        here = layered(self.whole, rows, self.about)
        fired_here = fired(self.whole.kind.book, here.words)
        aside = np.zeros(rows.size, dtype=bool)
        own = []
        for doubt in self.about:
            weight, start = rows_of((doubt.weight, doubt.start), rows)
            own.append(doubt._replace(weight=weight, start=start))
            if doubt.set_aside:
                aside |= weight > 0
        read = self._read(fired_here, rows, aside)
        again = judge(self.whole.some(rows), here.found, here.words, fired_here, read, own, self.danger.stop[rows])
        self._confirm(again, rows, own)
        self.judged.put(again, rows)
        self._tell(rows, here.found.estimates)
        # Which of several layers a limit was taken from is told by the first evaluator alone.
        return (here.count > 2) & again.charged.at_least

    def _read(self, here: Fired, rows: Any, aside: Any) -> Fired:
        """What fires by all that was read: where nothing is set aside, what fires anyhow; see `field._of_all_that_was_read`."""
        found = {}
        for number in {*self.matched.patterns, *here.patterns}:
            one, other = self.matched.patterns.get(number), here.patterns.get(number)
            found[number] = np.where(aside, 0.0 if one is None else one[rows], 0.0 if other is None else other)
        return Fired(found, {})

    def _confirm(self, again: Judged, rows: Any, own: Sequence[Doubt]) -> None:
        """What is set aside makes no verdict: it must stand by all readings as they were read as well; see `charge_as_sure`."""
        which = np.flatnonzero(again.charged.verdict != NONE)
        if not which.size:
            return
        few, n, kind, lexicon = rows[which], which.size, self.whole.kind, self.whole.lexicon
        true = scored(kind.rules, kind.applying, rows_of(self.matched.patterns, few), n)
        w = Weighed(kind.rules, kind.making, rows_of(self.words, few), true, n)
        pattern = explained(w)
        read = charged(w, self.whole.visit.machine, rows_of(self.found, few), (), (), lexicon)
        verdict = again.charged.verdict[which]
        not_so = (read.verdict != verdict) | ~pattern.known | ((verdict == RIGHT) & pattern.of_charge)
        about = [doubt for doubt in own if doubt.set_aside or doubt.spoils]
        surest = np.argmax(np.stack([rows_of(doubt.weight, which) for doubt in about]), axis=0)
        codes = np.array([lexicon.number(doubt.reason.code) for doubt in about], dtype=np.int16)[surest]
        again.charged.none(which[not_so], codes[not_so])

    def _leave(self) -> None:
        """See `field.leave`: of rows that lie outside only the doubts that hold of any machine, and what these leave."""
        outside, whole = self.judged.outside, self.whole
        of_any = [_by_row(doubt, whole.n) for doubt in doubts_of_any_machine(whole.visit, self.as_read, self.limits)]
        of_any = [doubt._replace(weight=np.where(outside, doubt.weight, 0.0)) for doubt in of_any]
        rows = np.flatnonzero(outside)
        few = whole.some(rows)
        readings = dict(few.visit.last.readings)
        for name in {name for doubt in of_any for name in doubt.set_aside if name in readings}:
            firm = [doubt.firm[rows] for doubt in of_any if name in doubt.set_aside]  # type: ignore[index]
            value = np.where(np.logical_or.reduce(firm), np.nan, readings[name].value)
            readings[name] = readings[name]._replace(value=value)
        self._tell(rows, few.reading(readings).estimated().estimates)
        self.about = [doubt._replace(weight=np.where(outside, 0.0, doubt.weight)) for doubt in self.about] + of_any

    def _tell(self, rows: Any, estimates: Mapping[str, Estimate]) -> None:
        """Put these quantities of some rows in place of what was there."""
        for name in {**self.quantities, **estimates}:
            new = estimates.get(name)
            nothing = np.full(self.whole.n, np.nan)
            value, sigma, kind = self.quantities.get(name, (nothing, nothing, "" if new is None else str(new.kind)))
            value, sigma = value.copy(), np.array(sigma)
            value[rows], sigma[rows] = (np.nan, np.nan) if new is None else (new.value, new.sigma)
            self.quantities[name] = value, sigma, kind

    def block(self, table: VisitTable, rows: Any) -> ExaminedRows:
        """All of it. rows: their numbers in the table."""
        judged, lexicon, ranked = self.judged, self.whole.lexicon, self.judged.status == DIAGNOSED
        dangers, cautions, problems = Pile.empty(), Pile.empty(), Pile.empty()
        told: list[tuple[str, Any]] = [(doubt.reason.code, np.asarray(doubt.told)) for doubt in self.about]
        told += [("no-known-pattern", ~judged.explained.known), *assumed(table, rows, self.whole.visit)]
        for rule in self.whole.kind.applying.rules:
            if rule.silent or rule.holds == "nothing":
                told.append((rule.id, ranked & ~((rule.holds == "charge") & ~judged.charged.early)))
        for pile, codes in ((dangers, self.danger.dangers), (cautions, self.danger.cautions), (problems, told)):
            for code, where in codes:
                pile.add(where, lexicon.number(code))
        return ExaminedRows(rows, judged, dangers, cautions, problems, self.quantities, self.alone)


def assumed(table: VisitTable, rows: Any, visit: Visit) -> list[tuple[str, Any]]:
    """See `pipeline.assumed`: what rows left open and was taken for granted."""
    n, machine, last = rows.size, visit.machine, visit.last
    taken = {name: np.isfinite(reading.value) for name, reading in last.readings.items()}
    nothing, everywhere = np.zeros(n, dtype=bool), np.ones(n, dtype=bool)

    def any_of(names: Iterable[str]) -> Any:
        return np.logical_or.reduce([nothing, *(taken[name] for name in names if name in taken)])

    any_taken = any_of(taken)
    gauges = any_of(name for name, reading in last.readings.items() if reading.gauge)
    found = [(code, everywhere) for code in table.notes]
    if table.visits:
        for place, row in enumerate(rows.tolist()):
            found += [(note.code, np.array([place])) for note in table.visits[row].notes]
    found.append(("sea-level-assumed", gauges & (table.station_from[rows] == 2)))
    if machine.mode is None:
        found.append(("cooling-assumed", any_taken))
    if machine.refrigerant is None:
        found.append(("no-refrigerant", any_of(name for name in taken if "pressure" in name)))
    if machine.metering is None:
        found.append(("no-metering", any_taken))
    if machine.mode != HEATING:
        found.append(("read-in-heating-only", any_of(IN_HEATING_ONLY)))
    ran = any_of(name for name in taken if name not in AT_REST)
    found.append(("running-time-not-noted", ran & ~np.isfinite(table.minutes[rows])))
    for figure, line, pressure in ON_THE_GAUGE:
        shown = taken.get(f"gauge {figure}", nothing)
        found.append(("gauge-figure-needs-pressure", shown & ~taken.get(line, nothing) & ~taken.get(pressure, nothing)))
    humid = any_of(("return air wet bulb", "return air relative humidity"))
    found.append(("humidity-assumed", taken.get("airflow", nothing) & ~humid))
    return found
