"""What the rules' own tests and the cases leave untried, and what the cases came to.

Idle conditions, rules no case fires, words no rule asks for. And what no example of a rule needs: each rule with one thing
changed, which some example beside it should notice: a word dropped from a condition, a neighboring word added to one, a
condition dropped, a branch of `any` dropped. The examples are run through the real matcher once, for the states that they
conclude; a changed rule is then held against what was found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Conditions, Rule, Rulebook, applies
from diagnose.workshop.trials import CaseResult, RuleTrial, case_paths, read_case, rule_trials, run_case, run_rule_trial

# Findings that no rule needs to read: the charge verdict reads them itself (charge.py).
READ_BY_VERDICT = frozenset({"charge by superheat", "charge by subcooling", "metering check"})
SURE = 0.5  # a rule fires for a case when it is more likely true than not


@dataclass(frozen=True, slots=True)
class Idle:
    """A condition of a rule that no test of the rule proves."""

    rule: str
    finding: str
    words: tuple[str, ...]

    def __str__(self) -> str:
        asked = f"{self.rule}: `{self.finding}: {' or '.join(self.words)}`"
        return f"{asked} is idle: no test fires because of it. Add a test that fires by it and falls quiet without it"


def idle_conditions(rules: Rulebook, only: str | None = None) -> list[Idle]:
    """Conditions whose change to any other word never quietens the rule in any of its own tests.

    Each `fires` test is run again with one finding changed, through the real matcher with the whole book.
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
            leaves_of = behind.get(finding, (finding,))
            if sound and not any(_quietened(trial, leaves_of, finding, words, rules) for trial in sound):
                found.append(Idle(name, finding, tuple(w for w in _words(finding, rules) if w in words)))
    return found


def _quietened(trial: RuleTrial, leaves: Sequence[str], finding: str, words: frozenset[str], rules: Rulebook) -> bool:
    """Whether a change of a word quietens the rule."""
    if finding in trial.words and trial.words[finding] not in words:
        return False  # the test fires by another branch
    return any(
        run_rule_trial(replace(trial, words={**trial.words, leaf: word}, expected=False), rules).passed
        for leaf in leaves
        if leaf in trial.words
        for word in rules.findings[leaf].words
        if word != trial.words[leaf]
    )


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


def unused_words(rules: Rulebook) -> dict[str, tuple[str, ...]]:
    """Of findings that are read: the words that no rule asks for. Most only fill the range between others."""
    read: dict[str, set[str]] = {}
    for rule in rules.rules:
        for name, words in rule.conditions:
            read.setdefault(name, set()).update(words)
    left = {n: tuple(w for w in e.words if w not in read[n]) for n, e in rules.findings.items() if n in read}
    return {name: words for name, words in left.items() if words}


# -- what no example of a rule needs -----------------------------------------------------------------------------------

MutantKind = Literal["word dropped", "word added", "condition dropped", "branch dropped"]
Shape = tuple[Conditions, tuple[Conditions, ...]]


@dataclass(frozen=True, slots=True)
class Mutant:
    """A rule with one thing changed. killed: whether an example notices."""

    rule: str
    kind: MutantKind
    finding: str
    word: str
    killed: bool

    def __str__(self) -> str:
        """What no example says, and which one would."""
        what = f"{self.rule}: `{self.finding}`"
        return {
            "word dropped": f"{what} may lose `{self.word}`. Add it to an example that fires",
            "word added": f"{what} may take `{self.word}` as well. Add a quiet example with it",
            "condition dropped": f"{what} may go. Add a quiet example where it alone does not hold",
            "branch dropped": f"{self.rule}: the branch `{self.finding}` may go. Add an example that fires by it alone",
        }[self.kind]


def mutants(rules: Rulebook, only: str | None = None) -> Iterator[Mutant]:
    """Every change of every rule with conditions, of one rule, fault, file or folder of own rules."""
    trials: dict[str, list[RuleTrial]] = {}
    for trial in rule_trials(rules, only):
        trials.setdefault(trial.rule, []).append(trial)
    for name, examples in trials.items():
        rule = rules.by_id[name]
        if rule.when or rule.either:
            known = [(trial.expected, _known(trial, rules)) for trial in examples]
            for kind, finding, word, shape in _changed(rule, rules):
                killed = any(_holds(shape, words) != expected for expected, words in known)
                yield Mutant(name, kind, finding, word, killed)


