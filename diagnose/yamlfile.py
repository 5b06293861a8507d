"""YAML with a line and column for every value, in the plain subset that people who are no programmers can rely on.

Only `true` and `false` are truth values (`no` and `off` stay words), only decimal notation is a number, and there are
no dates, tags, anchors or aliases. What is wrong is a `Problem`: where, what, and one sentence how to mend it; reading
stops with `InputProblems`, which holds all that were found, and with nothing else. No other module imports yaml.
"""

import difflib
import errno
import math
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import yaml
    from pydantic import ValidationError

Path = tuple[str | int, ...]  # where a value stands: ("rules", 2, "when")

LARGEST_FILE = 2_000_000  # bytes
STANDARD_INPUT = "standard input"
MOST_VALUES = 20_000  # names and values; the longest file of the shipped book has two thousand
DEEPEST = 40  # lists and groups inside one another
MOST_PROBLEMS = 50  # in one file; further ones are consequences of the first, or nobody reads them
MOST_TOLD = 200  # in all files
LONGEST_NUMBER = 40  # characters
SHOWN = 120  # characters of a line printed above the mark

# None: libyaml where it is there, which is ten times quicker and gives the same marks.
_Loader: Any = None

_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
# What YAML forbids in a text, and the byte order mark inside one.
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Mark:
    """Line and column, both from 1, and how many characters are meant."""

    line: int
    column: int
    width: int = 1


@dataclass(frozen=True, slots=True)
class Problem:
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
        return asdict(self)


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
        return Problem(self.name, mark.line, mark.column, what, fix, mark.width, _line(self.lines, mark.line))

    def problem_in(self, path: Iterable[str | int], part: str, what: str, fix: str = "") -> Problem:
        """A problem with a part of the text at this path: where that part is written, if it stands on one line."""
        at = tuple(path)
        whole = self.problem(at, what, fix)
        mark = self.marks.get(at)
        if mark is None:
            return whole
        end = min((m.line for p, m in self.keys.items() if m.line > mark.line and p[: len(at)] != at), default=None)
        for number in range(mark.line, min(end or len(self.lines) + 1, mark.line + 100)):
            text = _line(self.lines, number)
            found = text.find(part, mark.column - 1 if number == mark.line else 0)
            if found >= 0:
                return Problem(self.name, number, found + 1, what, fix, len(part), text)
        return whole


