"""Which rules fire, for columns of visits: see `rulebook/matcher/plain.py`; and the score of every fault, see `ranking.py`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.saying import SaidWords
from diagnose.diagnosis.ranking import TOLD
from diagnose.rulebook import Applying, Rulebook
from diagnose.rulebook.matcher.compiled import Compiled

Sure = dict[int, Any]
"""Pattern, by number -> how sure it is in each row; those that hold nowhere are left out."""


@dataclass(slots=True)
class Fired:
    """How sure each pattern is, and state -> word -> how sure that is."""

    patterns: Sure
    states: dict[str, dict[str, Any]]


def fired(book: Compiled, words: SaidWords) -> Fired:
    """The rules that fire, in all rows."""
    tests: dict[int, Any] = {}
    for finding, one in words.items():
        _weigh(book, finding, one.words, tests)
    found = Fired({}, {})
    for states, numbers in (*book.levels, ((), book.last)):
        for number in numbers:
            sure = _surest(book.branches[number], tests)
            if sure is not None:
                found.patterns[number] = sure
        for state in states:
            of: dict[str, Any] = {}
            for number, word in book.concluding[state]:
                if number in found.patterns:
                    sure = found.patterns[number]
                    of[word] = np.maximum(of[word], sure) if word in of else sure
            found.states[state] = of
            _weigh(book, state, of, tests)
    return found


def _weigh(book: Compiled, finding: str, words: Mapping[str, Any], tests: dict[int, Any]) -> None:
    for number, allowed in book.reading.get(finding, ()):
        chances = [words[word] for word in allowed if word in words]
        if chances:
            total = chances[0] if len(chances) == 1 else sum(chances[1:], chances[0])
            tests[number] = total if len(chances) == 1 else np.minimum(total, 1.0)


def _surest(branches: tuple[tuple[int, ...], ...], tests: Mapping[int, Any]) -> Any:
    best = None
    for branch in branches:
        sure = None
        for number in branch:
            test = tests.get(number)
            if test is None:
                sure = None
                break
            sure = test if sure is None else np.minimum(sure, test)
        if sure is not None:
            best = sure if best is None else np.maximum(best, sure)
    return best


@dataclass(slots=True)
class EvidenceRows:
    """One rule for or against a fault: its number among the patterns, its points, and what it adds to the score in each row."""

    pattern: int
    points: float
    weight: Any


@dataclass(slots=True)
class Scored:
    """Every fault: its evidence, its score and its share in each row (fault, row); the order of the faults, likeliest first.

    speaking: the sum of the points that speak for it. told: rows in which anything speaks for or against any fault as far
    as it is worth telling.
    """

    faults: tuple[str, ...]
    evidence: Mapping[str, list[EvidenceRows]]
    scores: Any
    speaking: Any
    shares: Any
    order: Any
    told: Any


def scored(rules: Rulebook, applying: Applying, sure: Sure, n: int) -> Scored:
    """See `ranking.rank`."""
    told = np.zeros(n, dtype=bool)
    evidence: dict[str, list[EvidenceRows]] = {}
    scores, speaking = np.empty((len(rules.faults), n)), np.zeros((len(rules.faults), n))
    for place, (fault, entry) in enumerate(rules.faults.items()):
        total: Any = np.zeros(n)
        evidence[fault] = []
        for pattern, points, special in applying.weighed.get(fault, ()):
            if pattern not in sure:
                continue
            counted = sure[pattern]
            others = [sure[other] for other in special if other in sure]
            if others:
                taken = others[0]
                for other in others[1:]:
                    taken = np.maximum(taken, other)
                counted = np.maximum(counted - taken, 0.0)
            weight = points * counted
            total += weight
            if points > 0:
                speaking[place] += weight
            told |= np.abs(weight) >= TOLD
            evidence[fault].append(EvidenceRows(pattern, points, weight))
        scores[place] = entry.usual + total
    odds = np.exp2(scores - scores.max(axis=0))
    whole = sum(odds[1:], odds[0])  # one after another: numpy would add a single row in another order than many
    return Scored(
        tuple(rules.faults), evidence, scores, speaking, odds / whole, np.argsort(-scores, axis=0, kind="stable"), told
    )
