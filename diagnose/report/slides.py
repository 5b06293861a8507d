"""Blocks as slides: one idea a screen, large enough for the back row, answers hidden until they are touched. No script.

A slide is one heading with a few lines, one table, one drawing, or one question. On paper each is a sheet of its own. What is
there to be looked up (a heading with the mark `reference`) stays with the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from diagnose.report import html
from diagnose.report.blocks import Block
from diagnose.report.layout import together
from diagnose.report.webpage import CARE, own_ids

LETTERS = 400
"""Letters on a slide, above which the next idea begins another one: about nine lines of the slides' own size."""
A_LINE = 45
"""Letters that a line of its own counts for at least."""
ROWS = 9
"""Lines of a table on a slide; a longer one goes on with its head on the next."""
ACROSS = 72
"""Letters that fit beside each other in a table."""

SlideLine = tuple[str, str]  # what stands before the text in bold, and the text


@dataclass(frozen=True, slots=True)
class Slide:
    """One screen. rows: a table with its head; svg: a drawing; answer: hidden at first."""

    title: str
    lines: tuple[SlideLine, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    svg: str = ""
    answer: str = ""


def slides_page(blocks: Sequence[Block]) -> str:
    """The slides as one self-contained page."""
    made = slides(blocks)
    shown = [_data(i + 1, slide) for i, slide in enumerate(made)]
    return html.page("slides.html", {"title": made[0].title, "slides": shown})


def _data(number: int, slide: Slide) -> dict[str, Any]:
    return {
        "number": number,
        "title": slide.title,
        "lines": slide.lines,
        "head": slide.rows[0] if slide.rows else (),
        "rows": slide.rows[1:],
        "svg": own_ids(slide.svg, f"slide-{number}-") if slide.svg else "",
        "answer": slide.answer,
    }


def slides(blocks: Sequence[Block]) -> list[Slide]:
    """The slides of a page. Questions and their answers, which stand apart on a page, come together here."""
    blocks = [
        b._replace(text=together(b.text), rows=tuple(tuple(map(together, row)) for row in b.rows))
        for b in blocks
        if b.kind != "foot"
    ]
    title = next((b.text for b in blocks if b.kind == "answer"), "Lesson")
    sections = list(_sections([b for b in blocks if b.kind != "answer"], title))
    answers = {b.mark: b.text for head, body in sections if head.mark == "apart" for b in body if b.kind == "item"}
    found = [Slide(title)]
    for head, body in sections:
        if head.mark in ("reference", "apart"):
            continue
        if head.mark == "questions":
            found += [
                Slide(f"Question {b.mark.rstrip('.')}", (("", b.text),), answer=answers.get(b.mark, ""))
                for b in body
                if b.kind == "item"
            ]
        else:
            found += _section(head.text, body)
    first, *rest = found
    if (
        rest and rest[0].title == title and not rest[0].rows and not rest[0].svg
    ):  # the opening words share the first screen
        first, rest = rest[0], rest[1:]
    return [first, *rest]


def _sections(blocks: Sequence[Block], title: str) -> Iterator[tuple[Block, list[Block]]]:
    """Each heading with what stands below it; what stands above the first one comes under the title."""
    head, body = Block("heading", title), list[Block]()
    for block in blocks:
        if block.kind == "heading":
            if body:
                yield head, body
            head, body = block, []
        else:
            body.append(block)
    if body:
        yield head, body


def _section(title: str, body: Sequence[Block]) -> Iterator[Slide]:
    """One section: its ideas, as many on a slide as can be read there."""
    head = title
    waiting: list[list[SlideLine]] = []
    for i, block in enumerate(body):
        if block.kind == "subheading":
            yield from _told(head, waiting)
            head, waiting = block.text, []
        elif block.kind == "rows":
            lead = [line for idea in waiting for line in idea] if _size(waiting) <= LETTERS / 3 else []
            yield from [] if lead else _told(head, waiting)
            waiting = []
            yield from _table(head, block, lead)
        elif block.kind == "figure":
            yield from _told(head, waiting)
            waiting = []
            begins = i == 0 or body[i - 1].kind == "subheading"
            yield Slide(head if begins else block.mark, svg=block.svg)
        elif waiting and (block.kind == "deeper" or waiting[-1][-1][1].endswith(":")):
            waiting[-1].append(_line(block))
        else:
            waiting.append([_line(block)])
    yield from _told(head, waiting)


def _line(block: Block) -> SlideLine:
    mark = f"{CARE}." if block.mark == "!" else "" if block.mark == "-" else block.mark
    return " ".join(part for part in (mark, block.lead) if part), block.text


def _table(head: str, block: Block, lead: Sequence[SlideLine]) -> Iterator[Slide]:
    """A table in parts, none longer than fits."""
    top, body = block.rows[0], block.rows[1:]
    longest = [max(map(len, column)) for column in zip(*block.rows, strict=True)]
    share = min(1.0, ACROSS / sum(longest))
    room = ROWS - 2 * len(lead)
    part: list[tuple[str, ...]] = []
    for row in body:
        high = max(ceil(len(cell) / max(8.0, share * long)) for cell, long in zip(row, longest, strict=True))
        if part and high > room:
            yield Slide(head, tuple(lead), (top, *part))
            part, lead, room = [], (), ROWS
        part.append(row)
        room -= high
    yield Slide(head, tuple(lead), (top, *part))


def _told(head: str, ideas: Iterable[list[SlideLine]]) -> Iterator[Slide]:
    """Ideas, none of them broken over two slides unless it is too long for one."""
    lines: list[SlideLine] = []
    for idea in (part for whole in ideas for part in _fitting(whole)):
        if lines and _size([lines, idea]) > LETTERS:
            yield Slide(head, tuple(lines))
            lines = []
        lines += idea
    if lines:
        yield Slide(head, tuple(lines))


def _fitting(idea: list[SlideLine]) -> list[list[SlideLine]]:
    """The idea, or its lines one by one, the first never alone."""
    return [idea] if _size([idea]) <= LETTERS else [idea[:2], *([line] for line in idea[2:])]


def _size(ideas: Iterable[Sequence[SlideLine]]) -> int:
    return sum(max(len(lead) + len(text), A_LINE) for idea in ideas for lead, text in idea)