def read(path: FilePath | str) -> Document:
    """Read a file, or standard input for "-". Raises InputProblems."""
    if str(path) == "-":
        return parse(_standard_input(), STANDARD_INPUT)
    name = printable(str(path), 4096)  # whole: editors jump to file:line:column
    try:
        with open(path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise InputProblems([Problem(name, 0, 0, *_unreadable(error))]) from None
    return parse(content, name)


def _standard_input() -> str | bytes:
    """What stands there. Raises InputProblems where nothing can be read: it is closed, or no text."""
    stream = getattr(sys.stdin, "buffer", sys.stdin)
    try:
        content: str | bytes = stream.read(LARGEST_FILE + 1)
    except (AttributeError, OSError, ValueError):  # the first: Python was started without one
        fix = "Give the name of a file, or send the text: `diagnose examine - < visit.yaml`."
        raise InputProblems([Problem(STANDARD_INPUT, 0, 0, "nothing can be read here", fix)]) from None
    return content


def parse(text: str | bytes, name: str) -> Document:
    """Read YAML text; `name` stands in front of every message. Raises InputProblems."""
    if len(text) > LARGEST_FILE:
        fix = "Split it, or check that this is the right file."
        raise InputProblems([Problem(name, 0, 0, f"the file is larger than {LARGEST_FILE // 1_000_000} MB", fix)])
    if isinstance(text, bytes):
        text = _decoded(text, name)
    text = text.removeprefix("\ufeff")
    lines = tuple(text.splitlines())
    if found := _UNPRINTABLE.search(text):
        raise InputProblems([_unprintable(text, found.start(), name, lines)])
    builder = _Builder(name, lines)
    builder.run(text)
    if builder.problems:
        raise InputProblems(sorted(builder.problems, key=lambda problem: (problem.line, problem.column)))
    return Document(name, builder.data, lines, builder.marks, builder.keys)


def is_text(plain: str) -> bool:
    """Whether this is read as a text where it stands without quotes (as far as numbers, truth values and nothing go)."""
    return plain not in ("", "~", "null", "true", "false") and not _FLOAT.fullmatch(plain)


def from_data(data: object, name: str = "") -> Document:
    """The same interface for a mapping that came from Python: no lines, no marks."""
    return Document(name, data)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ "Did you mean `points`?", or nothing where no known word is near."""
    by_lower = {candidate.lower(): candidate for candidate in known}
    near = difflib.get_close_matches(word[:60].lower(), by_lower, 1)
    return f"Did you mean `{by_lower[near[0]]}`?" if near else ""


def model_problems(
    document: Document,
    error: "ValidationError",
    base_path: Iterable[str | int] = (),
    known: Callable[[Path], Iterable[str]] | None = None,
) -> list[Problem]:
    """What pydantic found, in plain words and with positions.

    `base_path` is where the validated part stands in the document. `known` gives the names allowed at a path (counted
    from the part), for "Did you mean". A validator may raise an error with `what` and `fix`, as UnitError has; both
    are kept.
    """
    base = tuple(base_path)
    grouped: dict[tuple[Path, bool], list[Any]] = {}
    for one in error.errors(include_url=False):
        path, key = _data_path(_at(document.data, base), one)
        grouped.setdefault((path, key), []).append(one)
    problems: dict[Problem, None] = {}
    for (path, key), errors in grouped.items():
        for what, fix in _in_words(path, errors, known):
            problems[document.problem(base + path, what, fix, key)] = None
        if len(problems) >= MOST_PROBLEMS:
            break
    return sorted(problems, key=lambda problem: (problem.line, problem.column))


# --- building values from events ---


class _Stop(Exception):  # noqa: N818 - a signal
    """Nothing after this point can be trusted."""


@dataclass(slots=True)
class _Open:
    """A list or group whose end has not come yet."""

    value: dict[str, object] | list[object]
    path: Path
    start: Any
    key: str | None = None  # the name whose value comes next
    lines: dict[str, int] = field(default_factory=dict)  # where each name was first written


class _Builder:
    """Turns parser events into Python values. A loop with its own stack, so depth cannot exhaust Python's."""

    def __init__(self, name: str, lines: tuple[str, ...]) -> None:
        self.name = name
        self.lines = lines
        self.data: object = None
        self.marks: dict[Path, Mark] = {}
        self.keys: dict[Path, Mark] = {}
        self.problems: list[Problem] = []
        self.stack: list[_Open] = []
        self.documents = 0
        self.anchors = 0
        self.values = 0

    def run(self, text: str) -> None:
        global yaml
        import yaml  # only here: a compiled rule book is loaded without

        loader = _Loader or getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        try:
            for event in yaml.parse(text, Loader=loader):
                self.take(event)
        except _Stop:
            pass
        except yaml.MarkedYAMLError as error:
            self.syntax(error)
        except (
            yaml.YAMLError,
            ValueError,
            OverflowError,
        ):  # the last two: escapes such as "\U00110000" without libyaml
            self.problems.append(Problem(self.name, 0, 0, "this is not YAML text", "Check the escapes after `\\`."))

    def take(self, event: Any) -> None:
        if isinstance(event, yaml.ScalarEvent):
            self.plain_only(event)
            self.scalar(event)
        elif isinstance(event, yaml.CollectionStartEvent):
            self.plain_only(event)
            self.open(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            done = self.stack.pop()
            self.marks[done.path] = self.mark(done.start, event.end_mark)
            self.put(done.value)
        elif isinstance(event, yaml.AliasEvent):
            self.anchor(event, "Write the value out.")
            if self.expects_key():
                raise _Stop
            self.put(None)
        elif isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.bad(event, "a second document begins here", "Keep one document in a file; take out the `---`.")
                raise _Stop

    def scalar(self, event: Any) -> None:
        self.values += 1
        if self.values > MOST_VALUES:
            what = f"the file holds more than {MOST_VALUES:,} names and values"
            self.problems = [Problem(self.name, 0, 0, what, "Split it, or check that this is the right file.")]
            raise _Stop
        mark = self.mark(event.start_mark, event.end_mark)
        value = self.resolve(event)
        if not self.expects_key():
            self.marks[self.path()] = mark
            self.put(value)
            return
        group = self.stack[-1]
        if not isinstance(value, str):
            written = printable(event.value) or "nothing"
            self.bad(event, f"`{written}` stands where a name is expected", "Put it between quotes if it is a name.")
            value = written
        if value in group.lines:
            what = f"`{printable(value)}` is written twice here, first in line {group.lines[value]}"
            self.bad(event, what, "Keep one of them.")
        group.lines.setdefault(value, mark.line)
        group.key = value
        self.keys[(*group.path, value)] = mark

    def open(self, event: Any) -> None:
        is_group = isinstance(event, yaml.MappingStartEvent)
        if self.expects_key():
            what = f"a {'group' if is_group else 'list'} stands where a name is expected"
            self.bad(event, what, "Put a text that begins with `{` or `[` between quotes.")
            raise _Stop
        if len(self.stack) == DEEPEST:
            self.bad(event, _DEEP, "Check the brackets.")
            raise _Stop
        self.stack.append(_Open({} if is_group else [], self.path(), event.start_mark))

    def expects_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].value, dict) and self.stack[-1].key is None

    def path(self) -> Path:
        """Of the value that comes next."""
        if not self.stack:
            return ()
        above = self.stack[-1]
        return (*above.path, len(above.value) if above.key is None else above.key)

    def put(self, value: object) -> None:
        if not self.stack:
            self.data = value
            return
        above = self.stack[-1]
        if isinstance(above.value, list):
            above.value.append(value)
        elif above.key is not None:
            above.value[above.key] = value
            above.key = None

    def resolve(self, event: Any) -> object:
        """A quoted or block text as it is; a plain one may be nothing, a truth value or a number."""
        text: str = event.value
        if not event.implicit[0] or event.style in ("'", '"', "|", ">"):
            if event.style == '"' and _UNPRINTABLE.search(text):
                self.bad(event, "an escape in this text stands for a character that cannot be printed", "Take it out.")
            return text
        self.no_swallowed_list(event)
        if text in ("", "~", "null"):
            return None
        if text in ("true", "false"):
            return text == "true"
        if not _FLOAT.fullmatch(text):
            return text
        number = 0.0 if len(text) > LONGEST_NUMBER else float(text)
        if len(text) > LONGEST_NUMBER or not math.isfinite(number):
            self.bad(event, "this number is too long", "Check it, or put it between quotes if it is a name.")
            return None
        return int(text) if _INT.fullmatch(text) else number

    def no_swallowed_list(self, event: Any) -> None:
        """YAML reads `- item` on the line below a value as more of that value, which nobody means."""
        for number in range(event.start_mark.line + 2, event.end_mark.line + 2):
            text = _line(self.lines, number)
            if text.lstrip().startswith("- "):
                column = text.index("-") + 1
                what = "this list item is read as part of the text above it"
                fix = "Take out the text after the colon above, or put it between quotes."
                self.problems.append(Problem(self.name, number, column, what, fix, 1, text))
                raise _Stop

    def plain_only(self, event: Any) -> None:
        if event.anchor is not None:
            self.anchor(event, "Take out the word that begins with `&`.")
        if event.tag is not None:
            self.bad(
                event,
                "tags are not used in these files",
                "Take out the word that begins with `!`.",
            )

    def anchor(self, event: Any, fix: str) -> None:
        """Told once in a file, however many there are: whoever writes one writes many."""
        self.anchors += 1
        if self.anchors == 1:
            self.bad(event, "anchors are not used in these files", fix)
        elif self.anchors == 2:
            at = next(i for i, problem in enumerate(self.problems) if problem.what.startswith("anchors"))
            fix = "Take out every word that begins with `&`, and write the value out in place of each `*`."
            self.problems[at] = replace(self.problems[at], fix=fix)
        elif self.anchors == MOST_PROBLEMS:
            raise _Stop

    def mark(self, start: Any, end: Any) -> Mark:
        """What lies on more than one line is marked to the end of its first."""
        if start.line == end.line:
            width = end.column - start.column
        else:
            width = len(_line(self.lines, start.line + 1).rstrip()) - start.column
        return Mark(start.line + 1, start.column + 1, max(1, width))

    def bad(self, event: Any, what: str, fix: str) -> None:
        mark = self.mark(event.start_mark, event.end_mark)
        text = _line(self.lines, mark.line)
        self.problems.append(Problem(self.name, mark.line, mark.column, what, fix, mark.width, text))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _Stop

    def syntax(self, error: "yaml.MarkedYAMLError") -> None:
        message = f"{error.context or ''}: {error.problem or ''}"
        # Then what is shown is where it was opened, or the line that has no colon, and not where the parser gave up.
        begun = ("quoted scalar" in message and "end of stream" in message) or "find expected ':'" in message
        mark = (error.context_mark if begun else None) or error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        # An error found at the end of the text is shown on the last line there is.
        if line > len(self.lines):
            line = len(self.lines)
            column = len(_line(self.lines, line)) + 1
        text = _line(self.lines, line)
        what, fix = next((what, fix) for part, what, fix in _SYNTAX if part in message)
        if "\t" in text[: len(text) - len(text.lstrip())]:
            what, fix = "a tab stands before the first word", "Indent with spaces."
            column = text.index("\t") + 1
        elif "cannot start any token" in message:
            what, fix = f"a value cannot begin with {text[column - 1 : column]}", "Put the value between quotes."
        elif fix is _ALIGN and text[: column - 1].strip():
            what = "something stands after the end of the value"
            fix = "Put the whole text between quotes; a quote inside single quotes is written twice."
        if "between quotes" in fix and re.search("[\u201c\u201d\u201e]", text):
            fix = 'The quotes here are curly ones, which do not count; type straight ones: "...".'
        width = len(text.rstrip()) - column + 1 if "find expected ':'" in message else 1
        self.problems.append(Problem(self.name, line, column, what, fix, max(1, width), text))


