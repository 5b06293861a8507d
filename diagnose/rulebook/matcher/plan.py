"""From patterns to what durable-rules can be trusted with: alternatives of single-word conditions joined by "all".

Nothing here imports durable-rules. All its limits are checked here, because past them it hangs, crashes or silently
drops facts instead of saying so (each one was reproduced with 2.0.28). The limits hold for the plain matcher too, so
that a rule book which works on one computer works on all.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from diagnose.rulebook.matcher.patterns import MatcherError, Pattern, check, strata

Word = tuple[str, str]
"""(finding, word)"""

MAX_ALTERNATIVES = 64  # of one rule: ours, so that lists of words cannot multiply without notice
MAX_FACTS = 16  # of one alternative: durable-rules refuses a 17th (error 304)
MAX_SHARING = 250  # alternatives of one ruleset that share a word: durable-rules crashes at the 256th
MAX_WORDS = 500  # different words of one ruleset: building hangs for ever at the 513th test side by side
MAX_RULESET = 1000  # alternatives of one ruleset: ours; opening a session grows faster than linearly
# A fact that meets more than 64 different tests at once is refused too (error 303). Here that cannot happen: a fact
# is one word, and the only test a ruleset has for a word is that it is this word, so each fact meets exactly one.


@dataclass(frozen=True)
class Alternative:
    """One word for each finding: a single durable rule. `branch` numbers its map in the pattern's `either`."""

    pattern: int
    branch: int
    words: tuple[Word, ...]


@dataclass(frozen=True)
class Plan:
    """Patterns taken apart: the states by level, and the alternatives in groups that fit one ruleset each."""

    patterns: tuple[Pattern, ...]
    levels: tuple[tuple[str, ...], ...]
    rulesets: tuple[tuple[Alternative, ...], ...]


def make_plan(patterns: Sequence[Pattern]) -> Plan:
    """Check the patterns and take them apart. Raises MatcherError, naming the rules and how to mend them."""
    check(patterns)
    parts = [_alternatives(number, pattern) for number, pattern in enumerate(patterns)]
    _check_hashes(patterns, parts)
    levels = tuple(tuple(level) for level in strata(patterns))
    return Plan(tuple(patterns), levels, tuple(_split(parts)))


def encode(name: str) -> str:
    """A name in the characters a-z 0-9 _ #, different names staying different.

    durable-rules was not measured beyond these, and text that starts like a number may be compared as one.
    """
    out = ["_" if c == " " else c if "a" <= c <= "z" or "0" <= c <= "9" else f"#{ord(c):x}#" for c in name]
    if out and out[0].isdigit():
        out[0] = f"#{ord(out[0]):x}#"
    return "".join(out) or "##"


def fact_id(word: Word) -> str:
    """The id of the fact that says `word`, such as "superheat=high"."""
    return f"{encode(word[0])}={encode(word[1])}"


def id_hash(text: str) -> int:
    """The 32-bit FNV-1a hash by which durable-rules tells facts apart."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 16777619 & 0xFFFFFFFF
    return value


def _alternatives(number: int, pattern: Pattern) -> list[Alternative]:
    """Every choice of one allowed word per finding, for every map of `either`."""
    branches = [_allowed(pattern, branch) for branch in pattern.either or ((),)]
    most = max(len(allowed) for allowed in branches)
    if most > MAX_FACTS:
        raise MatcherError(
            f"rule {pattern.id!r} needs {most} findings at once; at most {MAX_FACTS} are possible",
            "Let other rules conclude a state from some of them, and name the state here.",
            [pattern.id],
        )
    count = sum(math.prod(map(len, allowed.values())) for allowed in branches)  # counted, not yet built
    if count > MAX_ALTERNATIVES:
        raise MatcherError(
            f"rule {pattern.id!r} can hold in {count} ways (its lists of words multiplied); at most {MAX_ALTERNATIVES} "
            "are possible",
            "Shorten its lists of words, leave out the finding that decides least, or let another rule conclude a "
            "state from one or two of its findings and name the state here.",
            [pattern.id],
        )
    return [
        Alternative(number, branch, words)
        for branch, allowed in enumerate(branches)
        for words in product(*([(finding, w) for w in sorted(words)] for finding, words in allowed.items()))
    ]


def _allowed(pattern: Pattern, branch: Iterable[tuple[str, frozenset[str]]]) -> dict[str, frozenset[str]]:
    # One condition per finding: two conditions of one rule never match the same fact.
    allowed: dict[str, frozenset[str]] = {}
    for finding, words in (*pattern.when, *branch):
        allowed[finding] = allowed.get(finding, words) & words
    return allowed


def _check_hashes(patterns: Sequence[Pattern], parts: Sequence[Sequence[Alternative]]) -> None:
    """Two facts of one hash are one fact to durable-rules: the second would be lost."""
    readers: dict[Word, int] = {}
    for part in parts:
        for alternative in part:
            for word in alternative.words:
                readers.setdefault(word, alternative.pattern)
    seen: dict[int, Word] = {}
    for word in readers:
        other = seen.setdefault(id_hash(fact_id(word)), word)
        if other != word:
            raise MatcherError(
                f"the words {other[0]!r}: {other[1]!r} and {word[0]!r}: {word[1]!r} cannot be told apart inside the "
                "rule engine (their ids have the same hash)",
                f"Rename one of them, for example {word[1]!r}.",
                dict.fromkeys(patterns[readers[w]].id for w in (other, word)),
            )


def _split(parts: Sequence[Sequence[Alternative]]) -> list[tuple[Alternative, ...]]:
    """Rules in their order fill one ruleset; the first that would pass a limit begins the next.

    A rule stays whole: with 64 alternatives it fits any empty ruleset. What fires does not depend on the split,
    because every ruleset is given all the facts it reads.
    """
    groups: list[list[Alternative]] = []
    uses: Counter[Word] = Counter()
    for part in parts:
        more = Counter(word for alternative in part for word in alternative.words)
        total = uses + more
        full = max(total.values()) > MAX_SHARING or len(total) > MAX_WORDS
        if not groups or full or len(groups[-1]) + len(part) > MAX_RULESET:
            groups.append([])
            total = more
        groups[-1].extend(part)
        uses = total
    return [tuple(group) for group in groups]
