"""The plain matcher: the meaning of a pattern in plain Python.

It works where durable-rules cannot be installed, and it does the passes of a visit that are not the judging one: many
runs that differ in a finding or two (`again`), of which only the rules concerned are worked out anew.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from diagnose.rulebook.matcher.compiled import compiled, matched, state, surest, weigh
from diagnose.rulebook.matcher.patterns import Matched, Pattern, Words, check_words

_Levels = tuple[tuple[tuple[str, ...], tuple[int, ...]], ...]


class Certainties(NamedTuple):
    """How sure each test and each pattern is, 0 to 1, by number; 0: it does not hold."""

    tests: list[float]
    patterns: list[float]


class PlainMatcher:
    """Evaluates patterns level by level. Keeps nothing of one run for the next: thread-safe."""

    name = "plain"

    def __init__(self, patterns: Sequence[Pattern]):
        self._book = book = compiled(patterns)
        self._concluded_by = {s: [patterns[n].id for n, _ in rules] for s, rules in book.concluding.items()}
        self._order: _Levels = (*book.levels, ((), book.last))
        readers: dict[str, list[int]] = {}
        for number, branches in enumerate(book.branches):
            for name in dict.fromkeys(book.tests[test][0] for branch in branches for test in branch):
                readers.setdefault(name, []).append(number)
        self._readers = readers
        self._orders: dict[frozenset[str], _Levels] = {}

    @property
    def reads(self) -> Collection[str]:
        """The findings and states that any pattern asks for."""
        return self._book.reading.keys()

    def run(self, words: Words) -> Matched:
        """Words in, fired rules out."""
        found, states = self._run(words)
        return matched(self._book, words, states, *found)

    def certainties(self, words: Words) -> Certainties:
        """The same as `run`, in numbers only."""
        return self._run(words)[0]

    def again(self, before: Certainties, changed: Words) -> Certainties:
        """The same with some findings changed: finding -> its words now; no words where it is no longer known."""
        check_words(changed, self._concluded_by)
        tests, patterns = before.tests.copy(), before.patterns.copy()
        for finding, words in changed.items():
            weigh(self._book, finding, words, tests)
        self._fill(self._concerned(frozenset(changed)), tests, patterns)
        return Certainties(tests, patterns)

    def touched(self, findings: Collection[str]) -> tuple[int, ...]:
        """The patterns, by number, that may come out otherwise with these findings, also through states."""
        return tuple(number for _, numbers in self._concerned(frozenset(findings)) for number in numbers)

    def _run(self, words: Words) -> tuple[Certainties, dict[str, dict[str, float]]]:
        check_words(words, self._concluded_by)
        found = Certainties([0.0] * len(self._book.tests), [0.0] * len(self._book.patterns))
        for finding, of in words.items():
            weigh(self._book, finding, of, found.tests)
        return found, self._fill(self._order, *found)

    def _fill(self, order: _Levels, tests: list[float], patterns: list[float]) -> dict[str, dict[str, float]]:
        branches = self._book.branches
        states = {}
        for names, numbers in order:
            for number in numbers:
                patterns[number] = surest(branches[number], tests)
            for name in names:
                states[name] = state(self._book, name, patterns)
                weigh(self._book, name, states[name], tests)
        return states

    def _concerned(self, findings: frozenset[str]) -> _Levels:
        """The part of the order of work that these findings concern; worked out once for each set of them."""
        kept = self._orders.get(findings)
        if kept is None:
            touched: dict[int, None] = {}
            queue, names = list(findings), set(findings)
            while queue:
                for number in self._readers.get(queue.pop(), ()):
                    touched[number] = None
                    concludes = self._book.patterns[number].concludes
                    if concludes and concludes[0] not in names:
                        names.add(concludes[0])
                        queue.append(concludes[0])
            kept = tuple(
                (tuple(s for s in states if s in names), some)
                for states, numbers in self._order
                if (some := tuple(n for n in numbers if n in touched))
            )
            self._orders[findings] = kept
        return kept
