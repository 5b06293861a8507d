"""practice: made-up visits with a hidden fault."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, get_args

import typer

from diagnose.cli.exam import exam_app
from diagnose.cli.shared import (
    As,
    ModeOption,
    OneOfUnits,
    OutOption,
    RulesOption,
    UnitsOption,
    book_of,
    columns,
    form,
    group,
    page_text,
    put,
    put_page,
    refuse_to_write,
)
from diagnose.yamlfile import files, refusal

if TYPE_CHECKING:
    from diagnose.practice.asking import Action
    from diagnose.practice.feedback import Feedback
    from diagnose.practice.files import Sitting
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook
    from diagnose.simulator import Mode

practice_app = group("Simulated visits with a hidden fault: ask, answer, and get the lesson.")
practice_app.add_typer(exam_app, name="exam")


ChargeChoice = Literal["low", "right", "high", "leave"]
"""What is to be done about the charge: it is low (add), right, high (remove), or left alone for now."""

PageAs = Literal["text", "markdown", "html"]
"""How a page is written."""

SumAs = Literal["text", "markdown", "html", "csv"]
"""How a class is summed up."""

LARGEST_SEED = 10**9
SeedOption = Annotated[
    int | None,
    typer.Option("--seed", min=0, max=LARGEST_SEED, help="the same seed gives the same visit; by chance unless said"),
]
SheetOption = Annotated[
    PageAs | None, typer.Option("--as", help="text, markdown or html; by the ending of the file with -o")
]
PracticeFile = Annotated[Path, typer.Argument(metavar="FILE", help="a practice visit")]
HardOption = Annotated[bool, typer.Option("--hard", help="mild or hidden faults, fewer readings, sometimes two faults")]
NameOption = Annotated[str, typer.Option("--name", help="who answers, for --results")]
ResultsOption = Annotated[
    Path | None, typer.Option("--results", metavar="FILE.csv", help="add the result to this table")
]


@practice_app.command("new")
def practice_new(
    fault: Annotated[str | None, typer.Option("--fault", help="hide this fault; by chance unless said")] = None,
    hard: HardOption = False,
    seed: SeedOption = None,
    mode: ModeOption = "cooling",
    units: OneOfUnits = "us",
    name: Annotated[str, typer.Option("--name", help="who practises: what comes follows from --results")] = "",
    results: Annotated[
        Path | None, typer.Option("--results", metavar="FILE.csv", help="what was answered so far, for --name")
    ] = None,
    output: OutOption = None,
) -> None:
    """Writes a visit of a machine with a hidden fault, or with none.

    With --name and --results the fault follows what that learner took for what: soon again what was wrong, later and harder
    what was right.
    """
    from diagnose.practice.exercise import converted, new
    from diagnose.practice.files import as_file
    from diagnose.report.wording import upper_first

    refuse_to_write(output, over=False)
    number = _seed(seed)
    if name or results is not None:
        fault, hard = _turn(name, results, fault, mode, number)
    made = new(number, book_of(None), fault, hard, mode=mode)
    text = as_file(converted(made, "si") if units == "si" else made)
    if output is None:
        put(text)
        return
    files.write(output, text, over=False)
    put(f"{upper_first(made.machine['name'])}. {made.complaint}\n")
    put(f"Wrote {output}. Ask further with: diagnose practice ask {output} --list\n")


def _turn(name: str, results: Path | None, fault: str | None, mode: Mode, number: int) -> tuple[str, bool]:
    """The fault that this learner should meet next, and whether hard. Raises InputProblems."""
    from diagnose.practice.results import next_turn, read_results
    from diagnose.simulator import faults_of

    if not _one_line(name) or results is None:
        what = "`--name` and `--results` go together"
        raise refusal(what, "Say who practises, and which table has the answers so far.")
    if fault is not None:
        what = "`--fault` does not go with `--name`, which chooses the fault"
        raise refusal(what, "Leave one of them out.")
    known = read_results([results]) if results.exists() else []
    turn = next_turn(known, _one_line(name), date.today(), faults_of(mode), random.Random(number))
    typer.echo(f"Level {turn.box + 1} of 6 for {_one_line(name)}.", err=True)
    return turn.fault, turn.hard


@practice_app.command("ask")
def practice_ask(
    file: PracticeFile,
    what: Annotated[
        list[str] | None, typer.Argument(metavar="[READING...]", help="readings, things to look at, or checks")
    ] = None,
    listed: Annotated[bool, typer.Option("--list", help="show what can be asked")] = False,
    rules: RulesOption = None,
) -> None:
    """Reveals further readings, writes them into the file, and counts the minutes of work."""
    from diagnose import report
    from diagnose.practice.asking import ask, minutes_of, playable
    from diagnose.practice.files import read_exercise, write

    book = book_of(rules)
    sitting = read_exercise(file)
    if listed or not what:
        blocks = _list_page(playable(sitting.exercise, book))
        put(report.as_text(blocks, columns()))
        return
    told, text = ask(sitting, what, book)
    write(sitting, text)
    after = read_exercise(file)
    for one in told:
        for name, value, note in one.lines:
            put(f"{name}: {value}{f' ({note})' if note else ''}\n")
        put(f"  {one.minutes:g} minutes for {one.action.name}\n")
    put(f"{minutes_of(after.exercise, after.asked, book):g} minutes of work so far.\n")


def _list_page(actions: Sequence[Action]) -> list[Block]:
    from diagnose.report import Block, heading

    titles = {
        "check": "Checks, with all that they bring",
        "reading": "Single readings",
        "seen": "Things to look at or ask",
    }
    blocks: list[Block] = [Block("answer", "What can be asked, and the minutes it takes")]
    for kind, title in titles.items():
        rows = [("name", "minutes", "what is done")]
        rows += [(a.name, f"{a.minutes:g}", a.ask) for a in actions if a.kind == kind]
        if len(rows) > 1:
            blocks += [heading(title), Block("rows", rows=tuple(rows))]
    return blocks


@practice_app.command("answer")
def practice_answer(
    file: PracticeFile,
    fault: Annotated[
        str, typer.Argument(metavar="FAULT", help="the fault, or 'bad visit' where a reading cannot be right")
    ],
    because: Annotated[
        str, typer.Option("--because", help="your reason, such as 'superheat is high, subcooling is low'")
    ] = "",
    charge: Annotated[
        ChargeChoice | None, typer.Option("--charge", help="low (you would add), right, high or leave")
    ] = None,
    name: NameOption = "",
    results: ResultsOption = None,
    how: SheetOption = None,
    output: OutOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
) -> None:
    """Commits to an answer, once, and gives the lesson."""
    from diagnose.practice.feedback import judged
    from diagnose.practice.files import read_exercise
    from diagnose.practice.judging import known_answer

    style = _as(how, output)
    book = book_of(rules)
    sitting = read_exercise(file)
    if sitting.answered is not None:
        said = sitting.answered.get("fault", "something")
        fix = f"`diagnose practice reveal {file}` shows the lesson again; `diagnose practice new` makes another visit."
        raise refusal(f"this visit has already been answered: {said}", fix, file)
    answer = known_answer(fault, book)
    found = judged(sitting.exercise, sitting.asked, answer, book, charge, because, units, _full(style, output))
    _commit(sitting, found, because, name, results, output, style, book)


@practice_app.command("reveal")
def practice_reveal(
    file: PracticeFile,
    name: NameOption = "",
    results: ResultsOption = None,
    how: SheetOption = None,
    output: OutOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
) -> None:
    """Opens the sealed answer. Without an answer before, this counts as given up."""
    from diagnose.practice.exercise import GAVE_UP
    from diagnose.practice.feedback import judged
    from diagnose.practice.files import read_exercise

    style = _as(how, output)
    book = book_of(rules)
    sitting = read_exercise(file)
    before = sitting.answered or {}
    answer = before.get("fault", GAVE_UP)
    decision = next((word for word in get_args(ChargeChoice) if word == before.get("charge")), None)
    because, full = before.get("because", ""), _full(style, output)
    found = judged(sitting.exercise, sitting.asked, answer, book, decision, because, units, full)
    if sitting.answered is None:
        _commit(sitting, found, "", name, results, output, style, book)
    else:
        _show(found, style, output)


def _commit(
    sitting: Sitting,
    found: Feedback,
    because: str,
    name: str,
    results: Path | None,
    output: Path | None,
    how: As,
    book: Rulebook,
) -> None:
    """Marks the file as answered, adds the row, shows the lesson; nothing where any of it cannot be done."""
    from diagnose.practice.asking import opened
    from diagnose.practice.exercise import GAVE_UP
    from diagnose.practice.files import rewritten, write
    from diagnose.practice.results import add_result, check_table, result_of

    if results is not None:
        if not _one_line(name):
            raise refusal("nobody is named for the table", "Write --name 'who answers'.")
        check_table(results)
    refuse_to_write(output, over=False)
    today = date.today()
    said = {"fault": found.answer, "on": today.isoformat()}
    if found.answer != GAVE_UP:
        said["charge"] = found.decision
    if reason := _one_line(because):
        said["because"] = reason
    had = opened(sitting.exercise, sitting.asked, book)
    write(sitting, rewritten(sitting, had, sitting.asked, said))
    if results is not None:
        add_result(results, result_of(_one_line(name), sitting.path.name, today, found))
    _show(found, how, output)


def _show(found: Feedback, how: As, output: Path | None) -> None:
    text = page_text(found.blocks, how, {}, output, contents=True)
    put_page(text, how, output, over=False)


@practice_app.command("set")
def practice_set(
    count: Annotated[int, typer.Option("--count", min=1, max=200, help="how many visits")] = 20,
    seed: SeedOption = None,
    hard: HardOption = False,
    mode: ModeOption = "cooling",
    faults: Annotated[str | None, typer.Option("--faults", help="only these, with commas between")] = None,
    how: SheetOption = None,
    output: OutOption = None,
    key: Annotated[Path | None, typer.Option("--key", metavar="FILE", help="write the answer key to this file")] = None,
) -> None:
    """A worksheet of visits for a class, with an answer key apart. The same seed gives the same set."""
    from diagnose.practice.worksheet import chosen, key_page, make_set, sheet_page

    written = [path for path in (output, key) if path is not None]
    for path in written:
        refuse_to_write(path, over=False)
    if len(set(written)) < len(written):
        raise refusal("the worksheet and the key have the same name", "Keep the key apart.")
    number = _seed(seed)
    book = book_of(None)
    made = make_set(number, count, book, chosen(faults, mode), hard, mode)
    style = _as(how, output)
    sheet = sheet_page(made, style)
    answers = key_page(made, book, _as(how, key))
    if output is not None:
        files.write(output, sheet, over=False)
    if key is not None:
        files.write(key, answers, over=False)
    if output is None:
        put_page(sheet, style, None)
    for path in written:
        typer.echo(f"Wrote {path}.", err=True)
    if key is None:
        words = (
            f"--seed {number} --count {count}",
            "--hard" if hard else "",
            "--mode heating" if mode == "heating" else "",
            f"--faults {faults}" if faults else "",
        )
        again = " ".join(word for word in words if word)
        typer.echo(f"The answer key: diagnose practice set {again} -o again.html --key key.html", err=True)


@practice_app.command("sum")
def practice_sum(
    tables: Annotated[list[Path], typer.Argument(metavar="RESULTS.csv...", help="tables written by --results")],
    how: Annotated[
        SumAs | None, typer.Option("--as", help="text, markdown, html or csv; by the ending of the file with -o")
    ] = None,
    output: OutOption = None,
) -> None:
    """Sums a class up: who was right, how quickly, what would have done harm, and what was taken for what."""
    from diagnose.practice.results import read_results, sum_up, summary_csv, summary_page

    refuse_to_write(output, over=False)
    rows = read_results(dict.fromkeys(tables))
    if not rows:
        raise refusal("there is no result here", "Answer with --results first.", tables[0])
    summary = sum_up(rows)
    if how == "csv" or (how is None and output is not None and output.suffix == ".csv"):
        put_page(summary_csv(summary), "text", output, over=False)
        return
    style = form(how, output)
    put_page(page_text(summary_page(summary), style, {}, output), style, output, over=False)


# -- small helpers -------------------------------------------------------------------------------------------------


def _seed(seed: int | None) -> int:
    return random.SystemRandom().randrange(LARGEST_SEED) if seed is None else seed


def _full(how: As, output: Path | None) -> bool:
    """Whether there is room for the whole lesson: not on a terminal."""
    return how != "text" or output is not None


def _one_line(text: str) -> str:
    """What can stand in a file on one line."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def _as(how: PageAs | None, output: Path | None) -> As:
    """The form asked for, or that of the file's ending; JSON is none of a page for people."""
    found = form(how, output)
    return "text" if found == "json" else found
