"""What an exam prints: the paper of a learner, the marks of one, and the class as a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from diagnose.practice.exam import Exam, Paper
from diagnose.practice.exercise import GAVE_UP
from diagnose.practice.marking import ASKS, DANGERS, MARKS, MarkedLine, harmful_lines, rubric
from diagnose.practice.results import mistaken
from diagnose.practice.worksheet import CARE, Set, sheet_page
from diagnose.report import Block, heading, item, line
from diagnose.report.wording import counted, upper_first

TITLE = "Exam: what is wrong with these machines?"
_LONG: tuple[MarkedLine, ...] = ("target", "fault", "next", "danger")


def paper_page(paper: Paper, exam: Exam, style: str) -> str:
    """The paper as text, markdown or html: machines, readings, lines. It tells no answer and no number to draw it again."""
    total = sum(MARKS.values()) * len(paper.exercises)
    intro = (
        f"Paper {paper.code} for {paper.name}. {counted(exam.minutes, 'minute')}, {counted(total, 'mark')}. Every machine "
        "hides one fault, or none. Work on paper, or fill in the form that came with it.",
        f"Marks for each machine: {', '.join(f'{name} {of:g}' for name, of in MARKS.items())}.",
        f"Dangers are: {', '.join(DANGERS)}; or none.",
        CARE,
    )
    written: dict[MarkedLine, str] = {name: upper_first(name) for name in ASKS} | {"next": upper_first(ASKS["next"])}
    explained: tuple[MarkedLine, ...] = ("target", "charge")
    written |= {name: f"{upper_first(name)} ({ASKS[name]})" for name in explained}
    to_write = tuple((written[name], "long" if name in _LONG else "short") for name in ASKS)
    return sheet_page(Set(0, False, paper.exercises), style, TITLE, intro, to_write)


# -- marks -------------------------------------------------------------------------------------------------------------


def marks_page(marks: Mapping[str, Any], names: Mapping[str, str]) -> list[Block]:
    """The marks of one learner, line by line. names: fault id → its name."""
    return [
        Block("answer", f"{marks['name']}: {marks['marks']:g} of {marks['of']:g} marks"),
        line(f"Paper {marks['paper']}. {_time(marks)}"),
        *_harm(marks),
        *(block for visit in marks["visits"] for block in _visit(marks["name"], visit, names)),
        heading("What marks are given for"),
        Block("rows", rows=(("line", "marks", "for"), *rubric())),
        Block("foot", f"Rule book: {marks['rulebook']}. Signature: {marks.get('signature', 'none')}."),
    ]


def _time(marks: Mapping[str, Any]) -> str:
    if marks["minutes"] is None:
        return f"Handed in {marks['handed in']}; nobody noted when it was handed out."
    late = marks["minutes"] - marks["allowed"]
    over = f", {late:.0f} more than allowed: the examiner decides what that costs" if late > 0 else ""
    return f"{marks['minutes']:.0f} of {marks['allowed']} minutes{over}."


def _harm(marks: Mapping[str, Any]) -> Iterator[Block]:
    if count := harmful_lines(marks):
        yield item(f"On {counted(count, 'machine')} the answer on the charge would have done harm.", "!")


def _visit(name: str, visit: Mapping[str, Any], names: Mapping[str, str]) -> Iterator[Block]:
    got = sum(one["marks"] for one in visit["lines"])
    true = " and ".join(names.get(fault, fault) for fault in visit["fault"].split("+"))
    yield heading(f"{name}, machine {visit['visit']}: {true} ({got:g} of {sum(MARKS.values()):g})")
    rows = [("line", "answered", "right", "marks", "note")]
    rows += [
        (one["line"], one["answer"] or "–", one["right"], f"{one['marks']:g} of {one['of']:g}", one["note"])
        for one in visit["lines"]
    ]
    yield Block("rows", rows=tuple(rows))


def class_page(all_marks: Sequence[Mapping[str, Any]], names: Mapping[str, str]) -> list[Block]:
    """Everybody's marks by line, who takes what for what, and which lines the class has yet to learn."""
    lines = list(MARKS)
    best = sorted(all_marks, key=lambda one: (-one["marks"] / max(one["of"], 1), one["name"].casefold()))
    rows = [("name", "marks", *lines, "minutes", "would do harm")]
    for one in best:
        by = _by_line(one)
        count = len(one["visits"])
        minutes = (
            "" if one["minutes"] is None else f"{one['minutes']:.0f}{'*' if one['minutes'] > one['allowed'] else ''}"
        )
        cells = (f"{by[name]:g} of {MARKS[name] * count:g}" for name in lines)
        rows.append((one["name"], f"{one['marks']:g} of {one['of']:g}", *cells, minutes, str(harmful_lines(one))))
    total = sum(one["marks"] for one in all_marks) / max(sum(one["of"] for one in all_marks), 1)
    blocks = [
        Block("answer", f"{len(all_marks)} papers, {100 * total:.0f} of 100 marks on average."),
        heading("Each learner"),
        Block("rows", rows=tuple(rows)),
    ]
    if any(cell[-2].endswith("*") for cell in rows[1:]):
        blocks.append(line("* Longer than allowed."))
    mistakes = (
        (visit["fault"], visit["answer"], one["name"])
        for one in all_marks
        for visit in one["visits"]
        if visit["answer"] not in visit["fault"].split("+") and visit["answer"] != GAVE_UP
    )
    told = mistaken(mistakes, lambda fault: " and ".join(names.get(each, each) for each in fault.split("+")))
    return [*blocks, heading("Who takes what for what"), told, *_weakest(all_marks)]


def _by_line(marks: Mapping[str, Any]) -> Counter[str]:
    found: Counter[str] = Counter()
    for visit in marks["visits"]:
        for one in visit["lines"]:
            found[one["line"]] += one["marks"]
    return found


def _weakest(all_marks: Sequence[Mapping[str, Any]]) -> Iterator[Block]:
    """The lines by how many of their marks the class got, the fewest first."""
    got: Counter[str] = Counter()
    for one in all_marks:
        got.update(_by_line(one))
    visits = sum(len(one["visits"]) for one in all_marks)
    if not visits:
        return
    yield heading("What to teach again, the weakest line first")
    shares = sorted((got[name] / (of * visits), name) for name, of in MARKS.items())
    for share, name in shares:
        yield item(f"{upper_first(name)}: {100 * share:.0f} of 100 marks.")