_LIST = ("a list that begins with `[` goes wrong here", "Write `[one, two]`, and close it with `]`.")
_GROUP = (
    "a group that begins with `{` goes wrong here",
    "Write `{name: value}`, or put a text that begins with `{` between quotes.",
)
_DEEP = f"lists and groups are nested deeper than {DEEPEST}"
_ALIGN = "Indent what belongs together by the same number of spaces."
# Part of what the parser says -> what it means to the writer of the file, and how to mend it. First match wins.
_SYNTAX: tuple[tuple[str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "this colon cannot stand here",
        "Put a text with a colon in it between quotes, or indent this line like the ones above it.",
    ),
    (
        "find expected ':'",
        "this is not a name followed by a colon",
        "Write `name: value`, with a space after the colon.",
    ),
    (
        "escape",
        "this `\\` does not stand before a letter that it can change",
        "Use single quotes around a text with `\\` in it.",
    ),
    (
        "quoted scalar",
        "a quotation mark is opened and not closed",
        "Close it; a quote inside single quotes is written twice.",
    ),
    ("nesting", _DEEP, "Check the brackets."),  # libyaml looks ahead over brackets, and gives up before we count
    ("flow sequence", *_LIST),
    ("flow mapping", *_GROUP),
    ("flow node", "something between brackets goes wrong here", "Write `[one, two]` or `{name: value}`, and close it."),
    ("sequence entries are not allowed", "a list item cannot begin here", "Begin it on a line of its own."),
    ("block collection", "this line does not line up with the list above it", _ALIGN),
    ("block mapping", "this line does not line up with those above it", _ALIGN),
    ("tag", "tags are not used in these files", "Put a text that begins with `!` between quotes."),
    ("anchor", "anchors are not used in these files", "Put a text that begins with `&` between quotes."),
    ("alias", "anchors are not used in these files", "Put a text that begins with `*` between quotes."),
    ("directive", "lines that begin with `%` are not used in these files", "Take this line out."),
    ("block scalar", "a text after `|` or `>` begins wrongly here", "Begin it on the next line, indented by spaces."),
    ("document start", "something stands here after the end of what came before", "Check brackets and indentation."),
    ("", "this is not valid YAML", "Check the indentation, the colons and the quotes here and just above."),
)


