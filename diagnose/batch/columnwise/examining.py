"""Rows of one kind of machine examined at once: the table of contents of this evaluator, as `pipeline.py` is of the first."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from diagnose.batch.columnwise.charging import NONE, RIGHT, charged
from diagnose.batch.columnwise.codes import Lexicon, Pile
from diagnose.batch.columnwise.endangered import Endangered, endangered, meaningless, standing
from diagnose.batch.columnwise.estimating import Estimated, rows_of
from diagnose.batch.columnwise.explaining import explained
from diagnose.batch.columnwise.judging import DIAGNOSED, Judged, Kind, doubts_of, estimated_of, judge, words_of
from diagnose.batch.columnwise.layering import acting, expecting, layered
from diagnose.batch.columnwise.matching import Fired, fired, scored
from diagnose.batch.columnwise.rows import Rows
from diagnose.batch.columnwise.saying import Words
from diagnose.batch.columnwise.table import VisitTable
from diagnose.diagnosis.dangers import RUNNING
from diagnose.diagnosis.pipeline import IN_HEATING_ONLY, ON_THE_GAUGE
from diagnose.quantities.plausibility import Doubt, doubts, doubts_of_any_machine
from diagnose.quantities.uncertainty import Estimate
from diagnose.visit import HEATING, Visit
from diagnose.visit.fields import AT_REST

Told = dict[str, tuple[Any, Any, str]]
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
    quantities: Told
    alone: Any


def examined(
    table: VisitTable, rows: Any, kind: Kind, wanted: Collection[str] | None, exact: bool, lexicon: Lexicon
) -> ExaminedRows:
    """Rows of one kind; see `Rows`."""
    visit = _without_errors(table.of_columns(rows)) if exact else table.of_columns(rows)
    whole = Rows(visit, rows.size, table.seen_rows(rows), kind, wanted, exact, lexicon)
    n, alone = whole.n, np.zeros(rows.size, dtype=bool)
    found = whole.estimated()
    as_read, limits = found.estimates, kind.rules.judgement.plausibility
    about = [_by_row(each, n) for each in doubts(visit, as_read, limits, textbook=not kind.rules.silent)]
    about = [doubt for doubt in about if np.any(doubt.weight > 0)]
    found = Estimated(expecting(as_read, kind), found.touched)
    words = whole.said(found.estimates)
    matched = fired(kind.book, words)
    danger = _dangers(whole, matched)
    judged = judge(kind, visit.machine, n, found, words, matched, matched, about, danger.stop, lexicon)
    quantities = {name: (e.value, np.broadcast_to(e.sigma, n), str(e.kind)) for name, e in found.estimates.items()}
    some = np.flatnonzero(acting(about, n))
    if some.size:
        alone[some] = _judge_in_layers(whole, some, about, found, words, matched, danger.stop, judged, quantities)
    if judged.outside.any():
        about = _leave(whole, as_read, about, judged.outside, quantities)
    return _block(table, rows, whole, judged, danger, about, quantities, alone)


def _by_row(doubt: Doubt, n: int) -> Doubt:
    """The doubt with figures in every row."""
    weight, start = (np.nan_to_num(np.broadcast_to(np.asarray(x, dtype=float), n)) for x in (doubt.weight, doubt.start))
    return doubt._replace(weight=weight, start=start)


def _without_errors(visit: Visit) -> Visit:
    last = visit.last
    exact = {name: reading._replace(error=0.0 * reading.error) for name, reading in last.readings.items()}
    machine = visit.machine._replace(station_error=0.0 * visit.machine.station_error)
    return replace(visit, machine=machine, rounds=(last._replace(readings=exact),))


def _judge_in_layers(
    whole: Rows,
    rows: Any,
    about: Sequence[Doubt],
    found: Estimated,
    words: Words,
    matched: Fired,
    stop: Any,
    judged: Judged,
    quantities: Told,
) -> Any:
    """Judge again the rows of which something is left out, and put that in place. Returns which must be done alone."""
    here, n, kind, machine = layered(whole, rows, about), rows.size, whole.kind, whole.visit.machine
    fired_here = fired(kind.book, here.words)
    aside = np.zeros(n, dtype=bool)
    own = doubts_of(about, rows)
    for doubt in own:
        if doubt.set_aside:
            aside |= doubt.weight > 0
    read = _read(matched, fired_here, rows, aside)
    again = judge(kind, machine, n, here.found, here.words, fired_here, read, own, stop[rows], whole.lexicon)
    _confirm(whole, again, rows, own, found, words, matched)
    _put(judged, again, rows)
    _tell(quantities, rows, here.found.estimates, whole.n)
    # Which of several layers a limit was taken from is told by the first evaluator alone.
    return (here.count > 2) & again.charged.at_least


def _tell(quantities: Told, rows: Any, estimates: Mapping[str, Estimate], n: int) -> None:
    """Put these quantities of some rows in place of what was there."""
    for name in {**quantities, **estimates}:
        new = estimates.get(name)
        nothing = np.full(n, np.nan)
        value, sigma, kind = quantities.get(name, (nothing, nothing, "" if new is None else str(new.kind)))
        value, sigma = value.copy(), np.array(sigma)
        value[rows], sigma[rows] = (np.nan, np.nan) if new is None else (new.value, new.sigma)
        quantities[name] = value, sigma, kind


def _dangers(whole: Rows, matched: Fired) -> Endangered:
    """What could hurt: of machines that stand, or whose hoses changed places, without what is worked out of their pressures."""
    kind = whole.kind
    stands = standing(whole.visit, kind.rules, whole.n)
    danger = endangered(whole.visit, kind, matched, stands, whole.n)
    rows = np.flatnonzero(meaningless(whole.visit, stands))
    if not rows.size:
        return danger
    few = whole.some(rows)
    readings = {name: reading for name, reading in few.visit.last.readings.items() if name not in RUNNING}
    words = few.said(few.reading(readings).estimated().estimates)
    here = endangered(few.visit, kind, fired(kind.book, words), stands[rows], few.n)
    return danger.but(rows, here, whole.n)


def _leave(
    whole: Rows, as_read: Mapping[str, Estimate], about: Sequence[Doubt], outside: Any, quantities: Told
) -> list[Doubt]:
    """See `field.leave`: the doubts of all rows, of those that lie outside only what holds of any machine."""
    limits = whole.kind.rules.judgement.plausibility
    of_any = [_by_row(doubt, whole.n) for doubt in doubts_of_any_machine(whole.visit, as_read, limits)]
    of_any = [doubt._replace(weight=np.where(outside, doubt.weight, 0.0)) for doubt in of_any]
    rows = np.flatnonzero(outside)
    few = whole.some(rows)
    readings = dict(few.visit.last.readings)
    for name in {name for doubt in of_any for name in doubt.set_aside if name in readings}:
        firm = [doubt.firm[rows] for doubt in of_any if name in doubt.set_aside]  # type: ignore[index]
        value = np.where(np.logical_or.reduce(firm), np.nan, readings[name].value)
        readings[name] = readings[name]._replace(value=value)
    _tell(quantities, rows, few.reading(readings).estimated().estimates, whole.n)
    return [*(doubt._replace(weight=np.where(outside, 0.0, doubt.weight)) for doubt in about), *of_any]


def _read(matched: Fired, here: Fired, rows: Any, aside: Any) -> Fired:
    """What fires by all that was read: where nothing is set aside, what fires anyhow; see `field._of_all_that_was_read`."""
    found = {}
    for number in {*matched.patterns, *here.patterns}:
        one, other = matched.patterns.get(number), here.patterns.get(number)
        found[number] = np.where(aside, 0.0 if one is None else one[rows], 0.0 if other is None else other)
    return Fired(found, {})


def _confirm(
    whole: Rows, again: Judged, rows: Any, own: Sequence[Doubt], found: Estimated, words: Words, matched: Fired
) -> None:
    """What is set aside makes no verdict: it must stand by all readings as they were read as well; see `charge_as_sure`."""
    which = np.flatnonzero(again.charged.verdict != NONE)
    if not which.size:
        return
    few, n, kind, lexicon = rows[which], which.size, whole.kind, whole.lexicon
    true_words = words_of(words, few)
    true = scored(kind.rules, kind.applying, {k: sure[few] for k, sure in matched.patterns.items()}, n)
    pattern = explained(true, true_words, kind.rules, kind.making, n)
    machine = whole.visit.machine._replace(facts={}, station_pressure=0.0)
    read = charged(machine, estimated_of(found, few), true_words, true, (), (), kind.rules, kind.making, lexicon, n)
    verdict = again.charged.verdict[which]
    not_so = (read.verdict != verdict) | ~pattern.known | ((verdict == RIGHT) & pattern.of_charge)
    about = [doubt for doubt in own if doubt.set_aside or doubt.spoils]
    weights = np.stack([rows_of(doubt.weight, which) for doubt in about])
    codes = np.array([lexicon.number(doubt.reason.code) for doubt in about], dtype=np.int16)[np.argmax(weights, axis=0)]
    charge, bad = again.charged, which[not_so]
    charge.verdict[bad], charge.code.codes[bad] = NONE, codes[not_so]
    charge.low[bad], charge.high[bad], charge.at_least[bad] = np.nan, np.nan, False


def _put(judged: Judged, again: Judged, rows: Any) -> None:
    """Take over what was judged again."""
    judged.held.without(rows, judged.status.size)
    for where, codes in zip(again.held.rows, again.held.codes, strict=True):
        judged.held.rows.append(rows[where])
        judged.held.codes.append(codes)
    judged.status[rows], judged.outside[rows] = again.status, again.outside
    for name in ("scores", "shares", "order"):
        getattr(judged.scored, name)[:, rows] = getattr(again.scored, name)
    for name in ("second", "known", "of_charge"):
        getattr(judged.explained, name)[rows] = getattr(again.explained, name)
    for name in ("verdict", "low", "high", "at_least", "early"):
        getattr(judged.charged, name)[rows] = getattr(again.charged, name)
    judged.charged.code.codes[rows] = again.charged.code.codes


def _block(
    table: VisitTable,
    rows: Any,
    whole: Rows,
    judged: Judged,
    danger: Endangered,
    about: Sequence[Doubt],
    quantities: Told,
    alone: Any,
) -> ExaminedRows:
    lexicon, ranked = whole.lexicon, judged.status == DIAGNOSED
    dangers, cautions, problems = Pile.empty(), Pile.empty(), Pile.empty()
    for code, where in danger.dangers:
        dangers.add(where, lexicon.number(code))
    for code, where in danger.cautions:
        cautions.add(where, lexicon.number(code))
    for doubt in about:
        problems.add(np.asarray(doubt.told), lexicon.number(doubt.reason.code))
    problems.add(~judged.explained.known, lexicon.number("no-known-pattern"))
    for code, where in assumed(table, rows, whole.visit):
        problems.add(where, lexicon.number(code))
    for rule in whole.kind.applying.rules:
        if rule.silent or rule.holds == "nothing":
            told = (rule.holds == "charge") & ~judged.charged.early
            problems.add(ranked & ~told, lexicon.number(rule.id))
    return ExaminedRows(rows, judged, dangers, cautions, problems, quantities, alone)


def assumed(table: VisitTable, rows: Any, visit: Visit) -> list[tuple[str, Any]]:
    """See `pipeline.assumed`: what rows left open and was taken for granted."""
    n, machine, last = rows.size, visit.machine, visit.last
    taken = {name: np.isfinite(reading.value) for name, reading in last.readings.items()}
    nothing, everywhere = np.zeros(n, dtype=bool), np.ones(n, dtype=bool)
    any_taken = np.logical_or.reduce([nothing, *taken.values()])
    gauges = np.logical_or.reduce([nothing, *(taken[name] for name, reading in last.readings.items() if reading.gauge)])
    found = [(code, everywhere) for code in table.notes]
    if table.visits:
        for place, row in enumerate(rows.tolist()):
            found += [(note.code, np.array([place])) for note in table.visits[row].notes]
    found.append(("sea-level-assumed", gauges & (table.station_from[rows] == 2)))
    if machine.mode is None:
        found.append(("cooling-assumed", any_taken))
    if machine.refrigerant is None:
        pressures = [where for name, where in taken.items() if "pressure" in name]
        found.append(("no-refrigerant", np.logical_or.reduce([nothing, *pressures])))
    if machine.metering is None:
        found.append(("no-metering", any_taken))
    if machine.mode != HEATING:
        missed = [taken[name] for name in IN_HEATING_ONLY if name in taken]
        found.append(("read-in-heating-only", np.logical_or.reduce([nothing, *missed])))
    ran = np.logical_or.reduce([nothing, *(where for name, where in taken.items() if name not in AT_REST)])
    found.append(("running-time-not-noted", ran & ~np.isfinite(table.minutes[rows])))
    for figure, line, pressure in ON_THE_GAUGE:
        shown = taken.get(f"gauge {figure}", nothing)
        found.append(("gauge-figure-needs-pressure", shown & ~taken.get(line, nothing) & ~taken.get(pressure, nothing)))
    humid = np.logical_or.reduce(
        [nothing, *(taken[f"return air {x}"] for x in ("wet bulb", "relative humidity") if f"return air {x}" in taken)]
    )
    found.append(("humidity-assumed", taken.get("airflow", nothing) & ~humid))
    return found
