"""compare: two visits of one machine, before and after a repair."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from diagnose.cli.shared import (
    OutOption,
    PageOption,
    RulesOption,
    UnitsOption,
    book_of,
    form,
    put_blocks,
    refuse_to_write,
)
from diagnose.yamlfile import files, refusal

if TYPE_CHECKING:
    from diagnose.report import Block


def compare(
    before: Annotated[str, typer.Argument(metavar="BEFORE", help="The visit before the repair.")],
    after: Annotated[str, typer.Argument(metavar="AFTER", help="The visit after it; - reads standard input.")],
    fault: Annotated[
        str | None, typer.Option("--fault", help="what was repaired; what BEFORE found unless said")
    ] = None,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
    full: Annotated[bool, typer.Option("--full", help="every reading, not only the first screen")] = False,
) -> None:
    """Did the repair send every reading where it should; what is left, and what to do before you leave."""
    from diagnose.diagnosis import after_repair
    from diagnose.diagnosis.pipeline import examine
    from diagnose.report.after_repair import compare_page, comparison, illustrated_comparison

    if before == after == files.STANDARD_OUTPUT:
        what, fix = "both visits cannot come from standard input", "Write one of them to a file."
        raise refusal(what, fix)
    for visit in (before, after):
        refuse_to_write(output, visit=visit)
    book = book_of(rules, told=True)
    found = after_repair.compare(examine(before, book), examine(after, book), fault)
    how = form(how, output)

    def blocks() -> list[Block]:
        if how == "html":
            return illustrated_comparison(found, units)
        return compare_page(found, units, full, f"diagnose compare {before} {after} --full")

    put_blocks(blocks, how, lambda: comparison(found), output)
