"""What is printed, as a list of plain blocks: `layout.py` draws them and adds nothing."""

from __future__ import annotations

from typing import Literal, NamedTuple

BlockKind = Literal[
    "answer", "brief", "line", "heading", "subheading", "item", "deeper", "rows", "sum", "term", "figure", "foot"
]


class Block(NamedTuple):
    """One piece of a page. rows: only for a table, the first one is its head. level: how deep a line lies.

    sum: a calculation written out, `mark` names its units. term: a word (`mark`) and what it means. figure: `svg` is the
    drawing, `text` says in words what it shows. A heading with the mark `apart` begins a new sheet of paper; below
    one with `care` stands what can hurt, with `questions` what a class is asked, with `reference` what is only looked up.
    hrefs: of each row, where it leads (empty: nowhere).
    """

    kind: BlockKind
    text: str = ""
    mark: str = ""
    rows: tuple[tuple[str, ...], ...] = ()
    level: int = 0
    svg: str = ""
    lead: str = ""  # stands before the text, in bold where that can be
    hrefs: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """Lead and text."""
        return f"{self.lead} {self.text}" if self.lead else self.text


def brief(lead: str, text: str) -> Block:
    """A part of the first screen: a word, and what it is about; no line is left free around it."""
    return Block("brief", text, lead=lead)


def heading(text: str, mark: str = "") -> Block:
    """A heading. mark: what stands below it, see Block."""
    return Block("heading", text, mark)


def subheading(text: str) -> Block:
    """A heading under a heading."""
    return Block("subheading", text)


def item(text: str, mark: str = "-", lead: str = "") -> Block:
    """A list item; `mark` stands before it."""
    return Block("item", text, mark, lead=lead)


def deeper(text: str, level: int = 1) -> Block:
    """A line that belongs to the item above it, `level` steps down."""
    return Block("deeper", text, level=level)


def line(text: str) -> Block:
    """A paragraph."""
    return Block("line", text)


def as_data(block: Block) -> dict[str, object]:
    """One block for a program; what is empty is left out."""
    found: dict[str, object] = {"kind": block.kind, "text": block.text}
    for name in ("lead", "mark", "level", "svg"):
        if value := getattr(block, name):
            found[name] = value
    if block.rows:
        found["rows"] = [list(row) for row in block.rows]
    return found
