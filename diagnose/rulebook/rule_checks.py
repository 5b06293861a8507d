"""Whether a rule reads what there is, says what it reads, and is tested; and whether any two ask for the same."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.rulebook import compiling
from diagnose.rulebook.book import Rule
from diagnose.rulebook.entries import FROM, Conditions, RuleEntry
from diagnose.rulebook.fields import WordOrWords, near
from diagnose.rulebook.known import Known, Placed, Spot
from diagnose.rulebook.limits import MADE_IN
from diagnose.rulebook.matcher import MatcherError, Pattern
from diagnose.rulebook.matcher.plan import make_plan
from diagnose.rulebook.models import (
    CautionRule,
    EvidenceRule,
    ReadinessRule,
    StateRule,
    WrittenFindingEntry,
    WrittenRuleEntry,
)
from diagnose.visit.fields import COOLING

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
_BY_FINDINGS = (EvidenceRule, StateRule)  # what speaks only when something was found
_SAYS = {"fires": "makes it fire", "quiet": "leaves it quiet"}


def check_rule(known: Known, placed: Placed[Any], fault: str) -> Rule:
    """One rule of any kind, checked and compiled."""
    entry: WrittenRuleEntry = placed.entry
    spot = placed.spot
    if entry.id in known.rules:
        what = f"`{entry.id}` is already the id of a rule in {known.rules[entry.id] / 'id'}"
        known.bad(spot / "id", what, "Rename one.")
    known.rules.setdefault(entry.id, spot)
    told = len(known.problems)
    when, either = _condition(known, entry.when, spot / "when")
    of_fault = {fact: words for fact, words in known.faults.get(fault, {}).items() if fact not in entry.applies}
    applies = compiling.conditions(of_fault) + known.applies(spot / "applies", entry.applies)
    written = [conditions for conditions in (entry.when, *entry.when.get("any", ())) if _is_group(conditions)]
    if len(known.problems) > told or sum(map(len, (when, *either))) < len(
        [n for c in written for n in c if n != "any"]
    ):
        known.broken.add(entry.id)
    if not entry.when and isinstance(entry, _BY_FINDINGS):
        fix = "A rule speaks only when something was found, for example `when: {superheat: high}`."
        known.bad(spot / "id", f"`{entry.id}` has no `when`", fix)
    holding = isinstance(entry, ReadinessRule) or (isinstance(entry, CautionRule) and entry.level is not None)
    if holding and not entry.when and not entry.applies:
        known.bad(spot / "id", f"`{entry.id}` would speak on every visit", "Say on which: add a `when`, or `applies`.")
    known.cited(spot / "source", entry.source)
    if entry.check is not None and entry.check not in known.checks:
        known.missing(spot / "check", entry.check, "a check", known.checks)
    _placeholders(known, entry, spot)
    _trials(known, entry, bool(when or either), spot)
    of_its_kind: dict[str, Any]
    if isinstance(entry, EvidenceRule):
        of_its_kind = {"kind": "evidence", "points": entry.points}
    elif isinstance(entry, StateRule):
        of_its_kind = {"kind": "state", "concludes": _concludes(known, entry.concludes, spot / "concludes")}
    elif isinstance(entry, ReadinessRule):
        _silent(known, entry, spot, placed.own)
        of_its_kind = {"kind": "readiness", "holds": entry.holds, "silent": tuple(entry.silent)}
    else:
        assert isinstance(entry, CautionRule)
        of_its_kind = {"kind": "caution", "rank": entry.rank, "level": entry.level}
    made = compiling.entry(RuleEntry, entry)
    of_its_kind |= {"fault": fault, "file": spot.document.name, "own": placed.own}
    return Rule(entry=made, when=when, either=either, applies=applies, **of_its_kind)


def _silent(known: Known, entry: ReadinessRule, spot: Spot, own: str) -> None:
    """Whether what says nothing on a machine is measured, and follows from the machine alone.

    Only the shipped book silences anything: a hold that asks for a silent finding would be looser than it was.
    """
    if entry.silent and own:
        fix = "Hold the charge or the visit on such a machine, or ask for the machine in `applies` of your own rules."
        known.bad(spot / "silent", "a company's own rule cannot make findings say nothing", fix)
    for i, name in enumerate(entry.silent):
        if name not in known.words:
            known.missing(spot / "silent" / i, name, "a finding", known.words)
        elif name in known.seen:
            what, fix = f"`{name}` is seen, not measured", "What was seen is never left out."
            known.bad(spot / "silent" / i, what, fix)
    if entry.when and (entry.silent or entry.holds == "nothing"):
        fix = "What a machine is does not hang on its readings: use `applies`, or hold the visit or the charge."
        known.bad(spot / "when", f"`{entry.id}` is about the machine and cannot have a `when`", fix)


def _condition(known: Known, when: Mapping[str, Any], spot: Spot) -> tuple[Conditions, tuple[Conditions, ...]]:
    plain = _all_of(known, {k: v for k, v in when.items() if k != "any"}, spot)
    branches = when.get("any", [])
    if "any" in when and not (isinstance(branches, list) and branches and all(_is_group(b) for b in branches)):
        fix = "For example `any: [{air filter: dirty}, {indoor coil: dirty}]`."
        known.bad(spot / "any", "`any` must be a list of `finding: word` groups", fix)
        return plain, ()
    return plain, tuple(_all_of(known, b, spot / "any" / i) for i, b in enumerate(branches))


def _all_of(known: Known, when: Mapping[str, Any], spot: Spot) -> Conditions:
    found = []
    for name, value in when.items():
        has = known.words.get(name) or known.states.get(name)
        if has is None:
            fix = "What the machine is goes into `applies`." if name in known.facts else ""
            if known.is_figure(name):
                fix = "It is a figure: a finding in findings.yaml puts it into words, and `when` asks for one of them."
            if value is None:
                fix = "Write a colon and a space between the finding and its word: `superheat: high`."
            known.missing(spot / name, name, "a finding or a state", (*known.states, *known.words), key=True, fix=fix)
        elif words := _words_of(known, value, has, spot, name):
            found.append((name, words))
    return tuple(found)


def _words_of(known: Known, value: object, words: tuple[str, ...], spot: Spot, name: str) -> frozenset[str]:
    """The words that a condition allows; `not high` allows all others."""
    if isinstance(value, str) and value in words:
        return frozenset((value,))
    found: set[str] = set()
    several = isinstance(value, list)
    if value == []:
        known.not_a_word(spot / name, None, name, words)
    for i, item in enumerate(value if isinstance(value, list) else [value]):
        negated = isinstance(item, str) and item.startswith("not ") and item not in words
        word = item.removeprefix("not ") if isinstance(item, str) and negated else item
        if not isinstance(word, str) or word not in words:
            known.not_a_word(spot / name / i if several else spot / name, word, name, words)
        else:
            found |= set(words) - {word} if negated else {word}
    if found == set(words):
        fix = "Leave out the words that are no sign of it, or take the whole condition out."
        known.bad(spot / name, f"every word of `{name}` is allowed, so nothing is asked", fix)
    return frozenset(found)


def _concludes(known: Known, value: Mapping[str, str], spot: Spot) -> tuple[str, str]:
    if len(value) != 1:
        known.bad(spot, "a rule concludes one state", "For example `concludes: {evaporator feed: starved}`.")
        return ("", "")
    state, word = next(iter(value.items()))
    if state not in known.states:
        fix = "It is a finding: only states are concluded." if state in known.words else ""
        known.missing(spot / state, state, "a state", known.states, key=True, fix=fix)
    elif word not in known.states[state]:
        known.not_a_word(spot / state, word, state, known.states[state])
    return (state, word)


def _placeholders(known: Known, entry: WrittenRuleEntry, spot: Spot) -> None:
    """Whether the text prints only what the rule reads."""
    branches = entry.when.get("any", [])
    read = set(entry.when) - {"any"}
    if not read and not branches and isinstance(entry, _BY_FINDINGS):  # told already
        return
    if not isinstance(branches, list) or not all(_is_group(branch) for branch in branches):
        return
    read |= {name for branch in branches for name in branch}
    if not all(name in known.words or name in known.states for name in read):
        return  # a slip in `when` is told once, not here again
    if "{" not in entry.why and "}" not in entry.why:
        return
    document, at = spot.document, (*spot.at, "why")
    for name in PLACEHOLDER.findall(entry.why):
        finding, begins, word = name.partition(FROM)
        if begins and finding in read:
            if (wrong := _no_limit(known, finding, word)) is not None:
                known.problems.append(document.problem_in(at, f"{{{name}}}", *wrong))
            continue
        finding = name.removesuffix(" target")
        if finding not in read:
            what = f"`{{{name}}}` is not among the findings of this rule's `when`"
            fix = near(finding, sorted(read)) if read else "This rule reads nothing: write it without braces."
            known.problems.append(document.problem_in(at, f"{{{name}}}", what, fix))
    for brace in re.findall(r"[{}]", PLACEHOLDER.sub("", entry.why))[:1]:
        fix = "A figure is written `{superheat}`; other braces are not used."
        known.problems.append(document.problem_in(at, brace, f"a `{brace}` stands alone here", fix))


def _no_limit(known: Known, finding: str, word: str) -> tuple[str, str] | None:
    """Why there is no one figure at which this word of a finding begins, and what to do about it."""
    words = known.words.get(finding, ())
    if word not in words:
        return f"`{word}` is not a word of `{finding}`", near(word, list(words))
    if finding not in known.by_value:
        return (
            f"`{finding}` has no limit that is one figure",
            "Only a finding whose limits are all `by: value` has; write it out.",
        )
    if word == words[0]:
        return (
            f"`{word}` is the lowest word of `{finding}`: nothing begins it",
            f"For example `{{{finding}{FROM}{words[1]}}}`.",
        )
    return None


def _trials(known: Known, entry: WrittenRuleEntry, conditional: bool, spot: Spot) -> None:
    told: set[str] = set()
    for i, trial in enumerate(entry.tests):
        here = Spot(spot.document, (*spot.at, "tests", i))
        if trial.fires is None and trial.quiet is None:
            fix = "Write one of them, for example `fires: {superheat: high}`."
            known.bad(here, "this test says neither `fires` nor `quiet`", fix)
        elif trial.fires is not None and trial.quiet is not None:
            known.bad(here, "this test says both `fires` and `quiet`", "Make two of it, each beginning with `- `.")
        which = "fires" if trial.fires is not None else "quiet"
        told.update(way for way in _SAYS if getattr(trial, way) is not None)
        for name, words in (trial.fires or trial.quiet or {}).items():
            has = known.words.get(name)
            if has is None:
                fix = "It is a state: give the findings it is concluded from." if name in known.states else ""
                known.missing(here / which / name, name, "a finding", known.words, key=True, fix=fix)
            elif not (isinstance(words, str) and words in has):
                known.only_words(here / which / name, words, name, has)
        if trial.machine:
            known.applies(here / "machine", trial.machine)
    for which in ("fires", "quiet"):
        if conditional and which not in told:
            fix = f"Add one under `tests:`, for example `- {which}: {{superheat: high}}`."
            known.bad(spot / "id", f"`{entry.id}` has no test that {_SAYS[which]}", fix)


def check_speaks(known: Known, rules: Sequence[Rule], findings: Mapping[str, Placed[WrittenFindingEntry]]) -> None:
    """That there is a machine of which each rule can speak: it may have the fault, and what is asked for is made there."""
    for rule in rules:
        if rule.id in known.broken:
            continue
        on = ({"mode": frozenset((COOLING,))} if rule.kind == "evidence" else {}) | dict(rule.applies)
        only = {rule.fault: [known.faults[rule.fault]]} if rule.fault in known.faults else {}
        for entry in (findings[name].entry for name in rule.findings if name in findings):
            if entry.scales:
                mode = {"mode": MADE_IN[entry.quantity]} if entry.quantity in MADE_IN else {}
                only[entry.finding] = [mode | scale.applies for scale in entry.scales]
        for name, machines in only.items():
            if not any(_meet(on, machine) for machine in machines):
                there = dict.fromkeys(f"`{f}: {w}`".replace("'", "") for m in machines for f, w in m.items())
                fix = f"It is there with {' or '.join(there)}. Evidence that does not name the mode is for cooling."
                known.bad(known.rules[rule.id] / "id", f"`{name}` is not on the machines that this rule is about", fix)
                break


def _meet(on: Mapping[str, frozenset[str]], applies: Mapping[str, WordOrWords]) -> bool:
    """Whether some machine is of both kinds."""
    return all(fact not in on or on[fact] & {*([w] if isinstance(w, str) else w)} for fact, w in applies.items())


def check_together(known: Known, rules: Sequence[Rule]) -> None:
    """That no two rules ask for the same, and that the matcher can hold them all."""
    same: dict[Any, Rule] = {}
    for rule in sorted(rules, key=lambda rule: bool(rule.own)):  # the shipped rule is never the one to blame
        if (not rule.when and not rule.either) or rule.id in known.broken:
            continue
        key = (rule.kind, rule.fault, rule.concludes, frozenset(rule.when), frozenset(rule.either), rule.applies)
        if key in same:
            other = same[key]
            what = f"`{rule.id}` asks for the same as `{other.id}` in {known.rules[other.id] / 'id'}"
            fix = "Keep one of them."
            if rule.own and not other.own:
                fix = "Take it out, or change the points of the shipped one in changes.yaml."
            known.bad(known.rules[rule.id] / "when", what, fix)
        same.setdefault(key, rule)
    whole = [r for r in rules if (r.when or r.either) and (r.concludes is None or r.concludes[0] in known.states)]
    _matching(known, [Pattern(r.id, r.when, r.either, r.concludes) for r in {r.id: r for r in whole}.values()])


def _matching(known: Known, patterns: Sequence[Pattern]) -> None:
    """What the rule engine would refuse, told here and not at the first visit."""
    try:
        make_plan(patterns)
    except MatcherError as whole:
        found = [whole]
        for pattern in patterns:
            try:
                make_plan([pattern])
            except MatcherError as error:
                found += [error] if error.what != whole.what else []
        for each in found:
            spot = known.rules[each.rules[0]] / "when"
            known.bad(spot, each.what.replace("'", "`"), each.fix.replace("'", "`"))


def _is_group(value: object) -> bool:
    return isinstance(value, Mapping) and bool(value)
