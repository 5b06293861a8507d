"""What goes into the matcher and what comes out: frozen values, the errors, and the checks for every engine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import NamedTuple, Protocol

Words = Mapping[str, Mapping[str, float]]
"""finding -> word -> probability; only findings that were measured are present."""

Test = tuple[str, frozenset[str]]
"""One finding and the words of it that a rule allows."""


class MatcherError(ValueError):
    """The rules or words given cannot be matched: what is wrong, how to mend it, and the rules concerned."""

    def __init__(self, what: str, fix: str, rules: Iterable[str] = ()):
        super().__init__(f"{what}. {fix}")
        self.what = what
        self.fix = fix
        self.rules = tuple(rules)


class Pattern(NamedTuple):
    """One rule as the matcher sees it.

    `when`: all of these findings must have one of their allowed words. `either`: where not empty, all findings of at
    least one of these maps too (the rule file's `any:`). A finding named twice is one test on the words both allow,
    for a finding has only one true word. `concludes`: the (state, word) that the rule concludes, if it concludes one.
    """

    id: str
    when: tuple[Test, ...]
    either: tuple[tuple[Test, ...], ...] = ()
    concludes: tuple[str, str] | None = None


class Firing(NamedTuple):
    """A rule that fired: how sure (0 < sure <= 1), and the words that made it hold.

    `words`: finding -> its allowed words that were present (by name) with their probabilities, findings in the order
    the rule names them, for the alternative of `either` that gave `sure` (the first one, where several gave the
    same).
    """

    rule: str
    sure: float
    words: tuple[tuple[str, tuple[tuple[str, float], ...]], ...]


class Matched(NamedTuple):
    """The firings in the order of the patterns, and state -> word -> certainty (the largest of its rules)."""

    firings: tuple[Firing, ...]
    states: dict[str, dict[str, float]]


class Matcher(Protocol):
    """Compiled patterns: `run` may be called from any thread, and one call leaves nothing to the next."""

    name: str

    def run(self, words: Words) -> Matched:
        """Words in, fired rules out. Raises MatcherError where `words` holds a state: only rules conclude those."""
        ...


def strata(patterns: Sequence[Pattern]) -> list[list[str]]:
    """The states by level: a state's rules read only findings and states of the levels before. Raises on a loop."""
    reads = _reads(patterns)
    order = TopologicalSorter(reads)
    try:
        order.prepare()
    except CycleError as error:
        raise _loop(error.args[1], patterns) from None
    levels = []
    while order.is_active():
        ready = order.get_ready()
        levels.append(sorted(ready))
        order.done(*ready)
    return levels


def check(patterns: Sequence[Pattern]) -> None:
    """Raise MatcherError for what has no meaning on any engine: repeated ids, empty or contradicting tests, loops."""
    seen = set()
    for pattern in patterns:
        if pattern.id in seen:
            raise MatcherError(f"two rules have the id {pattern.id!r}", "Give one of them another id.", [pattern.id])
        seen.add(pattern.id)
        if not pattern.when and not pattern.either:
            raise MatcherError(
                f"rule {pattern.id!r} has no conditions, so it would hold on every machine",
                "Give it a `when:` with at least one finding.",
                [pattern.id],
            )
        for number, branch in enumerate(pattern.either or ((),), start=1):
            _check_branch(pattern, number, branch)
    strata(patterns)


def check_words(words: Words, concluded_by: Mapping[str, Sequence[str]]) -> None:
    """Raise MatcherError where a state (`concluded_by`: state -> rule ids) is given as if it had been measured."""
    for name in words:
        if name in concluded_by:
            raise MatcherError(
                f"{name!r} is a state that rules conclude, and it is also given as a finding",
                "Give the finding another name, or take away the rules that conclude it.",
                concluded_by[name],
            )


def _check_branch(pattern: Pattern, number: int, branch: tuple[Test, ...]) -> None:
    if pattern.either and not branch:
        raise MatcherError(
            f"rule {pattern.id!r}: map {number} of its `any:` is empty, so the `any:` always holds",
            "Name a finding there, or take the map away.",
            [pattern.id],
        )
    allowed: dict[str, frozenset[str]] = {}
    for finding, words in (*pattern.when, *branch):
        allowed[finding] = allowed.get(finding, words) & words
        if not allowed[finding]:
            where = f"with map {number} of its `any:` " if pattern.either else ""
            raise MatcherError(
                f"rule {pattern.id!r} {where}leaves no word that {finding!r} may have, so it can never hold",
                f"Allow at least one word of {finding!r}, the same one wherever the rule names it.",
                [pattern.id],
            )


def _reads(patterns: Sequence[Pattern]) -> dict[str, list[str]]:
    """state -> the states that its rules read."""
    reads: dict[str, dict[str, None]] = {p.concludes[0]: {} for p in patterns if p.concludes}
    for pattern in patterns:
        if pattern.concludes:
            named = _findings(pattern)
            reads[pattern.concludes[0]].update((finding, None) for finding in named if finding in reads)
    return {state: list(read) for state, read in reads.items()}


def _findings(pattern: Pattern) -> list[str]:
    return [finding for tests in (pattern.when, *pattern.either) for finding, _ in tests]


def _loop(cycle: Sequence[str], patterns: Sequence[Pattern]) -> MatcherError:
    steps = set(pairwise(cycle))  # (state read, state concluded)
    rules = [
        p.id for p in patterns if p.concludes and any((finding, p.concludes[0]) in steps for finding in _findings(p))
    ]
    return MatcherError(
        f"states conclude each other in a loop: {' -> '.join(cycle)} (rules {', '.join(rules)})",
        "Let one of these rules read findings instead of a state of the loop.",
        rules,
    )
