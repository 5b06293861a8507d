"""lesson, five-questions, glossary: pages for a class."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from diagnose.cli.shared import OutOption, RulesOption, book_of, put_blocks, put_page, refuse_to_write
from diagnose.visit.fields import HEATING
from diagnose.yamlfile import InputProblems, Problem, did_you_mean, refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from diagnose.report import Block
    from diagnose.rulebook import Rulebook
    from diagnose.visit import System


Side = Literal["us", "si", "both"]
"""Units of a lesson."""

LessonAs = Literal["text", "json", "markdown", "html", "slides", "poster"]
"""How a lesson is written."""

LessonOption = Annotated[
    LessonAs | None,
    typer.Option(
        "--as", help="text, json, markdown, html, slides, or poster (of a fault); by the ending of the file with -o"
    ),
]
SideOption = Annotated[Side, typer.Option("--units", help="us, si, or both side by side")]


def lesson(
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="FAULT|VISIT|heating|odd-machines",
            help="a fault, for example low-charge; a visit file; `heating`: why it reads differently; `odd-machines`",
        ),
    ] = None,
    how: LessonOption = None,
    output: OutOption = None,
    units: SideOption = "both",
    rules: RulesOption = None,
) -> None:
    """A fault as it is taught; or a visit told with its own figures, from gauge to verdict, the arithmetic written out.

    Without a name it lists what there is.
    """
    from diagnose import lessons
    from diagnose.diagnosis.pipeline import examine

    refuse_to_write(output, visit=what or "")
    book = book_of(rules, told=what is not None and _is_visit(what))
    if what is None:
        _put_page(_list(book), how, output, {"faults": list(book.faults)})
        return
    if not Path(what).exists():
        what = book.fault_called(what) or what
    if how == "poster" and what in book.faults:
        from diagnose.lessons.poster import poster_page

        put_page(poster_page(what, book, _system(units) or "us"), "html", output)
        return
    data: dict[str, Any]
    if what == HEATING and not Path(what).exists():
        blocks = lessons.heating_page(book, _system(units) or "us", units == "both")
        data = {"topic": what}
    elif what == lessons.ODD:
        blocks = lessons.odd_machines_page(book)
        data = {"topic": what}
    elif what in book.faults:
        blocks = lessons.fault_page(what, book, _system(units) or "us", units == "both")
        data = {"fault": what}
    else:
        if not _is_visit(what):
            raise InputProblems([_neither(what, book)])
        d = examine(what, book).told_in(_system(units))
        blocks = lessons.lesson_page(d, units == "both")
        data = {"visit": d.visit.machine.name, "diagnosis": d.to_dict()}
    _put_page(blocks, how, output, data)


def five_questions(
    how: LessonOption = None, output: OutOption = None, units: SideOption = "both", rules: RulesOption = None
) -> None:
    """What to ask of any machine, what answers each question, and which faults answer it how."""
    from diagnose import lessons

    blocks = lessons.five_questions_page(book_of(rules), _system(units) or "us", units == "both")
    _put_page(blocks, how, output, {})


def glossary(how: LessonOption = None, output: OutOption = None, rules: RulesOption = None) -> None:
    """Every word of the rule book and of visit files, with its units."""
    from diagnose import lessons

    _put_page(lessons.glossary_page(book_of(rules)), how, output, {})


def _system(units: Side) -> System | None:
    """The system asked for; None where both are, the visit's own first."""
    return None if units == "both" else "si" if units == "si" else "us"


def _is_visit(what: str) -> bool:
    """Whether it is meant as a file: it is there, or is written like one."""
    return what == "-" or Path(what).exists() or "/" in what or Path(what).suffix.lower() in (".yaml", ".yml")


def _neither(what: str, book: Rulebook) -> Problem:
    fix = (
        did_you_mean(what, book.faults)
        or f"Faults: {', '.join(book.faults)}. Or `heating`, `odd-machines`, or the path of a visit file."
    )
    return Problem("", 0, 0, f"`{what}` is neither a fault of this rule book nor a visit file", fix)


def _list(book: Rulebook) -> list[Block]:
    from diagnose.report import Block, item

    return [
        Block("answer", "Lessons"),
        item("heating: why heating reads differently"),
        item("odd-machines: two stages, long lines, microchannels, retrofits and others that read otherwise"),
        *(item(f"{name}: {f.name}{'' if f.lesson else ' (no lesson written yet)'}") for name, f in book.faults.items()),
    ]


def _put_page(blocks: Sequence[Block], how: LessonAs | None, output: Path | None, data: dict[str, Any]) -> None:
    """Prints or writes a page; a program gets its blocks as well. Raises InputProblems."""
    if how == "poster":
        fix = "For example `diagnose lesson low-charge --as poster -o poster.html`."
        raise refusal("only a fault has a poster", fix)
    if how == "slides":
        from diagnose.report.slides import slides_page

        put_page(slides_page(blocks), "html", output)
        return
    shown = {**data, "blocks": [_block(block) for block in blocks]}
    put_blocks(blocks, how, shown, output, contents=True)


def _block(block: Block) -> dict[str, Any]:
    """One block for a program: what is empty is left out; drawings stay with the page."""
    found: dict[str, Any] = {"kind": block.kind, "text": block.said}
    if block.mark:
        found["mark"] = block.mark
    if block.level:
        found["level"] = block.level
    if block.rows:
        found["rows"] = [list(row) for row in block.rows]
    if block.svg:
        found["svg"] = block.svg
    return found
