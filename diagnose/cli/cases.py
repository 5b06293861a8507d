"""cases: visits whose answer is known."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from diagnose.cli import simulated as machines
from diagnose.cli.shared import AsOption, DraftsOption, RulesOption, VisitFile, group, put, sound_book
from diagnose.yamlfile import each, refusal

cases_app = group("Visits whose answer is known: run them, write new ones, accept changed results.")

ASKED = {
    "--truth": "What was really wrong (a fault such as low-charge, nothing-wrong, or bad visit)",
    "--from": "How that is known (who found it, how it was proved, what was published, or made up)",
    "--story": "What happened, in one to three sentences",
}


@cases_app.command("run")
def cases_run(
    where: Annotated[Path | None, typer.Argument(help="a case file or a folder; the shipped cases unless said")] = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    simulated: machines.CountOption = None,
    seed: machines.MachinesSeedOption = None,
    readings: machines.ReadingsOption = None,
    baseline: machines.BaselineOption = False,
    pairs: machines.PairsOption = False,
    slips: machines.SlipsOption = False,
    train: machines.TrainOption = None,
    families: machines.FamiliesOption = None,
    mode: machines.MachinesModeOption = None,
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
    machines.refuse(simulated, options, how, where)
    book = sound_book(rules, drafts)
    if simulated is not None:
        machines.report(simulated, options, how, book)
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
        listed = " and ".join(filter(None, (", ".join(missing[:-1]), missing[-1])))
        what = f"{listed} {'is' if len(missing) == 1 else 'are'} missing"
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
