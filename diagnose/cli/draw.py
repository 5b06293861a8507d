"""draw: pictures of a visit."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from diagnose.cli.shared import (
    OutOption,
    RulesOption,
    UnitsOption,
    VisitFile,
    book_of,
    columns,
    put,
    put_markup,
    refuse_to_write,
    written,
)
from diagnose.yamlfile import files, refusal

What = Literal["cycle", "circuit", "target"]
"""What is drawn."""

DrawAs = Literal["svg", "text"]
"""How it is drawn."""

_MEND = {
    "cycle": "Add or correct it in the visit, or draw the circuit with `--what circuit`.",
    "circuit": "The other drawings are `--what cycle` and `--what target`.",
    "target": "The other drawings are `--what cycle` and `--what circuit`.",
}


def draw(
    visit: VisitFile,
    what: Annotated[
        What,
        typer.Option(
            "--what",
            help="cycle: pressure against enthalpy; circuit: the readings at their places; target: target superheat",
        ),
    ] = "cycle",
    output: OutOption = None,
    how: Annotated[DrawAs, typer.Option("--as", help="svg, or text: the same in words")] = "svg",
    units: UnitsOption = None,
    rules: RulesOption = None,
) -> None:
    """Pressure-enthalpy diagram of the visit, its circuit with the readings, or its target superheat; as SVG."""
    from diagnose.diagnosis.pipeline import examine
    from diagnose.report import Block, as_text
    from diagnose.report import drawings as diagram

    drawn_by = {
        "cycle": diagram.pressure_enthalpy,
        "circuit": diagram.schematic,
        "target": diagram.superheat_chart,
    }
    refuse_to_write(output, visit=visit)
    found = drawn_by[what](examine(visit, book_of(rules)).told_in(units))
    if isinstance(found, diagram.NoDrawing):
        raise refusal(found.why.rstrip("."), _MEND[what])
    text = (
        found.svg + "\n"
        if how == "svg"
        else as_text([Block("answer", f"{found.title}. {found.words}")], columns(output))
    )
    if output is not None:
        files.write(output, text, visit=visit)
        put(written(output, text))
    elif how == "svg":
        put_markup(text)
    else:
        put(text)
