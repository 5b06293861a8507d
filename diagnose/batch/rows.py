"""A row of a table as a visit, by the reader of visit files, or what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.batch.headers import Column, Layout, kebab, value_in
from diagnose.diagnosis.findings import seen_problems
from diagnose.rulebook import Rulebook
from diagnose.visit import Visit, VisitError, visit_in
from diagnose.yamlfile import Document, Problem
from diagnose.yamlfile.problems import Mark


@dataclass(frozen=True, slots=True)
class Unread:
    """A row that is no visit. codes: what is wrong, by cell where one is to blame; problems: the same in sentences, at the row
    and column of the table.
    """

    codes: tuple[str, ...]
    problems: tuple[Problem, ...]


def visit_of(row: Mapping[int, object], layout: Layout, number: int, name: str, book: Rulebook) -> Visit | Unread:
    """The visit in a row. row: its cells by place; number: of the row, from 1; name: of the table."""
    data: dict[str, object] = {}
    for column in layout.columns:
        value = value_in(row[column.place], column)
        if value is not None:
            group: dict[str, object] = data
            for step in _at(column)[:-1]:
                group = group.setdefault(step, {})  # type: ignore[assignment]
            group[column.word] = value
    try:
        visit = visit_in(Document(name, data or {"readings": {}}), own=book.own)
        found: list[Problem] = seen_problems(visit, book)
    except VisitError:
        found = []
    else:
        if not found:
            return visit
    marks: dict[tuple[str | int, ...], Mark] = {
        _at(column): Mark(number, column.place + 1) for column in layout.columns
    }
    placed = Document(name, data, (), marks, marks)
    try:
        found = seen_problems(visit_in(placed, own=book.own), book)
    except VisitError as error:
        found = [*error.problems, *(seen_problems(error.rest, book) if error.rest is not None else [])]
    return unread(found, layout.columns, number)


def _at(column: Column) -> tuple[str, ...]:
    """Where it stands in a visit."""
    return {
        "line set": ("machine", "line set", column.word),
        "baseline": ("baseline", "readings", column.word),
    }.get(column.part, (column.part, column.word))


def unread(found: Sequence[Problem], columns: Sequence[Column] = (), number: int = 0) -> Unread:
    """A row with these problems; those at a cell say which."""
    by_place = {one.place + 1: one for one in columns}
    codes, placed = [], []
    for problem in found:
        column = by_place.get(problem.column)
        codes.append("not-read" if column is None else f"not-read/{kebab(column.called.partition(' [')[0])}")
        placed.append(
            problem._replace(line=problem.line or number, column=max(problem.column, 1) if number else problem.column)
        )
    return Unread(tuple(dict.fromkeys(codes)), tuple(placed))
