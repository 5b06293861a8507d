"""cases: visits whose answer is known."""

from __future__ import annotations

import datetime
import gc
import sys
from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from diagnose.cli.shared import As, AsOption, DraftsOption, RulesOption, VisitFile, group, put, put_blocks, sound_book
from diagnose.yamlfile import InputProblems, Problem, each, refusal

if TYPE_CHECKING:
    from diagnose.rulebook import Rulebook

cases_app = group("Visits whose answer is known: run them, write new ones, accept changed results.")

ASKED = {
    "--truth": "What was really wrong (a fault such as low-charge, nothing-wrong, or bad visit)",
    "--from": "How that is known (who found it, how it was proved, what was published, or made up)",
    "--story": "What happened, in one to three sentences",
}


class Readings(StrEnum):
    """What is measured on the simulated machines: typer takes no list of plain words."""

    basic = "basic"
    running = "running"
    airflow = "airflow"
    all = "all"


@cases_app.command("run")
def cases_run(
    where: Annotated[Path | None, typer.Argument(help="a case file or a folder; the shipped cases unless said")] = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    simulated: Annotated[
        int | None,
        typer.Option(
            "--simulated", metavar="N", help="instead: N simulated machines, and how often the answers are right"
        ),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="S", help="which machines: the same seed, the same figures; 1")
    ] = None,
    readings: Annotated[
        list[Readings] | None,
        typer.Option(
            "--readings",
            help="what is measured on them (basic: the usual eight); may be given several times, each of them unless said",
        ),
    ] = None,
    baseline: Annotated[bool, typer.Option("--baseline", help="also with each machine's own good day")] = False,
    pairs: Annotated[bool, typer.Option("--pairs", help="also N machines with two faults at once")] = False,
    slips: Annotated[bool, typer.Option("--slips", help="also with swapped probes and wrong refrigerants")] = False,
    train: Annotated[
        int | None,
        typer.Option("--train", metavar="N", help="machines the classifier learns from; N and at least 1500; 0: none"),
    ] = None,
    families: Annotated[
        Literal["plain", "seen", "unseen", "all"] | None,
        typer.Option(
            "--families",
            help="how they are built. plain: one way, with other numbers each; seen: several ways, on which the points of "
            "rules may be set; unseen: ways on which none was set; plain unless said",
        ),
    ] = None,
    mode: Annotated[
        Literal["cooling", "heating"] | None,
        typer.Option("--mode", help="what the machines do: heat pumps that heat have faults of their own; cooling"),
    ] = None,
    how: AsOption = "text",
) -> None:
    """Examines the visits whose answer is known, and compares.

    Folders are counted apart, for their truth cannot be trusted alike. Charge advice: verdicts low, right or high. One
    that says to add though the charge is not low, or to remove though it is not high, would have done harm.

    With --simulated it makes machines up instead, and reports how often the rules are right, beside two yardsticks.
    """
    from diagnose.workshop.coverage import tally
    from diagnose.workshop.trials import read_cases, run_case

    options = {
        "seed": seed, "readings": readings, "baseline": baseline, "pairs": pairs, "slips": slips, "train": train,
        "families": families, "mode": mode,
    }  # fmt: skip
    _refuse(simulated, options, how, where)
    book = sound_book(rules, drafts)
    if simulated is not None:
        _report(simulated, options, how, book)
        return
    results = [run_case(case, book) for case in read_cases(where)]
    if not results:
        raise refusal("there is no case here", "Case files end in .yaml.", where)
    for result in results:
        for wrong in result.wrong:
            put(f"failed: {result.case.name}: {wrong}\n")
    counted = tally(results)
    width = max(len("folder"), *map(len, counted))
    put(f"{'folder':{width}}  passed  failed  true fault first  charge advice right  harmful\n")
    for folder, t in counted.items():
        first, right = f"{t.first_right} of {t.ranked}", f"{t.right} of {t.advised}"
        put(f"{folder:{width}}  {t.passed:6}  {t.failed:6}  {first:>16}  {right:>19}  {t.harmful:7}\n")
    bad = sum(not result.passed for result in results)
    put(f"{len(results) - bad} passed, {bad} failed\n")
    if bad:
        raise typer.Exit(1)


def _refuse(count: int | None, options: Mapping[str, Any], how: As, where: Path | None) -> None:
    """Raises InputProblems with every option that does not fit. options: all but the number of machines, as given."""
    if count is None:
        given = {f"--{name}": value for name, value in options.items()} | {f"--as {how}": how != "text"}
        fix = "Say how many machines: --simulated 500."
        there = [name for name, value in given.items() if type(value) is int or value]  # a 0 was given as well
        found = [Problem("", 0, 0, f"{name} goes with --simulated only", fix) for name in there]
    else:
        found = []
        if where is not None:
            fix = "Leave one of the two out."
            found.append(Problem("", 0, 0, f"--simulated makes its own machines, and {where} is given as well", fix))
        if count < 1:
            fix = "500 give a first idea, 2000 figures within ±0.02."
            found.append(Problem("", 0, 0, f"--simulated must be 1 or more, not {count}", fix))
        if (options["seed"] or 0) < 0:
            fix = "Write any whole number, such as 7."
            found.append(Problem("", 0, 0, f"--seed must be 0 or more, not {options['seed']}", fix))
        if options["slips"] and options["mode"] == "heating":
            fix = "Leave it out, or leave out --mode heating."
            found.append(Problem("", 0, 0, "--slips are made in cooling visits only", fix))
        if options["train"] and options["train"] < _least():
            fix = "A classifier learns nothing from fewer machines; 0 leaves it out."
            found.append(Problem("", 0, 0, f"--train must be 0, or {_least()} or more, not {options['train']}", fix))
    if found:
        raise InputProblems(found)


