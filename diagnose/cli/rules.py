"""rules: the senior technician's workshop."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from diagnose.cli.shared import As, AsOption, RulesOption, book_of, group, put, put_blocks, stop
from diagnose.yamlfile import InputProblems, Problem, did_you_mean

rules_app = group("Check, test and show the rules.")


@rules_app.command("check")
def rules_check(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(help="Folders of your own rules, laid over the shipped ones; or a whole book."),
    ] = None,
) -> None:
    """Reads every rule file and lists every mistake."""
    try:
        book = book_of(folders)
    except InputProblems as error:
        stop(error)
    put(
        f"Rule book {book.name}: {len(book.rules)} rules, {len(book.findings)} findings, {len(book.states)} states, "
        f"{len(book.faults)} faults, {len(book.checks)} checks, {len(book.sources)} sources. No mistakes.\n"
    )


@rules_app.command("test")
def rules_test(
    only: Annotated[str | None, typer.Argument(metavar="[RULE|FAULT|FILE]", help="only these")] = None,
    rules: RulesOption = None,
) -> None:
    """Runs the examples beside the rules, through the real matcher with the whole book loaded."""
    from diagnose.trials import rule_trials, run_rule_trial

    try:
        book = book_of(rules)
        results = [run_rule_trial(trial, book) for trial in rule_trials(book, only)]
        if not results:
            names = [*book.by_id, *book.faults]
            fix = did_you_mean(only or "", names) or "Name a rule, a fault or a rule file."
            raise InputProblems([Problem("", 0, 0, f"no rule, fault or file is called `{only}`", fix)])
    except InputProblems as error:
        stop(error)
    failed = [result for result in results if not result.passed]
    put("".join(f"failed: {result.name}: {result.why}\n" for result in failed))
    put(f"{len(results) - len(failed)} passed, {len(failed)} failed\n")
    if failed:
        raise typer.Exit(1)


@rules_app.command("show")
def rules_show(
    name: Annotated[str, typer.Argument(help="a rule, fault, finding, state, check or source")],
    how: AsOption = As.text,
    rules: RulesOption = None,
) -> None:
    """One entry of the rule book, and everything that uses it."""
    from diagnose.showing import show_entry

    try:
        blocks, data = show_entry(name, book_of(rules))
    except InputProblems as error:
        stop(error)
    put_blocks(blocks, how, data)
