"""A log in words: the answers of its stretches, what happened, and what is odd about it; and, while it still grows, whether
the answer has changed and stayed changed, and a new danger at once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from diagnose.batch.logs.model import Event, ExaminedLog, ExaminedStretch, SeenDanger
from diagnose.batch.logs.notes import moment, note_texts, span, time_text, told_by
from diagnose.batch.logs.stamps import day_of, shown
from diagnose.diagnosis.charge import confirmed_by
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, brief, heading, item, line
from diagnose.report.dangers import MARKS, SWITCH_OFF, danger_text
from diagnose.report.field import held_short, held_text
from diagnose.report.first_screen import first_screen
from diagnose.report.wording import but_first, counted, lower_first, name_of, number, upper_first
from diagnose.rulebook.entries import Level
from diagnose.units import System
from diagnose.visit import Machine

FORMAT = 1
MOST_RUNS, MOST_STRETCHES = 12, 30  # that are listed unless all is asked for
_HEAD = ("no.", "from", "to", "answer", "charge", "outdoor", "SH", "SC")
_AT_ONCE = ("log-no-refrigerant", "log-left-out", "log-no-unit")  # told below the answer
_SHORT = {"do not judge": "none"}


def log_page(
    log: ExaminedLog, units: System | None = None, full: bool = False, drawn: Sequence[Block] = (), more: str = ""
) -> list[Block]:
    """The whole page. drawn: the charts, where they can be seen; full: every run, and the first screen of every stretch."""
    system = units or system_of_log(log)
    told = list(note_texts(log.log, log.notes))
    first = [line(text) for note, text in told if note.code in _AT_ONCE]
    begin = [*_alarm(log, "stop"), Block("answer", summary(log)), *_alarm(log, "care")]
    blocks = [*begin, line(_what(log)), *first, *_dangers(log, system)]
    blocks += drawn
    if log.stretches:
        blocks += [heading("Stretches that were examined"), _table(log, system, full), line(_below(log, system))]
    blocks += _happened(log, full)
    if later := [item(text) for note, text in told if note.code not in _AT_ONCE]:
        blocks += [heading("About this log"), *later]
    chosen = range(len(log.stretches)) if full else _chosen(log)
    for place in chosen:
        blocks += _one(log, place, system)
    if more and not full and log.stretches:
        blocks.append(Block("foot", more))
    return blocks


def system_of_log(log: ExaminedLog) -> System:
    """US or SI: as the last stretch is told, or as the columns are written."""
    if log.stretches:
        return log.stretches[-1].diagnosis.system
    metric = {"C", "K", "bar gauge", "kPa gauge", "bar", "kPa", "MPa"}
    return "si" if any(unit.name in metric for piece in log.log.units for unit in piece.values()) else "us"


def summary(log: ExaminedLog) -> str:
    """`Most likely in all 3 stretches: low refrigerant charge (strong evidence).`"""
    if not log.stretches:
        return "Nothing could be judged: the log has no steady stretch."
    ranked = [each.diagnosis for each in log.stretches if each.diagnosis.faults]
    if not ranked:
        return f"Not one of {counted(len(log.stretches), 'stretch')} could be judged."
    firsts = [each.faults[0] for each in ranked]
    found, count = Counter(first.fault for first in firsts).most_common(), len(ranked)
    names = [name_of(fault, ranked[0].rules) for fault, _ in found]
    if len(found) > 1:
        parts = [f"{name} in {places} of {count}" for name, (_, places) in zip(names, found, strict=True)]
        return f"The stretches differ: {', '.join(parts)}."
    where = "in the one stretch" if count == 1 else f"in all {count} stretches"
    where += " that can be judged" if count < len(log.stretches) else ""
    surest, least = (pick(firsts, key=lambda first: first.share).strength for pick in (max, min))
    apart = ranked[0].rules.faults[found[0][0]].charge == "right" and any(e.danger.level == "stop" for e in log.dangers)
    begin = "Apart from the danger, most likely" if apart else "Most likely"  # as `wording.likeliest`
    return f"{begin} {where}: {names[0]} ({f'{least} to ' if least != surest else ''}{surest} evidence)."


def _what(log: ExaminedLog) -> str:
    """`Shop 2, 2026-07-14 09:00 to 14:00: 300 records, one every 60 s. It ran 3 h 30 min in 6 runs, by its current.`"""
    times = log.log.times
    dated = bool(day_of(times[0]))
    begin, end = shown(times[0], date=dated), shown(times[-1], date=dated and day_of(times[0]) != day_of(times[-1]))
    ran = sum(times[spell.end - 1] - times[spell.begin] for spell in log.spells)
    runs = (
        f" It ran {time_text(ran)} in {counted(len(log.spells), 'run')}, by {told_by(log.by)}."
        if log.by != "nothing" and log.spells
        else ""
    )
    who = f"{upper_first(log.machine.name)}, " if log.machine.name != Machine().name else ""
    return f"{who}{begin} to {end}: {counted(len(times), 'record')}, one every {time_text(log.log.step)}.{runs}"


def _alarm(log: ExaminedLog, level: Level) -> list[Block]:
    """The dangers of a level in few lines, by their titles; what each rests on stands below."""
    titles = [lower_first(_titled(log, each)) for each in log.dangers if each.danger.level == level]
    if not titles:
        return []
    told = f"{'; '.join(titles)}."
    return [brief("STOP:", f"{SWITCH_OFF} Why: {told}") if level == "stop" else brief("Danger:", told)]


def _titled(log: ExaminedLog, each: SeenDanger) -> str:
    """Title and moment; what a machine is it is at every moment."""
    rule = each.danger.rule
    when = "" if rule is not None and not rule.findings else f", at {moment(log.log, each.at)}"
    return f"{danger_text(each.diagnosis, each.danger)[0]}{when}"


def _danger(log: ExaminedLog, each: SeenDanger, system: System) -> str:
    return f"{_titled(log, each)}. {danger_text(each.diagnosis.told_in(system), each.danger)[1]}"


def _dangers(log: ExaminedLog, system: System) -> Iterator[Block]:
    if log.dangers:
        yield heading("Danger", "care")
        yield from (item(_danger(log, each, system), MARKS[each.danger.level]) for each in log.dangers)


def _table(log: ExaminedLog, system: System, full: bool) -> Block:
    shown = log.stretches if full else log.stretches[:MOST_STRETCHES]
    rows = [(f"{place}", *_row(log, each, system)) for place, each in enumerate(shown, 1)]
    more = [("…", f"and {len(log.stretches) - len(shown)} more", *[""] * 6)] if len(shown) < len(log.stretches) else []
    return Block("rows", rows=(_HEAD, *rows, *more))


def _row(log: ExaminedLog, each: ExaminedStretch, system: System) -> tuple[str, ...]:
    d = each.diagnosis
    outdoor = d.estimates.get("outdoor air temperature")
    cells = [number(outdoor.value, "temperature", system, unit=False) if outdoor else "–"]
    for name in ("superheat", "subcooling"):
        found = d.estimates.get(name)
        cells.append(number(found.value, "difference", system, unit=False) if found else "–")
    same = day_of(each.begin) == day_of(each.end)
    end = shown(each.end) if same else moment(log.log, each.end)
    verdict = _SHORT.get(d.charge.verdict, d.charge.verdict)
    return moment(log.log, each.begin), end, _answer(d), verdict, *cells


def _answer(d: Diagnosis) -> str:
    if not d.faults:
        return held_short(d).rstrip(".")
    first = d.faults[0]
    return f"{name_of(first.fault, d.rules)}, {first.strength}"


def _below(log: ExaminedLog, system: System) -> str:
    degree = "°F" if system == "us" else "°C and K"
    hunts = any(each.stretch.kind == "hunting" for each in log.stretches)
    return (
        f"SH superheat, SC subcooling, in {degree}. Each stretch is the mean of its records; what they scatter is added to the "
        f"instruments’ errors.{' One that hunts is examined minute by minute.' if hunts else ''}"
    )


def _happened(log: ExaminedLog, full: bool) -> Iterator[Block]:
    if not log.events and (not log.spells or log.by == "nothing"):
        return
    yield heading("What happened")
    for event in log.events:
        yield item(event_text(log, event))
    if not log.spells or log.by == "nothing":
        return
    times, shown_spells = log.log.times, log.spells if full else log.spells[:MOST_RUNS]
    rows = []
    for spell in shown_spells:
        start, stop = (moment(log.log, times[i]) for i in (spell.begin, spell.end - 1))
        ran = (times[spell.end - 1] - times[spell.begin]) / 60
        rows.append(
            (start if spell.started else f"before {start}", stop if spell.stopped else f"after {stop}", f"{ran:.0f}")
        )
    yield Block("rows", rows=(("start", "stop", "minutes"), *rows))
    if len(shown_spells) < len(log.spells):
        yield line(f"And {len(log.spells) - len(shown_spells)} more runs: --full lists them.")


def event_text(log: ExaminedLog, event: Event) -> str:
    """`Short cycling from 11:00 to 11:32: 4 starts, runs of 3 to 4 minutes.`"""
    when = span(log.log, event.begin, event.end)
    f = event.figures
    if event.kind == "short cycling":
        lengths = sorted({max(1, round(f["shortest"] / 60)), max(1, round(f["longest"] / 60))})
        runs = " to ".join(f"{each}" for each in lengths)
        return (
            f"Short cycling {when}: {f['starts']:.0f} starts, up to {f['hour']:.0f} in an hour, runs of {runs} "
            f"minute{'' if runs == '1' else 's'}. That wears a compressor and lets nothing settle; find what switches it."
        )
    if event.kind == "hunting":
        swing = number(f["swing"], "difference", system_of_log(log))
        return f"Hunting {when}: superheat, or the suction line, goes up and down by {swing}."
    if event.kind == "defrost":
        return f"Defrost {when}; nothing is judged until 15 minutes after it."
    return f"Not settled {when}: it ran, and its readings kept moving. Nothing is judged there."


def _chosen(log: ExaminedLog) -> list[int]:
    """The surest stretch of each answer, in order."""
    best: dict[str, int] = {}
    for place, each in enumerate(log.stretches):
        d = each.diagnosis
        key = d.faults[0].fault if d.faults else d.held[0].code
        if key not in best or _share(each) > _share(log.stretches[best[key]]):
            best[key] = place
    return sorted(best.values())


def _share(each: ExaminedStretch) -> float:
    return each.diagnosis.faults[0].share if each.diagnosis.faults else 0.0


def _one(log: ExaminedLog, place: int, system: System) -> Iterator[Block]:
    each = log.stretches[place]
    yield heading(f"Stretch {place + 1}, {span(log.log, each.begin, each.end)}")
    ran = "at least " if each.stretch.at_least else ""
    if math.isfinite(each.stretch.minutes):
        yield line(f"At its end it had run {ran}{each.stretch.minutes:.0f} minutes.")
    for block in first_screen(each.diagnosis, system, more="-")[:-1]:
        yield block._replace(kind="brief", lead="Answer:") if block.kind == "answer" else block


def log_data(log: ExaminedLog) -> dict[str, Any]:
    """The same for a program: each stretch as `examine` gives a visit; times by the log's clock."""

    def at(time: float) -> str | float:
        return shown(time, date=True, seconds=True).replace(" ", "T") if day_of(time) else time

    return {
        "format": FORMAT,
        "log": log.log.name,
        "answer": summary(log),
        "dangers": [
            {"code": e.danger.code, "level": e.danger.level, "at": at(e.at), "text": _danger(log, e, "us")}
            for e in log.dangers
        ],
        "stretches": [
            {"kind": e.stretch.kind, "from": at(e.begin), "to": at(e.end), "result": e.diagnosis.to_dict()}
            for e in log.stretches
        ],
        "runs": [[at(log.log.times[i]) for i in (s.begin, s.end - 1)] for s in log.spells],
        "events": [
            {"kind": e.kind, "from": at(e.begin), "to": at(e.end), "text": event_text(log, e)} for e in log.events
        ],
        "notes": [{"code": note.code, "text": text} for note, text in note_texts(log.log, log.notes)],
    }


