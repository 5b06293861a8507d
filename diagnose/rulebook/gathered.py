"""What was read from the files of a book, each entry with its place, before anything is checked across them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Generic, NamedTuple, TypeVar

from pydantic import BaseModel

from diagnose.rulebook.change_model import WrittenChange
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.models import (
    Signable,
    WrittenChargePolicy,
    WrittenCheckEntry,
    WrittenFindingEntry,
    WrittenPressureLimits,
    WrittenRuleEntry,
    WrittenSourceEntry,
    WrittenStateEntry,
)
from diagnose.yamlfile import Document, Problem

E = TypeVar("E")


class Spot(NamedTuple):  # thousands of them are made for one book
    """A place in a file; `spot / "limits" / 2` is the one below it."""

    document: Document
    at: tuple[str | int, ...] = ()

    def __truediv__(self, step: str | int) -> Spot:
        return Spot(self.document, (*self.at, step))

    def __str__(self) -> str:
        """`file:line` for messages."""
        problem = self.problem("")
        return f"{problem.file}:{problem.line}" if problem.line else problem.file

    def problem(self, what: str, fix: str = "", key: bool = False) -> Problem:
        """A problem with what stands here, or with its name."""
        return self.document.problem(self.at, what, fix, key)


@dataclass(frozen=True, slots=True)
class Placed(Generic[E]):
    """An entry and where it stands. own: the company's folder it is from; empty for the base."""

    entry: E
    spot: Spot
    own: str


@dataclass
class Gathered:
    """Everything that was read, in the order of the folders."""

    findings: list[Placed[WrittenFindingEntry]] = field(default_factory=list)
    states: list[Placed[WrittenStateEntry]] = field(default_factory=list)
    rules: list[Placed[WrittenRuleEntry]] = field(default_factory=list)
    checks: list[Placed[WrittenCheckEntry]] = field(default_factory=list)
    sources: list[tuple[str, Placed[WrittenSourceEntry]]] = field(default_factory=list)
    faults: list[Placed[WrittenFaultEntry]] = field(default_factory=list)
    charge: list[Placed[WrittenChargePolicy]] = field(default_factory=list)
    judgement: list[Placed[BaseModel]] = field(default_factory=list)
    pressure_limits: list[Placed[WrittenPressureLimits]] = field(default_factory=list)
    changes: list[Placed[WrittenChange]] = field(default_factory=list)
    own: list[Placed[Signable]] = field(default_factory=list)  # of own.yaml
    base: str = "rules"  # the folder of the whole book
    kept: dict[str, list[int]] = field(default_factory=dict)  # by fault file: which of its rules are sound, if not all
