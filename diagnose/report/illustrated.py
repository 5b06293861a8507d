"""The page of `examine` with the drawings of the visit among its sections: for HTML, where they can be seen.

It is not part of `diagnose.report`'s names, so that the page on a terminal loads no drawing.
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, heading, line
from diagnose.report.dangers import opening
from diagnose.report.drawings import Drawing, pressure_enthalpy, schematic, superheat_chart, vacuum_chart
from diagnose.report.field import held_short
from diagnose.report.first_screen import first_screen
from diagnose.report.pages import sections
from diagnose.report.sentences import said
from diagnose.report.wording import upper_first

OF_A_VISIT = {"cycle": pressure_enthalpy, "circuit": schematic, "target": superheat_chart}


def of_visit(d: Diagnosis, what: str) -> Iterator[Block]:
    """The drawing of this visit (`cycle`, `circuit`, `target`); nothing where its readings allow none."""
    drawn = OF_A_VISIT[what](d)
    if isinstance(drawn, Drawing):
        yield figure(drawn)


def figure(drawn: Drawing) -> Block:
    """A drawing as a block."""
    return Block("figure", drawn.words, drawn.title, svg=drawn.svg)


def illustrated_page(d: Diagnosis) -> list[Block]:
    """The page of `examine`, the machine named above.

    The target superheat stands with the charge, the circuit and the cycle before the figures.
    """
    parts = sections(d)
    parts["answer"] = _top(d)
    drawn_vacuum = vacuum_chart(d)
    if isinstance(drawn_vacuum, Drawing):
        parts["start-up"].append(figure(drawn_vacuum))
    if parts["charge"]:
        parts["charge"] += of_visit(d, "target")
    if drawn := [*of_visit(d, "circuit"), *of_visit(d, "cycle")]:
        parts["cautions"] += [heading("Drawings"), *drawn]
    return [block for section in parts.values() for block in section]


def _top(d: Diagnosis) -> list[Block]:
    """The first screen, and which machine it is about, for a pile of sheets; a long reason is no title."""
    screen = first_screen(d, more="everything follows.")
    whole = next(block for block in screen if block.kind == "answer")
    long = d.held and d.start_up is None
    title = Block("answer", held_short(d)) if long else whole
    reasons = [line(said(d, d.held[0]))] if long else []
    head = opening(d, title.text)
    others = [block for block in screen if block is not whole and block not in head]
    return [*head, line(f"{upper_first(d.visit.machine.name)}."), *reasons, *others]
