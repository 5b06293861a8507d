"""What is printed, as a list of plain blocks: `layout.py` draws them and adds nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BlockKind = Literal["answer", "line", "heading", "item", "deeper", "rows", "foot"]


@dataclass(frozen=True, slots=True)
class Block:
    """One piece of a page. rows: only for a table, the first one is its head. level: how deep a line lies."""

    kind: BlockKind
    text: str = ""
    mark: str = ""
    rows: tuple[tuple[str, ...], ...] = ()
    level: int = 0


def heading(text: str) -> Block:
    """A heading."""
    return Block("heading", text)


def item(text: str, mark: str = "-") -> Block:
    """A list item; `mark` stands before it."""
    return Block("item", text, mark)


def deeper(text: str, level: int = 1) -> Block:
    """A line that belongs to the item above it, `level` steps down."""
    return Block("deeper", text, level=level)


def line(text: str) -> Block:
    """A paragraph."""
    return Block("line", text)
