"""Words in, fired rules out.

A pattern names findings and the words it allows. A rule is as sure as its least sure finding: `sure` of one
alternative is the smallest, over its findings, of the summed probabilities of the allowed words (at most 1); `sure`
of a rule is the largest over its alternatives. A finding that was not measured asserts nothing, and neither does a
word whose probability is 0 or not a number. States are findings that rules conclude; they are worked out level by
level, and the certainty of a state's word is the largest `sure` of the rules that conclude it.

Two engines give the same answers: durable-rules where it can be installed, and a plain one.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import count
from typing import Literal

from diagnose.rulebook.matcher.durable_rules import DurableMatcher, importable
from diagnose.rulebook.matcher.patterns import Firing, Matched, Matcher, MatcherError, Pattern, Words, strata
from diagnose.rulebook.matcher.plain import PlainMatcher
from diagnose.rulebook.matcher.plan import make_plan

EngineName = Literal["auto", "durable-rules", "plain"]


def compile_patterns(patterns: Sequence[Pattern], engine: EngineName = "auto") -> Matcher:
    """Check the patterns and make a matcher; `auto` takes durable-rules where it loads, else the plain matcher.

    Raises MatcherError for anything wrong with the rules, the same for both engines. A durable-rules matcher keeps
    its memory (about 12 MiB for 80 rules) when it is dropped: use `matcher_for` where the same patterns come again.
    """
    plan = make_plan(patterns)
    if engine == "plain" or (engine == "auto" and not importable()):
        return PlainMatcher(plan.book.patterns)
    return DurableMatcher(plan)


MOST_COMPILED = 32
"""Sets of patterns that `auto` gives to durable-rules in one process: some 8 MiB each that never come back."""
_COMPILED = count()


@lru_cache(maxsize=MOST_COMPILED)
def matcher_for(patterns: tuple[Pattern, ...], engine: EngineName = "auto") -> Matcher:
    """The matcher for these patterns, compiled once and kept.

    Kept because durable-rules has no way to give back a ruleset's memory, so that compiling per visit would leak. So would a
    program that reloads edited rules, or a server that meets every kind of machine: later sets go to the plain matcher.
    Looking up hashes every pattern, so hold on to the matcher inside a loop.
    """
    spent = engine == "auto" and importable() and next(_COMPILED) >= MOST_COMPILED
    return compile_patterns(patterns, "plain" if spent else engine)