def _least() -> int:
    from diagnose.evaluation.classifier import LEAST

    return LEAST


def _report(count: int, options: Mapping[str, Any], how: As, book: Rulebook) -> None:
    """Runs it and prints the figures; how far it has come is shown where somebody watches."""
    from diagnose.evaluation.page import evaluation_page
    from diagnose.evaluation.running import evaluate

    gc.enable()  # `main` leaves it off for commands that take a moment; this one takes minutes
    given = {"seed": 1, "train": None} | {name: value for name, value in options.items() if value is not None}
    progress = _progress if sys.stderr.isatty() else None
    found = evaluate(count=count, **given, rules=book, progress=progress)
    put_blocks(evaluation_page(found), how, found.to_dict())


def _progress(done: int, count: int) -> None:
    if done == count:
        sys.stderr.write("\r" + " " * 40 + "\r")
    elif done % 10 == 0:
        sys.stderr.write(f"\r{done} of {count} machines")
    sys.stderr.flush()


@cases_app.command("new")
def cases_new(
    visit: VisitFile,
    out: Annotated[Path, typer.Option("-o", "--output", metavar="FILE", help="the case file to write")],
    truth: Annotated[str | None, typer.Option("--truth", help="the fault by its id, or 'bad visit'")] = None,
    truth_from: Annotated[str | None, typer.Option("--from", help="how the truth is known")] = None,
    story: Annotated[str | None, typer.Option("--story", help="what happened, one to three sentences")] = None,
    rules: RulesOption = None,
) -> None:
    """Makes a case file from a visit file; what the program finds today is put down for you to judge."""
    from diagnose.diagnosis.pipeline import as_visit
    from diagnose.rulebook.entries import BAD_VISIT
    from diagnose.workshop.casefiles import KnownAnswer, case_from, refuse_to_write, truth_problem

    book = sound_book(rules)
    refuse_to_write(out)
    if visit != "-":  # before the first question, not after the last
        as_visit(visit, book)
    given = {"--truth": truth, "--from": truth_from, "--story": story}
    answers = _answers(given, visit, lambda text: truth_problem(text, book))
    known = KnownAnswer(answers["--truth"], answers["--from"], answers["--story"])
    result = case_from(visit, out, known, book, datetime.date.today())
    put(f"Wrote {out}. Its `expect:` is what came out today: judge every line of it, then\n")
    own = "".join(f" --rules {folder}" for folder in rules or ())
    put(f"take the comment above it out. Run it with: diagnose cases run {out}{own}\n")
    d = result.diagnosis
    if d is not None and d.faults and d.faults[0].fault != known.truth != BAD_VISIT:
        put(f"Today {d.faults[0].fault} comes first, and you say that the truth is {known.truth}. If the readings\n")
        put(f"should have shown it, write `first: {known.truth}`: the case then fails until the rules are mended.\n")


def _somebody_there() -> bool:
    """Whether questions can be answered."""
    return sys.stdin.isatty()


def _answers(given: dict[str, str | None], visit: str, problem: Callable[[str], str]) -> dict[str, str]:
    """What was not given on the command line is asked, where there is somebody to ask. Raises InputProblems."""
    answers = {name: " ".join((text or "").split()) for name, text in given.items()}
    missing = [name for name, text in answers.items() if not text]
    if missing and (visit == "-" or not _somebody_there()):
        from diagnose.report.wording import listed

        what = f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} missing"
        raise refusal(what, "\n      ".join(f"{n}: {ASKED[n]}." for n in missing))
    for name in missing:
        while not answers[name]:
            typer.echo(f"{ASKED[name]}: ", nl=False, err=True)
            line = sys.stdin.readline()
            if not line:
                raise refusal(f"{name} was not answered", "Nothing was written.")
            answers[name] = " ".join(line.split())
            if name == "--truth" and answers[name] and (wrong := problem(answers[name])):
                typer.echo(wrong, err=True)
                answers[name] = ""
    return answers


@cases_app.command("accept")
def cases_accept(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="case files")],
    because: Annotated[str, typer.Option("--because", help="why the new result is the right one")] = "",
    author: Annotated[str, typer.Option("--author", help="who decided it")] = "",
    rules: RulesOption = None,
) -> None:
    """Writes what comes out today over `expect:`, on purpose and with a reason, which is kept in the case."""
    from diagnose.rulebook.entries import BAD_VISIT
    from diagnose.workshop.casefiles import accept, acceptable

    if not because.strip():
        what = "a result is accepted only with a reason"
        raise refusal(what, "Write --because 'why the new result is the right one'.")
    book = sound_book(rules)
    today = datetime.date.today()
    found = each(lambda path: acceptable(path, because, book, today, author), dict.fromkeys(files))
    for one in found:
        if one.changed:
            accept(one)
    for one in found:
        if not one.changed:
            put(f"{one.case.name}: nothing to accept, it passes as it is\n")
            continue
        put(f"{one.case.name}: accepted\n" + "".join(f"  {change}\n" for change in one.changed))
        d, truth = one.result.diagnosis, one.case.entry.truth
        if d is not None and d.faults and d.faults[0].fault != truth != BAD_VISIT:
            put(f"  Mind: the truth of this case is {truth}, and {d.faults[0].fault} now comes first.\n")
