"""What a check may find, how likely each outcome is, what each would mean, and what knowing it is worth.

Where the chances come from. Each fault says in its file which words it makes of a finding (`brings`); a word that no fault
makes is a sound machine's. A fault that makes a finding shows one of its own words with the share `shows` of its file, or
else of rules/judgement.yaml; anything that neither it makes nor a sound machine has shows only by error, `strays`:

    P(w | f) = shows / its words                    for a word w that f makes
               strays / such words                  for a word that only other faults make
               what is left / the sound words       for a sound machine's word

with shows = 0 where f makes nothing of the finding. Findings of one check are taken as independent, once the fault is given.

What is believed. The rules' points were set on machines of known kinds, so where it is asked whether to go on, what was read
until now counts `trust` of its points (judgement.yaml): b(f) ∝ 2^(trust · score(f)). With that, P(f, w) = b(f) · P(w | f).

What is gained. After w the rule book moves the score of f by d(f, w) points (suppositions.py), and one acts by what it then
says, a(f | w) ∝ b(f) · 2^d(f, w), where one would have acted by b(f). Acting on g where another fault is true costs h(g):
the hours of the repair that was not needed (`wrong_call` in the fault's file) and of coming back. So acting by shares a
costs C(w, a) = Σ_g a(g) · h(g) · (P(w) - P(g, w)), and

    saved = Σ_w max(0, C(w, b) - C(w, a(· | w)))

The first terms add up over w to today's cost, `expected_cost(b)`. An answer that would mislead is not acted upon (the max),
so nothing that is found ever makes the expected cost greater, and what the rule book does not listen to saves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from math import prod
from typing import NamedTuple

from diagnose.diagnosis.ranking import Strength, shares_of, word_for
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.rulebook import Rulebook, in_its_mode

MOST = 24  # outcomes of one check; with more, findings that matter less are left out
MATTERS = 0.02  # hours


class Outcome(NamedTuple):
    """One outcome of a check. words: finding -> word. chance: 0 to 1, within the check. What then leads, and how strongly."""

    words: Mapping[str, str]
    chance: float
    fault: str
    share: float
    strength: Strength


class Forecast(NamedTuple):
    """All outcomes of a check, likeliest first, and the expected hours of wrong calls that it saves (0 or more)."""

    outcomes: tuple[Outcome, ...]
    saved: float


def expected_cost(shares: Mapping[str, float], rules: Rulebook) -> float:
    """Hours that a wrong call costs on the average, if each fault is acted on as often as its share says."""
    acted = list(shares.values())
    return _lost(acted, acted, [_wrong(fault, rules) for fault in shares])


def hours(fault: str, rules: Rulebook) -> float:
    """Hours lost by acting on this fault where another is the true one."""
    call = rules.faults[fault].wrong_call
    return rules.judgement.next_checks.otherwise / 3600.0 if call is None else call.hours


def _wrong(fault: str, rules: Rulebook) -> float:
    return hours(fault, rules) + rules.judgement.next_checks.come_back / 3600.0


def _lost(true: Sequence[float], acted: Sequence[float], wrong: Sequence[float]) -> float:
    """Hours lost by acting by these shares. true: chance of each fault, of one outcome or of all together."""
    total = sum(true)
    return sum([share * cost * (total - chance) for chance, share, cost in zip(true, acted, wrong, strict=True)])


class Likelihoods:
    """How likely each word of a finding is with each fault, on one kind of machine (`facts`)."""

    def __init__(self, rules: Rulebook, facts: Mapping[str, str]):
        self._rules = rules
        self._makes = rules.makes(facts)
        self._shows = {
            fault: {
                n: b.shows for b in entry.brings if b.shows and in_its_mode(b.applies, facts) for n, _ in b.findings
            }
            for fault, entry in rules.faults.items()
        }
        self._known: dict[str, dict[str, dict[str, float]]] = {}

    def of(self, finding: str) -> dict[str, dict[str, float]]:
        """word -> fault -> P(word | fault); empty where no fault makes anything of the finding."""
        if finding not in self._known:
            self._known[finding] = self._worked_out(finding)
        return self._known[finding]

    def _worked_out(self, finding: str) -> dict[str, dict[str, float]]:
        words, figures = self._rules.findings[finding].words, self._rules.judgement.next_checks
        off = self._makes.off.get(finding)
        if not off:
            return {}
        found: dict[str, dict[str, float]] = {word: {} for word in words}
        for fault, made in self._makes.of.items():
            its = made.get(finding, frozenset())
            shows = self._shows[fault].get(finding, figures.shows) if its else 0
            left = max(0, 1.0 - shows - figures.strays)
            kinds = ((its, shows), (off - its, figures.strays), (frozenset(words) - off, left))
            total = sum(weight for kind, weight in kinds if kind)
            for kind, weight in kinds:
                for word in kind:
                    found[word][fault] = weight / total / len(kind)
        return found


def forecast(findings: Sequence[str], posteriors: Posteriors, likely: Likelihoods, rules: Rulebook) -> Forecast:
    """What a check that brings these findings may find; those are left out of which no rule or no fault speaks.

    Several findings at once are taken together, the ones worth most by themselves first, up to MOST outcomes.
    """
    speaking = [name for name in findings if likely.of(name) and posteriors.speaks([name])]
    alone = {name: _forecast([name], posteriors, likely, rules) for name in speaking}
    taken: list[str] = []
    count = 1
    for name in sorted(alone, key=lambda n: -alone[n].saved):
        size = len(rules.findings[name].words)
        if count * size <= MOST and (not taken or alone[name].saved >= MATTERS):
            taken.append(name)
            count *= size
    if not taken:
        return Forecast((), 0.0)
    return alone[taken[0]] if len(taken) == 1 else _forecast(taken, posteriors, likely, rules)


def _forecast(findings: Sequence[str], posteriors: Posteriors, likely: Likelihoods, rules: Rulebook) -> Forecast:
    read, touched = posteriors.scores({}), posteriors.speaks(findings)
    faults = list(read)  # all lists below are in this order
    doubted = [(1.0 - rules.judgement.next_checks.trust) * points for points in read.values()]
    believed = shares_of([points - doubt for points, doubt in zip(read.values(), doubted, strict=True)])
    wrong = [_wrong(fault, rules) for fault in faults]
    outcomes, saved = [], 0.0
    for words in product(*(rules.findings[name].words for name in findings)):
        each = [likely.of(name)[word] for name, word in zip(findings, words, strict=True)]
        chances = (
            [each[0][fault] for fault in faults] if len(each) == 1 else [prod([p[f] for p in each]) for f in faults]
        )
        joint = [share * chance for share, chance in zip(believed, chances, strict=True)]
        found = dict(zip(findings, words, strict=True))
        scores = posteriors.scores(found, touched).values()
        acted = shares_of([points - doubt for points, doubt in zip(scores, doubted, strict=True)])
        saved += max(0, _lost(joint, believed, wrong) - _lost(joint, acted, wrong))
        then = dict(zip(faults, shares_of(scores), strict=True))
        first = max(then, key=lambda f: then[f])
        outcomes.append(Outcome(found, sum(joint), first, then[first], word_for(first, then, rules)))
    return Forecast(tuple(sorted(outcomes, key=lambda o: -o.chance)), saved)
