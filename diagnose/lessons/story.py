"""What lessons of faults and of visits share: the path, questions with their answers, sources, drawings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import get_args

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.drawings import Drawing, NoDrawing, measured_cycle, pressure_enthalpy_of
from diagnose.report.illustrated import figure
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import Lesson, PlaceName

PATH: tuple[PlaceName, ...] = get_args(PlaceName)
"""The places of the circuit in the order in which the refrigerant comes to them."""


def path(lesson: Lesson) -> Iterator[Block]:
    """Place by place, as the refrigerant comes to them."""
    for i, step in enumerate(lesson.story):
        yield item(step.what, f"{i + 1}.", f"{upper_first(step.place)}.")


def questions(asked: Sequence[tuple[str, str]]) -> Iterator[Block]:
    """The questions, and on a sheet of their own the answers under the same numbers."""
    if not asked:
        return
    yield heading("Questions to ask a class", "questions")
    for i, (ask, _) in enumerate(asked):
        yield item(ask, f"{i + 1}.")
    yield Block("heading", "Answers", "apart")
    for i, (_, answer) in enumerate(asked):
        yield item(answer, f"{i + 1}.")


def sources(cited: Iterable[str], rules: Rulebook) -> Iterator[Block]:
    """Each source once, with how sure we are that it says so."""
    keys = [key for key in dict.fromkeys(cited) if key in rules.sources]
    if keys:
        yield heading("Sources", "reference")
    for key in keys:
        entry = rules.sources[key]
        note = f"; {entry.note}" if entry.note else ""
        sure = "" if entry.confidence == "no source" else f" ({entry.confidence}{note})"
        yield item(f"{entry.title}{sure}.")


def side_by_side(faulty: Diagnosis, right: Diagnosis) -> Iterator[Block]:
    """The cycle with a fault, and that of the same machine without it, dashed."""
    now, before, gas = measured_cycle(faulty), measured_cycle(right), faulty.visit.machine.refrigerant
    if isinstance(now, NoDrawing) or isinstance(before, NoDrawing) or gas is None:
        return
    drawn = pressure_enthalpy_of(
        gas,
        now,
        before,
        faulty.system,
        station_pressure=faulty.visit.machine.station_pressure,
        names=("with the fault", "without it"),
    )
    if isinstance(drawn, Drawing):
        yield figure(drawn)
    else:
        yield line(drawn.why)
