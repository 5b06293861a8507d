"""The shipped figures of judgement, and the book with some of them otherwise."""

from __future__ import annotations

from dataclasses import replace

from diagnose.rulebook import Rulebook, load_rules
from diagnose.rulebook.judgement import specs, values_of
from diagnose.shipped import shipped

BOOK = load_rules(shipped("rules"))
JUDGEMENT = BOOK.judgement


def judged(book: Rulebook = BOOK, /, **now: str | float) -> Rulebook:
    """The book with figures written otherwise: `second_fault__firm=0.9`."""
    figures = dict(book.figures)
    for name, written in now.items():
        path = name.replace("__", "/").replace("_", " ")
        values = values_of((written,), specs(figures)[path])
        figures[path] = figures[path]._replace(value=values, written=(written,))
    return replace(book, figures=figures)
