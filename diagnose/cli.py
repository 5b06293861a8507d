"""The commands: read options, call one function, print. Exit codes: 0 fine, 1 a rule or case failed, 2 bad input."""

from __future__ import annotations

import gc
import json
import os
import shutil
import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from diagnose.yamlfile import InputProblems, Problem, did_you_mean

if TYPE_CHECKING:  # what the commands need is imported when they run, so that --help is quick
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook

app = typer.Typer(
    help="Says what is wrong with a running air conditioner or heat pump, and why, before the charge is touched.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
lookup_app = typer.Typer(help="One figure, with its source.", no_args_is_help=True, rich_markup_mode=None)
rules_app = typer.Typer(help="Check, test and show the rules.", no_args_is_help=True, rich_markup_mode=None)
cases_app = typer.Typer(help="Run the visits whose answer is known.", no_args_is_help=True, rich_markup_mode=None)
app.add_typer(lookup_app, name="lookup")
app.add_typer(rules_app, name="rules")
app.add_typer(cases_app, name="cases")


class As(StrEnum):
    """How an answer is written."""

    text = "text"
    json = "json"
    markdown = "markdown"


class Units(StrEnum):
    """Units of the answer."""

    us = "us"
    si = "si"


NEGATIVE = {"ignore_unknown_options": True}  # `-20 F` is a temperature, not an option
VisitFile = Annotated[str, typer.Argument(metavar="VISIT", help="A visit file; - reads standard input.")]
AsOption = Annotated[As, typer.Option("--as", help="text, json or markdown")]
UnitsOption = Annotated[Units | None, typer.Option("--units", help="us or si; those of the visit unless said")]
RulesOption = Annotated[
    list[Path] | None,
    typer.Option("--rules", help="a folder of your own rules, laid over the shipped ones; may be given several times"),
]
AltitudeOption = Annotated[str | None, typer.Option("--altitude", help="of the place, for example '5000 ft'")]


def put(text: str) -> None:
    """Prints, in signs that the output can show."""
    from diagnose.report import plain

    try:
        sys.stdout.write(plain(text, sys.stdout.encoding or "ascii"))
        sys.stdout.flush()
    except BrokenPipeError:  # `diagnose … | head` is no error: nobody reads the rest
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def put_blocks(blocks: Sequence[Block], how: As, data: dict[str, Any]) -> None:
    """Prints a page the way it was asked for."""
    from diagnose import report

    if how is As.json:
        ascii_only = not (sys.stdout.encoding or "ascii").lower().startswith("utf")
        put(json.dumps(data, ensure_ascii=ascii_only, indent=2, allow_nan=False) + "\n")
    elif how is As.markdown:
        put(report.as_markdown(blocks))
    else:
        put(report.as_text(blocks, min(shutil.get_terminal_size((80, 24)).columns, 80)))


def stop(error: InputProblems) -> NoReturn:
    """Lists every problem and leaves with 2."""
    from diagnose.report import plain

    text = "\n".join(f"{problem}" for problem in error.problems)
    count = len(error.problems)
    closing = f"\n{count} problem{'s' if count != 1 else ''} to mend." if count > 1 else ""
    sys.stderr.write(plain(f"{text}\n{closing}".rstrip() + "\n", sys.stderr.encoding or "ascii"))
    raise typer.Exit(2)


def book_of(folders: Sequence[Path] | None) -> Rulebook:
    """The shipped rules with these folders laid over them."""
    from diagnose.rulebook import load_rules

    return load_rules(*(folders or ()))


@app.command()
def examine(visit: VisitFile, how: AsOption = As.text, units: UnitsOption = None, rules: RulesOption = None) -> None:
    """Ranked faults with reasons, charge verdict, next check, cautions."""
    from diagnose import report
    from diagnose.pipeline import examine as run

    try:
        d = run(visit, book_of(rules), units=units.value if units else None)
    except InputProblems as error:
        stop(error)
    put_blocks(report.diagnosis_page(d), how, d.to_dict())


@app.command()
def why(
    visit: VisitFile,
    fault: Annotated[str, typer.Argument(metavar="FAULT", help="A fault, for example low-charge.")],
    how: AsOption = As.text,
    units: UnitsOption = None,
    rules: RulesOption = None,
) -> None:
    """Everything for and against one fault, down to the readings; also one that did not win."""
    from diagnose import report
    from diagnose.pipeline import examine as run

    try:
        d = run(visit, book_of(rules), units=units.value if units else None)
        if fault not in d.rules.faults:
            fix = did_you_mean(fault, d.rules.faults) or f"Known: {', '.join(d.rules.faults)}."
            raise InputProblems([Problem("", 0, 0, f"`{fault}` is not a fault of this rule book", fix)])
    except InputProblems as error:
        stop(error)
    blocks = report.why_page(d, fault)
    lines = [{"kind": b.kind, "level": b.level, "mark": b.mark, "text": b.text} for b in blocks]
    put_blocks(blocks, how, {"fault": fault, "lines": lines})


@app.command()
def ask(
    how: AsOption = As.text,
    units: UnitsOption = None,
    keep: Annotated[Path | None, typer.Option("--keep", help="write the visit to this file as well")] = None,
    rules: RulesOption = None,
) -> None:
    """The same, question by question, no file needed."""
    from diagnose import ask as questions
    from diagnose import report
    from diagnose.pipeline import examine as run

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
        book = book_of(rules)
        visit = questions.interview(answer, say, book)
        if keep is not None:
            questions.keep(visit, keep)
        d = run(visit, book, units=units.value if units else None)
    except InputProblems as error:
        stop(error)
    put_blocks(report.diagnosis_page(d), how, d.to_dict())


# -- lookup --------------------------------------------------------------------------------------------------------


def _looked_up(name: str, *given: str | None, how: As) -> None:
    from diagnose import lookups
    from diagnose.rulebook import load_rules

    try:
        blocks, data = getattr(lookups, name)(*given, load_rules())
    except InputProblems as error:
        stop(error)
    put_blocks(blocks, how, data)


@lookup_app.command("saturation", context_settings=NEGATIVE)
def lookup_saturation(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    value: Annotated[str, typer.Argument(help="a pressure or a temperature: '130 psig', '45 F'")],
    altitude: AltitudeOption = None,
    how: AsOption = As.text,
) -> None:
    """Saturation temperature at a pressure, or pressure at a temperature."""
    _looked_up("saturation", refrigerant, value, altitude, how=how)


@lookup_app.command("target-superheat", context_settings=NEGATIVE)
def lookup_target_superheat(
    outdoor: Annotated[str, typer.Argument(help="outdoor air dry bulb: '80 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: AsOption = As.text,
) -> None:
    """Target superheat of a fixed orifice in this weather."""
    _looked_up("target_superheat", outdoor, wet_bulb, how=how)


@lookup_app.command("temperature-split", context_settings=NEGATIVE)
def lookup_temperature_split(
    dry_bulb: Annotated[str, typer.Argument(help="return air dry bulb: '75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: AsOption = As.text,
) -> None:
    """How far the indoor coil should cool the air."""
    _looked_up("temperature_split", dry_bulb, wet_bulb, how=how)


@lookup_app.command("line-charge", context_settings=NEGATIVE)
def lookup_line_charge(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    tube: Annotated[str, typer.Argument(help="outside diameter of the liquid line: '3/8 in'")],
    length: Annotated[str, typer.Argument(help="'25 ft'")],
    how: AsOption = As.text,
) -> None:
    """How much refrigerant a liquid line holds."""
    _looked_up("line_charge", refrigerant, tube, length, how=how)


@lookup_app.command("moist-air", context_settings=NEGATIVE)
def lookup_moist_air(
    dry_bulb: Annotated[str, typer.Argument(help="'75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="wet bulb '63 F', or relative humidity '50 %'")],
    altitude: AltitudeOption = None,
    how: AsOption = As.text,
) -> None:
    """Humidity, dew point, enthalpy and volume of air."""
    _looked_up("moist_air", dry_bulb, wet_bulb, altitude, how=how)


# -- rules and cases -----------------------------------------------------------------------------------------------


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


def main() -> None:
    """The console script: no stack trace ever reaches a technician; DIAGNOSE_TRACE=1 shows it to a developer."""
    # A command lives for a fraction of a second: collecting garbage, and pydantic's search of every installed package
    # for plug-ins (there are none here), are a seventh of it. pydantic is imported after this, by the commands.
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        app()
    except Exception as error:
        if os.environ.get("DIAGNOSE_TRACE"):
            raise
        sys.stderr.write(
            f"This is a mistake in the program, not in your visit: {type(error).__name__}: {error}\n"
            "Please report it with the visit file. DIAGNOSE_TRACE=1 shows where it happened.\n"
        )
        sys.exit(1)


if __name__ == "__main__":
    main()
