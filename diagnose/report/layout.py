"""Blocks as plain text that reads at arm's length in 80 columns, or as Markdown."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from diagnose.report.blocks import Block

WIDTH = 80
# For terminals that know no more than ASCII.
PLAIN = {
    "±": "+/-", "°": "", "−": "-", "…": "...", "’": "'", "×": "x", "→": "->", "³": "3", "²": "2",
}  # fmt: skip
# A number stays with its unit, and with its ±, on one line; NO_BREAK is a space again once the lines are broken.
NO_BREAK = "\u00a0"
_TOGETHER = re.compile(r"(?<=[\d±]) (?=[±°%\d]|K\b|ton\b|cfm|kW|oz|psi|kPa|in\b|minutes)")


def as_text(blocks: Sequence[Block], width: int = WIDTH) -> str:
    """Plain text, wrapped; ends with a line break."""
    lines: list[str] = []
    below_heading = False
    for block in blocks:
        if block.kind == "heading":
            lines += ["", block.text]
            below_heading = True
        elif block.kind == "rows":
            lines += _table(block.rows)
        elif block.kind == "item":
            lines += _wrap(block.text, f"  {block.mark} ", width)
        elif block.kind == "deeper":
            lines += _wrap(block.text, " " * (5 + 2 * block.level), width)
        elif block.kind == "line":
            lines += _wrap(block.text, "  ", width) if below_heading else ["", *_wrap(block.text, "", width)]
        else:
            lines += _wrap(block.text, "", width)
    return "\n".join(lines) + "\n"


def _wrap(text: str, mark: str, width: int) -> list[str]:
    together = _TOGETHER.sub(NO_BREAK, text)
    indent = " " * len(mark)
    lines = textwrap.wrap(
        together, max(width, 40), initial_indent=mark, subsequent_indent=indent, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(NO_BREAK, " ") for line in lines] or [mark.rstrip()]


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        ("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))).rstrip() for row in rows
    ]


def as_markdown(blocks: Sequence[Block]) -> str:
    """Markdown with headings, lists and tables."""
    return "".join(_markdown(block) for block in blocks)


def _markdown(block: Block) -> str:
    if block.kind == "answer":
        return f"# {block.text}\n"
    if block.kind == "heading":
        return f"\n## {block.text}\n\n"
    if block.kind == "item":
        if block.mark.rstrip(".").isdigit():
            return f"{block.mark} {block.text}\n"
        note = {"-": "", "!": "**Take care:** "}.get(block.mark, f"**{block.mark}** ")
        return f"- {note}{block.text}\n"
    if block.kind == "deeper":
        return f"{'  ' * block.level}- {block.text}\n"
    if block.kind == "rows":
        head, *rest = block.rows
        lines = [head, ("---",) * len(head), *rest]
        return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)
    return f"\n{block.text}\n"


def plain(text: str, encoding: str) -> str:
    """The same text for an output that cannot show every sign: known ones are spelled out, the rest become `?`."""
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        for sign, word in PLAIN.items():
            text = text.replace(sign, word)
        return text.encode("ascii", "replace").decode("ascii")
    return text
