"""Blocks as one self-contained HTML page: nothing from a network, no script, to be printed on A4 or Letter."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from diagnose.report import html
from diagnose.report.blocks import Block
from diagnose.report.html import slug
from diagnose.report.layout import unbroken

CARE = "Take care"
CONTENTS = 4  # sections from which a page begins with a list of them


def web_page(
    blocks: Sequence[Block], contents: bool = True, fold: bool = False, template: str = "lesson.html",
    more: Mapping[str, object] | None = None,
) -> str:  # fmt: skip
    """The whole page. The first block of the kind `answer` is its title, what comes before it stands above it; each heading
    begins a section.

    contents: a long page begins with a list of its sections. fold: sections are closed until they are touched; on paper they
    are all open. template: `handover.html` for a report of few sheets; more: what only that template shows.
    """
    blocks = [unbroken(block) for block in blocks]
    at = next((i for i, block in enumerate(blocks) if block.kind == "answer"), -1)
    above, title = blocks[: max(at, 0)], blocks[at].text if at >= 0 else "Lesson"
    lead: list[Block] = []
    sections: list[tuple[Block, list[Block]]] = []
    for block in blocks[at + 1 :]:
        if block.kind == "heading":
            sections.append((block, []))
        else:
            (sections[-1][1] if sections else lead).append(block)
    ids = _ids([head.text for head, _ in sections])
    drawings = iter(range(1, 1 + len(blocks)))
    made = [
        {
            "id": name,
            "title": head.text,
            "apart": head.mark == "apart",
            "parts": list(_parts(_once(head, body), drawings)),
        }
        for name, (head, body) in zip(ids, sections, strict=True)
    ]
    return html.page(
        template,
        {
            "title": title,
            "above": list(_parts(above, drawings)),
            "lead": list(_parts(lead, drawings)),
            "sections": made,
            "contents": contents and len(made) >= CONTENTS,
            "fold": fold,
            **(more or {}),
        },
    )


def _once(head: Block, body: Sequence[Block]) -> list[Block]:
    """The section; under a heading that says to take care not every item says so again."""
    return [block._replace(mark="-") if block.mark == "!" and head.mark == "care" else block for block in body]


def _ids(titles: Sequence[str]) -> list[str]:
    """One a section, unlike each other."""
    found: list[str] = []
    for i, title in enumerate(titles):
        name = slug(title) or f"section-{i + 1}"
        found.append(name if name not in found else f"{name}-{i + 1}")
    return found


def _parts(blocks: Sequence[Block], drawings: Iterator[int]) -> Iterator[dict[str, Any]]:
    """Paragraphs as they are; items, sums and terms that follow each other as one list."""
    i = 0
    while i < len(blocks):
        block = blocks[i]
        if block.kind in ("item", "deeper"):
            j = i
            while j < len(blocks) and blocks[j].kind in ("item", "deeper"):
                j += 1
            yield from _lists(blocks[i:j])
            i = j
        elif block.kind in ("sum", "term"):
            j = i
            while j < len(blocks) and blocks[j].kind == block.kind:
                j += 1
            yield {"kind": block.kind, "entries": [{"mark": b.mark, "text": b.text} for b in blocks[i:j]]}
            i = j
        elif block.kind == "rows":
            yield {
                "kind": "table",
                "head": block.rows[0],
                "rows": block.rows[1:],
                "caption": block.text,
                "hrefs": block.hrefs[1:],
            }
            i += 1
        elif block.kind == "figure":
            yield {
                "kind": "figure",
                "svg": own_ids(block.svg, f"drawing-{next(drawings)}-"),
                "title": block.mark,
                "words": block.text,
            }
            i += 1
        else:
            yield {"kind": block.kind, "text": block.text, "lead": block.lead}
            i += 1


def _lists(blocks: Sequence[Block]) -> Iterator[dict[str, Any]]:
    """Items with the lines that belong to them, as deep as they lie; numbered ones apart from the others."""
    entries: list[dict[str, Any]] = []
    numbered = False
    above: list[tuple[int, dict[str, Any]]] = []  # the lines that a deeper one may belong to, outermost first
    for block in blocks:
        if block.kind == "deeper" and entries:
            above = [(level, entry) for level, entry in above if level < block.level] or [(0, entries[-1])]
            below: dict[str, Any] = {"text": block.text, "deeper": []}
            above[-1][1]["deeper"].append(below)
            above.append((block.level, below))
            continue
        is_number = block.mark.rstrip(".").isdigit()
        if entries and is_number != numbered:
            yield {"kind": "list", "numbered": numbered, "entries": entries}
            entries = []
        numbered = is_number
        mark = "" if is_number or block.mark in ("-", "") else block.mark
        entries.append(
            {"mark": f"{CARE}." if mark == "!" else mark, "lead": block.lead, "text": block.text, "deeper": []}
        )
        above = [(0, entries[-1])]
    if entries:
        yield {"kind": "list", "numbered": numbered, "entries": entries}


def own_ids(svg: str, prefix: str) -> str:
    """The drawing with its ids made its own, so that two of a kind can stand on one page."""
    names = re.findall(r'\bid="([^"]+)"', svg)
    for name in sorted(set(names), key=len, reverse=True):
        word = re.escape(name)
        svg = re.sub(rf'\bid="{word}"', f'id="{prefix}{name}"', svg)
        svg = re.sub(rf"url\(#{word}\)", f"url(#{prefix}{name})", svg)
        svg = re.sub(rf'href="#{word}"', f'href="#{prefix}{name}"', svg)
    return re.sub(
        r'\baria-(labelledby|describedby)="([^"]*)"',
        lambda m: f'aria-{m[1]}="{" ".join(prefix + one if one in names else one for one in m[2].split())}"',
        svg,
    )
