"""practice exam: papers, the time, marks, and a class."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diagnose.cli.shared import (
    As,
    ModeOption,
    OutOption,
    PageOption,
    RulesOption,
    book_of,
    form,
    group,
    page_text,
    put,
    put_page,
    refuse_to_write,
)
from diagnose.yamlfile import InputProblems, Problem, files, refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from diagnose.practice.exam import Exam
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook

exam_app = group("An exam: a paper for each learner, marks for each line, signed with the examiner's key.")

OnlyOption = Annotated[str | None, typer.Option("--name", help="only this learner; all unless said")]
KeyFile = Annotated[Path, typer.Argument(metavar="KEY.json", help="what `exam set --key` wrote; for the examiner only")]


@exam_app.command("set")
def exam_set(
    names: Annotated[str, typer.Option("--names", help="who sits it, with commas between")],
    folder: Annotated[Path, typer.Option("--into", metavar="DIR", help="where papers and forms are written")],
    key: Annotated[Path, typer.Option("--key", metavar="KEY.json", help="where the key is written; keep it apart")],
    count: Annotated[int, typer.Option("--count", min=1, max=20, help="machines on each paper")] = 4,
    minutes: Annotated[int, typer.Option("--minutes", min=5, max=600, help="time to work")] = 60,
    hard: Annotated[bool, typer.Option("--hard", help="mild or hidden faults")] = False,
    mode: ModeOption = "cooling",
    seed: Annotated[
        int | None, typer.Option("--seed", min=0, help="for a trial run: whoever knows it knows all")
    ] = None,
) -> None:
    """Draws machines of their own for every learner: a paper to print, a form to fill in, and the key."""
    from diagnose.practice.exam import as_key, make
    from diagnose.practice.exam_pages import paper_page
    from diagnose.practice.marking import form_text

    if folder.resolve() in key.resolve().parents:
        what = "the key lies in the folder of the papers, or below it"
        raise refusal(what, "Name another folder for it: it holds every answer.", key)
    refuse_to_write(key, over=False)
    exam = make(names.split(","), count, minutes, book_of(None), seed, hard, mode)
    texts: dict[Path, str] = {}
    for i, paper in enumerate(exam.papers):
        stem = folder / f"{i + 1:02d}-{_file_name(paper.name)}"
        texts[Path(f"{stem}.html")] = paper_page(paper, exam, "html")
        texts[Path(f"{stem}-form.yaml")] = form_text(paper)
    files.make_folder(folder)
    for path in texts:
        refuse_to_write(path, over=False)
    for path, text in texts.items():
        files.write(path, text, over=False)
    files.write(key, as_key(exam), over=False)
    wrote = "1 paper with its form" if len(exam.papers) == 1 else f"{len(exam.papers)} papers with their forms"
    put(f"Wrote {wrote} into {folder}, and the key {key}.\n")
    put(f"When they are handed out: diagnose practice exam start {key}; when they come back: exam end.\n")


@exam_app.command("start")
def exam_start(key: KeyFile, name: OnlyOption = None) -> None:
    """Notes that papers were handed out: the time runs."""
    from diagnose.practice.exam import begun

    exam, now = _noted(key, name, begun)
    put(f"The time runs from {now}: {exam.minutes} minutes.\n")


@exam_app.command("end")
def exam_end(key: KeyFile, name: OnlyOption = None) -> None:
    """Notes that papers came back: the time stops. Otherwise it runs until they are marked."""
    from diagnose.practice.exam import ended

    put(f"The time stopped at {_noted(key, name, ended)[1]}.\n")


def _noted(key: Path, name: str | None, note: Callable[[Exam, str, str | None], Exam]) -> tuple[Exam, str]:
    """Writes into the key what happens to a paper now, or to all; the exam as it was, and the time."""
    from diagnose.practice.exam import as_key, read_key

    exam, was, now = read_key(key), files.text_of(key), _now()
    files.update(key, as_key(note(exam, now, name)), was)
    return exam, now


@exam_app.command("mark")
def exam_mark(
    key: KeyFile,
    forms: Annotated[list[Path], typer.Argument(metavar="FORM.yaml...", help="forms that came back")],
    marks: Annotated[
        Path | None, typer.Option("--marks", metavar="MARKS.json", help="write the signed marks here")
    ] = None,
    how: PageOption = None,
    output: OutOption = None,
    rules: RulesOption = None,
) -> None:
    """Marks forms line by line, and signs the marks."""
    from diagnose.practice.exam import read_key, signed
    from diagnose.practice.exam_pages import marks_page
    from diagnose.practice.marking import mark, read_form

    for path in (marks, output):
        refuse_to_write(path, over=False)
    exam, book, now = read_key(key), book_of(rules), _now()
    problems: list[Problem] = []
    handed = []
    for path in dict.fromkeys(forms):
        try:
            handed.append(read_form(path, exam))
        except InputProblems as error:
            problems += error.problems
    twice = [one for i, one in enumerate(handed) if one.name in [other.name for other in handed[:i]]]
    problems += [
        Problem(one.path, 0, 0, f"{one.name} has handed in two forms", "Leave one of them out.") for one in twice
    ]
    if problems:
        raise InputProblems(problems)
    made = [signed(mark(one, exam, book, now), exam) for one in handed]
    if marks is not None:
        files.write(marks, json.dumps(made, ensure_ascii=False, indent=1) + "\n", over=False)
    _put([block for one in made for block in marks_page(one, _names(book))], how, output)


@exam_app.command("class")
def exam_class(
    marks: Annotated[list[Path], typer.Argument(metavar="MARKS.json...", help="what `exam mark --marks` wrote")],
    how: PageOption = None,
    output: OutOption = None,
    rules: RulesOption = None,
) -> None:
    """The class as a page: marks by line, and who takes what for what."""
    from diagnose.practice.exam_pages import class_page

    refuse_to_write(output, over=False)
    found = [one for path in dict.fromkeys(marks) for one in _marks_in(path)]
    _put(class_page(found, _names(book_of(rules))), how, output)


@exam_app.command("check")
def exam_check(
    key: KeyFile, marks: Annotated[Path, typer.Argument(metavar="MARKS.json", help="marks that somebody shows")]
) -> None:
    """Whether marks are as they were signed. Leaves with 1 where anything was changed."""
    from diagnose.practice.exam import is_genuine, read_key

    exam = read_key(key)
    wrong = [one for one in _marks_in(marks) if not is_genuine(one, exam)]
    for one in wrong:
        put(f"{one['name']}: these marks were changed since they were signed, or signed with another key.\n")
    if wrong:
        raise typer.Exit(1)
    put("All marks are as they were signed.\n")


def _marks_in(path: Path) -> list[dict[str, Any]]:
    from diagnose.practice.exam import read_json
    from diagnose.practice.marking import are_marks

    fix = "Name a file that `practice exam mark --marks` wrote."
    data = read_json(path, fix)
    if not isinstance(data, list) or not data or not all(are_marks(one) for one in data):
        raise refusal("these are no marks of an exam", fix, path)
    return data


def _names(book: Rulebook) -> dict[str, str]:
    return {fault: entry.name for fault, entry in book.faults.items()}


def _put(blocks: Sequence[Block], how: As | None, output: Path | None) -> None:
    style = form(how, output)
    style = "text" if style == "json" else style
    put_page(page_text(blocks, style, {}, output, contents=True), style, output, over=False)


def _file_name(name: str) -> str:
    return "".join(sign if sign.isalnum() else "-" for sign in name.lower()).strip("-")[:40] or "learner"


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")
