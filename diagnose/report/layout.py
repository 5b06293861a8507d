"""Blocks as plain text that reads at arm's length in 80 columns, or as Markdown."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence

from diagnose.report.blocks import Block, as_data

WIDTH = 80
LAST = 20  # so far the last column alone gives way
# For terminals that know no more than ASCII.
PLAIN = {
    "±": "+/-", "°": "", "−": "-", "…": "...", "’": "'", "×": "x", "→": "->", "³": "3", "²": "2", "√": "sqrt",
    "“": '"', "”": '"',
}  # fmt: skip
# A number stays with its unit, and with its ±, on one line; NO_BREAK is a space again once the lines are broken.
NO_BREAK = "\u00a0"
_UNITS = (
    "K F C A m g kg lb ft in inH2O inHg oz ton cfm W kW Pa kPa MPa bar psi psig psia L/s gr/lb g/kg Btu/lb kJ/kg "
    "ft3/lb m3/kg oz/ft g/m minute minutes hours point points"
)
_TOGETHER = re.compile(  # begins with the space, for which a text is searched quickly
    rf" (?:(?<=\d )(?=to [−\d])|(?<=\d to )(?=[−\d])|(?<=[\d±] )(?=[±°%\d]|(?:{_UNITS.replace(' ', '|')})\b)"
    r"|(?=±)|(?<=\d lb )(?=\d)|(?<=L/s )(?=per\b)|(?<=\bper )(?=kW\b))"
)
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def as_text(blocks: Sequence[Block], width: int = WIDTH) -> str:
    """Plain text, wrapped; ends with a line break."""
    lines: list[str] = []
    below_heading = False
    for block in blocks:
        if block.kind == "heading":
            lines += ["", block.text]
            below_heading = True
        elif block.kind == "subheading":
            lines += ["", *_wrap(block.text, "  ", width)]
        elif block.kind == "rows":
            lines += _table(block.rows, width)
        elif block.kind == "sum":
            lines += _wrap(block.text, f"     {block.mark}  " if block.mark else "     ", width)
        elif block.kind == "term":
            lines += ["", *_wrap(block.mark, "  ", width), *_wrap(block.text, "     ", width)]
        elif block.kind == "figure":
            lines += ["", *_wrap(f"Drawing: {block.text}", "  ", width)]
        elif block.kind == "item":
            lines += _wrap(block.said, f"  {block.mark} ", width)
        elif block.kind == "deeper":
            lines += _wrap(block.text, " " * (5 + 2 * block.level), width)
        elif block.kind == "line":
            lines += _wrap(block.text, "  ", width) if below_heading else ["", *_wrap(block.text, "", width)]
        elif block.kind == "brief":
            lines += _wrap(block.said, "", width, "  ")
        elif block.kind == "foot":  # belongs to the whole page
            lines += ["", *_wrap(block.text, "", width)]
        else:
            lines += _wrap(block.text, "", width)
    return "\n".join(lines) + "\n"


def together(text: str) -> str:
    """The text with spaces that do not break between a number, its ± and its unit."""
    return _TOGETHER.sub(NO_BREAK, text)


def unbroken(block: Block) -> Block:
    """The block with all of its texts kept together like that, for a page that breaks lines by itself."""
    return block._replace(
        text=together(block.text), rows=tuple(tuple(together(cell) for cell in row) for row in block.rows)
    )


def as_page(blocks: Iterable[Block]) -> list[dict[str, object]]:
    """The blocks for a program that draws them."""
    return [as_data(unbroken(block)) for block in blocks]


def _wrap(text: str, mark: str, width: int, indent: str | None = None) -> list[str]:
    indent = " " * len(mark) if indent is None else indent
    lines = textwrap.wrap(
        together(text), max(width, 40), initial_indent=mark, subsequent_indent=indent, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(NO_BREAK, " ") for line in lines] or [mark.rstrip()]


def _table(rows: Sequence[Sequence[str]], width: int) -> list[str]:
    """Columns as wide as they must be; where the line is full, the last one goes on below, and then the widest.

    No word is broken, nor a number from its unit: where they do not fit side by side, the cells stand one below another.
    """
    widths = [max(1, *map(len, column)) for column in zip(*rows, strict=True)]
    least = [
        max(len(word) for cell in column for word in together(cell).split(" ")) for column in zip(*rows, strict=True)
    ]
    if sum(least) + 2 * len(least) > width:
        return [line for row in rows[1:] for line in _stacked(rows[0], row, width)]
    while sum(widths) + 2 * len(widths) > width:
        wide = [i for i, most in enumerate(widths) if most > least[i]]
        widths[-1 if widths[-1] > max(LAST, least[-1]) else max(wide, key=lambda i: (widths[i], -i))] -= 1
    lines = []
    for row in rows:
        columns = [_cell(cell, wide) for cell, wide in zip(row, widths, strict=True)]
        for i in range(max(len(column) for column in columns)):
            shown = [column[i] if i < len(column) else "" for column in columns]
            lines.append("".join(f"  {text.ljust(wide)}" for text, wide in zip(shown, widths, strict=True)).rstrip())
    return lines


def _stacked(head: Sequence[str], row: Sequence[str], width: int) -> list[str]:
    """A row of a table that is too wide: its first cell, and below it the others, each behind the name of its column."""
    said = [f"{name}: {cell}" if name else cell for name, cell in zip(head[1:], row[1:], strict=True) if cell]
    return [*_wrap(row[0], "  ", width), *(line for cell in said for line in _wrap(cell, "    ", width))]


def _cell(text: str, width: int) -> list[str]:
    lines = textwrap.wrap(together(text), width, break_on_hyphens=False)
    return [line.replace(NO_BREAK, " ") for line in lines] or [""]


def as_markdown(blocks: Sequence[Block]) -> str:
    """Markdown with headings, lists and tables."""
    return re.sub(r"\n{3,}", "\n\n", "".join(_markdown(block) for block in blocks))


def _marked(text: str) -> str:
    """On one line, and without a tag of what somebody wrote."""
    return " ".join(text.split()).replace("<", "\\<")


def _cell_of(text: str) -> str:
    """The same for a cell of a table."""
    return _marked(text).replace("|", "\\|")


def _markdown(block: Block) -> str:
    block = block._replace(text=_marked(block.text), lead=_marked(block.lead))
    if block.kind == "answer":
        return f"# {block.text}\n"
    if block.kind == "heading":
        return f"\n## {block.text}\n\n"
    if block.kind == "subheading":
        return f"\n### {block.text}\n\n"
    if block.kind == "sum":
        return f"- {f'{block.mark}: ' if block.mark else ''}{block.text}\n"
    if block.kind == "term":
        return f"- **{block.mark}**: {block.text}\n"
    if block.kind == "figure":
        return f"\n*Drawing: {block.text}*\n\n"
    if block.kind == "brief":
        return f"\n**{block.lead}** {block.text}\n"
    if block.kind == "item":
        lead = f"**{block.lead}** " if block.lead else ""
        if block.mark.rstrip(".").isdigit():
            return f"{block.mark} {lead}{block.text}\n"
        note = "" if block.mark == "-" else f"**{block.mark}** "
        return f"- {note}{lead}{block.text}\n"
    if block.kind == "deeper":
        return f"{'  ' * block.level}- {block.text}\n"
    if block.kind == "rows":
        head, *rest = block.rows
        lines = [map(_cell_of, head), ("---",) * len(head), *(map(_cell_of, row) for row in rest)]
        return "\n" + "".join(f"| {' | '.join(cells)} |\n" for cells in lines) + "\n"
    return f"\n{block.text}\n"


def plain(text: str, encoding: str) -> str:
    """The same text for an output that cannot show every sign: known ones are spelled out, the rest become `?`.

    Control characters, which a visit file may hold, never reach a terminal.
    """
    text = _CONTROL.sub("?", text)
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        for sign, word in PLAIN.items():
            text = text.replace(sign, word)
        return text.encode("ascii", "replace").decode("ascii")
    return text