# --- files and texts ---


def _unreadable(error: OSError | ValueError) -> tuple[str, str]:
    if isinstance(error, FileNotFoundError):
        return "there is no such file", "Check the name and the folder."
    if isinstance(error, IsADirectoryError):
        return "this is a folder", "Give the name of a file in it."
    if isinstance(error, PermissionError):
        return "you may not read this file", "Ask for the right to read it, or copy it."
    if getattr(error, "errno", None) == errno.ELOOP:
        return "this is a link that leads back to itself", "Give the name of the file itself."
    reason = getattr(error, "strerror", None) or "the name cannot be used"
    return f"the file cannot be read ({reason.lower()})", "Check the name and the folder."


def _decoded(content: bytes, name: str) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputProblems([Problem(name, 0, 0, "the file is saved as UTF-16", "Save it as UTF-8.")])
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8").removeprefix("\ufeff")
        lines = (before + "?").splitlines()
        what = f"byte {error.start + 1} of the file is not UTF-8"
        problem = Problem(name, len(lines), len(lines[-1]), what, "Save the file as UTF-8.", 1, lines[-1])
        raise InputProblems([problem]) from None


def _unprintable(text: str, position: int, name: str, lines: tuple[str, ...]) -> Problem:
    if text[position] == "\0":
        return Problem(name, 0, 0, "this is not a text file", "Give a YAML file saved as UTF-8.")
    before = (text[:position] + "?").splitlines()
    what = f"a character that cannot be printed stands here (U+{ord(text[position]):04X})"
    # Python, unlike YAML, also breaks lines at some of these characters; the text then ends before the mark.
    line = len(before)
    return Problem(name, line, len(before[-1]), what, "Take it out.", 1, _line(lines, line))


