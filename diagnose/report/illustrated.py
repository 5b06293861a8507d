"""The page of `examine` with the drawings of the visit among its sections: for HTML, where they can be seen.

It is not part of `diagnose.report`'s names, so that the page on a terminal loads no drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, heading, line
from diagnose.report.drawings import Drawing, pressure_enthalpy, schematic, superheat_chart
from diagnose.report.pages import answer, charge_section, diagnosis_page, figures_section, machine_section
from diagnose.report.sentences import said

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
    blocks = diagnosis_page(d)
    blocks[:1] = _top(d)
    drawn = [*of_visit(d, "circuit"), *of_visit(d, "cycle")]
    if drawn:
        i = _place(blocks, figures_section(d), machine_section(d))
        blocks[i:i] = [heading("Drawings"), *drawn]
    if judged := list(charge_section(d)):
        i = blocks.index(judged[0]) + 1
        while i < len(blocks) and blocks[i].kind != "heading":
            i += 1
        blocks[i:i] = of_visit(d, "target")
    return blocks


def _top(d: Diagnosis) -> Iterator[Block]:
    """The answer, and which machine it is about, for a pile of sheets; a long reason is no title."""
    name = d.visit.machine.name
    ready = d.status != "not ready"
    yield Block("answer", answer(d) if ready else "Not ready to judge.")
    yield line(f"{name[:1].upper()}{name[1:]}.")
    if not ready:
        yield line(said(d, d.not_ready[0]))


def _place(blocks: Sequence[Block], *sections: Iterable[Block]) -> int:
    """Where the first of these sections that the page has begins; its end where it has none of them."""
    for section in sections:
        first = next(iter(section), None)
        if first in blocks:
            return blocks.index(first)
    return len(blocks)
