"""The columns of a table: which of them is a line of a visit, in which unit, and which is passed on as it is; and a row as a
visit.

A header is the name of a line as in a visit file, with its unit in brackets: `suction pressure [psig]`, `refrigerant`, `seen:
air filter`, `line set: length [ft]`, `baseline: suction pressure [psig]`; a book may have lines of its own. What else the
trade calls a line is understood as in a visit; where a name can mean two lines it is asked, and the column is left out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from diagnose import units
from diagnose.diagnosis.findings import seen_problems
from diagnose.rulebook import Rulebook
from diagnose.units import UnitError
from diagnose.visit import Visit, VisitError, visit_in
from diagnose.visit.fields import FIELDS, REMARKS, Field, Word
from diagnose.visit.instruments import unit_error
from diagnose.visit.sheet import NOT_TAKEN
from diagnose.visit.trade_words import instead, meant, misspelt, which
from diagnose.yamlfile import Document, Problem, did_you_mean, printable
from diagnose.yamlfile.problems import Mark

HeaderPart = Literal["machine", "readings", "seen", "line set", "instruments", "baseline"]
PARTS: tuple[HeaderPart, ...] = ("machine", "readings", "seen", "line set", "instruments", "baseline")
_SECTIONS: tuple[Literal["machine", "readings", "line set", "instruments"], ...] = (
    "machine", "readings", "line set", "instruments"
)  # fmt: skip
IDENTITY = ("machine", "date", "kind", "refrigerant", "metering")
"""What a row is called by: first in every output, whatever the input has of it."""
DATE = "date"
NAME = "name"
MOST_COLUMNS = 5_000

_HEADER = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<unit>[^\[\]]*)\]|\((?P<round>[^()]*)\))?\s*", re.S)
_PREFIX = re.compile(rf"\s*(?P<part>{'|'.join(PARTS)})\s*:\s*(?P<rest>.+)", re.I | re.S)
_BARE = re.compile(r"[^A-Za-zµμ%°\"'′″]*[0-9][^A-Za-zµμ%°\"'′″]*|[+-]?[0-9.,]+e[+-]?[0-9]+", re.I)
_FIELD: Mapping[tuple[str, str], Field] = {(one.section, one.name): one for one in FIELDS if isinstance(one, Field)}
_NOT_EMPTY = frozenset({"none", "na", "-", "--", "?", "unknown", "not taken", "not measured"})  # where a word is meant


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is a line of a visit. place: from 0. field: None where the line is a word. unit: that of each bare number;
    empty where each cell says its own. word: the name as it is written in the header.
    """

    place: int
    header: str
    part: HeaderPart
    name: str
    field: Field | None
    unit: str = ""
    word: str = ""

    @property
    def called(self) -> str:
        """The header under the names used here."""
        name = "machine" if (self.part, self.name) == ("machine", NAME) else self.name
        prefix = "" if self.part in ("machine", "readings") else f"{self.part}: "
        return f"{prefix}{name} [{self.unit}]" if self.unit else f"{prefix}{name}"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A column that names a line of a visit and cannot be used: what is wrong with it, and how to mend that."""

    place: int
    header: str
    code: str
    what: str
    fix: str


@dataclass(frozen=True, slots=True)
class Layout:
    """What was understood of a table's head. passed: (place, name in the output) of each column that is passed on unchanged,
    those that were left out among them. hints: by place, what a column that was not understood may be meant for.
    """

    columns: tuple[Column, ...]
    passed: tuple[tuple[int, str], ...]
    left_out: tuple[LeftOut, ...] = ()
    date: int | None = None
    hints: Mapping[int, str] | None = None
    unmet: tuple[str, ...] = ()  # headers that only the file of headers knows

    @property
    def codes(self) -> tuple[str, ...]:
        """What is said of every row because of the head."""
        return tuple(dict.fromkeys(each.code for each in self.left_out))

    def place_of(self, name: str) -> int | None:
        """The column of one of IDENTITY."""
        if name == DATE:
            return self.date
        line = NAME if name == "machine" else name
        return next((one.place for one in self.columns if (one.part, one.name) == ("machine", line)), None)


def layout_of(
    headers: Sequence[str],
    book: Rulebook,
    taken: Iterable[str] = (),
    renamed: Mapping[str, str] | None = None,
    first: Mapping[int, object] | None = None,
) -> Layout:
    """What these headers mean.

    taken: names that the output has a use for, so that no column passed on may have them. renamed: header -> the name used
    here, or nothing where the column is to be passed on. first: by place, the first cell that holds anything.
    """
    renamed, first = renamed or {}, first or {}
    columns: list[Column] = []
    left_out: list[LeftOut] = []
    hints: dict[int, str] = {}
    date: int | None = None
    for place, header in enumerate(headers):
        told = renamed.get(header.strip(), header)
        if " ".join(told.lower().split()) == DATE and date is None:
            date = place
            continue
        found = _understood(place, header, told, book, first.get(place))
        if isinstance(found, Column):
            columns.append(found)
        elif isinstance(found, LeftOut):
            left_out.append(found)
        elif told is not header and told:
            what = f"the file of headers calls `{printable(header, 60)}` `{printable(told, 60)}`, which is no line of a visit"
            fix = found or "Write the name of one, with its unit in brackets; or nothing, and the column is passed on."
            left_out.append(LeftOut(place, header, _code(header), what, fix))
        elif found:
            hints[place] = found
    doubled = [line for line, count in Counter((one.part, one.name) for one in columns).items() if count > 1]
    for line in doubled:
        same = [one for one in columns if (one.part, one.name) == line]
        names = " and ".join(f"`{printable(one.header, 60)}` (column {one.place + 1})" for one in same[:3])
        what = f"{names} are one and the same line of a visit, `{line[1]}`"
        left_out += [LeftOut(one.place, one.header, _code(line[1]), what, "Keep one of them.") for one in same]
        columns = [one for one in columns if one not in same]
    used = {one.place for one in columns} | ({date} if date is not None else set())
    return Layout(
        tuple(columns),
        _passed(headers, used, {*IDENTITY, *taken}),
        tuple(sorted(left_out, key=lambda each: each.place)),
        date,
        hints,
        tuple(name for name in renamed if name not in {header.strip() for header in headers}),
    )


def _passed(headers: Sequence[str], used: set[int], taken: set[str]) -> tuple[tuple[int, str], ...]:
    """Each with a name of its own in the output."""
    found: list[tuple[int, str]] = []
    names = set(taken)
    for place, header in enumerate(headers):
        if place in used:
            continue
        plain = header if header.strip() else f"column {place + 1}"
        plain = f"input: {plain}" if plain in taken else plain
        name, count = plain, 1
        while name in names:
            count += 1
            name = f"{plain} ({count})"
        names.add(name)
        found.append((place, name))
    return tuple(found)


def _understood(place: int, header: str, told: str, book: Rulebook, first: object) -> Column | LeftOut | str:
    """The line of a visit; or why it cannot be used; or a hint, often empty, what it may be meant for."""
    if len(told) > 200 or not told.strip():
        return ""
    prefix = _PREFIX.fullmatch(told)
    part = prefix["part"].lower() if prefix else None
    text = prefix["rest"] if prefix else told
    match = _HEADER.fullmatch(text)
    assert match is not None  # the name may be anything
    wrong: LeftOut | None = None
    for name, unit in _readings_of(match, text):
        meanings = _meanings(part, name, book)
        if len(meanings) > 1:
            what = f"`{printable(header, 60)}` can mean {len(meanings)} things"
            wrong = wrong or LeftOut(place, header, _code(name), what, _which(meanings))
        elif meanings:
            found = _column(place, header, *meanings[0], name.strip(), unit, first, book)
            if isinstance(found, Column):
                return found
            wrong = wrong or found
    return wrong or _hint(part, match["name"], book)


def _readings_of(match: re.Match[str], text: str) -> list[tuple[str, str]]:
    """Name and unit; what stands in round brackets may be a unit or a part of the name."""
    if match["unit"] is not None:
        return [(match["name"], match["unit"].strip())]
    whole = (text.strip(), "")
    return [whole] if match["round"] is None else [(match["name"], match["round"].strip()), whole]


def _meanings(part: str | None, name: str, book: Rulebook) -> list[tuple[HeaderPart, str]]:
    plain = " ".join(name.lower().split())
    own = _own(part, plain, book)
    if own is not None:
        return [("baseline" if part == "baseline" else own.section, own.name)]  # type: ignore[list-item]
    if part == "seen":
        return [("seen", one) for one in book.seen if one.lower() == plain]
    if part == "baseline":
        return [("baseline", one) for one in meant("readings", name)]
    for known in _SECTIONS:
        if known == part:
            return [(known, one) for one in meant(known, name) if one != "line set"]
    if plain in ("machine", "machine name"):
        return [("machine", NAME)]
    found: list[tuple[HeaderPart, str]] = []
    for one in _SECTIONS[:2]:
        found += [(one, line) for line in meant(one, name) if line not in (NAME, "line set")]
    return [(one, line) for one, line in found if line.lower() == plain] or found


def _own(part: str | None, plain: str, book: Rulebook) -> Field | Word | None:
    """The line that a company has added under this name."""
    section = "readings" if part == "baseline" else part
    spelled = (plain, " ".join(plain.replace("_", " ").split()))
    return next((one for one in book.own.fields if one.name in spelled and section in (None, one.section)), None)


def _which(meanings: Sequence[tuple[HeaderPart, str]]) -> str:
    parts = {part for part, _ in meanings}
    if len(parts) > 1:
        return f"Write {' or '.join(f'`{part}: {line}`' for part, line in meanings)}."
    section = "readings" if parts == {"baseline"} else meanings[0][0]
    return which(tuple(line for _, line in meanings), section)  # type: ignore[arg-type]


def _column(
    place: int, header: str, part: HeaderPart, name: str, word: str, unit: str, first: object, book: Rulebook
) -> Column | LeftOut:
    """The column, its unit looked at."""
    own = _own(part, name, book)
    field = None if part == "seen" else _FIELD.get(("readings" if part == "baseline" else part, name))
    if own is not None:
        field, word = own if isinstance(own, Field) else None, name
    shown = printable(header, 60)
    if field is None:
        if unit:
            what = f"`{shown}`: a word has no unit, and `{printable(unit, 20)}` stands in brackets"
            return LeftOut(place, header, _code(name), what, f"Name the column `{name}`.")
        return Column(place, header, part, name, None, "", name if part == "seen" or name == NAME else word)
    if unit:
        problem = _wrong_unit(part, field, unit)
        if problem:
            return LeftOut(place, header, _code(name), f"`{shown}`: {problem.what}", problem.fix)
    elif first is not None and field.kind not in ("number", "time") and is_bare(first):
        example = field.examples[0].rpartition(" ")[2]
        what = f"`{shown}` says no unit, and its cells (`{printable(str(first), 20)}`) do not either"
        return LeftOut(place, header, _code(name), what, f"Write the unit in brackets: `{name} [{example}]`.")
    return Column(place, header, part, name, field, unit, word)


def _wrong_unit(part: HeaderPart, field: Field, unit: str) -> UnitError | None:
    """What is said where a bare number in this unit cannot be read."""
    if part == "instruments":
        return unit_error(f"1 {unit}", field)
    try:
        units.parse(f"50 {unit}", field.kind, field.examples[0])
    except UnitError as error:
        return error
    return None


def _hint(part: str | None, name: str, book: Rulebook) -> str:
    """What a header may be meant for that is none of ours."""
    plain = " ".join(name.lower().split())
    if part == "seen":
        return did_you_mean(name, book.seen)
    if plain in REMARKS:
        return "Free text: kept, never judged."
    if plain in (one.lower() for one in book.seen):
        return f"Write `seen: {plain}`."
    told = instead(name)
    return (told if "notes" not in told else "") or misspelt(
        name,
        [*(line for section, line in _FIELD if section in ("machine", "readings")), *(o.name for o in book.own.fields)],
    )


def _code(name: str) -> str:
    return f"left-out/{kebab(name)}"


def kebab(name: str) -> str:
    """A name as codes are written: `suction-pressure`."""
    return re.sub(r"[^a-z0-9]+", "-", printable(name, 60).lower()).strip("-") or "column"


# -- cells -------------------------------------------------------------------------------------------------------------


def is_bare(cell: object) -> bool:
    """Whether a cell holds figures without any unit."""
    if isinstance(cell, str):
        return _BARE.fullmatch(cell.strip()) is not None
    return isinstance(cell, (int, float)) and not isinstance(cell, bool)


def value_in(cell: object, column: Column) -> object:
    """A cell as a visit file has it; None where it says nothing."""
    if isinstance(cell, bytes):
        cell = cell.decode("utf-8", "replace")
    if isinstance(cell, Decimal):
        cell = float(cell)
    if cell is None or (isinstance(cell, float) and cell != cell):
        return None
    if isinstance(cell, str):
        text = cell.strip()
        if text.lower() in NOT_TAKEN and (column.field is not None or text.lower() not in _NOT_EMPTY):
            return None
        return f"{text} {column.unit}" if column.unit and is_bare(text) else text
    if isinstance(cell, (bool, int)):
        return f"{cell} {column.unit}" if column.unit and not isinstance(cell, bool) else cell
    if isinstance(cell, float):
        if column.field is None and cell.is_integer():
            return int(cell)
        if not column.unit:
            return cell
        text = repr(cell)
        return f"{text}0 {column.unit}" if re.search(r"\.[0-9]{3}$", text) else f"{text} {column.unit}"  # no thousands
    return cell if column.field is None else str(cell)


# -- a row as a visit -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Unread:
    """A row that is no visit. codes: what is wrong, by cell where one is to blame; problems: the same in sentences, at the row
    and column of the table.
    """

    codes: tuple[str, ...]
    problems: tuple[Problem, ...]


def visit_of(row: Mapping[int, object], layout: Layout, number: int, name: str, book: Rulebook) -> Visit | Unread:
    """The visit in a row. row: its cells by place; number: of the row, from 1; name: of the table."""
    data: dict[str, object] = {}
    for column in layout.columns:
        value = value_in(row[column.place], column)
        if value is not None:
            group: dict[str, object] = data
            for step in _at(column)[:-1]:
                group = group.setdefault(step, {})  # type: ignore[assignment]
            group[column.word] = value
    try:
        visit = visit_in(Document(name, data or {"readings": {}}), own=book.own)
        found: list[Problem] = seen_problems(visit, book)
    except VisitError:
        found = []
    else:
        if not found:
            return visit
    marks: dict[tuple[str | int, ...], Mark] = {
        _at(column): Mark(number, column.place + 1) for column in layout.columns
    }
    placed = Document(name, data, (), marks, marks)
    try:
        found = seen_problems(visit_in(placed, own=book.own), book)
    except VisitError as error:
        found = [*error.problems, *(seen_problems(error.rest, book) if error.rest is not None else [])]
    return unread(found, layout.columns, number)


def _at(column: Column) -> tuple[str, ...]:
    """Where it stands in a visit."""
    return {
        "line set": ("machine", "line set", column.word),
        "baseline": ("baseline", "readings", column.word),
    }.get(column.part, (column.part, column.word))


def unread(found: Sequence[Problem], columns: Sequence[Column] = (), number: int = 0) -> Unread:
    """A row with these problems; those at a cell say which."""
    by_place = {one.place + 1: one for one in columns}
    codes, placed = [], []
    for problem in found:
        column = by_place.get(problem.column)
        codes.append("not-read" if column is None else f"not-read/{kebab(column.called.partition(' [')[0])}")
        placed.append(
            problem._replace(line=problem.line or number, column=max(problem.column, 1) if number else problem.column)
        )
    return Unread(tuple(dict.fromkeys(codes)), tuple(placed))