# -- while it still grows ---------------------------------------------------------------------------------------------

ShortAnswer = tuple[str | None, str, str]


@dataclass(slots=True)
class Follower:
    """What was told so far. stays: s by the log's clock for which another answer must hold before it is told. units: in which
    dangers are told; those of the log unless said.
    """

    stays: float
    units: System | None = None
    _answer: ShortAnswer | None = None
    _next: tuple[ShortAnswer, float] | None = None
    _seen: set[str] = field(default_factory=set)
    _looked: float = math.inf

    def look(self, log: ExaminedLog) -> Iterator[str]:
        """The lines that are new. Each look is given the whole log as it is now."""
        for danger in log.dangers:
            if self._new(f"danger {danger.danger.code} {day_of(danger.at)}"):
                title, text = danger_text(danger.diagnosis.told_in(self.units), danger.danger)
                word = "STOP" if danger.danger.level == "stop" else "Danger"
                yield f"{moment(log.log, danger.at)} {word}: {title}. {text}"
        for note, text in note_texts(log.log, [note for note in log.notes if note.code not in _NOT_YET]):
            figures = note.figures
            if self._new(f"note {note.code} {figures.get('reading', '')} {figures.get('at', figures.get('from', ''))}"):
                yield f"Log: {text}"
        for event in log.events:
            if event.kind != "unsettled" and self._new(f"event {event.kind} {event.begin}"):
                yield f"{moment(log.log, event.end)} {event_text(log, event)}"
        if log.stretches:
            yield from self._of_the_answer(log, log.stretches[-1])

    def _new(self, key: str) -> bool:
        new = key not in self._seen
        self._seen.add(key)
        return new

    def _of_the_answer(self, log: ExaminedLog, last: ExaminedStretch) -> Iterator[str]:
        answer = _judged(last.diagnosis)
        since = last.begin if last.begin > self._looked else last.end  # one that is all new has it from its beginning
        self._looked = last.end
        if answer == self._answer:
            self._next = None
            return
        if self._answer is not None:
            if self._next is None or self._next[0] != answer:
                self._next = (answer, since)
            if last.end - self._next[1] < self.stays:
                return
        word = "Answer" if self._answer is None else "The answer has changed, and stayed so"
        when = "" if self._next is None else f" since {moment(log.log, self._next[1])}"
        self._answer, self._next = answer, None
        yield f"{moment(log.log, last.end)} {word}{when}: {answer_text(last.diagnosis)}"


_NOT_YET = frozenset(
    {"log-never-steady", "log-never-runs", "log-short-gaps", "log-repeated", "log-out-of-order", "log-impossible",
     "log-no-figures", "log-bad-stamps", "log-no-stamps"}
)  # fmt: skip
"""Notes of a whole log that a growing one would tell again and again."""


def _judged(d: Diagnosis) -> ShortAnswer:
    if not d.faults:
        return None, d.held[0].code, d.charge.verdict
    return d.faults[0].fault, d.faults[0].strength, d.charge.verdict


def answer_text(d: Diagnosis) -> str:
    """`Low refrigerant charge, strong; charge low.`"""
    if not d.faults:
        return held_text(d)
    first = d.faults[0]
    verdict = "no charge verdict" if d.charge.verdict == "do not judge" else f"charge {d.charge.verdict}"
    verdict += but_first(confirmed_by(d.charge, d.rules))
    return f"{upper_first(name_of(first.fault, d.rules))}, {first.strength}; {verdict}."
