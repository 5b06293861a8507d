"""A row of a table as a visit, or what is wrong with it; the visit as the row that is written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.batch.columns import Column, Layout, kebab, value_in
from diagnose.diagnosis.findings import seen_problems
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import STEPS
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.report.sentences import problems
from diagnose.report.wording import in_units
from diagnose.rulebook import Rulebook
from diagnose.units import System
from diagnose.visit import Visit, VisitError, visit_in
from diagnose.yamlfile import Document, Problem
from diagnose.yamlfile.problems import Mark

NOT_READ = "not read"
"""Status of a row that is no visit."""
MAIN = (
    "superheat", "subcooling", "evaporating temperature", "condensing temperature", "condensing over ambient",
    "evaporator temperature difference", "liquid line approach", "air temperature split", "discharge superheat",
    "compression ratio", "compressor efficiency", "current ratio", "airflow per ton", "cooling capacity",
    "condensing over return air", "outdoor coil below outdoor air", "air rise", "heating capacity",
)  # fmt: skip
"""The quantities that stand in every table, in this order."""
DECIMALS = 4
Cell = str | float | None
LOW, HIGH = "charge estimate low [%]", "charge estimate high [%]"
ANSWER = ("status", "fault", "share", "second", "charge verdict", LOW, HIGH, "dangers", "problems")
NUMBERS = frozenset({"share", LOW, HIGH})
_KINDS = {step.name: step.kind for step in STEPS}


@dataclass(frozen=True, slots=True)
class Asked:
    """What the output holds. shares: one column a fault."""

    units: System = "si"
    shares: bool = False


@dataclass(frozen=True, slots=True)
class Unread:
    """A row that is no visit. codes: what is wrong, by cell where one is to blame; problems: the same in sentences, at the row
    and column of the table.
    """

    codes: tuple[str, ...]
    problems: tuple[Problem, ...]


# -- in ----------------------------------------------------------------------------------------------------------------


def visit_of(row: Sequence[object], layout: Layout, number: int, name: str, book: Rulebook) -> Visit | Unread:
    """The visit in a row. number: of the row, from 1; name: of the table."""
    data: dict[str, object] = {}
    for column in layout.columns:
        value = value_in(row[column.place], column)
        if value is not None:
            group: dict[str, object] = data
            for step in _at(column)[:-1]:
                group = group.setdefault(step, {})  # type: ignore[assignment]
            group[column.word] = value
    try:
        visit = visit_in(Document(name, data or {"readings": {}}))
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
        found = seen_problems(visit_in(placed), book)
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
        placed.append(replace(problem, line=problem.line or number, column=max(problem.column, 1) if number else 0))
    return Unread(tuple(dict.fromkeys(codes)), tuple(placed))


# -- out ---------------------------------------------------------------------------------------------------------------


def answer_columns(book: Rulebook, asked: Asked) -> list[str]:
    """The names of the columns after those that are passed on, in their order."""
    quantities = [name for each in MAIN for name in (_header(each, asked.units), _header(each, asked.units, "± "))]
    return [*ANSWER, *quantities, *(f"share: {fault}" for fault in book.faults if asked.shares)]


def is_number(name: str) -> bool:
    """Whether a column of `answer_columns` holds numbers."""
    return name in NUMBERS or name not in ANSWER


def _header(name: str, units: System, mark: str = "") -> str:
    unit = in_units(0.0, _KINDS[name], units)[1].replace("°", "")
    return f"{name} {mark}[{unit}]" if unit else f"{name} {mark}".strip()


def answers(
    visits: Iterable[Visit | Unread], book: Rulebook, asked: Asked, codes: Sequence[str] = ()
) -> dict[str, list[Cell]]:
    """The columns of `answer_columns` for these visits, one row each. codes: what is said of every row."""
    columns = answer_columns(book, asked)
    found: dict[str, list[Cell]] = {name: [] for name in columns}
    for visit in visits:
        cells = not_read(visit, codes) if isinstance(visit, Unread) else answer_of(examine(visit, book), asked, codes)
        for name in columns:
            found[name].append(cells.get(name))
    return found


def not_read(row: Unread, codes: Sequence[str]) -> dict[str, Cell]:
    """The row of what is no visit."""
    return {"status": NOT_READ, "problems": joined((*row.codes, *codes))}


def answer_of(d: Diagnosis, asked: Asked, codes: Sequence[str] = ()) -> dict[str, Cell]:
    """One row; what has no value is not in it."""
    first = d.faults[0] if d.faults else None
    percent = getattr(d.charge, "percent", None)
    cells: dict[str, Cell] = {
        "status": d.status,
        "fault": first.fault if first else None,
        "share": round(first.share, DECIMALS) if first else None,
        "second": d.also[0] if d.also else None,
        "charge verdict": d.charge.verdict,
        LOW: percent[0] if percent else None,
        HIGH: percent[1] if percent else None,
        "dangers": joined(danger.code for danger in d.dangers),
        "problems": joined([*(one.code for one in d.held), *(one.code for one, _ in problems(d)), *codes]),
    }
    for name in MAIN:
        estimate = d.estimates.get(name)
        if estimate is not None:
            value, limit = _shown(estimate, asked.units)
            cells[_header(name, asked.units)] = value
            cells[_header(name, asked.units, "± ")] = limit
    if asked.shares:
        cells.update({f"share: {fault.fault}": round(fault.share, DECIMALS) for fault in d.faults})
    return cells


def _shown(estimate: Estimate, units: System) -> tuple[float, float]:
    """The value and the limit that holds 95 of 100, in the units of the output."""
    in_unit: Callable[[float], float] = lambda si: in_units(si, estimate.kind, units)[0]  # noqa: E731
    value = in_unit(estimate.value)
    limit = in_unit(estimate.value + COVERAGE * estimate.sigma) - value
    return round(value, DECIMALS), round(limit, DECIMALS)


def joined(codes: Iterable[str]) -> str:
    """Codes in one cell, each once."""
    return ",".join(dict.fromkeys(codes))


def identity(visit: Visit | Unread, said: Mapping[str, object]) -> dict[str, str | None]:
    """What a row is called by. said: as it stands in the table; words that the trade writes in many ways are as used here."""
    found = {name: None if value is None else str(value) for name, value in said.items()}
    if isinstance(visit, Visit):
        machine = visit.machine
        gas = machine.refrigerant.name if machine.refrigerant else None
        for name, word in (("kind", machine.words.get("kind")), ("refrigerant", gas), ("metering", machine.metering)):
            found[name] = word or found.get(name)
    return found
