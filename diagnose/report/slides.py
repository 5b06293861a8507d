"""Blocks as slides: one idea a screen, large enough for the back row, answers hidden until they are touched. No script.

A slide is one heading with a few lines, one table, one drawing, or one question. On paper each is a sheet of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from diagnose.report import html
from diagnose.report.blocks import Block
from diagnose.report.layout import together
from diagnose.report.webpage import CARE, own_ids

LETTERS = 260
"""Letters of text on a slide, above which the next line begins another one: ten lines of the slides' own size."""
ROWS = 7
"""Rows of a table on a slide; a longer one goes on with its head on the next."""
QUESTIONS, ANSWERS = "Questions to ask a class", "Answers"


@dataclass(frozen=True, slots=True)
class Slide:
    """One screen. lines: (mark or lead, text); rows: a table with its head; svg: a drawing; answer: hidden at first."""

    title: str
    lines: tuple[tuple[str, str], ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    svg: str = ""
    answer: str = ""


def slides_page(blocks: Sequence[Block]) -> str:
    """The slides as one self-contained page."""
    made = slides(blocks)
    return html.page(
        "slides.html", {"title": made[0].title, "slides": [_data(i, slide) for i, slide in enumerate(made)]}
    )


def _data(i: int, slide: Slide) -> dict[str, Any]:
    return {
        "number": i + 1,
        "title": slide.title,
        "lines": slide.lines,
        "head": slide.rows[0] if slide.rows else (),
        "rows": slide.rows[1:],
        "svg": own_ids(slide.svg, f"slide-{i + 1}-") if slide.svg else "",
        "answer": slide.answer,
    }


def slides(blocks: Sequence[Block]) -> list[Slide]:
    """The slides of a page. Questions and their answers, which stand apart on a page, come together here."""
    blocks = [
        replace(b, text=together(b.text), rows=tuple(tuple(map(together, row)) for row in b.rows)) for b in blocks
    ]
    title = next((b.text for b in blocks if b.kind == "answer"), "Lesson")
    answers = _under(blocks, ANSWERS)
    found = [Slide(title)]
    section, part = title, ""
    for block in blocks:
        if block.kind == "answer" or block.kind == "foot":
            continue
        if block.kind == "heading":
            section, part = block.text, ""
            continue
        if section == ANSWERS:
            continue
        if block.kind == "subheading":
            part = block.text
            continue
        head = f"{section}: {part}" if part else section
        if section == QUESTIONS and block.kind == "item":
            found.append(
                Slide(f"Question {block.mark}".rstrip("."), (("", block.text),), answer=answers.get(block.mark, ""))
            )
        else:
            found += _added(found[-1], head, block)
            if found[-1].title == head and len(found) > 1 and found[-2].title == head and _fits(found[-2], found[-1]):
                last = found.pop()
                found[-1] = replace(found[-1], lines=(*found[-1].lines, *last.lines))
    return found


def _under(blocks: Sequence[Block], title: str) -> dict[str, str]:
    """Mark → text of the items below a heading."""
    found: dict[str, str] = {}
    inside = False
    for block in blocks:
        if block.kind == "heading":
            inside = block.text == title
        elif inside and block.kind == "item":
            found[block.mark] = block.text
    return found


def _added(before: Slide, head: str, block: Block) -> Iterator[Slide]:
    """What a block adds: one slide, or several for a long table."""
    if block.kind == "rows":
        top, body = block.rows[0], block.rows[1:]
        for start in range(0, max(len(body), 1), ROWS):
            yield Slide(head, rows=(top, *body[start : start + ROWS]))
    elif block.kind == "figure":
        yield Slide(block.mark or head, svg=block.svg)
    else:
        mark = f"{CARE}." if block.mark == "!" else "" if block.mark == "-" else block.mark
        yield Slide(head, ((" ".join(part for part in (mark, block.lead) if part), block.text),))


def _fits(one: Slide, other: Slide) -> bool:
    """Whether the lines of two slides stand on one screen."""
    if one.rows or other.rows or one.svg or other.svg or one.answer or other.answer:
        return False
    return sum(len(lead) + len(text) + 20 for lead, text in (*one.lines, *other.lines)) <= LETTERS
