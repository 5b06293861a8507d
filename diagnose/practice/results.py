"""Answers of a class in a table (CSV), the table summed up, and what each learner should practise next."""

from __future__ import annotations

import csv
import io
import random
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from diagnose.practice.exercise import GAVE_UP
from diagnose.practice.feedback import Feedback
from diagnose.practice.judging import DOES, Decision
from diagnose.report import Block, heading, line
from diagnose.yamlfile import InputProblems, Problem, each, printable, reason_of, refusal

COLUMNS = ("when", "name", "file", "seed", "truth", "answer", "right", "asked", "minutes", "charge", "harmful")
REASON = "reason"  # a column of its own since learners give one; a table without it stays as it is
_REASONS: Mapping[str, bool | None] = {"sound": True, "weak": False, "": None}
_YES_NO: Mapping[str, bool] = {"yes": True, "no": False}
LONGEST = 5_000_000  # bytes of one table
_FIX = f"The columns are {', '.join(COLUMNS)}."
_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would reckon with a text that begins so: put behind a `'`


@dataclass(frozen=True, slots=True)
class Result:
    """One answer of one learner. truth: of two faults both, with `+` between. minutes: of work asked for. sound: whether the
    reason carried the answer (None: none was given).
    """

    when: date
    name: str
    file: str
    seed: int
    truth: str
    answer: str
    right: bool
    asked: int
    minutes: float
    charge: Decision
    harmful: bool
    sound: bool | None = None


def result_of(name: str, file: str, today: date, found: Feedback) -> Result:
    """The row of one judged answer."""
    truth = "+".join(found.exercise.truths)
    return Result(
        today, " ".join(name.split()), file, found.exercise.seed, truth, found.answer, found.right,
        found.asked, found.minutes, found.decision, found.harmful, found.sound,
    )  # fmt: skip


def _row(result: Result) -> dict[str, str]:
    cells = (
        result.when.isoformat(), _harmless(result.name), _harmless(result.file), str(result.seed), _harmless(result.truth),
        _harmless(result.answer), _word(result.right), str(result.asked), f"{result.minutes:g}", result.charge,
        _word(result.harmful),
    )  # fmt: skip
    reason = next(word for word, sound in _REASONS.items() if sound is result.sound)
    return {**dict(zip(COLUMNS, cells, strict=True)), REASON: reason}


def _word(so: bool) -> str:
    return "yes" if so else "no"


def _harmless(text: str) -> str:
    """A text that stays one in a spreadsheet."""
    return f"'{text}" if text.startswith(_FORMULA) or _escaped(text) else text


def _escaped(cell: str) -> bool:
    """Whether a `'` stands before what would be a formula; before anything else it belongs to the text."""
    return cell.startswith("'") and cell.lstrip("'").startswith(_FORMULA)


def _as_meant(cell: str) -> str:
    return cell[1:] if _escaped(cell) else cell


def check_table(path: Path) -> None:
    """Raises InputProblems where a row could not be added to this table."""
    if path.exists():
        read_results([path])
    try:
        with path.open("a", encoding="utf-8"):
            pass
    except OSError as error:
        raise _cannot(path, error) from None


def add_result(path: Path, result: Result) -> None:
    """Adds a row under the columns that the table has, and the head to one that is empty. Raises InputProblems."""
    try:
        with path.open("a+", encoding="utf-8", newline="") as file:
            file.seek(0)
            text = file.read(LONGEST)
            head, marks = _head_of(text)
            file.seek(0, io.SEEK_END)
            if text and not text.endswith(("\n", "\r")):
                file.write("\n")
            writer = csv.DictWriter(
                file,
                head or (*COLUMNS, REASON),
                restval="",
                extrasaction="ignore",
                delimiter=marks,
                lineterminator="\n",
            )
            if not head:
                writer.writeheader()
            writer.writerow(_row(result))
    except OSError as error:
        raise _cannot(path, error) from None


def _head_of(text: str) -> tuple[list[str], str]:
    """The columns of a table, and what stands between its cells."""
    rows = [row for row in text.removeprefix("\ufeff").split("\n") if row.strip()]
    if not rows:
        return [], ","
    marks = ";" if rows[0].count(";") > rows[0].count(",") else ","  # some spreadsheets save with semicolons
    return [cell.strip() for cell in next(csv.reader([rows[0]], delimiter=marks))], marks


def _cannot(path: Path, error: OSError) -> InputProblems:
    what = f"the table cannot be written ({reason_of(error)})"
    return refusal(what, "Name another file.", path)


# -- reading -------------------------------------------------------------------------------------------------------


def read_results(paths: Iterable[Path]) -> list[Result]:
    """All rows of these tables. Raises InputProblems with every bad row."""
    return [row for rows in each(_read, paths) for row in rows]


