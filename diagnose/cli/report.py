"""report: one or two sheets about a visit, to hand over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from diagnose.cli.shared import (
    OutOption,
    PageOption,
    RulesOption,
    UnitsOption,
    VisitFile,
    book_of,
    form,
    put_blocks,
    refuse_to_write,
)
from diagnose.yamlfile import files, refusal

if TYPE_CHECKING:
    from diagnose.report import Block


Whose = Literal["customer", "office"]
"""Whose copy."""


def report(
    visit: VisitFile,
    whose: Annotated[
        Whose, typer.Option("--for", help="customer: in plain words; office: with all it rests on")
    ] = "customer",
    before: Annotated[
        str | None, typer.Option("--before", metavar="EARLIER", help="the visit before the repair, to compare with")
    ] = None,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
) -> None:
    """A report to hand over, one or two printed pages: what was found, what was done, what is next, room to sign."""
    from diagnose.diagnosis.after_repair import compare
    from diagnose.diagnosis.pipeline import examine
    from diagnose.report.blocks import as_data
    from diagnose.report.handover import TEMPLATES, handover_page

    if before == visit == files.STANDARD_OUTPUT:
        what, fix = "both visits cannot come from standard input", "Write one of them to a file."
        raise refusal(what, fix)
    for each in (visit, before):
        refuse_to_write(output, visit=each or "")
    book = book_of(rules, told=whose == "office")
    d = examine(visit, book)
    compared = compare(examine(before, book), d) if before is not None else None
    d, how = d.told_in(units), form(how, output)

    def blocks() -> list[Block]:
        return handover_page(d, whose, compared, drawn=how == "html")

    def data() -> dict[str, object]:
        return {"for": whose, "blocks": [as_data(block) for block in blocks()]}

    put_blocks(blocks, how, data, output, template=TEMPLATES[whose])
