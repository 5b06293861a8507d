"""What a check may find, how likely each outcome is, what each would mean, and what knowing it is worth.

Where the chances come from. After a finding with word w the score of fault f rises by d(f, w) points, so its share
becomes proportional to share(f) · 2^d(f, w): `after(w, f)`, which the rule book itself gives (supposing.py). Read as
Bayes' theorem this means P(w | f) ∝ P(w) · after(w, f). Each fault must have some word, so over the words these must
add to 1:

    P(w | f) = P(w) · after(w, f) / Σ_v P(v) · after(v, f)          P(w) = Σ_f share(f) · P(w | f)

which is solved by going round (the EM algorithm for the weights of a mixture: it brings Σ_w P(w) · after(w, f) as near
to share(f) as the rules allow, in the sense of Kullback and Leibler). Rules that only know one side of a matter (bubbles
speak for a restriction, a clear glass against nothing) cannot be met exactly; LEAN keeps part of the first guess, equal
chances, so that such a word is not thought impossible. Bayes' theorem with these P(w | f) gives shares that average
back to today's exactly, and no outcome can then make the expected cost of a wrong call greater.

A wrong call costs hours: those of the repair that was not needed (`wrong_call` in the fault's file), and COME_BACK.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from diagnose.diagnosis.ranking import strength
from diagnose.diagnosis.suppositions import Supposing
from diagnose.rulebook import Rulebook

COME_BACK = 1.0  # hours; another trip for what was missed (judgement)
OTHERWISE = 3.0  # hours; for a fault whose file says nothing (judgement)
LEAN = 0.1  # weight of the first guess at the chances of the words, against what the rules say
ROUNDS = 30
MOST = 24  # outcomes of one check; with more, findings that matter less are left out
MATTERS = 0.02  # hours


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome of a check. words: finding -> word. chance: 0 to 1, within the check. What then leads, and its share."""

    words: Mapping[str, str]
    chance: float
    fault: str
    share: float

    @property
    def strength(self) -> str:
        """strong, fair, weak or unlikely."""
        return strength(self.share)


@dataclass(frozen=True, slots=True)
class Forecast:
    """All outcomes of a check, likeliest first, and the expected hours of wrong calls that it saves (0 or more)."""

    outcomes: tuple[Outcome, ...]
    saved: float


def expected_cost(shares: Mapping[str, float], rules: Rulebook) -> float:
    """Hours that a wrong call costs on the average, if each fault is acted on as often as its share says."""
    return sum(share * (1.0 - share) * (hours(fault, rules) + COME_BACK) for fault, share in shares.items())


def hours(fault: str, rules: Rulebook) -> float:
    """Hours lost by acting on this fault where another is the true one."""
    call = rules.faults[fault].wrong_call
    return OTHERWISE if call is None else call.hours


def chances(
    shares: Mapping[str, float], after: Sequence[Mapping[str, float]]
) -> tuple[list[float], list[dict[str, float]]]:
    """P(word) for each word, and the shares after it by Bayes' theorem.

    shares: today's; after: for each word what the rule book would say. The mixture of what comes back is `shares`.
    """
    guess = 1.0 / len(after)
    p = [guess] * len(after)
    mixed = dict(shares)
    for _ in range(ROUNDS):
        mixed = {f: sum(q * a[f] for q, a in zip(p, after, strict=True)) for f in shares}
        told = [
            q * sum(s * a[f] / mixed[f] for f, s in shares.items() if mixed[f] > 0)
            for q, a in zip(p, after, strict=True)
        ]
        p = [(t + LEAN * guess) / (1.0 + LEAN) for t in told]
    mixed = {f: sum(q * a[f] for q, a in zip(p, after, strict=True)) for f in shares}
    joint = [
        {f: s * q * a[f] / mixed[f] if mixed[f] > 0 else 0.0 for f, s in shares.items()}
        for q, a in zip(p, after, strict=True)
    ]
    p = [sum(j.values()) for j in joint]
    return p, [{f: x / q for f, x in j.items()} if q > 0 else dict(shares) for q, j in zip(p, joint, strict=True)]


def forecast(findings: Sequence[str], supposing: Supposing, rules: Rulebook) -> Forecast:
    """What a check that brings these findings may find; those about which the rules say nothing are left out.

    Several findings at once are taken together, the ones worth most by themselves first, up to MOST outcomes.
    """
    now = supposing.shares({})
    worths = {name: _forecast([name], now, supposing, rules).saved for name in findings if supposing.speaks(name)}
    taken: list[str] = []
    count = 1
    for name in sorted(worths, key=lambda n: -worths[n]):
        size = len(rules.findings[name].words)
        if count * size <= MOST and (not taken or worths[name] >= MATTERS):
            taken.append(name)
            count *= size
    return _forecast(taken, now, supposing, rules) if taken else Forecast((), 0.0)


def _forecast(findings: Sequence[str], now: Mapping[str, float], supposing: Supposing, rules: Rulebook) -> Forecast:
    outcomes = [
        dict(zip(findings, words, strict=True)) for words in product(*(rules.findings[n].words for n in findings))
    ]
    after = [supposing.shares(words) for words in outcomes]
    likely, by_bayes = chances(now, after)
    cost = sum(p * expected_cost(shares, rules) for p, shares in zip(likely, by_bayes, strict=True))
    told = []
    for words, p, shares in zip(outcomes, likely, after, strict=True):
        first = max(shares, key=lambda f: shares[f])
        told.append(Outcome(words, p, first, shares[first]))
    return Forecast(tuple(sorted(told, key=lambda o: -o.chance)), max(0.0, expected_cost(now, rules) - cost))
