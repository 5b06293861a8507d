"""fleet: what a table of examined visits adds up to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diagnose.cli.shared import (
    OneOfUnits,
    OutOption,
    PageOption,
    RulesOption,
    book_of,
    form,
    put_blocks,
    refuse_to_write,
)
from diagnose.yamlfile import refusal

if TYPE_CHECKING:
    from diagnose.report import Block


def fleet(
    table: Annotated[
        Path, typer.Argument(metavar="TABLE", help="what `diagnose batch` wrote: CSV, JSON lines, Parquet")
    ],
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
