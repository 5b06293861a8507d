"""What a check may find, how likely each outcome is, what each would mean, and what knowing it is worth.

Where the chances come from. After a finding with word w the score of fault f rises by d(f, w) points, so its share
becomes proportional to share(f) · 2^d(f, w): `after(w, f)`, which the rule book itself gives (suppositions.py). Read as
Bayes' theorem this means P(w | f) ∝ P(w) · after(w, f). Each fault must have some word, so over the words these must
add to 1:

    P(w | f) = P(w) · after(w, f) / Σ_v P(v) · after(v, f)          P(w) = Σ_f share(f) · P(w | f)

which is solved by going round (the EM algorithm for the weights of a mixture: it brings Σ_w P(w) · after(w, f) as near
to share(f) as the rules allow, in the sense of Kullback and Leibler). Rules that only know one side of a matter (bubbles
speak for a restriction, a clear glass against nothing) cannot be met exactly; LEAN keeps part of the first guess, equal
chances, so that such a word is not thought impossible. Bayes' theorem with these P(w | f) gives shares that average
back to today's exactly, and no outcome can then make the expected cost of a wrong call greater.

A wrong call costs hours: those of the repair that was not needed (`wrong_call` in the fault's file), and those of coming
back (rules/judgement.yaml).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from operator import mul

from diagnose.diagnosis.ranking import Strength, strength
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.rulebook import Rulebook

LEAN = 0.1  # weight of the first guess at the chances of the words, against what the rules say
ROUNDS = 30
MOST = 24  # outcomes of one check; with more, findings that matter less are left out
MATTERS = 0.02  # hours
SETTLED = 1e-13  # change of a chance from round to round below which no further round is made


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome of a check. words: finding -> word. chance: 0 to 1, within the check. What then leads, and how strongly."""

    words: Mapping[str, str]
    chance: float
    fault: str
    share: float
    strength: Strength


@dataclass(frozen=True, slots=True)
class Forecast:
    """All outcomes of a check, likeliest first, and the expected hours of wrong calls that it saves (0 or more)."""

    outcomes: tuple[Outcome, ...]
    saved: float


def expected_cost(shares: Mapping[str, float], rules: Rulebook) -> float:
    """Hours that a wrong call costs on the average, if each fault is acted on as often as its share says."""
    come_back = rules.judgement.next_checks.come_back / 3600.0
    return sum(share * (1.0 - share) * (hours(fault, rules) + come_back) for fault, share in shares.items())


def hours(fault: str, rules: Rulebook) -> float:
    """Hours lost by acting on this fault where another is the true one."""
    call = rules.faults[fault].wrong_call
    return rules.judgement.next_checks.otherwise / 3600.0 if call is None else call.hours


def chances(
    shares: Mapping[str, float], after: Sequence[Mapping[str, float]]
) -> tuple[list[float], list[dict[str, float]]]:
    """P(word) for each word, and the shares after it by Bayes' theorem.

    shares: today's; after: for each word what the rule book would say. The mixture of what comes back is `shares`.
    """
    faults, now = list(shares), list(shares.values())
    rows = [[one[f] for f in faults] for one in after]
    columns = list(zip(*rows, strict=True))
    guess = 1.0 / len(rows)
    p = [guess] * len(rows)
    for _ in range(ROUNDS):
        ratio = _ratios(now, p, columns)
        before, p = (
            p,
            [(q * sum(map(mul, ratio, row)) + LEAN * guess) / (1.0 + LEAN) for q, row in zip(p, rows, strict=True)],
        )
        if max(abs(a - b) for a, b in zip(p, before, strict=True)) < SETTLED:
            break
    ratio = _ratios(now, p, columns)
    joint = [[q * x for x in map(mul, ratio, row)] for q, row in zip(p, rows, strict=True)]
    p = [sum(j) for j in joint]
    return p, [
        {f: x / q for f, x in zip(faults, j, strict=True)} if q > 0 else dict(shares)
        for q, j in zip(p, joint, strict=True)
    ]


def _ratios(now: Sequence[float], p: Sequence[float], columns: Sequence[Sequence[float]]) -> list[float]:
    """Each fault's share today over what the words mix it to with these chances."""
    mixed = [sum(map(mul, p, column)) for column in columns]
    return [s / m if m > 0 else 0.0 for s, m in zip(now, mixed, strict=True)]


def forecast(findings: Sequence[str], posteriors: Posteriors, rules: Rulebook) -> Forecast:
    """What a check that brings these findings may find; those about which the rules say nothing are left out.

    Several findings at once are taken together, the ones worth most by themselves first, up to MOST outcomes.
    """
    speaking = [name for name in findings if posteriors.speaks([name])]
    alone = {name: _forecast([name], posteriors, rules) for name in speaking}
    taken: list[str] = []
    count = 1
    for name in sorted(alone, key=lambda n: -alone[n].saved):
        size = len(rules.findings[name].words)
        if count * size <= MOST and (not taken or alone[name].saved >= MATTERS):
            taken.append(name)
            count *= size
    if not taken:
        return Forecast((), 0.0)
    return alone[taken[0]] if len(taken) == 1 else _forecast(taken, posteriors, rules)


def _forecast(findings: Sequence[str], posteriors: Posteriors, rules: Rulebook) -> Forecast:
    outcomes = [
        dict(zip(findings, words, strict=True)) for words in product(*(rules.findings[n].words for n in findings))
    ]
    now, touched = posteriors.shares({}), posteriors.speaks(findings)
    after = [posteriors.shares(words, touched) for words in outcomes]
    likely, by_bayes = _chances(now, after, touched)
    cost = sum(p * expected_cost(shares, rules) for p, shares in zip(likely, by_bayes, strict=True))
    told = []
    for words, p, shares in zip(outcomes, likely, after, strict=True):
        first = max(shares, key=lambda f: shares[f])
        told.append(Outcome(words, p, first, shares[first], strength(shares[first], rules.judgement.strengths)))
    return Forecast(tuple(sorted(told, key=lambda o: -o.chance)), max(0.0, expected_cost(now, rules) - cost))


def _chances(
    shares: Mapping[str, float], after: Sequence[Mapping[str, float]], touched: Collection[str]
) -> tuple[list[float], list[dict[str, float]]]:
    """As `chances`, quicker: the faults that no outcome speaks of keep their proportions, so they go round as one."""
    spoken = [fault for fault in shares if fault in touched]  # in the order of the book, so that sums come out the same
    rest = [fault for fault in shares if fault not in touched]

    def gathered(each: Mapping[str, float]) -> dict[str, float]:
        return {**{f: each[f] for f in spoken}, "": sum([each[f] for f in rest])}

    today = gathered(shares)
    p, found = chances(today, [gathered(each) for each in after])
    parts = {fault: shares[fault] / today[""] if today[""] > 0 else 0.0 for fault in rest}
    return p, [{**{f: one[f] for f in spoken}, **{f: one[""] * part for f, part in parts.items()}} for one in found]
