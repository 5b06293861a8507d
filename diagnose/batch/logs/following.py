"""A log that still grows: each look tells whether the answer has changed and stayed changed, and a new danger at once."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from diagnose.batch.logs.model import ExaminedLog, ExaminedStretch
from diagnose.batch.logs.notes import moment, note_texts
from diagnose.batch.logs.page import event_text
from diagnose.batch.logs.stamps import day_of
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.dangers import danger_text
from diagnose.report.field import held_text
from diagnose.report.wording import name_of, upper_first
from diagnose.units import System

Answer = tuple[str | None, str, str]


@dataclass(slots=True)
class Follower:
    """What was told so far. stays: s by the log's clock for which another answer must hold before it is told. units: in which
    dangers are told; those of the log unless said.
    """

    stays: float
    units: System | None = None
    _answer: Answer | None = None
    _next: tuple[Answer, float] | None = None
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
        answer = _answer(last.diagnosis)
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


def _answer(d: Diagnosis) -> Answer:
    if not d.faults:
        return None, d.held[0].code, d.charge.verdict
    return d.faults[0].fault, d.faults[0].strength, d.charge.verdict


def answer_text(d: Diagnosis) -> str:
    """`Low refrigerant charge, strong; charge low.`"""
    if not d.faults:
        return held_text(d)
    first = d.faults[0]
    verdict = "no charge verdict" if d.charge.verdict == "do not judge" else f"charge {d.charge.verdict}"
    return f"{upper_first(name_of(first.fault, d.rules))}, {first.strength}; {verdict}."
