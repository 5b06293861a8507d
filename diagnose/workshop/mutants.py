"""What no example of a rule needs: each rule with one thing changed, which some example beside it should notice.

A word dropped from a condition, a neighboring word added to one, a condition dropped, a branch of `any` dropped. The examples
are run through the real matcher once, for the states that they conclude; a changed rule is then held against what was found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.rulebook import Conditions, Rule, Rulebook, applies
from diagnose.workshop.trials import RuleTrial, rule_trials

Kind = Literal["word dropped", "word added", "condition dropped", "branch dropped"]
Shape = tuple[Conditions, tuple[Conditions, ...]]


@dataclass(frozen=True, slots=True)
class Mutant:
    """A rule with one thing changed. killed: whether an example notices."""

    rule: str
    kind: Kind
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


def _changed(rule: Rule, rules: Rulebook) -> Iterator[tuple[Kind, str, str, Shape]]:
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


def _conditions_changed(conditions: Conditions, rules: Rulebook) -> Iterator[tuple[Kind, str, str, Conditions]]:
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
