"""cases: visits whose answer is known."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from diagnose.cli.shared import RulesOption, book_of, group, put, stop
from diagnose.yamlfile import InputProblems, Problem

cases_app = group("Run the visits whose answer is known.")


@cases_app.command("run")
def cases_run(
    where: Annotated[Path | None, typer.Argument(help="a case file or a folder; the shipped cases unless said")] = None,
    rules: RulesOption = None,
) -> None:
    """Examines the visits whose answer is known, and compares. Folders are counted apart."""
    from diagnose.trials import case_paths, read_case, run_case, tally

    try:
        book = book_of(rules)
        results = [run_case(read_case(path), book) for path in case_paths(where)]
        if not results:
            raise InputProblems([Problem(str(where), 0, 0, "there is no case here", "Case files end in .yaml.")])
    except InputProblems as error:
        stop(error)
    for result in results:
        for wrong in result.wrong:
            put(f"failed: {result.case.name}: {wrong}\n")
    for folder, (passed, failed, right, ranked) in tally(results).items():
        put(f"{folder}: {passed} passed, {failed} failed; true fault first in {right} of {ranked}\n")
    bad = sum(not result.passed for result in results)
    put(f"{len(results) - bad} passed, {bad} failed\n")
    if bad:
        raise typer.Exit(1)
