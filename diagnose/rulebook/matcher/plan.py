"""From patterns to what durable-rules can be trusted with: tests joined by "all", each of them one fact or none.

Nothing here imports durable-rules. All its limits are checked here, because past them it hangs, crashes or silently
drops facts instead of saying so (each one was reproduced with 2.0.28). The limits hold for the plain matcher too, so
that a rule book which works on one computer works on all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from diagnose.rulebook.matcher.compiled import Allowed, Compiled, compiled
from diagnose.rulebook.matcher.patterns import MatcherError, Pattern, check

MAX_BRANCHES = 30  # maps in the `any:` of one rule: ours, so that one rule fits a ruleset (30 × 16 tests)
MAX_FACTS = 16  # of one alternative: durable-rules refuses a 17th (error 304)
MAX_SHARING = 250  # alternatives of one ruleset that share a test: durable-rules crashes at the 256th
MAX_TESTS = 500  # different tests of one ruleset: building hangs for ever at the 513th side by side
MAX_RULESET = 1000  # alternatives of one ruleset: ours; opening a session grows faster than linearly
# A fact that meets more than 64 different tests at once is refused too (error 303). Here that cannot happen: a fact
# says that one test holds, and the only condition a ruleset has for it is that it is this fact.


class Alternative(NamedTuple):
    """The tests, by number, of one branch of a pattern: a single durable rule."""

    pattern: int
    tests: tuple[int, ...]


class MatcherPlan(NamedTuple):
    """Patterns taken apart, and their alternatives in groups that fit one ruleset each."""

    book: Compiled
    rulesets: tuple[tuple[Alternative, ...], ...]


def make_plan(patterns: Sequence[Pattern]) -> MatcherPlan:
    """Check the patterns and take them apart. Raises MatcherError, naming the rules and how to mend them."""
    check(patterns)
    book = compiled(patterns)
    parts = [_alternatives(number, book) for number in range(len(patterns))]
    _check_hashes(book)
    return MatcherPlan(book, tuple(_split(parts)))


@lru_cache(4096)
def encode(name: str) -> str:
    """A name in the characters a-z 0-9 _ #, different names staying different.

    durable-rules was not measured beyond these, and text that starts like a number may be compared as one.
    """
    out = ["_" if c == " " else c if "a" <= c <= "z" or "0" <= c <= "9" else f"#{ord(c):x}#" for c in name]
    if out and out[0].isdigit():
        out[0] = f"#{ord(out[0]):x}#"
    return "".join(out) or "##"


def fact_id(test: Allowed) -> str:
    """The id of the fact that says a test holds, such as "superheat=high=very_high"."""
    return "=".join(encode(name) for name in (test[0], *test[1]))


def id_hash(text: str) -> int:
    """The 32-bit FNV-1a hash by which durable-rules tells facts apart."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 16777619 & 0xFFFFFFFF
    return value


def _alternatives(number: int, book: Compiled) -> list[Alternative]:
    pattern, branches = book.patterns[number], book.branches[number]
    most = max(map(len, branches))
    if most > MAX_FACTS:
        raise MatcherError(
            f"rule {pattern.id!r} needs {most} findings at once; at most {MAX_FACTS} are possible",
            "Let other rules conclude a state from some of them, and name the state here.",
            [pattern.id],
        )
    if len(branches) > MAX_BRANCHES:
        raise MatcherError(
            f"rule {pattern.id!r} has {len(branches)} maps in its `any:`; at most {MAX_BRANCHES} are possible",
            "Let another rule conclude a state from some of them, and name the state here.",
            [pattern.id],
        )
    return [Alternative(number, tests) for tests in branches]


def _check_hashes(book: Compiled) -> None:
    """Two facts of one hash are one fact to durable-rules: the second would be lost."""
    seen: dict[int, int] = {}
    for number, test in enumerate(book.tests):
        other = seen.setdefault(id_hash(fact_id(test)), number)
        if other != number:
            one, two = (f"{book.tests[n][0]!r}: {' or '.join(map(repr, book.tests[n][1]))}" for n in (other, number))
            reading = (next(p.id for p, bs in zip(book.patterns, book.branches, strict=True) if any(n in b for b in bs))
                       for n in (other, number))  # fmt: skip
            raise MatcherError(
                f"the words {one} and {two} cannot be told apart inside the rule engine (their ids have the same hash)",
                f"Rename one of them, for example {test[1][0]!r}.",
                dict.fromkeys(reading),
            )


def _split(parts: Sequence[Sequence[Alternative]]) -> list[tuple[Alternative, ...]]:
    """Rules in their order fill one ruleset; the first that would pass a limit begins the next.

    A rule stays whole, for it fits any empty ruleset. What fires does not depend on the split, because every ruleset is
    given all the facts it reads.
    """
    groups: list[list[Alternative]] = []
    uses: Counter[int] = Counter()
    for part in parts:
        more = [test for alternative in part for test in alternative.tests]
        uses.update(more)
        full = max(uses[test] for test in more) > MAX_SHARING or len(uses) > MAX_TESTS
        if not groups or full or len(groups[-1]) + len(part) > MAX_RULESET:
            groups.append([])
            uses = Counter(more)
        groups[-1].extend(part)
    return [tuple(group) for group in groups]
