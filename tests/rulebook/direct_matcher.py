"""The meaning of a pattern written down as directly as Python allows: the oracle of both matchers.

It shares nothing with them but the values that go in and come out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from diagnose.rulebook.matcher import Firing, Matched, Pattern, Words
from diagnose.rulebook.matcher.patterns import Test


class DirectMatcher:
    """Evaluates every pattern by recursion through the states it reads."""

    def __init__(self, patterns: Sequence[Pattern]):
        self._patterns = tuple(patterns)

    def run(self, words: Words) -> Matched:
        """Words in, fired rules out."""
        visit = _Evaluation(self._patterns, words)
        fired = [(pattern, firing) for pattern in self._patterns if (firing := visit.firing(pattern))]
        names = dict.fromkeys(p.concludes[0] for p, _ in fired if p.concludes)
        return Matched(tuple(firing for _, firing in fired), {name: visit.finding(name) for name in names})


class _Evaluation:
    """One run: each rule and each state is worked out once, when first asked for."""

    def __init__(self, patterns: Sequence[Pattern], words: Words):
        self._words = words
        self._rules: dict[str, list[Pattern]] = {}
        for pattern in patterns:
            if pattern.concludes:
                self._rules.setdefault(pattern.concludes[0], []).append(pattern)
        self._states: dict[str, dict[str, float]] = {}
        self._firings: dict[str, Firing | None] = {}

    def finding(self, name: str) -> dict[str, float]:
        """word -> probability of a finding or state; empty where it was not measured or not concluded."""
        if name not in self._rules:
            return {word: p for word, p in self._words.get(name, {}).items() if p > 0 and math.isfinite(p)}
        if name not in self._states:
            state: dict[str, float] = {}
            for pattern in self._rules[name]:
                firing = self.firing(pattern)
                if firing and pattern.concludes:
                    word = pattern.concludes[1]
                    state[word] = max(state.get(word, 0.0), firing.sure)
            self._states[name] = state
        return self._states[name]

    def firing(self, pattern: Pattern) -> Firing | None:
        if pattern.id not in self._firings:
            self._firings[pattern.id] = self._best(pattern)
        return self._firings[pattern.id]

    def _best(self, pattern: Pattern) -> Firing | None:
        best = None
        for branch in pattern.either or ((),):
            firing = self._alternative(pattern.id, pattern.when + branch)
            if firing and (best is None or firing.sure > best.sure):
                best = firing
        return best

    def _alternative(self, rule: str, tests: tuple[Test, ...]) -> Firing | None:
        sure = 1.0
        held: dict[str, tuple[tuple[str, float], ...]] = {}
        for name in dict.fromkeys(finding for finding, _ in tests):
            present = self.finding(name)
            allowed = [w for w in sorted(present) if all(w in ok for finding, ok in tests if finding == name)]
            if not allowed:
                return None
            held[name] = tuple((word, present[word]) for word in allowed)
            # fsum: the exact sum, whatever the order of the words
            sure = min(sure, math.fsum(min(1.0, present[word]) for word in allowed))
        return Firing(rule, sure, tuple(held.items()))
