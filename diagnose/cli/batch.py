"""batch: a table of visits in, a table of answers out; fleet: what such a table adds up to."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diagnose.cli.shared import (
    MachineOption,
    OneOfUnits,
    OutOption,
    PageOption,
    RulesOption,
    book_of,
    form,
    put,
    put_blocks,
    refuse_to_write,
)
from diagnose.cli.shared import columns as columns_wide
from diagnose.yamlfile import InputProblems, Problem, files, refusal

if TYPE_CHECKING:
    from diagnose.batch.answers import Asked
    from diagnose.batch.parts import Sum
    from diagnose.batch.sources import Plan
    from diagnose.report import Block
    from diagnose.report.tables import TableHead


def batch(
    table: Annotated[
        str | None, typer.Argument(metavar="IN", help="CSV, Parquet, a folder of them, or a folder of visit files")
    ] = None,
    out: Annotated[Path | None, typer.Argument(metavar="OUT", help="ends in .parquet, .csv or .jsonl")] = None,
    columns: Annotated[
        bool, typer.Option("--columns", help="only show what is understood of the table's head")
    ] = False,
    headers: Annotated[
        str | None, typer.Option("--headers", metavar="FILE", help="YAML: each foreign header and the name used here")
    ] = None,
    shares: Annotated[bool, typer.Option("--shares", help="a column for the share of each fault")] = False,
    workers: Annotated[
        int | None,
        typer.Option("--workers", metavar="N", help="processes; as many as there are processors unless said"),
    ] = None,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="URL", help="a Dask cluster instead, tcp://HOST:PORT")
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="go on with a run that was ended")] = False,
    from_store: Annotated[
        str | None,
        typer.Option(
            "--from-store", metavar="URL", help="instead of IN: every kept visit, its new result kept as well"
        ),
    ] = None,
    log: Annotated[
        bool,
        typer.Option("--log", help="IN is a log of a data logger, or a folder of logs: a row for each steady stretch"),
    ] = False,
    machine: MachineOption = None,
    units: OneOfUnits = "si",
    rules: RulesOption = None,
) -> None:
    """Examines every row of a table: one row out for each row in; with --log one for each steady stretch."""
    from diagnose.batch import examining
    from diagnose.batch.answers import Asked
    from diagnose.evaluation.processes import processors
    from diagnose.report import as_text, tables

    if from_store is not None and out is None and table is not None:
        out, table = Path(table), None
    _refuse(table, out, columns, workers, scheduler, from_store)
    form = examining.form_of(out) if out is not None else "parquet"
    asked = Asked(units, shares)
    if from_store is not None:
        assert out is not None
        _again(from_store, out, asked, rules, workers or processors(), scheduler, resume)
        return
    assert table is not None
    if out is not None:
        examining.refuse(table, out)
    if log or machine is not None:
        wanted = out if headers is None else None
        _logs(table, wanted, machine, asked, rules, workers or processors(), scheduler, resume)
        return
    plan = examining.plan(table, book_of(rules), asked, form, headers)
    heads = _heads(plan)
    if columns:
        put(as_text(tables.columns_page(heads), columns_wide()))
        return
    assert out is not None
    _tell("".join(f"{problem}\n" for problem in plan.unreadable))
    if not plan.of_use:
        what = "no column here is a line of a visit; a table's first row is taken for its head"
        fix = (
            f"Take out what stands above the headers, such as a title. `diagnose batch --columns {table}` shows what is "
            "understood; --headers FILE says what your headers mean."
        )
        raise refusal(what, fix, table)
    _tell(tables.left_out_text(heads, plan.unmet))
    gc.enable()  # `main` leaves it off for commands that take a moment
    found = examining.run(plan, out, workers or processors(), scheduler, resume, _progress())
    _tell(_rows_text(found))
    put(
        tables.summary_text(str(out), found.rows, found.statuses, len(found.row_notes + found.file_notes), plan.ignored)
    )
    if plan.unreadable:
        raise typer.Exit(2)


def _logs(
    place: str,
    out: Path | None,
    machine: str | None,
    asked: Asked,
    rules: list[Path] | None,
    jobs: int,
    scheduler: str | None,
    resume: bool,
) -> None:
    """A log, or a folder of logs."""
    from diagnose.batch import examining
    from diagnose.report import tables

    if out is None:
        fix = "For example `diagnose batch --log logs/ answers.parquet`."
        raise refusal("--log takes neither --columns nor --headers", fix)
    plan = examining.plan_logs(place, machine, book_of(rules), asked, examining.form_of(out))
    gc.enable()
    found = examining.run(plan, out, jobs, scheduler, resume, _progress())
    _tell(_rows_text(found))
    put(tables.summary_text(str(out), found.rows, found.statuses, len(found.row_notes), plan.ignored))


def _again(
    place: str, out: Path, asked: Asked, rules: list[Path] | None, jobs: int, scheduler: str | None, resume: bool
) -> None:
    """Every kept visit by today's book: the results are kept, the table is written, and what differs is told."""
    from diagnose.batch import examining
    from diagnose.cli.keeping import opened_store
    from diagnose.report import as_text, tables
    from diagnose.report.history import again_text

    files.refuse(out)
    with opened_store(place) as (store, _):
        plan = examining.plan_store(store, book_of(rules), asked, examining.form_of(out))
        from diagnose.batch.stored import keep_results

        gc.enable()
        progress = _progress()
        found = examining.run(plan, out, jobs, scheduler, resume, progress, lambda done: keep_results(store, done))
    put(tables.summary_text(str(out), found.rows, found.statuses, len(found.file_notes), 0))
    put(as_text(again_text(found.rows, found.changed), columns_wide()))


