"""The one record of a visit: it grows from step to step of the pipeline, and every front end reads it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import wraps
from typing import Any, Literal, NamedTuple, TypeVar

from diagnose.diagnosis.costs import Costs, NoCosts
from diagnose.diagnosis.dangers import Danger
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.second_fault import ExplainedAway
from diagnose.diagnosis.start_up_items import Commissioning
from diagnose.diagnosis.verdict import Charge, NoVerdict
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.uncertainty import Estimate
from diagnose.rulebook import Applying, Rule, Rulebook, machine_facts
from diagnose.rulebook.book import RuleKind
from diagnose.rulebook.matcher import Matched
from diagnose.visit import System, Visit
from diagnose.visit.reason import Reason


class GoodDayUse(NamedTuple):
    """What the visit's baseline did.

    before: the record of that day. used: quantities judged by it; odd: those that were not right even then. reasons: what of
    it is not used, and what to think of. plain: the record of today without it, before it is completed.
    """

    before: Diagnosis
    plain: Diagnosis
    used: tuple[str, ...] = ()
    odd: frozenset[str] = frozenset()
    reasons: tuple[Reason, ...] = ()


class Part(NamedTuple):
    """The quantities with or without what is doubted, and how much of the whole is judged like that, 0 to 1.

    without: the readings and quantities that are left out.
    """

    share: float
    without: frozenset[str]
    estimates: Mapping[str, Estimate]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """All that one visit says. Values only, SI; `diagnose.report` has the sentences.

    system: the units it is told in. dangers: what can hurt, by every reading that was given, the worst first; alarming: the
    findings they are told by. cautions: rules of good practice, the most urgent first. doubts: about readings. parts: the
    quantities with the doubted readings and without; estimates: those of what is more likely right than wrong; as_read: of all
    readings. explained: which findings the leading fault makes, and a second fault. not_ready: why nothing is ranked (empty:
    it is). nearly: rules that would hold everything if they were surer. first: checks that go before all others;
    always: checks that are named whatever they are worth. start_up: where the visit is the first of a machine. kept: what was
    asked of this record by itself (see `once`).
    """

    visit: Visit
    rules: Rulebook
    system: System
    good_day: GoodDayUse | None = None
    doubts: tuple[Doubt, ...] = ()
    parts: tuple[Part, ...] = ()
    estimates: Mapping[str, Estimate] = field(default_factory=dict)
    as_read: Mapping[str, Estimate] = field(default_factory=dict)
    dangers: tuple[Danger, ...] = ()
    findings: Mapping[str, Finding] = field(default_factory=dict)
    matcher: str = ""
    matched: Matched = field(default_factory=lambda: Matched((), {}))
    ranked: tuple[Ranked, ...] = ()
    outside: tuple[Reason, ...] = ()
    not_ready: tuple[Reason, ...] = ()
    nearly: tuple[Doubt, ...] = ()
    explained: ExplainedAway = field(default_factory=ExplainedAway)
    charge: Charge = field(default_factory=lambda: NoVerdict(None, ()))
    cautions: tuple[Rule, ...] = ()
    alarming: Mapping[str, Finding] = field(default_factory=dict)
    assumed: tuple[Reason, ...] = ()
    costs: Costs | NoCosts | None = None
    first: tuple[str, ...] = ()
    always: tuple[str, ...] = ()
    start_up: Commissioning | None = None
    kept: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def status(self) -> Literal["diagnosed", "not ready", "outside"]:
        """Whether faults are ranked, and if not, whether they could be later."""
        return "outside" if self.outside else "not ready" if self.not_ready else "diagnosed"

    @property
    def held(self) -> tuple[Reason, ...]:
        """Why no fault is ranked; empty where faults are."""
        return self.outside or self.not_ready

    @property
    def stop(self) -> bool:
        """Whether the machine is to be stopped before anything else."""
        return any(danger.level == "stop" for danger in self.dangers)

    @property
    def faults(self) -> tuple[Ranked, ...]:
        """Every fault, likeliest first; none where nothing may be judged."""
        return () if self.held else self.ranked

    @property
    def also(self) -> tuple[str, ...]:
        """The second fault, where one fault does not explain the findings."""
        return (self.explained.second.fault,) if self.explained.second else ()

    @property
    def applying(self) -> Applying:
        """What of the rule book speaks about this machine."""
        return self.rules.applying(machine_facts(self.visit.machine))

    @property
    def states(self) -> Mapping[str, Mapping[str, float]]:
        """What the rules concluded about the machine."""
        return self.matched.states

    def holding(self, kind: RuleKind, matched: Matched | None = None) -> list[Rule]:
        """The rules of a kind that are more likely true than not, and those without conditions."""
        likely = {firing.rule for firing in (matched or self.matched).firings if firing.sure > 0.5}
        return [rule for rule in self.applying.of_kind[kind] if rule.id in likely or not (rule.when or rule.either)]

    def grown(self, **more: Any) -> Diagnosis:
        """The record with more in it. A visit's grows a dozen times, and `dataclasses.replace` takes five times as long."""
        found: Diagnosis = object.__new__(Diagnosis)
        more.setdefault("kept", {})
        for name, read, write in _SLOTS:
            write(found, more.pop(name) if name in more else read(self))
        assert not more, f"nothing of a record is called {', '.join(more)}"
        return found

    def told_in(self, units: System | None) -> Diagnosis:
        """The same, told in US or SI units; as it is where None is given."""
        return self if units in (None, self.system) else self.grown(system=units, kept=self.kept)

    # -- how it is told: `diagnose.report` is imported when it is asked for ------------------------------------------
    def to_dict(self) -> dict[str, Any]:
        """The result as the design fixes it, ready for JSON: SI values, best fault first."""
        from diagnose.report.result import result

        return result(self)

    def row(self) -> dict[str, Any]:
        """A flat mapping for a table: answer, verdict, dangers, then each quantity with its unit in brackets, SI."""
        from diagnose.report.result import row

        return row(self)

    def __repr__(self) -> str:
        from diagnose.report.result import short

        return short(self)

    def _repr_html_(self) -> str:
        from diagnose.report.result import notebook

        return notebook(self)


T = TypeVar("T")


def once(asked: Callable[[Diagnosis], T]) -> Callable[[Diagnosis], T]:
    """The same, worked out once for each record, however many parts of a page ask for it and in whatever units."""

    @wraps(asked)
    def known(d: Diagnosis) -> T:
        if asked.__name__ not in d.kept:
            d.kept[asked.__name__] = asked(d)
        found: T = d.kept[asked.__name__]
        return found

    return known


_SLOTS = [
    (each.name, slot.__get__, slot.__set__) for each in fields(Diagnosis) for slot in [vars(Diagnosis)[each.name]]
]
