"""What was read from the files of a book, each entry with its place; its names, and the mistakes found in it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, NamedTuple, TypeVar

from pydantic import BaseModel

from diagnose import units
from diagnose.properties import REFRIGERANTS
from diagnose.quantities import QuantityKind
from diagnose.rulebook.change_model import WrittenChange
from diagnose.rulebook.entries import Conditions, JudgedFigure
from diagnose.rulebook.facts import MACHINE_FACTS
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.fields import Cited, WordOrWords, near
from diagnose.rulebook.limits import KINDS
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
from diagnose.visit import READINGS
from diagnose.yamlfile import Document, Problem, did_you_mean

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


# -- what every check across the files asks, and where it tells -------------------------------------------------------

_BETWEEN_WORDS = re.compile(r"\s*(?:[;,/|+&]|\bor\b|\band\b)\s*")
_NO_SOURCE = "Add it to sources.yaml, or write `common-practice` where nothing was read."
# What may be missing, and the files that hold it.
_HOLD = {
    "a finding": {"findings.yaml"},
    "a state": {"states.yaml"},
    "a finding or a state": {"findings.yaml", "states.yaml"},
    "a check": {"checks.yaml"},
    "a source": {"sources.yaml"},
    "a fault": {"faults"},
    "a figure": {"judgement.yaml"},
    "a rule": {"faults", "states.yaml", "readiness.yaml", "cautions.yaml", "rules.yaml"},
}


class Known:
    """Lives for one book only. unsure, unread: as in `check_book`. silent: entries that do not speak, with their status.

    renamed: as in `Rulebook`.
    """

    def __init__(
        self,
        unsure: frozenset[str],
        unread: frozenset[str],
        silent: Mapping[str, str] | None = None,
        renamed: Mapping[str, Mapping[str, str]] | None = None,
    ) -> None:
        self.unsure = unsure
        self.unread = unread
        self.silent = silent or {}
        self.renamed = {} if renamed is None else renamed
        self.problems: list[Problem] = []
        self.rules: dict[str, Spot] = {}  # by id, where each stands
        self.broken: set[str] = set()  # ids of rules whose conditions are not what they were meant to be
        self.words: dict[str, tuple[str, ...]] = {}  # of findings
        self.by_value: frozenset[str] = frozenset()  # findings whose limits are all figures of their own
        self.seen: frozenset[str] = frozenset()  # findings that are looked at
        self.states: dict[str, tuple[str, ...]] = {}
        self.checks: Sequence[str] = ()
        self.sources: Sequence[str] = ()
        self._near_sources: dict[str, str] = {}  # by what was cited
        self.faults: Mapping[str, Mapping[str, WordOrWords]] = {}  # each with the machines that can have it
        self.figures: dict[str, JudgedFigure] = {}
        self.kinds: dict[str, QuantityKind] = dict(KINDS)  # of quantities
        self.facts: dict[str, tuple[str, ...] | None] = dict(MACHINE_FACTS)

    # -- mistakes ----------------------------------------------------------------------------------------------------
    def bad(self, spot: Spot, what: str, fix: str = "", key: bool = False) -> None:
        """What is wrong there, or with the name there, and how to mend it."""
        self.problems.append(spot.problem(what, fix, key))

    def missing(self, spot: Spot, name: str, what: str, known: Iterable[str], key: bool = False, fix: str = "") -> None:
        """`name` is not a finding, check …, unless it is one that is there and broken, and told already."""
        if name in self.silent:
            draft = self.silent[name] == "draft"
            what_else = "a draft, and speaks only with `--drafts`" if draft else "retired"
            mend = (
                "Put it in force, or make this a draft as well."
                if draft
                else "Take it out here, or put it in force again."
            )
            self.bad(spot, f"`{name}` is {what_else}", mend, key)
        elif name not in self.unsure and not self.unread & _HOLD[what]:
            now = next((new for kind in what.split() if (new := self.renamed.get(kind, {}).get(name))), None)
            if now is not None:
                fix = f"It is called `{now}` now; `diagnose rules upgrade` writes that everywhere."
            self.bad(spot, f"`{name}` is not {what}", fix or near(name, list(known)), key)

    def not_a_word(self, spot: Spot, word: object, name: str, known: Sequence[str]) -> None:
        """What stands where a word of the finding, state or machine fact `name` is expected."""
        if word is None:
            self.bad(spot, f"`{name}` has no word here", f"Write one of: {', '.join(known)}.")
        elif isinstance(word, Mapping | list):
            fix = f"Write one of: {', '.join(known)}; or several as `[one, two]`."
            self.bad(spot, f"a {'list' if isinstance(word, list) else 'group'} is not a word of `{name}`", fix)
        else:
            text = str(word).lower() if isinstance(word, bool) else str(word)
            several = [part for part in _BETWEEN_WORDS.split(text) if part]
            fix = near(text, list(known))
            if len(several) > 1 and set(several) <= set(known):
                fix = f"Write them as a list: `[{', '.join(several)}]`."
            self.bad(spot, f"`{text}` is not a word of `{name}`", fix)

    # -- what many entries have --------------------------------------------------------------------------------------
    def only_words(self, spot: Spot, words: WordOrWords, name: str, known: Sequence[str]) -> None:
        """One word of `name` or a list of them."""
        if words == []:
            self.not_a_word(spot, None, name, known)
        for i, word in enumerate([words] if isinstance(words, str) else words):
            if word not in known:
                self.not_a_word(spot if isinstance(words, str) else spot / i, word, name, known)

    def applies(self, spot: Spot, value: Mapping[str, WordOrWords]) -> Conditions:
        """Machine facts and their words."""
        found = []
        for name, words in value.items():
            if self.told_of_own(name):
                continue
            if name not in self.facts:
                fix = near(name, list(self.facts))
                if name in self.words or self.is_figure(name):
                    fix = "What is measured or seen goes into `when`, as a finding and its words."
                self.bad(spot / name, f"`{name}` is not a machine fact", fix, key=True)
                continue
            self.only_words(spot / name, words, name, self.facts[name] or REFRIGERANTS)
            found.append((name, frozenset([words] if isinstance(words, str) else words)))
        return tuple(found)

    def told_of_own(self, name: str) -> bool:
        """Whether a mistake in own.yaml hides what this fact or quantity is."""
        return name in self.unsure or ("own.yaml" in self.unread and name not in self.kinds and name not in self.facts)

    def is_figure(self, name: str) -> bool:
        """Whether a reading or a quantity has this name."""
        return name in self.kinds or name in READINGS

    def cited(self, spot: Spot, source: Cited) -> None:
        """A source's key, then places in it, then perhaps another key; the first must be a key."""
        for i, item in enumerate(source):
            if item in self.sources or (i > 0 and " " in item):
                continue
            if (close := self._near_sources.get(item)) is None:
                close = self._near_sources[item] = did_you_mean(item, self.sources)
            if i == 0 or close:
                here = spot / i if (*spot.at, i) in spot.document.marks else spot
                self.missing(here, item, "a source", self.sources, fix=close or _NO_SOURCE)

    def gauge_pressure(self, spot: Spot, written: str) -> float | None:
        """Pa above the air; None where it is no such pressure, which is told."""
        try:
            found = units.parse(written, "pressure", "610 psig")
        except units.UnitError as error:
            self.bad(spot, error.what, error.fix)
            return None
        if not found.gauge or found.value <= 0:
            self.bad(spot, f"`{written}` is no pressure above the air", "For example `610 psig`.")
            return None
        return found.value
