"""durable-rules against the plain matcher on a realistic rule book: pytest tests/benchmarks --benchmark-only

Compare the two within one run; times of different computers or days say little.
"""

from __future__ import annotations

import random

import pytest

from diagnose.rulebook.matcher import Pattern, compile_patterns, matcher_for
from diagnose.rulebook.matcher.durable_rules import importable

WORDS = ["very low", "low", "normal", "high", "very high"]
FINDINGS = [f"finding {i}" for i in range(24)]
STATES = [f"state {i}" for i in range(6)]


def rule_book(rules: int = 80) -> tuple[Pattern, ...]:
    """A sixth of the rules conclude states; 2 to 4 conditions of 1 or 2 words; every fifth rule has an `any:`."""
    rnd = random.Random(7)

    def tests(names: list[str], n: int):
        return tuple((name, frozenset(rnd.sample(WORDS, rnd.choice([1, 1, 2])))) for name in rnd.sample(names, n))

    book = []
    for i in range(rules):
        state = STATES[i % 6] if i < rules // 6 else None
        names = FINDINGS if state else FINDINGS + STATES
        either = tuple(tests(FINDINGS[:4], 1) for _ in range(2)) if i % 5 == 0 else ()
        when = tests(FINDINGS[4:] if either else names, 1 if state else rnd.choice([2, 2, 3, 4]))
        book.append(Pattern(f"rule/{i}", when, either, (state, rnd.choice(WORDS)) if state else None))
    return tuple(book)


def some_visits(words: int, n: int = 50):
    """20 of 24 findings measured, each with `words` neighbouring words in part."""
    rnd = random.Random(8)
    visits = []
    for _ in range(n):
        visit = {}
        for name in rnd.sample(FINDINGS, 20):
            first = rnd.randrange(len(WORDS) - words + 1)
            visit[name] = dict.fromkeys(WORDS[first : first + words], 1 / words)
        visits.append(visit)
    return visits


def engines():
    return ["plain", pytest.param("durable-rules", marks=pytest.mark.skipif(not importable(), reason="does not load"))]


@pytest.mark.parametrize("words", [1, 2, 5])
@pytest.mark.parametrize("engine", engines())
def test_run_50_visits(benchmark, engine, words):
    benchmark.group = f"50 visits, 80 rules, {words} words a finding"
    matcher, visits = compile_patterns(rule_book(), engine), some_visits(words)
    fired = benchmark(lambda: sum(len(matcher.run(visit).firings) for visit in visits))
    benchmark.extra_info["firings a visit"] = fired / len(visits)
    assert fired


@pytest.mark.parametrize("engine", engines())
def test_compile(benchmark, engine):
    benchmark.group = "compile 80 rules and run once"
    book, visit = rule_book(), some_visits(2)[0]
    benchmark.pedantic(lambda: compile_patterns(book, engine).run(visit), rounds=10)  # few: each keeps its memory


def test_lookup_of_a_kept_matcher(benchmark):
    benchmark.group = "matcher_for, already compiled"
    book = rule_book()
    matcher_for(book, "plain")
    benchmark(matcher_for, book, "plain")
