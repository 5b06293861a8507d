"""Checked entries of the files become the plain entries of a compiled book; what the checks would refuse raises here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from diagnose import units
from diagnose.quantities import QuantityKind
from diagnose.rulebook.change_model import WrittenChange
from diagnose.rulebook.entries import (
    BookChange,
    Brings,
    ChargePolicy,
    CheckEntry,
    CheckInstead,
    ClassQuestion,
    Conditions,
    FaultEntry,
    Figure,
    FindingEntry,
    InHeating,
    Lesson,
    Moving,
    PressureLimits,
    Repair,
    RepairStep,
    RuleEntry,
    SourceEntry,
    StateEntry,
    StoryStep,
    Trial,
    Unparted,
    WordScale,
    WrongCall,
)
from diagnose.rulebook.fault_model import (
    WrittenBrings,
    WrittenFaultEntry,
    WrittenLesson,
    WrittenRepair,
    WrittenRepairStep,
)
from diagnose.rulebook.fields import Words
from diagnose.rulebook.limits import kind_of, limits_of, spread_of
from diagnose.rulebook.models import (
    WrittenChargePolicy,
    WrittenCheckEntry,
    WrittenFindingEntry,
    WrittenPressureLimits,
    WrittenRuleEntry,
    WrittenScale,
    WrittenSourceEntry,
    WrittenStateEntry,
)


def conditions(written: Mapping[str, Words]) -> Conditions:
    """`{metering: [TXV, EEV]}` as the matcher and `applies` want it."""
    return tuple((name, frozenset([words] if isinstance(words, str) else words)) for name, words in written.items())


def finding(w: WrittenFindingEntry, kinds: Mapping[str, QuantityKind]) -> FindingEntry:
    """Its limits and spreads in SI. kinds: of all quantities."""
    scales = tuple(_scale(kinds[w.quantity or ""], scale) for scale in w.scales)
    return FindingEntry(w.finding, w.what, w.quantity, w.seen, w.ask, w.minutes, tuple(w.words), scales)


def retired(w: WrittenFindingEntry) -> FindingEntry:
    """A finding that is asked for no more; visits that name it can still be read."""
    return replace(finding(w, {}), ask=None)


def _scale(kind: QuantityKind, w: WrittenScale) -> WordScale:
    return WordScale(
        applies=conditions(w.applies),
        target=w.target,
        by=w.by,
        kind=kind_of(kind, w),
        limits=limits_of(kind, w) if w.by != "target" else (),
        spread=spread_of(kind, w),
        limits_written=tuple(w.limits) if w.by != "target" else (),
        spread_written=w.spread,
        source=tuple(w.source),
        why=w.why,
    )


def state(w: WrittenStateEntry) -> StateEntry:
    """Nothing is worked out."""
    return StateEntry(w.state, w.question, w.means, tuple(w.words))


def check(w: WrittenCheckEntry) -> CheckEntry:
    """Nothing is worked out."""
    instead = tuple(CheckInstead(conditions(i.applies), i.ask, i.why) for i in w.instead)
    return CheckEntry(w.check, w.ask, w.why, w.minutes, tuple(w.gives), w.needs, instead, tuple(w.after))


def source(w: WrittenSourceEntry) -> SourceEntry:
    """Nothing is worked out."""
    return SourceEntry(w.title, w.confidence, w.note)


def _example(written: Mapping[str, Words] | None) -> dict[str, tuple[str, ...]] | None:
    if written is None:
        return None
    return {name: (words,) if isinstance(words, str) else tuple(words) for name, words in written.items()}


def rule(w: WrittenRuleEntry) -> RuleEntry:
    """What is said of a rule; its conditions are resolved by the checks, which know every word."""
    tests = tuple(Trial(_example(t.fires), _example(t.quiet), t.machine, t.because) for t in w.tests)
    return RuleEntry(w.id, w.title, w.why, tuple(w.source), w.check, tests)


def fault(w: WrittenFaultEntry) -> FaultEntry:
    """Without its rules."""
    return FaultEntry(
        fault=w.fault,
        name=w.name,
        usual=w.usual,
        usual_source=tuple(w.usual_source),
        charge=w.charge,
        what=w.what,
        looks_like=w.looks_like,
        in_heating=InHeating(w.in_heating.what, w.in_heating.expect, w.in_heating.looks_like) if w.in_heating else None,
        applies=conditions(w.applies),
        brings=tuple(_brings(each) for each in w.brings),
        repair=_repair(w.repair) if w.repair else None,
        lesson=_lesson(w.lesson) if w.lesson else None,
        wrong_call=WrongCall(w.wrong_call.hours, w.wrong_call.why) if w.wrong_call else None,
    )


def _brings(w: WrittenBrings) -> Brings:
    return Brings(conditions(w.applies), conditions(w.findings), w.shows, tuple(w.source))


def _repair(w: WrittenRepair) -> Repair:
    return Repair(_steps(w.do), _steps(w.cautions), w.expect)


def _steps(written: Sequence[str | WrittenRepairStep]) -> tuple[RepairStep, ...]:
    return tuple(RepairStep(s) if isinstance(s, str) else RepairStep(s.do, conditions(s.applies)) for s in written)


def _lesson(w: WrittenLesson) -> Lesson:
    return Lesson(
        source=tuple(w.source),
        story=tuple(StoryStep(step.place, step.what) for step in w.story),
        readings=tuple(Moving(m.quantity, conditions(m.applies), m.moves, m.why) for m in w.readings),
        confirm=tuple(w.confirm),
        questions=tuple(ClassQuestion(q.ask, q.answer) for q in w.questions),
    )


def policy(w: WrittenChargePolicy) -> ChargePolicy:
    """Nothing is worked out."""
    return ChargePolicy(
        sure=w.sure,
        leads_by=w.leads_by,
        least_share=w.least_share,
        finest_percent=w.finest_percent,
        one_doubt=tuple(tuple(group) for group in w.one_doubt),
        unparted=tuple(
            Unparted(tuple(u.faults), conditions(u.findings), tuple(u.parted_by), tuple(u.source)) for u in w.unparted
        ),
        source=tuple(w.source),
        why=w.why,
    )


def pressure_limits(w: WrittenPressureLimits) -> PressureLimits:
    """The limits in Pa above the air."""
    limits = {name: units.parse(limit, "pressure").value for name, limit in w.limits.items()}
    return PressureLimits(limits, dict(w.limits), w.near, tuple(w.source), w.why)


def change(w: WrittenChange, loosens: bool) -> BookChange:
    """What it changes is named once, not in one of five fields."""
    return BookChange(
        w.kind,
        w.target,
        _changed(w.was),
        _changed(w.now),
        w.because,
        w.date,
        loosens,
        w.approved_by if loosens else None,
        w.author,
        conditions(w.applies),
    )


def _changed(figure: Figure | list[Figure] | None) -> float | tuple[Figure, ...] | None:
    return (figure,) if isinstance(figure, str) else tuple(figure) if isinstance(figure, list) else figure