def _known(trial: RuleTrial, rules: Rulebook) -> Mapping[str, str]:
    """What an example says, and the states that the book concludes from it."""
    matched = rules.applying(trial.machine).matcher().run({n: {w: 1.0} for n, w in trial.words.items()})
    states = {state: max(words, key=lambda w: words[w]) for state, words in matched.states.items() if words}
    sure = {state: word for state, word in states.items() if matched.states[state][word] > 0.5}
    return {**sure, **trial.words}


def _holds(shape: Shape, known: Mapping[str, str]) -> bool:
    when, either = shape
    return applies(when, known) and (not either or any(applies(branch, known) for branch in either))


def _changed(rule: Rule, rules: Rulebook) -> Iterator[tuple[MutantKind, str, str, Shape]]:
    """Each way to change a rule by one thing; what would leave it without a condition is left out."""
    for kind, finding, word, when in _conditions_changed(rule.when, rules):
        if when or rule.either:
            yield kind, finding, word, (when, rule.either)
    for i, branch in enumerate(rule.either):
        rest = (*rule.either[:i], *rule.either[i + 1 :])
        if rest:
            yield "branch dropped", " and ".join(name for name, _ in branch), "", (rule.when, rest)
        for kind, finding, word, changed in _conditions_changed(branch, rules):
            if changed:
                yield kind, finding, word, (rule.when, (*rule.either[:i], changed, *rule.either[i + 1 :]))


def _conditions_changed(conditions: Conditions, rules: Rulebook) -> Iterator[tuple[MutantKind, str, str, Conditions]]:
    for i, (name, words) in enumerate(conditions):
        before, after = conditions[:i], conditions[i + 1 :]
        order = rules.findings[name].words if name in rules.findings else rules.states[name].words
        for word in order if len(words) > 1 else ():
            if word in words:
                yield "word dropped", name, word, (*before, (name, words - {word}), *after)
        for word in _neighbors(words, order, rules, name):
            yield "word added", name, word, (*before, (name, words | {word}), *after)
        yield "condition dropped", name, "", (*before, *after)


def _neighbors(words: frozenset[str], order: Sequence[str], rules: Rulebook, name: str) -> Iterator[str]:
    """Of a measured finding the words beside those asked for; of others every other word."""
    entry = rules.findings.get(name)
    measured = entry is not None and not entry.seen
    for i, word in enumerate(order):
        beside = {*order[max(0, i - 1) : i], *order[i + 1 : i + 2]}
        if word not in words and (not measured or beside & words):
            yield word


# -- what the cases came to --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Tally:
    """What the cases of one folder came to.

    first_right: the true fault came first, of `ranked` where that could be. advice: of the charge verdicts given, how
    many were right, how many missed a charge that is off, how many would have done harm.
    """

    passed: int = 0
    failed: int = 0
    first_right: int = 0
    ranked: int = 0
    right: int = 0
    missed: int = 0
    harmful: int = 0

    @property
    def advised(self) -> int:
        """Charge verdicts given."""
        return self.right + self.missed + self.harmful


MOST_TRUSTED = ("lab", "textbook", "simulated", "demo")  # folders in this order, then others by name


def tally(results: Sequence[CaseResult]) -> dict[str, Tally]:
    """Per folder, the most trusted first. Folders are never pooled."""
    order = {name: i for i, name in enumerate(MOST_TRUSTED)}
    folders = sorted({r.case.folder for r in results}, key=lambda name: (order.get(name, len(order)), name))
    return {folder: _tally([r for r in results if r.case.folder == folder]) for folder in folders}


def _tally(results: Sequence[CaseResult]) -> Tally:
    first = [r.first_right for r in results if r.first_right is not None]
    advice = [r.advice for r in results]
    return Tally(
        passed=sum(r.passed for r in results),
        failed=sum(not r.passed for r in results),
        first_right=sum(first),
        ranked=len(first),
        right=advice.count("right"),
        missed=advice.count("missed"),
        harmful=advice.count("harmful"),
    )