def _read(path: Path) -> list[Result]:
    try:
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        raise refusal(f"the table cannot be read ({reason_of(error)})", "Look at its name.", path) from None
    if len(raw) > LONGEST:
        raise refusal("the table is larger than 5 MB", "Is it the right file?", path)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        fix = "Save it as CSV in UTF-8."
        raise refusal("the table is not written in UTF-8", fix, path) from None
    _, marks = _head_of(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=marks, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        rows += [(reader.line_num, row) for row in reader]
    except csv.Error:
        raise InputProblems(
            [Problem(str(path), reader.line_num, 1, "a quote in this line is not closed", "Look at the quotes.")]
        ) from None
    rows = [(number, [cell.strip() for cell in row]) for number, row in rows if any(cell.strip() for cell in row)]
    if not rows:
        return []
    number, head = rows[0]
    lacking = [column for column in COLUMNS if column not in head]
    if lacking:
        raise InputProblems([Problem(str(path), number, 1, f"the table lacks {', '.join(lacking)}", _FIX)])
    places = [head.index(column) for column in COLUMNS]
    found: list[Result] = []
    problems: list[Problem] = []
    for number, row in rows[1:]:
        if len(row) < len(head):
            what = f"this line has {len(row)} cells, and the head has {len(head)}"
            problems.append(Problem(str(path), number, 1, what, _FIX))
            continue
        cells = dict(zip(COLUMNS, (row[place] for place in places), strict=True))
        cells[REASON] = row[head.index(REASON)].lower() if REASON in head else ""
        wrong = _wrong(cells)
        problems += [Problem(str(path), number, 1 + head.index(c), what, fix) for c, what, fix in wrong]
        if not wrong:
            found.append(_result(cells))
    if problems:
        raise InputProblems(problems)
    return found


def _wrong(cells: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """(column, what is wrong, how to mend it) for every bad cell of a row."""
    found: list[tuple[str, str, str]] = []

    def bad(column: str, what: str, fix: str) -> None:
        found.append((column, f"`{column}`: `{printable(cells[column], 40)}` {what}", fix))

    try:
        date.fromisoformat(cells["when"])
    except ValueError:
        bad("when", "is not a date", "Write year-month-day, such as 2026-05-01.")
    for column, kind in (("seed", int), ("asked", int), ("minutes", float)):
        try:
            good = 0 <= kind(cells[column]) < 1e12
        except (ValueError, OverflowError):
            good = False
        if not good:
            bad(column, "is not a number", "Write a number, such as 15.")
    for column in ("right", "harmful"):
        if cells[column].lower() not in _YES_NO:
            bad(column, "is neither yes nor no", "Write yes or no.")
    if cells["charge"] not in DOES:
        bad("charge", "is not known", f"Write one of: {', '.join(DOES)}.")
    if cells[REASON] not in _REASONS:
        bad(REASON, "is not known", "Write sound, weak, or nothing.")
    empty = [column for column in ("name", "truth", "answer") if not cells[column]]
    return [*found, *((column, f"`{column}` is empty", "Fill it in.") for column in empty)]


def _result(cells: Mapping[str, str]) -> Result:
    charge = next(decision for decision in DOES if decision == cells["charge"])
    return Result(
        date.fromisoformat(cells["when"]), _as_meant(cells["name"]), _as_meant(cells["file"]),
        int(cells["seed"]), _as_meant(cells["truth"]), _as_meant(cells["answer"]), _YES_NO[cells["right"].lower()],
        int(cells["asked"]),
        float(cells["minutes"]), charge, _YES_NO[cells["harmful"].lower()], _REASONS[cells[REASON]],
    )  # fmt: skip


# -- summing up ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pupil:
    """One learner: answers, right ones, given up, harmful advice, mean minutes of the right ones (None: none).

    weak: right answers on a reason that did not carry them. confused: (it was, it was taken for), the most often first.
    """

    name: str
    answers: int
    right: int
    gave_up: int
    harmful: int
    minutes: float | None
    weak: int = 0
    confused: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Summary:
    """A class: each apprentice, and for each true fault what was answered (most often first)."""

    pupils: tuple[Pupil, ...]
    faults: Mapping[str, tuple[tuple[str, int], ...]]
    right_of: Mapping[str, int]


def sum_up(results: Sequence[Result]) -> Summary:
    """Counts; names are the same whatever their capitals. Later answers to the same file count as well."""
    named: dict[str, list[Result]] = {}
    for result in results:
        named.setdefault(result.name.casefold(), []).append(result)
    pupils = [_pupil(rows) for _, rows in sorted(named.items())]
    faults: dict[str, Counter[str]] = {}
    right: Counter[str] = Counter()
    for result in results:
        faults.setdefault(result.truth, Counter())[result.answer] += 1
        right[result.truth] += result.right
    ordered = {
        truth: tuple(sorted(faults[truth].items(), key=lambda pair: (-pair[1], pair[0]))) for truth in sorted(faults)
    }
    return Summary(tuple(pupils), ordered, dict(right))


def _pupil(rows: Sequence[Result]) -> Pupil:
    right = [row for row in rows if row.right]
    return Pupil(
        name=rows[0].name,
        answers=len(rows),
        right=len(right),
        gave_up=sum(row.answer == GAVE_UP for row in rows),
        harmful=sum(row.harmful for row in rows),
        minutes=sum(row.minutes for row in right) / len(right) if right else None,
        weak=sum(row.sound is False for row in right),
        confused=tuple(pair for pair, _ in _confusions(rows).most_common()),
    )


def _confusions(rows: Iterable[Result]) -> Counter[tuple[str, str]]:
    return Counter((row.truth, row.answer) for row in rows if not row.right and row.answer != GAVE_UP)


def summary_page(summary: Summary) -> list[Block]:
    """The class as a page: each learner, who takes what for what, and each fault."""
    answers = sum(pupil.answers for pupil in summary.pupils)
    right = sum(pupil.right for pupil in summary.pupils)
    harm = sum(pupil.harmful for pupil in summary.pupils)
    weak = sum(pupil.weak for pupil in summary.pupils)
    return [
        Block("answer", f"{right} of {answers} answers right; {harm} would have done harm."),
        heading("Each learner"),
        Block("rows", rows=(("name", "right", "for a weak reason", "gave up", "harmful", "minutes to a right answer"), *(
            (p.name, f"{p.right} of {p.answers}", str(p.weak), str(p.gave_up), str(p.harmful),
             "" if p.minutes is None else f"{p.minutes:.0f}")
            for p in summary.pupils
        ))),
        line("Harmful: refrigerant added though none was missing, or removed though there was no excess."),
        *([line("For a weak reason: right, and what was given as the reason did not show it.")] if weak else ()),
        heading("Who takes what for what"),
        mistaken((was, taken, p.name) for p in summary.pupils for was, taken in p.confused),
        heading("Each fault, and what was answered instead"),
        Block("rows", rows=(("it was", "right", "answers"), *(
            (truth, f"{summary.right_of[truth]} of {sum(n for _, n in given)}", ", ".join(f"{a} {n}" for a, n in given))
            for truth, given in summary.faults.items()
        ))),
    ]  # fmt: skip


def mistaken(mistakes: Iterable[tuple[str, str, str]], called: Callable[[str], str] = str) -> Block:
    """A row for each mistake: what it was, what it was taken for, by whom. called: how a fault's id is told."""
    found: dict[tuple[str, str], list[str]] = {}
    for was, taken, who in mistakes:
        found.setdefault((was, taken), []).append(who)
    if not found:
        return line("Nobody took one fault for another.")
    rows = sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    head = ("it was", "taken for", "by")
    return Block("rows", rows=(head, *((called(was), called(taken), ", ".join(who)) for (was, taken), who in rows)))


def summary_csv(summary: Summary) -> str:
    """One table: a row for each apprentice (kind `apprentice`), then one for each pair of truth and answer."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("kind", "name", "truth", "answer", "answers", "right", "gave up", "harmful", "minutes"))
    for p in summary.pupils:
        minutes = "" if p.minutes is None else f"{p.minutes:.1f}"
        writer.writerow(("apprentice", _harmless(p.name), "", "", p.answers, p.right, p.gave_up, p.harmful, minutes))
    for truth, given in summary.faults.items():
        for answer, count in given:
            writer.writerow(("fault", "", _harmless(truth), _harmless(answer), count, "", "", "", ""))
    return out.getvalue()


# -- what comes next ---------------------------------------------------------------------------------------------------

DAYS = (1, 2, 4, 8, 16, 32)
"""Days until a fault of each box comes again."""
HARD_FROM = 2
"""The box from which it comes mild or hidden."""


@dataclass(frozen=True, slots=True)
class Turn:
    """What comes next. box: 0 to 5; due: when it should have come (today for what was never practised)."""

    fault: str
    box: int
    due: date

    @property
    def hard(self) -> bool:
        """Whether it comes mild or hidden."""
        return self.box >= HARD_FROM


def next_turn(results: Sequence[Result], name: str, today: date, faults: Sequence[str], chance: random.Random) -> Turn:
    """The fault that is longest due for this learner; among equals the lower box, then by chance."""
    turns = list(all_turns(results, name, today, faults))
    chance.shuffle(turns)
    return min(turns, key=lambda turn: (turn.due > today, turn.due, turn.box))


def all_turns(results: Sequence[Result], name: str, today: date, faults: Sequence[str]) -> tuple[Turn, ...]:
    """Where each fault stands for this learner."""
    boxes = dict.fromkeys(faults, 0)
    due = dict.fromkeys(faults, today)
    mine = [result for result in results if result.name.casefold() == " ".join(name.split()).casefold()]
    for result in sorted(mine, key=lambda one: one.when):
        good = result.right and not result.harmful and result.sound is not False
        truths = [fault for fault in result.truth.split("+") if fault in boxes]
        taken = [result.answer] if result.answer in boxes and not result.right else []
        for fault in (*truths, *taken):
            boxes[fault] = min(boxes[fault] + 1, len(DAYS) - 1) if good else 0
            due[fault] = result.when + timedelta(days=DAYS[boxes[fault]])
    return tuple(Turn(fault, boxes[fault], due[fault]) for fault in faults)
