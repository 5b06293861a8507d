"""What is written of each row: its answer as columns of the output, and what it is called by."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch import output
from diagnose.batch.columnwise.codes import Listed, joined
from diagnose.batch.evaluator import TableOutcome
from diagnose.quantities import STEPS, QuantityKind
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.wording import in_units
from diagnose.rulebook import Rulebook
from diagnose.units import System

NOT_READ = "not read"
"""Status of a row that is no visit."""
MAIN = (
    "superheat", "subcooling", "evaporating temperature", "condensing temperature", "condensing over ambient",
    "evaporator temperature difference", "liquid line approach", "air temperature split", "discharge superheat",
    "compression ratio", "compressor efficiency", "current ratio", "airflow per ton", "cooling capacity",
    "condensing over return air", "outdoor coil below outdoor air", "air rise", "heating capacity",
)  # fmt: skip
"""The program's own quantities that stand in every table, in this order."""
DECIMALS = 4
_FIGURES = {
    "share": "share", "charge estimate low [%]": "estimate_low", "charge estimate high [%]": "estimate_high"
}  # fmt: skip
ANSWER = (
    "status", "fault", "share", "second", "charge verdict", "charge estimate low [%]", "charge estimate high [%]",
    "dangers", "problems",
)  # fmt: skip
CHECK = "charge check"
"""The check that goes before a charge is changed; behind the quantities, so that no column before it moves."""
_WORDS = {
    "status": "status",
    "fault": "fault",
    "second": "second",
    "charge verdict": "charge_verdict",
    CHECK: "charge_check",
}
_KINDS = {step.name: step.kind for step in STEPS}
_OF_NOMINAL = ("cooling capacity", "heating capacity")
"""Shares whose name does not say that they are any."""

OutcomePart = tuple[np.ndarray, TableOutcome]
"""Some rows, by their place in the table, and what came of them."""
SaidOfRows = tuple[np.ndarray, str]
"""Some rows, and a code that is told of each."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the output holds. shares: one column a fault."""

    units: System = "si"
    shares: bool = False


def answer_columns(book: Rulebook, asked: Asked) -> list[str]:
    """The names of the columns after those that are passed on, in their order."""
    kinds = quantity_kinds(book)
    quantities = [_header(each, kinds[each], asked.units, mark) for each in kinds for mark in ("", "± ")]
    return [*ANSWER, *quantities, CHECK, *(f"share: {fault}" for fault in book.faults if asked.shares)]


def is_number(name: str) -> bool:
    """Whether a column of `answer_columns` holds numbers."""
    return name in _FIGURES or name not in (*ANSWER, CHECK)


def _in_units(si: np.ndarray, kind: QuantityKind, units: System) -> np.ndarray:
    return in_units(si, kind, units)[0]  # type: ignore[arg-type, return-value]  # a column is reckoned with as a number


def quantity_kinds(book: Rulebook) -> dict[str, QuantityKind]:
    """The quantities that stand in a table, in their order, and their kinds: MAIN, and those that a company has added."""
    return {name: _KINDS[name] for name in MAIN} | {one.name: one.kind for one in book.own.quantities}


def _header(name: str, kind: QuantityKind, units: System, mark: str = "") -> str:
    unit = "of nominal" if name in _OF_NOMINAL else in_units(0.0, kind, units)[1].replace("°", "")
    unit = kind if not unit and name not in _KINDS else unit  # a company may call a ratio what it likes, `status` too
    return f"{name} {mark}[{unit}]" if unit else f"{name} {mark}".strip()


def answers(
    n: int, parts: Sequence[OutcomePart], said: Sequence[SaidOfRows], book: Rulebook, asked: Asked
) -> dict[str, Any]:
    """The columns of `answer_columns` for n rows; those in none of the parts were not read. said: codes told of rows after what
    the evaluator tells.
    """
    found: dict[str, Any] = {}
    read = np.zeros(n, bool)
    for rows, _ in parts:
        read[rows] = True
    for name, line in _WORDS.items():
        words = [NOT_READ] if name == "status" else []
        codes = np.full(n, len(words) - 1)
        for rows, outcome in parts:
            coded = getattr(outcome, line)
            codes[rows] = np.where(coded.codes < 0, -1, coded.codes + len(words))
            words += coded.words
        found[name] = output.words(codes, words)
    for name, line in _FIGURES.items():
        found[name] = _figures(n, ((rows, getattr(outcome, line)) for rows, outcome in parts))
    found["dangers"] = output.where(read, _in_one_cell(n, [(rows, outcome.dangers) for rows, outcome in parts]))
    told = [(rows, Listed(np.arange(rows.size + 1), np.zeros(rows.size, np.int16), (code,))) for rows, code in said]
    evaluated = [(rows, listed) for rows, outcome in parts for listed in (outcome.held, outcome.problems)]
    found["problems"] = _in_one_cell(n, [*evaluated, *told])
    for name, kind in quantity_kinds(book).items():
        known = [(rows, outcome.quantities[name]) for rows, outcome in parts if name in outcome.quantities]
        values = [(rows, _in_units(one.value, kind, asked.units)) for rows, one in known]
        ends = [_in_units(one.value + COVERAGE * one.sigma, kind, asked.units) for _, one in known]
        limits = [(rows, end - value) for (rows, value), end in zip(values, ends, strict=True)]
        found[_header(name, kind, asked.units)] = _figures(n, values)
        found[_header(name, kind, asked.units, "± ")] = _figures(n, limits)
    for place, fault in enumerate(book.faults if asked.shares else ()):
        found[f"share: {fault}"] = _figures(n, ((rows, outcome.shares[:, place]) for rows, outcome in parts))
    return {name: found[name] for name in answer_columns(book, asked)}


def _figures(n: int, parts: Iterable[tuple[np.ndarray, Any]]) -> Any:
    whole = np.full(n, np.nan)
    for rows, values in parts:
        whole[rows] = values
    return output.figures(np.round(whole, DECIMALS) + 0.0)  # no -0.0


def _in_one_cell(n: int, parts: Sequence[tuple[np.ndarray, Listed]]) -> Any:
    """The codes of each row with commas between, each once."""
    whole = joined(parts, n)
    rows = np.repeat(np.arange(n), np.diff(whole.offsets))
    _, first = np.unique(rows * len(whole.words) + whole.codes, return_index=True)
    kept = np.sort(first)
    offsets = np.concatenate([[0], np.cumsum(np.bincount(rows[kept], minlength=n))])
    return output.joined_words(offsets, whole.codes[kept], whole.words)
