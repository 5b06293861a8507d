"""Where something stands in a file, and what is wrong there: one sentence, and one how to mend it."""

import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

T = TypeVar("T")
R = TypeVar("R")
Path = tuple[str | int, ...]  # where a value stands: ("rules", 2, "when")

MOST_TOLD = 200  # in all files
SHOWN = 120  # characters of a line printed above the mark


class Mark(NamedTuple):
    """Line and column, both from 1, and how many characters are meant."""

    line: int
    column: int
    width: int = 1


class Problem(NamedTuple):
    """Something wrong in what was given, where (0 where no line is known), and one sentence how to mend it."""

    file: str
    line: int
    column: int
    what: str
    fix: str = ""
    width: int = 1
    text: str = ""

    def __str__(self) -> str:
        if not self.line:
            shown = f"{self.file}: {self.what}" if self.file else self.what
        else:
            shown = f"{self.file}:{self.line}:{self.column}: {self.what}"
            if self.text:
                text, column = _window(self.text, self.column)
                shown += f"\n{self.line:>5} | {text}\n      | {' ' * (column - 1)}{'^' * self._marks(text, column)}"
        return f"{shown}\n      {self.fix}" if self.fix else shown

    def _marks(self, text: str, column: int) -> int:
        return max(1, min(self.width, len(text) - column + 1))

    def to_dict(self) -> dict[str, object]:
        """For JSON."""
        return self._asdict()


class Mistake(ValueError):  # noqa: N818 - told as a problem of the file it stands in
    """A value that cannot stand where it does: what is wrong, and how to mend it."""

    def __init__(self, what: str, fix: str = "") -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


class InputProblems(ValueError):  # noqa: N818 - it holds several
    """What was given cannot be used; `problems` has every reason, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = tuple(problems)
        if len(found) > MOST_TOLD:
            more = Problem("", 0, 0, f"{len(found) - MOST_TOLD} further problems are not listed", "Mend these first.")
            found = (*found[:MOST_TOLD], more)
        self.problems: tuple[Problem, ...] = found
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n\n".join(map(str, self.problems))


@dataclass(frozen=True)
class Document:
    """What a file says, and where each value (`marks`) and each name before a colon (`keys`) stands."""

    name: str
    data: object
    lines: tuple[str, ...] = ()
    marks: Mapping[Path, Mark] = field(default_factory=dict)
    keys: Mapping[Path, Mark] = field(default_factory=dict)

    def problem(self, path: Iterable[str | int], what: str, fix: str = "", key: bool = False) -> Problem:
        """A problem with the value at this path (or with its name), or the nearest entry around it that was written."""
        at = tuple(path)
        mark = (self.keys.get(at) if key else None) or self.marks.get(at)
        while mark is None and at:
            at = at[:-1]
            # The name says more than the first line below it.
            mark = self.keys.get(at) or self.marks.get(at)
        if mark is None:
            return Problem(self.name, 0, 0, what, fix)
        return Problem(self.name, mark.line, mark.column, what, fix, mark.width, line_of(self.lines, mark.line))

    def problem_in(self, path: Iterable[str | int], part: str, what: str, fix: str = "") -> Problem:
        """A problem with a part of the text at this path: where that part is written, if it stands on one line."""
        at = tuple(path)
        whole = self.problem(at, what, fix)
        mark = self.marks.get(at)
        if mark is None:
            return whole
        end = min((m.line for p, m in self.keys.items() if m.line > mark.line and p[: len(at)] != at), default=None)
        for number in range(mark.line, min(end or len(self.lines) + 1, mark.line + 100)):
            text = line_of(self.lines, number)
            found = text.find(part, mark.column - 1 if number == mark.line else 0)
            if found >= 0:
                return Problem(self.name, number, found + 1, what, fix, len(part), text)
        return whole


def from_data(data: object, name: str = "") -> Document:
    """The same interface for a mapping that came from Python: no lines, no marks."""
    return Document(name, data)


FEW = 3
"""Names that are proposed at once."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ "Did you mean `points`?", or nothing where no known word is near, nor a few names hold what was written.

    Near is a slip or two of the pen in each word: `condenser` is no `condensate drain`, `superheat high` no `superheat swing`.
    """
    by_lower = {candidate.lower(): candidate for candidate in known}
    written = word[:60].lower()
    near = difflib.get_close_matches(written, by_lower, FEW, 0.6 if len(written) < 5 else 0.7)
    near = [name for name in near if _holds(_WORD.findall(name), _WORD.findall(written), 0.5)][:1]
    if not near:  # `ice` of `indoor coil ice`
        holding = [name for name in by_lower if written and _holds(_WORD.findall(name), written.split(), 0.85)]
        near = holding if len(holding) <= FEW else []
    return f"Did you mean {' or '.join(f'`{by_lower[name]}`' for name in near)}?" if near else ""


_WORD = re.compile(r"\w+")


def _holds(name: list[str], written: list[str], near: float) -> bool:
    """Whether each word that was written is one of the name's, or a slip from it; `under` is none from `over`."""
    return "".join(name) == "".join(written) or all(
        difflib.get_close_matches(word, [each for each in name if each[0] == word[0]], 1, near) for word in written
    )


def line_of(lines: tuple[str, ...], number: int) -> str:
    """The line of this number, from 1; empty where there is none."""
    return lines[number - 1] if 0 < number <= len(lines) else ""


def _window(text: str, column: int) -> tuple[str, int]:
    """The part of a long line that is shown, and the column of the mark in it."""
    if len(text) <= SHOWN:
        return printable(text, SHOWN), column
    start = max(0, column - SHOWN // 2)
    before, after = "..." if start else "", "..." if start + SHOWN < len(text) else ""
    return f"{before}{printable(text[start : start + SHOWN], SHOWN)}{after}", column - start + len(before)


def each(work: Callable[[T], R], items: Iterable[T]) -> list[R]:
    """What comes of every item. Raises InputProblems with the problems of all."""
    found: list[R] = []
    problems: list[Problem] = []
    for item in items:
        try:
            found.append(work(item))
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    return found


def reason_of(error: Exception, otherwise: str = "no reason given") -> str:
    """Why the system would not, in the middle of a sentence. otherwise: where it gave no reason, as for a NUL in a name."""
    return (getattr(error, "strerror", None) or otherwise).lower()


def refusal(what: str, fix: str = "", place: object = "") -> InputProblems:
    """One problem without a line, to be raised. place: a file, a folder, an address, where there is one."""
    return InputProblems([Problem(printable(str(place), 4096), 0, 0, what, fix)])


def printable(text: str, longest: int = 60) -> str:
    """Safe to print on any terminal, one column a character, not longer than a line of words."""
    clean = "".join(sign if sign.isprintable() else " " if sign == "\t" else "?" for sign in text[: longest + 1])
    return clean if len(clean) <= longest else clean[:longest] + "..."


def first_line(error: BaseException) -> str:
    """What another library says is wrong, in one line."""
    text = str(error).strip()
    return printable(text.splitlines()[0] if text else type(error).__name__, 160)
