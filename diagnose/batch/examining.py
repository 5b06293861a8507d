"""A table examined: a file into a file, or a table in memory into another. What needs an extra is imported when it is used."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.units import System
from diagnose.yamlfile import files, refusal

if TYPE_CHECKING:
    from diagnose.batch.answers import Asked
    from diagnose.batch.chunk import Chunk, Done, ListedPlan
    from diagnose.batch.output import Form
    from diagnose.batch.parts import Sum
    from diagnose.batch.sources import Plan
    from diagnose.rulebook import Rulebook

FORMS: Mapping[str, Form] = {
    ".parquet": "parquet", ".pq": "parquet", ".csv": "csv", ".jsonl": "jsonl", ".ndjson": "jsonl"
}  # fmt: skip
TableProgress = Callable[[int, int, int], None]
"""Told after each chunk: how much of the whole is done, how much there is, and rows that this run has done."""


def examine_table(
    table: Any,
    rules: Rulebook | None = None,
    *,
    units: System = "si",
    shares: bool = False,
    headers: Mapping[str, str] | None = None,
) -> Any:
    """The answer for each row of a pyarrow Table or a pandas DataFrame, as a table of the same kind, one row each.

    Columns are named as lines of a visit with their unit in brackets; headers: a column's own name -> that name. What was not
    understood is passed on. A row that is no visit has the status `not read` and says in `problems` which cells are to blame.
    units: of the quantities; shares: a column for each fault's share. Raises InputProblems where it is no table.
    """
    arrow = _arrow()
    from diagnose.batch import output
    from diagnose.batch.answers import Asked, answer_columns, is_number
    from diagnose.batch.chunk import Chunk, ChunkSource, Setup
    from diagnose.batch.headers import IDENTITY, MOST_COLUMNS, layout_of
    from diagnose.batch.work import examined
    from diagnose.rulebook import load_rules

    given, frame = arrow.as_table(table)
    if given.num_columns > MOST_COLUMNS:
        what = f"this table has {given.num_columns:,} columns, and {MOST_COLUMNS:,} are the most that are read"
        raise refusal(what, "Keep those that say something about a machine or a visit.")
    book, asked = rules if rules is not None else load_rules(), Asked(units, shares)
    names = answer_columns(book, asked)
    first = {}
    for place in range(given.num_columns):
        cells = (cell for cell in arrow.cells_of(given.slice(0, 50), place) if cell is not None and str(cell).strip())
        first[place] = next(cells, None)
    layout = layout_of([str(name) for name in given.column_names], book, names, headers, first)
    passed = [(name, output.one_type([given.schema.field(place).type], "parquet")) for place, name in layout.passed]
    schema = output.schema_of(IDENTITY, passed, [(name, is_number(name)) for name in names])
    setup = Setup(book, (layout,), tuple(name for name, _ in passed), schema, asked, "parquet")
    source = ChunkSource("table", "", "table", 0, count=given.num_columns)
    parts, row = [], 1
    for some in arrow.batches(given):
        numbers = range(row, row + some.num_rows)
        parts.append(examined(some, Chunk(0, source, some.num_rows), setup, numbers, {})[0])
        row += some.num_rows
    whole = arrow.together(parts, schema)
    return arrow.to_pandas(whole) if frame else whole


def plan(place: str, rules: Rulebook, asked: Asked, form: Form, headers: str | None = None) -> Plan:
    """What is to be done. headers: a file of `header: name used here`. Raises InputProblems."""
    _arrow()
    from diagnose.batch.sources import headers_in, plan_of

    return plan_of(place, rules, asked, form, headers_in(headers) if headers else None)


def plan_store(store: Any, rules: Rulebook, asked: Asked, form: Form) -> ListedPlan:
    """The same for all visits of an open store. Raises InputProblems."""
    _arrow()
    from diagnose.batch.stored import plan_of_store

    return plan_of_store(store, rules, asked, form)


def plan_logs(place: str, machine: str | None, rules: Rulebook, asked: Asked, form: Form) -> ListedPlan:
    """The same for a log of a data logger, or a folder of them. machine: a visit file that says what it is; else the one of
    the same name beside each log. Raises InputProblems.
    """
    _arrow()
    from diagnose.batch.logs.tabling import plan_of_logs

    return plan_of_logs(place, machine, rules, asked, form)


def form_of(out: Path) -> Form:
    """By the ending of its name. Raises InputProblems."""
    found = FORMS.get(out.suffix.lower())
    if found is None:
        fix = "End it in .parquet, .csv or .jsonl."
        raise refusal("its ending does not say what to write", fix, out)
    return found


def refuse(place: str, out: Path) -> None:
    """Raises InputProblems where the output could not be written, or would be read as input: before any work."""
    files.refuse(out)
    source, target = Path(place), Path(out)
    if "://" in place:
        return
    if source.is_dir() and target.resolve().is_relative_to(source.resolve()):
        what, fix = "it lies in the folder that is read", "Name a place outside: the next run would read it as input."
        raise refusal(what, fix, out)
    if target.exists() and source.exists() and target.samefile(source):
        fix = "Name another file: it would be lost."
        raise refusal("this is the table itself", fix, out)


def run(
    found: Plan | ListedPlan,
    out: Path,
    jobs: int = 1,
    scheduler: str | None = None,
    resume: bool = False,
    progress: TableProgress | None = None,
    each: Callable[[Done], None] | None = None,
) -> Sum:
    """Examines all that the plan holds and writes the output. jobs: processes of this machine; scheduler: the address of a Dask
    cluster instead; resume: goes on with what an earlier run has done; each: told what came of each chunk before that is kept.
    Raises InputProblems; parts that are done are kept.
    """
    from diagnose.batch.parts import parts_of
    from diagnose.batch.running import here, on_cluster, on_processes

    with parts_of(out, found.mark, resume) as parts:
        left: Iterator[Chunk] = (chunk for chunk in found.chunks() if chunk.number not in parts.kept)
        few = list(islice(left, 2))
        left = chain(few, left)
        weight = sum(chunk.weight for chunk in found.chunks() if chunk.number in parts.kept) if parts.kept else 0
        pairs: Iterator[tuple[Chunk, Done]]
        if scheduler:
            _dask()
            pairs = on_cluster(left, found.setup, scheduler, found.mark)
        else:
            pairs = here(left, found.setup) if min(jobs, len(few)) < 2 else on_processes(left, found.setup, jobs)
        rows = 0
        for chunk, done in pairs:
            if each is not None:
                each(done)
            parts.put(chunk.number, done)
            rows, weight = rows + done.rows, weight + chunk.weight
            if progress is not None:
                progress(weight, found.weight, rows)
        return parts.finish(found.chunks(), found.setup)


def _arrow() -> Any:
    """The door of pyarrow. Raises InputProblems where it is not installed."""
    try:
        from diagnose.batch import arrow
    except ModuleNotFoundError as error:
        raise _missing(error, ("pyarrow", "numpy", "scipy"), "tables need pyarrow, numpy and scipy", "batch") from None
    return arrow


def _dask() -> None:
    try:
        import diagnose.batch.cluster  # noqa: F401
    except ModuleNotFoundError as error:
        raise _missing(error, ("distributed", "dask"), "a cluster needs Dask", "cluster") from None


def _missing(error: ModuleNotFoundError, packages: tuple[str, ...], what: str, extra: str) -> Exception:
    if (error.name or "").partition(".")[0] not in packages:
        return error
    return refusal(what, f"Install it: `pip install 'diagnose[{extra}]'`.")
