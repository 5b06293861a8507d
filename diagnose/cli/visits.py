"""examine, why, next, ask: the commands about one visit."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diagnose.cli.shared import (
    As,
    OutOption,
    PageOption,
    RulesOption,
    UnitsOption,
    VisitFile,
    book_of,
    form,
    put_blocks,
    refuse_to_write,
    stop,
)
from diagnose.yamlfile import InputProblems, Problem, did_you_mean

if TYPE_CHECKING:
    from diagnose.diagnosis.pipeline import Diagnosis


def add_to(app: typer.Typer) -> None:
    """Puts these commands at the top, beside the groups."""
    app.command()(examine)
    app.command()(why)
    app.command("next")(next_)
    app.command()(ask)


def examine(
    visit: VisitFile,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
) -> None:
    """Ranked faults with reasons, charge verdict, next check, cautions."""
    from diagnose.diagnosis.pipeline import examine as run

    try:
        refuse_to_write(output, visit=visit)
        _put_diagnosis(run(visit, book_of(rules), units=units.value if units else None), how, output)
    except InputProblems as error:
        stop(error)


def _put_diagnosis(d: Diagnosis, how: As | None, output: Path | None) -> None:
    """Prints or writes it; with its drawings where they can be seen. Raises InputProblems."""
    how = form(how, output)
    if how is As.html:
        from diagnose.report.illustrated import illustrated_page

        blocks = illustrated_page(d)
    else:
        from diagnose import report

        blocks = report.diagnosis_page(d)
    put_blocks(blocks, how, d.to_dict(), output)


def why(
    visit: VisitFile,
    fault: Annotated[str, typer.Argument(metavar="FAULT", help="A fault, for example low-charge.")],
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
) -> None:
    """Everything for and against one fault, down to the readings; also one that did not win."""
    from diagnose import report
    from diagnose.diagnosis.pipeline import examine as run

    try:
        refuse_to_write(output, visit=visit)
        d = run(visit, book_of(rules), units=units.value if units else None)
        if fault not in d.rules.faults:
            fix = did_you_mean(fault, d.rules.faults) or f"Known: {', '.join(d.rules.faults)}."
            raise InputProblems([Problem("", 0, 0, f"`{fault}` is not a fault of this rule book", fix)])
        blocks = report.why_page(d, fault)
        lines = [{"kind": b.kind, "level": b.level, "mark": b.mark, "text": b.text} for b in blocks]
        put_blocks(blocks, how, {"fault": fault, "lines": lines}, output)
    except InputProblems as error:
        stop(error)


def next_(
    visit: VisitFile,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
) -> None:
    """What to measure next, and what each outcome would mean; which reading, if off, would change the answer."""
    from diagnose import report
    from diagnose.diagnosis.pipeline import FORMAT
    from diagnose.diagnosis.pipeline import examine as run
    from diagnose.diagnosis.result import check_dict, fault_dict, turning_point_dict
    from diagnose.diagnosis.sensitivity import sensitivity

    try:
        refuse_to_write(output, visit=visit)
        d = run(visit, book_of(rules), units=units.value if units else None)
        points = sensitivity(d)
        told = ("fault", "name", "share", "strength")
        data = {
            "format": FORMAT,
            "status": d.status,
            "not_ready": list(d.not_ready),
            "rulebook": d.rules.name,
            "checks": [check_dict(c) for c in d.checks],
            "faults": [{key: whole[key] for key in told} for whole in map(fault_dict, d.faults)],
            "would_change": [turning_point_dict(t) for t in points],
        }
        put_blocks(report.next_page(d, points), how, data, output)
    except InputProblems as error:
        stop(error)


def ask(
    how: PageOption = None,
    units: UnitsOption = None,
    keep: Annotated[Path | None, typer.Option("--keep", help="write the visit to this file as well")] = None,
    rules: RulesOption = None,
    output: OutOption = None,
) -> None:
    """The same, question by question, no file needed."""
    from diagnose import report
    from diagnose.cli import questions
    from diagnose.diagnosis.pipeline import examine as run

    def shown(text: str) -> str:
        return report.plain(text, sys.stderr.encoding or "ascii")

    def answer(text: str) -> str:
        typer.echo(f"{shown(text)}: ", nl=False, err=True)
        return sys.stdin.readline()  # an empty text, as at the end of the input, leaves the question out

    def say(text: str) -> None:
        typer.echo(shown(text), err=True)

    try:
        if keep is not None:  # before the first question, not after the last
            questions.refuse_to_keep(keep)
            if output is not None and keep.resolve() == output.resolve():
                raise InputProblems([Problem(str(keep), 0, 0, "visit and page have the same name", "Keep them apart.")])
        refuse_to_write(output)
        book = book_of(rules)
        visit = questions.interview(answer, say, book)
        if keep is not None:
            questions.keep(visit, keep)
        _put_diagnosis(run(visit, book, units=units.value if units else None), how, output)
    except InputProblems as error:
        stop(error)