def _line(lines: tuple[str, ...], number: int) -> str:
    return lines[number - 1] if 0 < number <= len(lines) else ""


def _window(text: str, column: int) -> tuple[str, int]:
    """The part of a long line that is shown, and the column of the mark in it."""
    if len(text) <= SHOWN:
        return printable(text, SHOWN), column
    start = max(0, column - SHOWN // 2)
    before, after = "..." if start else "", "..." if start + SHOWN < len(text) else ""
    return f"{before}{printable(text[start : start + SHOWN], SHOWN)}{after}", column - start + len(before)


def printable(text: str, longest: int = 60) -> str:
    """Safe to print on any terminal, one column a character, not longer than a line of words."""
    clean = "".join(sign if sign.isprintable() else " " if sign == "\t" else "?" for sign in text[: longest + 1])
    return clean if len(clean) <= longest else clean[:longest] + "..."


# --- pydantic's errors in plain words ---

_WANTED = {  # pydantic's error type, without `_type` or `_parsing`
    "string": "a text",
    "list": "a list",
    "tuple": "a list",
    "set": "a list",
    "frozen_set": "a list",
    "dict": "a group of fields",
    "mapping": "a group of fields",
    "model": "a group of fields",
    "model_attributes": "a group of fields",
    "dataclass": "a group of fields",
    "int": "a whole number",
    "int_from_float": "a whole number",
    "float": "a number",
    "decimal": "a number",
    "bool": "true or false",
}


_BOUNDS = {  # pydantic's error type -> in words, and the name of the limit in its context
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _at(data: object, path: Path) -> object:
    for part in path:
        data = _step(data, part, None)
    return data


def _step(data: object, part: str | int, otherwise: object) -> object:
    """One level down, if there is one."""
    if isinstance(data, Mapping) and part in data:
        return data[part]
    if isinstance(data, list | tuple) and isinstance(part, int) and 0 <= part < len(data):
        return data[part]
    return otherwise


def _data_path(data: object, error: Any) -> tuple[Path, bool]:
    """pydantic's location without its own inventions (union members, validators), and whether the name is meant."""
    location: Path = error["loc"]
    key = error["type"] == "extra_forbidden"
    if location and location[-1] == "[key]":
        location, key = location[:-1], True
    nowhere = object()
    path: list[str | int] = []
    for part in location:
        below = _step(data, part, nowhere)
        if below is not nowhere:
            path.append(part)
            data = below
    if error["type"] == "missing":
        path.append(location[-1])
    return tuple(path), key


def _in_words(
    path: Path, errors: list[Any], known: Callable[[Path], Iterable[str]] | None
) -> Iterator[tuple[str, str]]:
    """Errors at one place, as (what, fix). The members of a union each complain; they are told as one."""
    name = f"`{printable(str(path[-1]))}`" if path and isinstance(path[-1], str) else "this"
    if path and isinstance(path[-1], int):
        name = f"item {path[-1] + 1} of the list"
    types = [error for error in errors if _wanted(error)]
    others = [error for error in errors if not _wanted(error)]
    if not others:
        wanted = list(dict.fromkeys(_wanted(error) for error in types))
        written = types[0]["input"]
        if not path:
            yield _whole(written, known)
        else:
            yield f"{name} must be {' or '.join(wanted)}, not {_a_thing(written)}", _how_to_write(wanted, written)
    for error in others:
        yield _one_in_words(name, path, error, known)


def _whole(written: object, known: Callable[[Path], Iterable[str]] | None) -> tuple[str, str]:
    """A file that is no group of fields at all."""
    first = next(iter(known(())), "name") if known else "name"
    fix = f"It begins with `{first}:`."
    if written is None:
        return "there is nothing in this file", fix
    return f"the file must be a group of fields, not {_a_thing(written)}", fix


def _how_to_write(wanted: list[str], written: object) -> str:
    """One sentence: how what is expected looks, seen from what is there."""
    if written is None and wanted != ["a group of fields"]:
        below = wanted == ["a list"]
        return "Write its entries below, each beginning with `- `." if below else "Write it after the colon."
    if {"a number", "a list"} <= set(wanted):
        return "Write a number alone, as `2`, or a list, as `[5 F, 20 F]`."
    if "a text" in wanted:
        if isinstance(written, list) and written and isinstance(written[0], str):
            return f"Write one alone: `{_bare(written[0])}`."
        if isinstance(written, Mapping | list):
            return "Put a text with a colon, a comma or a bracket in it between quotes."
        return f'Put it between quotes: "{_bare(written)}".'
    if "a list" in wanted:
        one = isinstance(written, str | int | float)
        return f"Write `[{_bare(written)}]`." if one else "Begin each of its entries with `- `."
    if "a group of fields" in wanted:
        return "Write `name: value`, each on a line of its own, or `{name: value, name: value}`."
    if "true or false" in wanted:
        return "Write `true` or `false`."
    whole = "a whole number" in wanted
    if isinstance(written, str) and re.fullmatch(r"[-+]?[0-9]+,[0-9]+", written) and not whole:
        return f"Write a decimal point: `{written.replace(',', '.')}`."
    return f"Write the number alone, for example `{2 if whole else 1.5}`."


def _bare(value: object) -> str:
    try:
        return str(value).lower() if isinstance(value, bool) else printable(str(value), 30)
    except ValueError:  # Python refuses to print very long whole numbers
        return "a very long one"


def _wanted(error: Any) -> str:
    kind: str = error["type"]
    return (
        _WANTED.get(kind.removesuffix("_type").removesuffix("_parsing"), "")
        if kind != "int_from_float"
        else _WANTED[kind]
    )


def _one_in_words(name: str, path: Path, error: Any, known: Callable[[Path], Iterable[str]] | None) -> tuple[str, str]:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return f"{name} is missing", "Add it to this entry."
    if kind == "extra_forbidden":
        allowed = sorted(known(path[:-1])) if known else []
        near = did_you_mean(str(path[-1]), allowed) if path else ""
        listed = f"Known here: {', '.join(allowed)}." if allowed else "Take it out."
        if error["input"] is None and not near:  # `{why: hot, humid air}`: the comma begins a new name
            listed = f"Put a text with a comma in it between quotes. {listed}"
        return f"{name} is not a field here", near or listed
    if kind in ("literal_error", "enum"):
        allowed = re.findall(r"'([^']*)'", context.get("expected", ""))
        written = error["input"]
        if not isinstance(written, str):
            return f"{name} must be one of its words, not {_a_thing(written)}", f"Write one of: {', '.join(allowed)}."
        near = did_you_mean(written, allowed)
        return f"`{printable(written)}` is not known for {name}", near or f"Write one of: {', '.join(allowed)}."
    cause = context.get("error")
    if isinstance(cause, Exception):
        return str(getattr(cause, "what", cause)), str(getattr(cause, "fix", ""))
    if kind in ("too_short", "string_too_short"):
        return f"{name} is empty", "Write something, or leave it out if it is not needed."
    if kind in _BOUNDS:
        words, limit = _BOUNDS[kind]
        return f"{name} must be {words} {context[limit]:g}, not {_bare(error['input'])}", "Check the number."
    if kind == "string_pattern_mismatch":
        date = "d{4}" in context.get("pattern", "")
        return f"`{printable(str(error['input']))}` is not {'a date' if date else 'a name'}", (
            "Year-month-day, for example `2026-03-31`." if date else "Small letters, digits and hyphens."
        )
    message = re.sub(r"^(?:Input|String|List|Dictionary|Tuple|Set|Value) ", "", error["msg"])
    return f"{name} {message}", "Check how the entries beside it are written."


def _a_thing(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {_bare(value)}"
    if isinstance(value, str):
        return f"`{printable(value, 30)}`"
    if isinstance(value, Mapping):
        return "a group of fields"
    return "a list" if isinstance(value, list | tuple) else "something else"
