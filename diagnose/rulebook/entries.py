"""The entries of a compiled rule book: frozen values, limits in SI, conditions spelled out, nothing left to look up.

`models.py` says how the same entries are written in the files.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Literal, NamedTuple

from diagnose.quantities.registry import QuantityKind

Conditions = tuple[tuple[str, frozenset[str]], ...]
"""Names and, for each, the words it may have; all must hold."""
ScaleTarget = Literal["maker", "protocol", "typical", "assumed", "none", "baseline"]
ScaleBy = Literal["value", "difference", "nearest", "share", "target"]
PlaceName = Literal["compressor", "condenser", "liquid line", "metering device", "evaporator", "suction line"]
Moves = Literal["up", "down", "stays", "stays then up", "stays then down", "either"]
ChangeKind = Literal["points", "limits", "usual", "judgement", "off", "pressure_limit"]
Holds = Literal["visit", "charge", "outside", "nothing"]
"""What a readiness rule holds back. nothing: it only tells what is otherwise on this machine."""
Level = Literal["stop", "care"]
"""stop: switch the machine off before anything else. care: it can hurt while it is worked on."""
EntryStatus = Literal["draft", "in force", "retired"]
"""Of an entry of a company's own. A draft speaks only where drafts were asked for, what is retired never."""
FigureAsWritten = str | int | float
"""A limit as it is written: with its unit, or a plain number."""
FROM = " from "
"""`{discharge line from too hot}` in a rule's `why`: the figure at which that word of the finding begins."""
BAD_VISIT = "bad visit"
"""A truth beside the faults: what is wrong is the visit, and nobody can say what the machine has."""


def fields_of(kind: type) -> tuple[str, ...]:
    """The names of the fields of an entry, a rule or a book that are not worked out of others."""
    return getattr(kind, "_fields", None) or tuple(f.name for f in fields(kind) if f.init)


class WordScale(NamedTuple):
    """Limits between the words of a finding, for the machines it applies to.

    limits, spread: SI, figures of `kind`; spread is that of healthy machines, None where the expected value brings its
    own. limits_written, spread_written: the same as the file has them.
    """

    applies: Conditions
    target: ScaleTarget | None
    by: ScaleBy
    kind: QuantityKind
    limits: tuple[float, ...]
    spread: float | None
    limits_written: tuple[FigureAsWritten, ...]
    spread_written: FigureAsWritten | None
    source: tuple[str, ...]
    why: str


class FindingEntry(NamedTuple):
    """A quantity put into words, or something seen."""

    finding: str
    what: str
    quantity: str | None
    seen: bool
    ask: str | None
    minutes: float
    words: tuple[str, ...]
    scales: tuple[WordScale, ...]


class StateEntry(NamedTuple):
    """A state that rules may conclude, and its words."""

    state: str
    question: str
    means: str | None
    words: tuple[str, ...]


class CheckInstead(NamedTuple):
    """How a check is told on the machines it applies to."""

    applies: Conditions
    ask: str
    why: str
    gives: tuple[str, ...] = ()


class CheckEntry(NamedTuple):
    """Something to do next that would settle a doubt."""

    check: str
    ask: str
    why: str
    minutes: float
    gives: tuple[str, ...]
    needs: str | None
    not_on: tuple[Conditions, ...] = ()
    instead: tuple[CheckInstead, ...] = ()
    after: tuple[str, ...] = ()


class SourceEntry(NamedTuple):
    """A publication, or the honest word that there is none."""

    title: str
    confidence: str
    note: str | None


class Trial(NamedTuple):
    """Examples beside a rule: findings that must make it fire, or must leave it quiet; one of the two is None.

    Several words of a finding stand for an example with each of them, beside the first of every other finding.
    """

    fires: Mapping[str, tuple[str, ...]] | None
    quiet: Mapping[str, tuple[str, ...]] | None
    machine: Mapping[str, str]
    because: str | None

    @property
    def findings(self) -> Mapping[str, tuple[str, ...]]:
        """Those of the examples, whatever they are for."""
        return self.fires if self.fires is not None else self.quiet or {}

    def each(self) -> Iterator[dict[str, str]]:
        """The findings of every single example, one word each."""
        first = {name: words[0] for name, words in self.findings.items()}
        yield first
        for name, words in self.findings.items():
            yield from (first | {name: word} for word in words[1:])


class RuleEntry(NamedTuple):
    """What is said of a rule of any kind; what it asks for and what follows stands in `Rule`."""

    id: str
    title: str
    why: str
    source: tuple[str, ...]
    check: str | None = None
    tests: tuple[Trial, ...] = ()


class RepairStep(NamedTuple):
    """One thing to do or to beware of, on the machines it applies to."""

    do: str
    applies: Conditions = ()


class Repair(NamedTuple):
    """What to do about a fault, what can hurt, and what the readings should do afterwards."""

    do: tuple[RepairStep, ...]
    cautions: tuple[RepairStep, ...]
    expect: str


class StoryStep(NamedTuple):
    """What happens at one place of the circuit."""

    place: PlaceName
    what: str


class Moving(NamedTuple):
    """A quantity or a reading, which way the fault moves it, and why."""

    quantity: str
    applies: Conditions
    moves: Moves
    why: str


