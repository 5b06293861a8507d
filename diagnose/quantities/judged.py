"""Figures that a senior technician could argue about: how they are declared beside the code that decides by them.

The figures themselves stand in rules/judgement.yaml; the rule book (rulebook/judgement.py) fills these groups from it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

FigureKind = Literal[
    "ratio", "count", "temperature", "difference", "time", "current", "pressure", "vacuum", "airflow per capacity",
    "share per kelvin", "word",
]  # fmt: skip
"""`ratio`: a plain number of any meaning (share, points, times). `share per kelvin`: written `2 %/F`."""


@dataclass(frozen=True, slots=True)
class FigureSpec:
    """What one figure may be. low, high: as it would be written; count: how many figures, rising where `rising`.

    absent: what is meant where a row leaves it out (`...`: it must stand there). words: of a figure that is a word.
    """

    kind: FigureKind
    low: str | float = 0.0
    high: str | float = 0.0
    count: int = 1
    rising: bool = False
    absent: Any = ...
    words: tuple[str, ...] = ()


RowSpec = Callable[[str, str, FigureSpec, Mapping[str, str]], FigureSpec]


class FigureRows(NamedTuple):
    """A table inside a group: one row of figures a name. names: all that must be there; None: any quantity may be.

    spec: what a figure of one row may be, from the row's name, the figure's, its usual spec, and the row's words.
    """

    of: type
    names: tuple[str, ...] | None
    spec: RowSpec


def figure(kind: FigureKind, low: str | float, high: str | float, count: int = 1, **more: Any) -> Any:
    """A field of a group: one figure of rules/judgement.yaml, SI, and between what it must lie."""
    return field(metadata={"spec": FigureSpec(kind, low, high, count, **more)})


def word(*words: str) -> Any:
    """A field of a row that is one of some words."""
    return field(metadata={"spec": FigureSpec("word", words=words)})


def rows(of: type, names: tuple[str, ...] | None, spec: RowSpec) -> Any:
    """A field of a group that is a table: name -> row."""
    return field(metadata={"rows": FigureRows(of, names, spec)})
