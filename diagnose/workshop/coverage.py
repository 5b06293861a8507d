"""What the rules' own tests and the cases leave untried: idle conditions, rules no case fires, words no rule asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rulebook
from diagnose.workshop.trials import RuleTrial, case_paths, read_case, rule_trials, run_case, run_rule_trial

# Findings that no rule needs to read: the charge verdict reads them itself (charge.py).
READ_BY_VERDICT = frozenset({"charge by superheat", "charge by subcooling", "metering check"})
SURE = 0.5  # a rule fires for a case when it is more likely true than not


@dataclass(frozen=True, slots=True)
class Idle:
    """A condition of a rule that no test of the rule proves. only_measured: any word would do, if there is one."""

    rule: str
    finding: str
    words: tuple[str, ...]
    only_measured: bool = False

    def __str__(self) -> str:
        asked = f"{self.rule}: `{self.finding}: {' or '.join(self.words)}`"
        if self.only_measured:
            return f"{asked} is idle: every other word fires the rule as well"
        return f"{asked} is idle: no test fires because of it. Add a test that fires by it and falls quiet without it"


def idle_conditions(rules: Rulebook, only: str | None = None) -> list[Idle]:
    """Conditions whose change to any other word, and whose removal, never quietens the rule in any of its own tests.

    Each `fires` test is run again with one finding changed or taken out, through the real matcher with the whole book.
    A condition on a state is tried by the findings that the state is concluded from.
    """
    trials: dict[str, list[RuleTrial]] = {}
    for trial in rule_trials(rules, only):
        if trial.expected:
            trials.setdefault(trial.rule, []).append(trial)
    behind = leaves(rules)
    found: list[Idle] = []
    for name, fires in trials.items():
        rule = rules.by_id[name]
        sound = [trial for trial in fires if run_rule_trial(trial, rules).passed]
        for finding, words in rule.conditions:
            tried = [_tried(trial, behind.get(finding, (finding,)), finding, words, rules) for trial in sound]
            if sound and not any(changed for changed, _ in tried):
                order = _words(finding, rules)
                removed = any(gone for _, gone in tried)
                found.append(Idle(name, finding, tuple(w for w in order if w in words), only_measured=removed))
    return found


def _tried(
    trial: RuleTrial, leaves: Sequence[str], finding: str, words: frozenset[str], rules: Rulebook
) -> tuple[bool, bool]:
    """Whether a change of a word quietens the rule, and whether taking a finding out does."""
    here = [leaf for leaf in leaves if leaf in trial.words]
    if finding in trial.words and trial.words[finding] not in words:
        return False, False  # the test fires by another branch
    changed = any(
        _quiet(trial, {**trial.words, leaf: word}, rules)
        for leaf in here
        for word in rules.findings[leaf].words
        if word != trial.words[leaf]
    )
    gone = any(_quiet(trial, {n: w for n, w in trial.words.items() if n != leaf}, rules) for leaf in here)
    return changed, gone


def _quiet(trial: RuleTrial, words: Mapping[str, str], rules: Rulebook) -> bool:
    return run_rule_trial(replace(trial, words=words, expected=False), rules).passed


def leaves(rules: Rulebook) -> dict[str, tuple[str, ...]]:
    """State -> the findings it is concluded from, through other states as well."""
    direct: dict[str, dict[str, None]] = {}
    for rule in rules.rules:
        if rule.concludes is not None:
            direct.setdefault(rule.concludes[0], {}).update(dict.fromkeys(rule.findings))

    def below(state: str) -> dict[str, None]:
        found: dict[str, None] = {}
        for name in direct.get(state, {}):
            found.update(below(name) if name in rules.states else {name: None})
        return found

    return {state: tuple(below(state)) for state in rules.states}


def _words(name: str, rules: Rulebook) -> Sequence[str]:
    return rules.findings[name].words if name in rules.findings else rules.states[name].words


# -- what the cases and the rules leave out ------------------------------------------------------------------------


def fired_by(diagnosis: Diagnosis) -> set[str]:
    """The rules with conditions that held for a visit, more likely than not."""
    return {firing.rule for firing in diagnosis.matched.firings if firing.sure > SURE}


def never_fired(rules: Rulebook) -> list[str]:
    """Rules with conditions that no shipped case fires, in the order of the book."""
    fired: set[str] = set()
    for path in case_paths():
        diagnosis = run_case(read_case(path), rules).diagnosis
        if diagnosis is not None:
            fired |= fired_by(diagnosis)
    return [rule.id for rule in rules.rules if (rule.when or rule.either) and rule.id not in fired]


def unused_findings(rules: Rulebook) -> list[str]:
    """Findings that neither a rule nor the charge verdict reads."""
    read = {name for rule in rules.rules for name in rule.findings} | READ_BY_VERDICT
    return [name for name in rules.findings if name not in read]


def unused_words(rules: Rulebook) -> dict[str, tuple[str, ...]]:
    """Of findings that are read: the words that no rule asks for. Most only fill the range between others."""
    read: dict[str, set[str]] = {}
    for rule in rules.rules:
        for name, words in rule.conditions:
            read.setdefault(name, set()).update(words)
    left = {n: tuple(w for w in e.words if w not in read[n]) for n, e in rules.findings.items() if n in read}
    return {name: words for name, words in left.items() if words}