def _refuse(
    table: str | None,
    out: Path | None,
    columns: bool,
    workers: int | None,
    scheduler: str | None,
    from_store: str | None,
) -> None:
    """Raises InputProblems with every option that does not fit."""
    found = []
    if from_store is not None and (table is not None or columns or out is None):
        fix = "For example `diagnose batch --from-store visits.db answers.parquet`."
        found.append(Problem("", 0, 0, "--from-store needs a file to write, and nothing else to read", fix))
    elif from_store is None and (table is None or (out is None and not columns)):
        fix = "For example `diagnose batch fleet.csv answers.parquet`; or `diagnose batch --columns fleet.csv` to look first."
        found.append(Problem("", 0, 0, "batch needs a table to read and a file to write", fix))
    if columns and out is not None:
        found.append(Problem("", 0, 0, "--columns writes nothing", "Leave out one of the two."))
    if workers is not None and workers < 1:
        found.append(
            Problem("", 0, 0, f"--workers must be 1 or more, not {workers}", "Leave it out to use all processors.")
        )
    if workers is not None and scheduler is not None:
        found.append(
            Problem("", 0, 0, "--workers and --scheduler exclude each other", "The cluster has workers of its own.")
        )
    if found:
        raise InputProblems(found)


def _heads(plan: Plan) -> list[TableHead]:
    """What was understood of each kind of head."""
    from diagnose.batch.logs.heads import names_a_time
    from diagnose.report.tables import A_LOG, HeadColumn, TableHead

    found = []
    for number, layout in enumerate(plan.setup.layouts):
        inputs = [each for each in plan.inputs if each.source.layout == number]
        first = inputs[0]
        cells = {place: str(cell) for place, cell in first.first.items()}
        understood = {one.place: one.called for one in layout.columns}
        if layout.date is not None:
            understood[layout.date] = "date"
        wrong = {one.place: one for one in layout.left_out}
        passed = dict(layout.passed)
        # Days with a clock time and no machine's name: one machine, minute by minute.
        timed = layout.date is not None and ":" in cells.get(layout.date, "")
        stamped = timed and "machine" not in understood.values()
        columns = [
            HeadColumn(
                place + 1,
                header,
                "understood" if place in understood else "left out" if place in wrong else "passed on",
                understood.get(place) or passed[place],
                cells.get(place, ""),
                wrong[place].what if place in wrong else "",
                wrong[place].fix
                if place in wrong
                else A_LOG
                if (place in passed and names_a_time(header)) or (stamped and place == layout.date)
                else (layout.hints or {}).get(place, ""),
            )
            for place, header in enumerate(first.headers)
        ]
        if first.source.kind != "visits":
            found.append(TableHead(tuple(each.source.shown for each in inputs), tuple(columns), layout.unmet))
    return found


def _rows_text(found: Sum) -> str:
    from diagnose.report import tables

    return "".join(
        [
            *(f"{note}\n" for note in found.file_notes),
            *(tables.row_text(note) for note in found.row_notes),
            *(tables.mixed_text(*each) for each in found.mixed),
        ]
    )


def _tell(text: str) -> None:
    from diagnose.report import plain

    if text:
        sys.stderr.write(plain(text, sys.stderr.encoding or "ascii"))
        sys.stderr.flush()


def _progress() -> Callable[[int, int, int], None] | None:
    """Says how far it has come where somebody watches."""
    if not sys.stderr.isatty():
        return None
    from diagnose.report import tables

    began, before = time.monotonic(), [-1]

    def tell(done: int, whole: int, rows: int) -> None:
        seconds = time.monotonic() - began
        before[0] = done if before[0] < 0 else before[0]
        text = tables.progress_text(done, whole, rows, seconds)
        if done > before[0]:
            text += f", {tables.left_text(seconds * (whole - done) / (done - before[0]))}"
        sys.stderr.write("\r" + " " * 78 + "\r" + ("" if done >= whole else text[:78]))
        sys.stderr.flush()

    return tell


def fleet(
    table: Annotated[Path, typer.Argument(metavar="TABLE", help="what `diagnose batch` wrote: CSV or Parquet")],
    how: PageOption = None,
    units: OneOfUnits = "us",
    rules: RulesOption = None,
    output: OutOption = None,
    full: Annotated[bool, typer.Option("--full", help="list every machine")] = False,
    hours: Annotated[float, typer.Option("--hours", help="what a visit takes, driving included")] = 1.5,
) -> None:
    """Many machines on one page: how many are right, which faults where, whom to visit first, what drifts."""
    from diagnose.batch.fleet import page
    from diagnose.batch.fleet.sums import sum_up
    from diagnose.batch.fleet.table import read_table
    from diagnose.report.blocks import as_data

    refuse_to_write(output)
    if output is not None and output.exists() and table.exists() and output.samefile(table):
        raise refusal("this is the table itself", "Name another file: it would be lost.", output)
    if not 0 < hours <= 1000:
        raise refusal(f"--hours: `{hours:g}` hours is no length of a visit", "For example 1.5.")
    book = book_of(rules)
    sums = sum_up(read_table(table), book)

    def blocks() -> list[Block]:
        as_html = form(how, output) == "html"
        return page.fleet_page(sums, book, units, full, hours, as_html)

    put_blocks(blocks, how, lambda: {"blocks": [as_data(block) for block in blocks()]}, output, contents=True)
