"""What is said of a table of visits: its columns before a run, how far a run has come, and what it came to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.wording import counted
from diagnose.yamlfile import Problem, printable

LISTED = 40
"""Columns passed on that are named one by one."""
_STATUS = {
    "diagnosed": "diagnosed",
    "not ready": "not ready to judge",
    "outside": "outside what the rules were written for",
    "not read": "not read",
}


@dataclass(frozen=True, slots=True)
class HeadColumn:
    """A column as a run will take it. number: from 1. use: `understood`, `passed on` or `left out`; called: the name used here,
    or in the output; first: the first cell that holds anything. what, fix: why it is left out, or what it may be meant for.
    """

    number: int
    header: str
    use: str
    called: str
    first: str = ""
    what: str = ""
    fix: str = ""


@dataclass(frozen=True, slots=True)
class TableHead:
    """The columns that some files have alike. unmet: headers that only the file of headers knows."""

    files: tuple[str, ...]
    columns: tuple[HeadColumn, ...]
    unmet: tuple[str, ...] = ()

    def of(self, use: str) -> list[HeadColumn]:
        """Those with this use."""
        return [column for column in self.columns if column.use == use]


def columns_page(heads: Sequence[TableHead]) -> list[Block]:
    """What was understood of each table's head and what was not."""
    return [block for head in heads for block in _head(head)]


def _head(head: TableHead) -> list[Block]:
    understood, left_out, passed = (head.of(use) for use in ("understood", "left out", "passed on"))
    more = f" and {len(head.files) - 1:,} more alike" if len(head.files) > 1 else ""
    counts = [f"{len(understood)} understood", f"{len(left_out)} left out", f"{len(passed):,} passed on unchanged"]
    blocks = [
        Block(
            "answer",
            f"{printable(head.files[0], 200)}{more}: {counted(len(head.columns), 'column')}, {', '.join(counts)}.",
        )
    ]
    if understood:
        rows = [
            (str(one.number), printable(one.header, 40), one.called, printable(one.first, 20)) for one in understood
        ]
        blocks.append(Block("rows", rows=(("", "column", "understood as", "first cell"), *rows)))
    else:
        blocks.append(line("No column is a line of a visit: every row would be one without readings."))
    if left_out:
        blocks.append(heading("Left out, and passed on unchanged"))
        blocks += [item(f"{one.what}. {one.fix}".strip(), lead=f"Column {one.number}:") for one in left_out]
    if passed:
        blocks.append(heading("Passed on unchanged"))
        told = [one for one in passed if one.fix] + [one for one in passed if not one.fix]
        blocks += [_passed(one) for one in told[:LISTED]]
        if len(told) > LISTED:
            blocks.append(item(f"{len(told) - LISTED:,} more."))
    if head.unmet:
        blocks.append(line(f"In the file of headers, but not in this table: {_unmet(head.unmet)}."))
    return blocks


def _unmet(names: Sequence[str]) -> str:
    return ", ".join(f"`{printable(name, 40)}`" for name in names[:LISTED])


def _passed(one: HeadColumn) -> Block:
    named = f", named `{printable(one.called, 60)}` in the output" if one.called != one.header else ""
    return item(f"`{printable(one.header, 60)}`{named}. {one.fix}".strip(), lead=f"Column {one.number}:")


A_LOG = "Each row is judged by itself, as a visit. If this is a log of one machine, run it with --log."


def left_out_text(heads: Sequence[TableHead], unmet: Sequence[str] = ()) -> str:
    """Before a run: what will not be used though it names a reading; empty where all is well. unmet: headers that only the file
    of headers knows.
    """
    found = [f"In the file of headers, but in no table: {_unmet(unmet)}.\n"] if unmet else []
    for head in heads:
        name = printable(head.files[0], 200)
        if not head.of("understood"):
            found.append(
                f"{name}: no column is a line of a visit. `diagnose batch --columns {name}` shows what is understood.\n"
            )
        for one in {one.what: one for one in reversed(head.of("left out"))}.values():
            found.insert(0, f"{name}, column {one.number}: {one.what}. {one.fix} It is left out of every row.\n")
        found += [f"{name}, column {one.number}, `{one.header}`: {A_LOG}\n" for one in head.columns if one.fix == A_LOG]
    return "".join(found[:LISTED]) + (
        f"{len(found) - LISTED:,} more columns are left out.\n" if len(found) > LISTED else ""
    )


def row_text(problem: Problem) -> str:
    """`fleet.csv, row 17, column 4: …`."""
    place = f", column {problem.column}" if problem.column else ""
    what = f"{printable(problem.file, 200)}, row {problem.line}{place}: {problem.what}."
    return f"{what} {problem.fix}".rstrip() + "\n"


def mixed_text(file: str, column: str, point: int, comma: int) -> str:
    """A column with two kinds of decimal mark."""
    return (
        f"{printable(file, 200)}, column `{printable(column, 60)}`: decimal points (row {point}) and decimal commas "
        f"(row {comma}) are mixed. Each cell is read by itself; check that no comma was meant between thousands.\n"
    )


def summary_text(out: str, rows: int, statuses: Mapping[str, int], told: int, ignored: int) -> str:
    """After a run. told: sentences about rows that were printed."""
    parts = [f"{statuses[status]:,} {words}" for status, words in _STATUS.items() if statuses.get(status)]
    text = f"Written: {printable(out, 200)}, {counted(rows, 'row')}{': ' if parts else ''}{', '.join(parts)}.\n"
    unread = statuses.get("not read", 0)
    if unread > told:
        text += f"{unread:,} rows were not read; `problems` says of each which cell is to blame.\n"
    if ignored:
        text += (
            f"{counted(ignored, 'file')} of other kinds in that folder {'was' if ignored == 1 else 'were'} not read.\n"
        )
    return text


def progress_text(done: int, whole: int, rows: int, seconds: float) -> str:
    """`120,000 rows, 1,950 a second, 62 %, about 7 minutes left`. done, whole: of all, and done in these seconds."""
    rate = rows / seconds if seconds > 0 else 0.0
    share = min(done / whole, 1.0) if whole else 1.0
    return f"{rows:,} rows, {rate:,.0f} a second, {100 * share:.0f} %"


def left_text(seconds: float) -> str:
    """`about 7 min left`."""
    if seconds < 90:
        return f"about {max(round(seconds), 1)} s left"
    if seconds < 90 * 60:
        return f"about {round(seconds / 60)} min left"
    return f"about {seconds / 3600:.1f} h left"
