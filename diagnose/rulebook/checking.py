"""The rules checked across files, a company's changes applied, and the whole made into a Rulebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from diagnose.properties import REFRIGERANTS
from diagnose.rulebook import compiling
from diagnose.rulebook.book import Rule, Rulebook
from diagnose.rulebook.changing import ChangedBook, apply_changes, guarding
from diagnose.rulebook.entries import ChargePolicy, CheckEntry, FaultEntry, JudgedFigure, SourceEntry, StateEntry
from diagnose.rulebook.fault_model import WrittenBrings, WrittenFaultEntry, WrittenLesson
from diagnose.rulebook.fields import WordOrWords, near
from diagnose.rulebook.finding_checks import check_finding
from diagnose.rulebook.judging import figures_of
from diagnose.rulebook.known import E, Gathered, Known, Placed, Spot
from diagnose.rulebook.models import (
    OwnRule,
    WrittenChargePolicy,
    WrittenCheckEntry,
    WrittenPressureLimits,
    WrittenRuleEntry,
    WrittenSourceEntry,
)
from diagnose.rulebook.own_checks import check_own
from diagnose.rulebook.own_model import name_of
from diagnose.rulebook.rule_checks import check_rule, check_speaks, check_together
from diagnose.rulebook.signing import entries_of, former_names, signatures, speaking, speaks
from diagnose.visit import READINGS
from diagnose.yamlfile import Problem


def check_book(
    read: Gathered,
    name: str,
    unsure: frozenset[str] = frozenset(),
    unread: frozenset[str] = frozenset(),
    drafts: bool = False,
) -> tuple[Rulebook | None, list[Problem]]:
    """The book made of everything that was read, or None and every mistake across the files.

    unsure: names of entries that are there but broken, and already told. unread: files that could not be read at all, as
    `findings.yaml`, and `faults` for any in that folder: nobody is told that what they hold does not exist. drafts: whether
    they speak as well.
    """
    entries = entries_of(read)
    signed = signatures(entries)
    silent = {n: s.status for n, s in signed.items() if not speaks(s.status, drafts)}
    renamed: dict[str, dict[str, str]] = {}
    known = Known(unsure, unread, silent, renamed)
    former = list(former_names(entries))
    for kind, old, new, spot in former:
        if renamed.setdefault(kind, {}).setdefault(old, new) != new:
            known.bad(spot, f"`{old}` became `{renamed[kind][old]}` already", "One of the two.")
    past = [placed for placed in read.findings if placed.entry.status == "retired" and placed.entry.seen]
    read = speaking(read, drafts)
    findings = _named(known, "finding", read.findings, lambda e: e.finding)
    states = _named(known, "state", read.states, lambda e: e.state)
    checks = _named(known, "check", read.checks, lambda e: e.check)
    faults = _named(known, "fault", read.faults, lambda e: e.fault)
    sources: dict[str, Placed[WrittenSourceEntry]] = {}
    for key, source in read.sources:
        _once(known, key, "source", source, sources, key=True)
    known.words = {n: tuple(p.entry.words) for n, p in findings.items()}
    known.seen = frozenset(n for n, p in findings.items() if p.entry.seen)
    known.by_value = frozenset(
        n for n, p in findings.items() if p.entry.scales and all(scale.by == "value" for scale in p.entry.scales)
    )
    known.states = {n: tuple(p.entry.words) for n, p in states.items()}
    known.checks, known.sources = list(checks), list(sources)
    known.faults = {n: p.entry.applies for n, p in faults.items()}
    _one_kind(known, {"finding": findings, "state": states, "check": checks, "fault": faults, "source": sources})
    own = check_own(known, read.own)
    for check in checks.values():
        _check(known, check)
    rules = [rule for placed in read.rules for rule in _placed_rule(known, placed)]
    for fault in faults.values():
        rules += _fault(known, fault, read.kept.get(fault.spot.document.name))
    known.figures = _judged(known, read)
    pressures = _pressure_limits(known, read.pressure_limits)
    by_id = {rule.id: rule for rule in rules}
    now = ChangedBook(known, dict(findings), dict(faults), by_id, pressures, dict(known.figures), guarding(rules))
    apply_changes(now, read.changes)
    for finding in now.findings.values():
        check_finding(known, finding)
    charge = _policy(known, read)
    _own_ids(known, [*findings.values(), *read.rules], checks, sources, faults)
    check_together(known, list(now.rules.values()))
    check_speaks(known, rules, findings)
    names: dict[str, Mapping[str, Any]] = {
        "finding": findings,
        "state": states,
        "check": checks,
        "fault": faults,
        "rule": by_id,
        "own": {},
        "source": sources,
    }
    for kind, old, _, spot in former:
        if old in names[kind]:
            known.bad(
                spot, f"`{old}` is the name of a {kind} of this book", "A name is not given twice over the years."
            )
    if known.problems or known.unsure or known.unread or charge is None or not known.figures:
        return None, known.problems
    by_usual = sorted(now.faults.values(), key=lambda p: -p.entry.usual)
    return Rulebook(
        name=name,
        findings={n: compiling.finding(p.entry, known.kinds) for n, p in now.findings.items()}
        | {p.entry.finding: compiling.retired(p.entry) for p in past if p.entry.finding not in now.findings},
        states={n: compiling.entry(StateEntry, p.entry) for n, p in states.items()},
        rules=tuple(now.rules.values()),
        faults={p.entry.fault: compiling.entry(FaultEntry, p.entry) for p in by_usual},
        checks={n: compiling.entry(CheckEntry, p.entry) for n, p in checks.items()},
        sources={n: compiling.entry(SourceEntry, p.entry) for n, p in sources.items()},
        charge=compiling.entry(ChargePolicy, charge),
        figures=now.figures,
        pressure_limits=compiling.pressure_limits(now.pressures) if now.pressures else None,
        changes=tuple((p.own, compiling.change(p.entry, p.entry in now.loosened)) for p in read.changes),
        signed=signed,
        renamed=renamed,
        on_some=tuple(now.on_some),
        own=own,
        added={n: p.own for kind in (findings, states, checks, sources, faults) for n, p in kind.items() if p.own}
        | {name_of(p.entry): p.own for p in read.own},
    ), []


# -- names ---------------------------------------------------------------------------------------------------------


def _named(known: Known, kind: str, entries: Sequence[Placed[E]], name: Callable[[E], str]) -> dict[str, Placed[E]]:
    found: dict[str, Placed[E]] = {}
    for placed in entries:
        _once(known, name(placed.entry), kind, placed, found)
    return found


def _once(
    known: Known, name: str, kind: str, placed: Placed[E], found: dict[str, Placed[E]], key: bool = False
) -> None:
    """Takes an entry, unless one of that name is there: nothing is ever replaced in silence."""
    if name in found:
        what = f"`{name}` is already a {kind} in {found[name].spot}"
        fix = "Keep one of them, or give this one another name."
        if placed.own and not found[name].own:
            fix = "Give this one another name. What is shipped is changed in changes.yaml only."
            fix += f" Rules of yours about it go into rules.yaml, each with `fault: {name}`." if kind == "fault" else ""
        known.bad(placed.spot if key else placed.spot / kind, what, fix, key)
    else:
        found[name] = placed


def _one_kind(known: Known, kinds: Mapping[str, Mapping[str, Placed[Any]]]) -> None:
    """A name is that of one thing: of a fault or of a check, never of both. The base is never the one to blame."""
    there: dict[str, tuple[str, Placed[Any]]] = {}
    named = [(n, kind, p) for kind, entries in kinds.items() for n, p in entries.items()]
    for n, kind, p in sorted(named, key=lambda one: bool(one[2].own)):
        first, placed = there.setdefault(n, (kind, p))
        if first != kind:
            key = kind == "source"
            what = f"`{n}` is already a {first} in {placed.spot}"
            known.bad(p.spot if key else p.spot / kind, what, f"Give the {kind} another name.", key=key)


def _own_ids(
    known: Known,
    others: Sequence[Placed[Any]],
    checks: Mapping[str, Placed[Any]],
    sources: Mapping[str, Placed[Any]],
    faults: Mapping[str, Placed[Any]],
) -> None:
    """Ids of a company's own entries carry the folder's name, so that no later shipped book can take them."""
    kinds = (("check", checks), ("", sources), ("fault", faults))
    named = [(kind, name, entry) for kind, entries in kinds for name, entry in entries.items()]
    for kind, name, entry in named:
        if entry.own and not name.startswith(f"{entry.own}-"):
            what = f"`{name}` must begin with the folder's name, `{entry.own}-`"
            spot = entry.spot / kind if kind else entry.spot
            known.bad(spot, what, f"For example `{entry.own}-{name}`.", key=not kind)
    for entry in (*others, *(entry for *_, entry in named)):
        if entry.own and not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", entry.own):
            what = f"the folder's name `{entry.own}` cannot begin an id"
            fix = "Small letters, digits and hyphens, for example `harbour-cooling`."
            known.bad(Spot(entry.spot.document), what, fix)
            return


# -- single entries ------------------------------------------------------------------------------------------------


def _check(known: Known, placed: Placed[WrittenCheckEntry]) -> None:
    spot, entry = placed.spot, placed.entry
    named = [(spot / "gives", entry.gives), (spot / "after", entry.after)]
    for i, facts in enumerate(entry.not_on):
        known.applies(spot / "not_on" / i, facts)
    for i, one in enumerate(entry.instead):
        known.applies(spot / "instead" / i / "applies", one.applies)
        named.append((spot / "instead" / i / "gives", one.gives))
    for place, names in named:
        for i, name in enumerate(names):
            if name not in known.words:
                known.missing(place / i, name, "a finding", known.words)


def _policy(known: Known, read: Gathered) -> WrittenChargePolicy | None:
    if not read.charge:
        fix = "Say there when the charge may be judged, with `sure`, `leads_by` and `finest_percent`."
        if "charge" not in known.unsure and "readiness.yaml" not in known.unread:
            known.problems.append(Problem(f"{read.base}/readiness.yaml", 0, 0, "`charge` is missing", fix))
        return None
    first, *others = read.charge
    for placed in others:
        fix = "Take it out: these figures are the book's own, and no folder changes them."
        known.bad(placed.spot, f"`charge` is already set in {first.spot}", fix, key=True)
    for i, group in enumerate(first.entry.one_doubt):
        for j, name in enumerate(group):
            if name not in known.faults:
                known.missing(first.spot / "one_doubt" / i / j, name, "a fault", known.faults)
    for i, alike in enumerate(first.entry.unparted):
        spot = first.spot / "unparted" / i
        known.cited(spot / "source", alike.source)
        known.applies(spot / "applies", alike.applies)
        _words(known, alike.findings, spot / "findings")
        _words(known, alike.parted_by, spot / "parted_by")
        for j, name in enumerate(alike.faults):
            if name not in known.faults:
                known.missing(spot / "faults" / j, name, "a fault", known.faults)
    return first.entry


def _judged(known: Known, read: Gathered) -> dict[str, JudgedFigure]:
    """The figures of judgement.yaml; none where the file cannot be read, and that is told already."""
    if not read.judgement:
        return {}
    document = read.judgement[0].spot.document

    def told(at: tuple[str, ...], what: str, fix: str, key: bool = False) -> None:
        known.bad(Spot(document, at), what, fix, key)

    figures = figures_of(read.judgement[0].entry, told)
    for name, figure in figures.items():
        at = tuple(name.split("/"))
        while at and (*at, "source") not in document.marks:
            at = at[:-1]
        known.cited(Spot(document, at) / "source", list(figure.source))
    return figures


def _pressure_limits(known: Known, read: Sequence[Placed[WrittenPressureLimits]]) -> WrittenPressureLimits | None:
    """The base's own, checked; a company's folder changes single limits in changes.yaml only."""
    found = None
    for placed in read:
        if found is not None or placed.own:
            what = "`pressure_limits` is the shipped book's own"
            fix = "Change a single limit in changes.yaml, as `pressure_limit: R-410A`."
            known.bad(placed.spot, what, fix, key=True)
            continue
        found = placed.entry
        known.cited(placed.spot / "source", found.source)
        for name, limit in found.limits.items():
            spot = placed.spot / "limits" / name
            if name not in REFRIGERANTS:
                what = f"`{name}` is not a refrigerant of this program"
                known.bad(spot, what, near(name, list(REFRIGERANTS)), key=True)
            known.gauge_pressure(spot, limit)
    return found


def _placed_rule(known: Known, placed: Placed[WrittenRuleEntry]) -> list[Rule]:
    """A rule that stands outside a fault's file."""
    entry, fault = placed.entry, ""
    if placed.own and not entry.id.startswith(f"{placed.own}/"):
        fix = f"For example `{placed.own}/{entry.id.rpartition('/')[2]}`."
        what = f"`{entry.id}` must begin with the folder's name, `{placed.own}/`"
        known.bad(placed.spot / "id", what, fix)
    if isinstance(entry, OwnRule):
        fault = entry.fault
        if fault not in known.faults:
            known.missing(placed.spot / "fault", fault, "a fault", known.faults)
            return []
    return [check_rule(known, placed, fault)]


