"""Patterns taken apart once, so that a run is arithmetic on lists: what both engines stand on.

A test is one finding with the words of it that some rule allows; rules that ask for the same share it. A branch is the
tests of one alternative. How sure a test is, is worked out once a run, however many rules ask for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import fsum, inf
from typing import NamedTuple

from diagnose.rulebook.matcher.patterns import Firing, Matched, Pattern, Words, strata

Allowed = tuple[str, tuple[str, ...]]
"""A test: the finding, and its allowed words by name."""


class Compiled(NamedTuple):
    """Patterns by number, in their order.

    branches: for each pattern the tests (by number) of each alternative. reading: finding or state -> the tests of it.
    levels: the states that can be told by then, and the patterns that conclude one of them, level by level; `last`: the
    patterns that conclude nothing. concluding: state -> the patterns that conclude it, and the word each concludes.
    """

    patterns: tuple[Pattern, ...]
    tests: tuple[Allowed, ...]
    branches: tuple[tuple[tuple[int, ...], ...], ...]
    reading: Mapping[str, tuple[tuple[int, tuple[str, ...]], ...]]
    levels: tuple[tuple[tuple[str, ...], tuple[int, ...]], ...]
    last: tuple[int, ...]
    concluding: Mapping[str, tuple[tuple[int, str], ...]]


def compiled(patterns: Sequence[Pattern]) -> Compiled:
    """Take patterns apart that were checked before. Raises MatcherError where states conclude each other in a loop."""
    numbers: dict[Allowed, int] = {}
    branches = tuple(
        tuple(
            tuple(numbers.setdefault(test, len(numbers)) for test in _tests(pattern, branch))
            for branch in pattern.either or ((),)
        )
        for pattern in patterns
    )
    reading: dict[str, list[tuple[int, tuple[str, ...]]]] = {}
    for (finding, words), number in numbers.items():
        reading.setdefault(finding, []).append((number, words))
    concluding: dict[str, list[tuple[int, str]]] = {}
    for number, pattern in enumerate(patterns):
        if pattern.concludes:
            concluding.setdefault(pattern.concludes[0], []).append((number, pattern.concludes[1]))
    return Compiled(
        tuple(patterns),
        tuple(numbers),
        branches,
        {finding: tuple(tests) for finding, tests in reading.items()},
        tuple((tuple(level), tuple(sorted(n for s in level for n, _ in concluding[s]))) for level in strata(patterns)),
        tuple(number for number, pattern in enumerate(patterns) if not pattern.concludes),
        {state: tuple(rules) for state, rules in concluding.items()},
    )


def _tests(pattern: Pattern, branch: Iterable[tuple[str, frozenset[str]]]) -> list[Allowed]:
    """One test for each finding, in the order in which the rule names them."""
    allowed: dict[str, frozenset[str]] = {}
    for finding, words in (*pattern.when, *branch):
        allowed[finding] = allowed.get(finding, words) & words
    return [(finding, tuple(sorted(words))) for finding, words in allowed.items()]


def weigh(book: Compiled, finding: str, words: Mapping[str, float], tests: list[float]) -> None:
    """Write into `tests` how sure each test of this finding is: the chance of the allowed words, 0 to 1."""
    for number, allowed in book.reading.get(finding, ()):
        # fsum: the exact sum, whatever the order of the words; what is not a number is never above 0 and below infinity
        chances = [p if p < 1.0 else 1.0 for word in allowed if 0.0 < (p := words.get(word, 0.0)) < inf]
        total = chances[0] if len(chances) == 1 else fsum(chances)
        tests[number] = total if total < 1.0 else 1.0


def surest(branches: Iterable[tuple[int, ...]], tests: Sequence[float]) -> float:
    """How sure a rule is: each alternative as its least sure test, of these the surest. 0: it does not hold."""
    best = 0.0
    for branch in branches:
        sure = 1.0
        for number in branch:
            if tests[number] < sure:
                sure = tests[number]
        if sure > best:
            best = sure
    return best


def state(book: Compiled, name: str, patterns: Sequence[float]) -> dict[str, float]:
    """word -> how sure it is, of a state; from how sure the rules are. Empty: nothing is concluded."""
    found: dict[str, float] = {}
    for number, word in book.concluding[name]:
        sure = patterns[number]
        if sure > found.get(word, 0.0):
            found[word] = sure
    return found


def matched(
    book: Compiled,
    words: Words,
    states: Mapping[str, Mapping[str, float]],
    tests: Sequence[float],
    sures: Sequence[float],
) -> Matched:
    """What came of a run, in words: states with what was concluded of each, and how sure tests and patterns are."""
    told: dict[int, tuple[str, tuple[tuple[str, float], ...]]] = {}
    firings = []
    names: dict[str, None] = {}
    for number, sure in enumerate(sures):
        if sure > 0.0:
            pattern = book.patterns[number]
            branches = book.branches[number]
            branch = branches[0] if len(branches) == 1 else next(b for b in branches if surest((b,), tests) == sure)
            for test in branch:
                if test not in told:
                    finding, allowed = book.tests[test]
                    of = states.get(finding) or words.get(finding, {})
                    told[test] = (finding, tuple((w, of[w]) for w in allowed if 0.0 < of.get(w, 0.0) < inf))
            firings.append(Firing(pattern.id, sure, tuple([told[test] for test in branch])))
            if pattern.concludes:
                names[pattern.concludes[0]] = None
    return Matched(tuple(firings), {name: dict(states[name]) for name in names})