class ClassQuestion(NamedTuple):
    """A question to ask a class, and its answer."""

    ask: str
    answer: str


class Lesson(NamedTuple):
    """The fault as it is taught: along the refrigerant's path, reading by reading, with questions for a class."""

    source: tuple[str, ...]
    story: tuple[StoryStep, ...]
    readings: tuple[Moving, ...]
    confirm: tuple[str, ...]
    questions: tuple[ClassQuestion, ...]


class WrongCall(NamedTuple):
    """Hours lost by acting on this fault where another is the true one: what a check that prevents it is worth."""

    hours: float
    why: str


class Brings(NamedTuple):
    """Findings that a fault makes by itself, on the machines it applies to: no reason to look for a second fault.

    shows: how often each then shows, 0 to 1; None where the usual share of judgement.yaml holds.
    """

    applies: Conditions
    findings: Conditions
    shows: float | None
    source: tuple[str, ...]


class InHeating(NamedTuple):
    """What is told of a fault in heating instead."""

    what: str
    expect: str
    looks_like: Mapping[str, str]


class FaultEntry(NamedTuple):
    """Everything about one fault but its rules, which `Rulebook.evidence` has."""

    fault: str
    name: str
    usual: float
    usual_source: tuple[str, ...]
    charge: Literal["low", "high", "right"] | None
    what: str
    looks_like: Mapping[str, str]
    in_heating: InHeating | None
    applies: Conditions
    brings: tuple[Brings, ...]
    repair: Repair | None
    lesson: Lesson | None
    wrong_call: WrongCall | None

    def __repr__(self) -> str:
        return f"<Fault {self.fault}: {self.name}>"

    def told_in_heating(self) -> FaultEntry:
        """The same as it is told of a machine that heats; look-alikes, story and questions of cooling are none there."""
        if any(name == "mode" for name, _ in self.applies):
            return self
        lesson = self.lesson and self.lesson._replace(story=(), confirm=(), questions=())
        if self.in_heating is None:
            return self._replace(looks_like={}, lesson=lesson)
        repair = self.repair and self.repair._replace(expect=self.in_heating.expect)
        told = self.in_heating
        return self._replace(what=told.what, looks_like=told.looks_like, repair=repair, lesson=lesson)


class Unparted(NamedTuple):
    """Faults of which none may be said strongly while these findings stand and nothing of `parted_by` is known."""

    faults: tuple[str, ...]
    findings: Conditions
    parted_by: Conditions
    source: tuple[str, ...]
    applies: Conditions = ()


class ChargePolicy(NamedTuple):
    """When the charge may be judged and how finely: the figures of charge.py. Shares from 0 to 1, and percent."""

    sure: float
    leads_by: float
    least_share: float
    finest_percent: float
    one_doubt: tuple[tuple[str, ...], ...]
    unparted: tuple[Unparted, ...]
    source: tuple[str, ...]
    why: str


class JudgedFigure(NamedTuple):
    """A figure of judgement.yaml. figure: its name, `second fault/firm`. value: SI, one or several; empty for a word."""

    figure: str
    value: tuple[float, ...]
    written: tuple[FigureAsWritten, ...]
    why: str
    source: tuple[str, ...]


class PressureLimits(NamedTuple):
    """How high the high side may go where the machine's own cut-out is not known.

    limits: refrigerant -> Pa above the air. written: the same as the file has it. near: the share of a limit from which care
    is asked for.
    """

    limits: Mapping[str, float]
    written: Mapping[str, str]
    near: float
    source: tuple[str, ...]
    why: str


class BookChange(NamedTuple):
    """A company's change of one shipped figure, or a shipped rule switched off; limits as they are written.

    target: the rule, finding, fault, figure or refrigerant that is changed. was, now: None where a rule is switched off.
    loosens: whether a danger or a hold is told later than by the shipped book, or not at all; approved_by: who answers for
    that. author: who decided it. applies: the machines it holds on, all unless there is something.
    """

    kind: ChangeKind
    target: str
    was: float | tuple[FigureAsWritten, ...] | None
    now: float | tuple[FigureAsWritten, ...] | None
    because: str
    date: str
    loosens: bool = False
    approved_by: str | None = None
    author: str | None = None
    applies: Conditions = ()


class OnSome(NamedTuple):
    """What a change with `applies` makes of a rule, a fault or a finding on these machines.

    points: of a rule or, as `usual`, of a fault; None where the rule is switched off. scales: of a finding, all of them.
    """

    applies: Conditions
    kind: ChangeKind
    target: str
    points: float | None
    scales: tuple[WordScale, ...] = ()


class Signed(NamedTuple):
    """Who wrote an entry of a company's own, since when it holds, and whether it speaks: a draft only where drafts do."""

    author: str | None
    since: str | None
    status: EntryStatus


class Unfit(NamedTuple):
    """Why other rules judge than those asked for: the company's folders in which mistakes stand, and how many.

    instead: the last of these rules that had none, or the shipped ones alone.
    """

    folders: tuple[str, ...]
    mistakes: int
    instead: Literal["last", "shipped"]
