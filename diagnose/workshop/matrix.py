"""The fault × finding matrix, from the rules themselves: what each word of each finding says for or against each fault."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.report import Block, as_markdown, as_text, deeper, heading, item, line
from diagnose.report.wording import signed
from diagnose.rulebook import Rule, Rulebook, applies
from diagnose.workshop.showing import when_text

MARK = "*"
KINDS = ("fixed orifice", "TXV")
WIDTH = 80
GAP = 2


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One word of one finding (or state), and what it says of each fault, in the order of the faults."""

    name: str
    word: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Matrix:
    """The table, and the rules of several conditions that its marks stand for."""

    book: str
    faults: tuple[str, ...]
    names: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    several: tuple[tuple[Rule, str], ...]  # rule, its conditions in words

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "rulebook": self.book,
            "faults": list(self.faults),
            "rows": [
                {
                    "finding": row.name,
                    "word": row.word,
                    "says": {f: cell for f, cell in zip(self.faults, row.cells, strict=True) if cell},
                }
                for row in self.rows
            ],
            "several": [
                {"rule": rule.id, "fault": rule.fault, "points": rule.points, "when": when}
                for rule, when in self.several
            ],
        }


def matrix(rules: Rulebook) -> Matrix:
    """The matrix of all machines: `+1/+2.5` is an orifice and a valve."""
    evidence = [rule for rule in rules.rules if rule.kind == "evidence"]
    faults = tuple(rules.faults)
    saying: dict[tuple[str, str, str], list[Rule]] = {}
    for rule in evidence:
        for name, word in dict.fromkeys((n, word) for n, words in rule.conditions for word in words):
            saying.setdefault((rule.fault, name, word), []).append(rule)
    rows = []
    for name, words in [
        *((n, e.words) for n, e in rules.findings.items()),
        *((n, e.words) for n, e in rules.states.items()),
    ]:
        for word in words:
            cells = tuple(_cell(saying.get((fault, name, word), ())) for fault in faults)
            if any(cells):
                rows.append(MatrixRow(name, word, cells))
    several = tuple((rule, when_text(rule, rules)) for rule in evidence if not _single(rule))
    several = tuple(sorted(several, key=lambda pair: faults.index(pair[0].fault)))
    return Matrix(rules.name, faults, tuple(rules.faults[f].name for f in faults), tuple(rows), several)


def _single(rule: Rule) -> bool:
    """Whether any one of its findings is enough."""
    return (len(rule.when) == 1 and not rule.either) or (not rule.when and all(len(b) == 1 for b in rule.either))


def _cell(saying: Sequence[Rule]) -> str:
    """What the rules that ask for a word say of a fault."""
    mark = MARK if any(not _single(rule) for rule in saying) else ""
    points = [_points([rule for rule in saying if _single(rule) and _for_kind(rule, kind)]) for kind in KINDS]
    if not any(points):
        return mark
    shown = [signed(p) if p else "0" for p in dict.fromkeys(points)]
    return "/".join(shown) + mark


def _for_kind(rule: Rule, kind: str) -> bool:
    metering = tuple(condition for condition in rule.applies if condition[0] == "metering")
    return applies(metering, {"metering": kind})


def _points(holding: Sequence[Rule]) -> float:
    """What the word says by itself: a rule gives its share to one that contains it, as in the ranking."""
    return sum(rule.points for rule in holding if not any(other.contains(rule) for other in holding))


# -- on paper ------------------------------------------------------------------------------------------------------


def table_text(m: Matrix, width: int = WIDTH) -> str:
    """The table as text, in as many blocks of columns as the width asks for, and what stands below it."""
    return "\n".join(_blocks(m, width)) + "\n" + as_text(explanation(m), width)


def title(m: Matrix) -> str:
    """The first line."""
    return f"What each finding says of each fault (all machines). Rule book: {m.book}."


def explanation(m: Matrix) -> list[Block]:
    """What the figures mean, and the rules of several conditions."""
    said = (
        "Points: each one doubles the odds of the fault, a negative one halves them. An empty cell says nothing. Where two "
        f"figures stand, the first is for a fixed orifice and the second for a valve. {MARK} stands where the word counts in "
        "a rule of several findings; these follow."
    )
    blocks = [line(said)]
    fault = ""
    for rule, when in m.several:
        if rule.fault != fault:
            fault = rule.fault
            blocks.append(heading(fault))
        blocks.append(item(when, signed(rule.points)))
        blocks.append(deeper(f"rule {rule.id}"))
    return blocks


def _blocks(m: Matrix, width: int) -> Iterator[str]:
    left = max([len(row.word) + 2 for row in m.rows] + [12])
    heads = [fault.replace("-", "-\n").split("\n") for fault in m.faults]
    widths = [max([*map(len, head), *(len(_even(row.cells[i])) for row in m.rows)]) for i, head in enumerate(heads)]
    for chosen in _columns(widths, width - left):
        yield ""
        height = max(len(heads[i]) for i in chosen)
        for level in range(height):
            cells = [([""] * (height - len(heads[i])) + heads[i])[level].rjust(widths[i]) for i in chosen]
            yield (" " * left + "".join(" " * GAP + cell for cell in cells)).rstrip()
        name = ""
        for row in m.rows:
            if not any(row.cells[i] for i in chosen):
                continue
            if row.name != name:
                name = row.name
                yield from textwrap.wrap(name, width)
            cells = [_even(row.cells[i]).rjust(widths[i]) for i in chosen]
            yield (f"  {row.word}".ljust(left) + "".join(" " * GAP + cell for cell in cells)).rstrip()


def _even(cell: str) -> str:
    """Figures end in one column, with or without a mark behind them."""
    return cell if cell.endswith(MARK) else f"{cell} "


def _columns(widths: Sequence[int], room: int) -> Iterator[list[int]]:
    """Which columns stand side by side: as many as fit."""
    block: list[int] = []
    used = 0
    for i, wide in enumerate(widths):
        if block and used + GAP + wide > room:
            yield block
            block, used = [], 0
        block.append(i)
        used += GAP + wide
    if block:
        yield block


def matrix_markdown(m: Matrix) -> str:
    """One Markdown table, however wide, and what stands below it."""
    lines = [
        f"# {title(m)}",
        "",
        f"| finding | word | {' | '.join(m.faults)} |",
        f"| --- | --- |{' ---: |' * len(m.faults)}",
        *(f"| {row.name} | {row.word} | {' | '.join(_escaped(cell) for cell in row.cells)} |" for row in m.rows),
    ]
    return "\n".join(lines) + "\n" + as_markdown(explanation(m)).replace(f" {MARK} ", f" \\{MARK} ")


def _escaped(cell: str) -> str:
    return cell.replace(MARK, f"\\{MARK}")
