"""Rules, findings and places in the ranking as small as a test by hand needs them."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Evidence, Ranked
from diagnose.rulebook.makes import Makes, asked_findings, makes


def rule(points: float, **when: str) -> Any:
    tests = tuple((n, frozenset({w})) for n, w in when.items())
    return SimpleNamespace(points=points, when=tests, either=(), conditions=tests, findings=tuple(when))


def entry(kind: str | None, *brings: tuple[str, str]) -> Any:
    made = SimpleNamespace(applies=(), findings=tuple((name, frozenset({word})) for name, word in brings))
    return SimpleNamespace(charge=kind, brings=(made,))


class Book(SimpleNamespace):
    """As much of a rule book as is given, whose rules speak for no fault."""

    def evidence(self, fault: str) -> tuple[Any, ...]:
        return ()

    def spelled_out(self, asking: Any) -> Any:
        book: Any = self
        return asked_findings(asking, book)

    def makes(self, facts: Mapping[str, str]) -> Makes:
        book: Any = self
        return makes(book, facts)


def finding(name: str, word: str, sure: float = 1.0) -> Finding:
    other = "normal" if word != "normal" else "high"
    return Finding(name, {word: sure, other: 1.0 - sure} if sure < 1 else {word: 1.0})


def place(fault: str, share: float, *evidence: Any) -> Ranked:
    return Ranked(fault, 0.0, share, tuple(Evidence(r, None, 1.0) for r in evidence), "strong")  # type: ignore[arg-type]