# -- a fault's file ------------------------------------------------------------------------------------------------


def _fault(known: Known, placed: Placed[WrittenFaultEntry], kept: list[int] | None) -> list[Rule]:
    """kept: which of its rules are sound, if not all."""
    entry, spot, file = placed.entry, placed.spot, placed.spot.document.name
    if Path(file).stem != entry.fault:
        what = f"the file is not named after the fault `{entry.fault}`"
        fix = f"Call the file `{entry.fault}.yaml`, or write `fault: {Path(file).stem}`."
        known.bad(spot / "fault", what, fix)
    known.cited(spot / "usual_source", entry.usual_source)
    for other in entry.looks_like:
        here = spot / "looks_like" / other
        if other == entry.fault:
            known.bad(here, "this is the fault itself", "Name another fault.", key=True)
        elif other not in known.faults:
            known.missing(here, other, "a fault", known.faults, key=True)
    known.applies(spot / "applies", entry.applies)
    for other in entry.in_heating.looks_like if entry.in_heating is not None else ():
        if other not in known.faults:
            known.missing(spot / "in_heating" / "looks_like" / other, other, "a fault", known.faults, key=True)
    if entry.repair is not None:
        for part, steps in (("do", entry.repair.do), ("cautions", entry.repair.cautions)):
            for i, step in enumerate(steps):
                if not isinstance(step, str):
                    known.applies(spot / "repair" / part / i / "applies", step.applies)
    if entry.lesson is not None:
        _lesson(known, entry.lesson, spot / "lesson")
    for i, brings in enumerate(entry.brings):
        _brings(known, brings, spot / "brings" / i)
    found = []
    for i, rule in zip(kept or range(len(entry.rules)), entry.rules, strict=True):
        here = spot / "rules" / i
        if rule.id in known.silent:
            continue
        if not rule.id.startswith(f"{entry.fault}/"):
            name = rule.id.rpartition("/")[2]
            fix = f"For example `{entry.fault}/{name if name != entry.fault else 'what-is-seen'}`."
            known.bad(here / "id", f"`{rule.id}` must begin with `{entry.fault}/`", fix)
        found.append(check_rule(known, Placed(rule, here, placed.own), entry.fault))
    return found


def _lesson(known: Known, lesson: WrittenLesson, spot: Spot) -> None:
    known.cited(spot / "source", lesson.source)
    names = [*known.kinds, *READINGS]
    for i, moving in enumerate(lesson.readings):
        here = spot / "readings" / i
        if moving.quantity not in names:
            what = f"`{moving.quantity}` is neither a quantity nor a reading"
            known.bad(here / "quantity", what, near(moving.quantity, names))
        known.applies(here / "applies", moving.applies)


def _brings(known: Known, entry: WrittenBrings, spot: Spot) -> None:
    """What a fault makes by itself: findings and their words, spelled out."""
    known.applies(spot / "applies", entry.applies)
    known.cited(spot / "source", entry.source)
    _words(known, entry.findings, spot / "findings")


def _words(known: Known, findings: Mapping[str, WordOrWords], spot: Spot) -> None:
    """Findings and words of theirs, spelled out."""
    for name, words in findings.items():
        here = spot / name
        if name not in known.words:
            known.missing(here, name, "a finding", known.words, key=True)
        else:
            known.only_words(here, words, name, known.words[name])
