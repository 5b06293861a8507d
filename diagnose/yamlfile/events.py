"""YAML text into plain values, each with its place; what is not of the plain subset is told and not guessed.

The only importer of yaml.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from diagnose.yamlfile import slips
from diagnose.yamlfile.content import LARGEST_FILE, content_of, decoded, name_of
from diagnose.yamlfile.problems import Document, InputProblems, Mark, Path, Problem, line_of, printable, refusal

if TYPE_CHECKING:
    import yaml

MOST_VALUES = 20_000  # names and values; the longest file of the shipped book has two thousand
DEEPEST = 40  # lists and groups inside one another
MOST_PROBLEMS = 50  # in one file; further ones are consequences of the first, or nobody reads them
SPLIT = "Split it, or check that this is the right file."
LONGEST_NUMBER = 40  # characters

# None: libyaml where it is there, which is ten times quicker and gives the same marks.
LOADER: Any = None

_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
# What YAML forbids in a text, and the byte order mark inside one.
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufeff\ufffe\uffff]")


def read(path: FilePath | str) -> Document:
    """Read a file, or standard input for "-". Raises InputProblems."""
    return parse(content_of(path), name_of(path))


def parse(text: str | bytes, name: str) -> Document:
    """Read YAML text; `name` stands in front of every message. Raises InputProblems."""
    if len(text) > LARGEST_FILE:
        fix = SPLIT
        raise refusal(f"the file is larger than {LARGEST_FILE // 1_000_000} MB", fix, name)
    if isinstance(text, bytes):
        text = decoded(text, name)
    text = text.removeprefix("\ufeff")
    spaced = slips.SPACED.search(text) is not None
    text = slips.laid_out(text) if spaced else text
    lines = tuple(text.splitlines())
    if found := UNPRINTABLE.search(text):
        raise InputProblems([_unprintable(text, found.start(), name, lines)])
    if merged := slips.merge_marks(text, name, lines):
        raise InputProblems(merged[:MOST_PROBLEMS])
    builder = _Builder(name, lines, spaced)
    builder.run(text)
    if builder.problems:
        raise InputProblems(sorted(builder.problems, key=lambda problem: (problem.line, problem.column)))
    return Document(name, builder.data, lines, builder.marks, builder.keys)


def is_text(plain: str) -> bool:
    """Whether this is read as a text where it stands without quotes (as far as numbers, truth values and nothing go)."""
    figure = slips.MINUS.sub("-", plain, count=1)
    taken_for_another = slips.SPACED.search(plain) or slips.bad_dash(plain)
    return plain not in ("", "~", "null", "true", "false") and not _FLOAT.fullmatch(figure) and not taken_for_another


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

    def __init__(self, name: str, lines: tuple[str, ...], spaced: bool) -> None:
        self.name = name
        self.lines = lines
        self.data: object = None
        self.marks: dict[Path, Mark] = {}
        self.keys: dict[Path, Mark] = {}
        self.problems: list[Problem] = []
        self.stack: list[_Open] = []
        self.documents = 0
        self.anchors = 0
        self.anchor_at = 0  # where the problem that tells of them stands
        self.values = 0
        self.commented = False  # whether ` #2` stands anywhere
        self.spaced = spaced  # whether a no-break space does

    def run(self, text: str) -> None:
        global yaml
        import yaml  # only here: a compiled rule book is loaded without

        self.commented = slips.COMMENT.search(text) is not None
        loader = LOADER or getattr(yaml, "CSafeLoader", yaml.SafeLoader)
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
                fix = "Take out the `---`, or put what follows it in a file of its own."
                self.bad(event, "a second document begins here", fix)
                raise _Stop

    def scalar(self, event: Any) -> None:
        self.values += 1
        if self.values > MOST_VALUES:
            what = f"the file holds more than {MOST_VALUES:,} names and values"
            self.problems = [Problem(self.name, 0, 0, what, SPLIT)]
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
        elif value[:1] in slips.DASHES and event.implicit[0] and (told := slips.bad_dash(value)):
            self.bad(event, *told)
        if value in group.lines:
            what = f"`{printable(value)}` is written twice here, first in line {group.lines[value]}"
            begins = len(self.stack) > 1 and isinstance(self.stack[-2].value, list) and value == next(iter(group.lines))
            elsewhere = ", or put the second in a file of its own" if len(self.stack) == 1 else ""
            more = " Or, if a new entry of the list begins here, put `- ` before it." if begins else ""
            self.bad(event, what, f"Keep one of them{elsewhere}.{more}")
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
            if event.style == '"' and UNPRINTABLE.search(text):
                self.bad(event, "an escape in this text stands for a character that cannot be printed", "Take it out.")
            return text
        self.no_swallowed_list(event)
        if self.spaced:
            text = text.translate(slips.SPACES).strip()
        if text in ("", "~", "null"):
            return None
        if text in ("true", "false"):
            return text == "true"
        dashed = text[0] in slips.DASHES
        figure = slips.MINUS.sub("-", text) if dashed else text
        if not _FLOAT.fullmatch(figure):
            if self.commented or dashed:
                self.no_slip_in_text(event)
            return text
        text = figure
        number = 0.0 if len(text) > LONGEST_NUMBER else float(text)
        if len(text) > LONGEST_NUMBER or not math.isfinite(number):
            self.bad(event, "this number is too long", "Check it, or put it between quotes if it is a name.")
            return None
        return int(text) if _INT.fullmatch(text) else number

    def no_swallowed_list(self, event: Any) -> None:
        """YAML reads `- item` on the line below a value as more of that value, which nobody means."""
        for number in range(event.start_mark.line + 2, event.end_mark.line + 2):
            text = line_of(self.lines, number)
            if text.lstrip().startswith("- "):
                column = text.index("-") + 1
                what = "this list item is read as part of the text above it"
                fix = "Take out the text after the colon above, or put it between quotes."
                self.problems.append(Problem(self.name, number, column, what, fix, 1, text))
                raise _Stop

    def no_slip_in_text(self, event: Any) -> None:
        """YAML ends a text at ` #`, and takes a bullet for a part of it."""
        end = event.end_mark
        line = line_of(self.lines, end.line + 1)
        in_text = self.commented and not self.expects_key()
        if in_text and (at := slips.comment_in_text(line, end.column)) is not None:
            what = (
                f"the rest of this line, from `{printable(line[at : at + 20])}` on, is not read: `#` begins a comment"
            )
            fix = "Put the whole text between quotes. A comment of your own has a space after the `#`."
            self.problems.append(Problem(self.name, end.line + 1, at + 1, what, fix, len(line) - at, line))
        start = event.start_mark
        begins = not line_of(self.lines, start.line + 1)[: start.column].strip()
        if begins and not self.expects_key() and (told := slips.bad_dash(event.value)):
            self.bad(event, *told)

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
            self.anchor_at = len(self.problems)
            self.bad(event, "anchors are not used in these files", fix)
        elif self.anchors == 2:
            fix = "Take out every word that begins with `&`, and write the value out in place of each `*`."
            self.problems[self.anchor_at] = self.problems[self.anchor_at]._replace(fix=fix)
        elif self.anchors == MOST_PROBLEMS:
            raise _Stop

    def mark(self, start: Any, end: Any) -> Mark:
        """What lies on more than one line is marked to the end of its first."""
        if start.line == end.line:
            width = end.column - start.column
        else:
            width = len(line_of(self.lines, start.line + 1).rstrip()) - start.column
        return Mark(start.line + 1, start.column + 1, max(1, width))

    def bad(self, event: Any, what: str, fix: str) -> None:
        mark = self.mark(event.start_mark, event.end_mark)
        text = line_of(self.lines, mark.line)
        self.problems.append(Problem(self.name, mark.line, mark.column, what, fix, mark.width, text))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _Stop

    def syntax(self, error: yaml.MarkedYAMLError) -> None:
        message = f"{error.context or ''}: {error.problem or ''}"
        # Then what is shown is where it was opened, or the line that has no colon, and not where the parser gave up.
        begun = ("quoted scalar" in message and "end of stream" in message) or "find expected ':'" in message
        first, last = error.context_mark, error.problem_mark
        left_open = (
            error.context in (_IN_LIST, _IN_GROUP) and first is not None and last is not None and last.line > first.line
        )
        mark = (first if begun or left_open else None) or last or first
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        # An error found at the end of the text is shown on the last line there is.
        if line > len(self.lines):
            line = len(self.lines)
            column = len(line_of(self.lines, line)) + 1
        text = line_of(self.lines, line)
        what, fix = next((what, fix) for part, what, fix in _SYNTAX if part in message)
        if "\t" in text[: len(text) - len(text.lstrip())]:
            what, fix = "a tab stands before the first word", "Indent with spaces."
            column = text.index("\t") + 1
        elif "cannot start any token" in message:
            what, fix = f"a value cannot begin with {text[column - 1 : column]}", "Put the value between quotes."
        elif fix.startswith(_ALIGN) and text[: column - 1].strip():
            what = "something stands after the end of the value"
            fix = "Put the whole text between quotes; a quote inside single quotes is written twice."
        elif left_open:
            sign, other = ("[", "]") if error.context == _IN_LIST else ("{", "}")
            what, fix = f"this `{sign}` is not closed", f"Write `{other}` where the {_CALLED[sign]} ends."
        if "between quotes" in fix and slips.curly(text):
            fix = slips.CURLY
        what, fix = slips.in_line(text) or (what, fix)
        width = len(text.rstrip()) - column + 1 if "find expected ':'" in message else 1
        told = Problem(self.name, line, column, what, fix, max(1, width), text)
        told = slips.behind(self.lines, line, self.name) or told
        if not any((each.line, each.what) == (told.line, told.what) for each in self.problems):
            self.problems.append(told)


_IN_LIST, _IN_GROUP = "while parsing a flow sequence", "while parsing a flow mapping"
_CALLED = {"[": "list", "{": "group"}
_LIST = ("a list that begins with `[` goes wrong here", "Write `[one, two]`, and close it with `]`.")
_GROUP = (
    "a group that begins with `{` goes wrong here",
    "Write `{name: value}`, or put a text that begins with `{` between quotes.",
)
_DEEP = f"lists and groups are nested deeper than {DEEPEST}"
_EMPTY = "Leave the value empty where nothing was measured."
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
    ("sequence entries are not allowed", "a list item cannot begin here", f"Begin it on a line of its own. {_EMPTY}"),
    ("mapping keys are not allowed", "a `?` cannot stand alone", _EMPTY),
    (
        "block collection",
        "this line does not line up with the list above it",
        f"{_ALIGN} A new entry of the list begins with `- `.",
    ),
    ("block mapping", "this line does not line up with those above it", _ALIGN),
    ("tag", "tags are not used in these files", "Put a text that begins with `!` between quotes."),
    ("anchor", "anchors are not used in these files", "Put a text that begins with `&` between quotes."),
    ("alias", "anchors are not used in these files", "Put a text that begins with `*` between quotes."),
    ("directive", "lines that begin with `%` are not used in these files", "Take this line out."),
    (
        "block scalar",
        "a text after `|` or `>` begins wrongly here",
        "Write a figure without the mark; begin a text on the next line.",
    ),
    ("document start", "something stands here after the end of what came before", "Check brackets and indentation."),
    ("", "this is not valid YAML", "Check the indentation, the colons and the quotes here and just above."),
)


def _unprintable(text: str, position: int, name: str, lines: tuple[str, ...]) -> Problem:
    if text[position] == "\0":
        return Problem(name, 0, 0, "this is not a text file", "Give a YAML file saved as UTF-8.")
    before = (text[:position] + "?").splitlines()
    what = f"a character that cannot be printed stands here (U+{ord(text[position]):04X})"
    # Python, unlike YAML, also breaks lines at some of these characters; the text then ends before the mark.
    line = len(before)
    return Problem(name, line, len(before[-1]), what, "Take it out.", 1, line_of(lines, line))


# -- writing ----------------------------------------------------------------------------------------------------------


def written(data: Mapping[str, Any]) -> str:
    """The mapping as YAML, its keys in their order, one line a value."""
    import yaml

    return str(yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True, width=1000))


def library() -> Iterator[tuple[str, bytes]]:
    """Name and content of each Python file of PyYAML; without its compiled part it works the same, slower."""
    import yaml

    for path in FilePath(yaml.__file__).parent.glob("*.py"):
        yield f"yaml/{path.name}", path.read_bytes()
