"""What is to be examined: a table, a folder of tables, a partitioned data set or visit files, as a list of chunks."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from diagnose import yamlfile
from diagnose.batch import arrow, output, parquet
from diagnose.batch.answers import Asked, answer_columns, is_number
from diagnose.batch.chunk import Chunk, ChunkSource, Setup
from diagnose.batch.csvfile import PIECE, head_of, pieces
from diagnose.batch.headers import IDENTITY, MOST_COLUMNS, Layout, is_bare, layout_of
from diagnose.batch.work import FILE
from diagnose.rulebook import Rulebook, digest_of
from diagnose.shipped import VERSION
from diagnose.yamlfile import CSV_ENDINGS, InputProblems, Problem, printable, refusal
from diagnose.yamlfile.files import YAML_ENDINGS

PARQUET_ENDINGS = (".parquet", ".pq")
VISITS = 50
"""Visit files that are examined at once."""
_ENDS = "It ends in .parquet, .csv, .tsv or, for visit files, in .yaml."

FileStamp = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Input:
    """One file of the input. headers, first: of its columns, and the first cell of each that holds anything. stamp: its size
    and the time of its last change, by which it is known again. groups: rows of each row group.
    """

    source: ChunkSource
    headers: tuple[str, ...]
    types: tuple[object, ...]
    first: Mapping[int, object]
    stamp: FileStamp
    begin: int = 0
    groups: tuple[int, ...] = ()
    files: tuple[tuple[str, str], ...] = ()

    @property
    def weight(self) -> int:
        """Of all its chunks: bytes of a CSV, rows of a Parquet file, visit files."""
        return len(self.files) or sum(self.groups) or max(self.stamp[0] - self.begin, 0)


@dataclass(frozen=True, slots=True)
class Plan:
    """All that is to be done. unreadable: files of a folder that are no tables; ignored: how many files of other kinds."""

    setup: Setup
    inputs: tuple[Input, ...]
    unreadable: tuple[Problem, ...]
    ignored: int
    mark: str

    @property
    def weight(self) -> int:
        """Of all chunks."""
        return sum(each.weight for each in self.inputs)

    @property
    def of_use(self) -> bool:
        """Whether anything of it is understood."""
        return any(each.files or self.setup.layouts[each.source.layout].columns for each in self.inputs)

    @property
    def unmet(self) -> tuple[str, ...]:
        """Headers that the file of headers knows, and no table."""
        layouts = self.setup.layouts
        return tuple(name for name in layouts[0].unmet if all(name in each.unmet for each in layouts))

    def chunks(self) -> Iterator[Chunk]:
        """In their order. Raises OSError where a file has gone."""
        number = 0
        for each in self.inputs:
            for chunk in _chunks(each):
                yield replace(chunk, number=number)
                number += 1


def plan_of(
    place: str, book: Rulebook, asked: Asked, form: output.Form, renamed: Mapping[str, str] | None = None
) -> Plan:
    """Looks at every file's head. renamed: header -> name used here. Raises InputProblems where nothing can be examined."""
    named, ignored = _files(place)
    inputs: list[Input] = []
    problems: list[Problem] = []
    for address, below, stamp in named:
        try:
            inputs.append(_input(address, below, place, stamp))
        except InputProblems as error:
            problems += error.problems
    inputs = _visits_together(inputs)
    if not inputs:
        raise InputProblems(problems)
    names = answer_columns(book, asked)
    layouts: list[Layout] = []
    known: dict[object, int] = {}
    placed = []
    for each in inputs:
        bare = tuple(sorted(place for place, cell in each.first.items() if is_bare(cell)))
        key = (each.source.kind == "visits", each.headers, bare)
        if key not in known:
            known[key] = len(layouts)
            layouts.append(_layout(each, book, names, renamed))
        placed.append(replace(each, source=replace(each.source, layout=known[key])))
    passed = _passed(placed, layouts, form)
    schema = output.schema_of(IDENTITY, passed, [(name, is_number(name)) for name in names])
    setup = Setup(book, tuple(layouts), tuple(name for name, _ in passed), schema, asked, form)
    return Plan(setup, tuple(placed), tuple(problems), ignored, _mark(placed, setup))


def _layout(each: Input, book: Rulebook, names: Sequence[str], renamed: Mapping[str, str] | None) -> Layout:
    if each.source.kind == "visits":
        return Layout((), ((0, FILE),))
    return layout_of(each.headers, book, names, renamed, each.first)


def _passed(inputs: Sequence[Input], layouts: Sequence[Layout], form: output.Form) -> list[tuple[str, object]]:
    """Every column that is passed on from any file, with its type."""
    kinds: dict[str, list[object]] = {}
    for each in inputs:
        for place, name in layouts[each.source.layout].passed:
            kinds.setdefault(name, []).append(each.types[place])
    return [(name, output.one_type(found, form)) for name, found in kinds.items()]


def _mark(inputs: Sequence[Input], setup: Setup) -> str:
    """By which a run that was ended knows that it is the same still."""
    told = [
        VERSION, [(each.source.place, each.stamp, each.files) for each in inputs], PIECE, arrow.SLICE, VISITS,
        digest_of(setup.book), setup.form, setup.asked.units, setup.asked.shares, str(setup.schema),
        [[(one.place, one.part, one.name, one.unit) for one in layout.columns] for layout in setup.layouts],
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()


# -- files -------------------------------------------------------------------------------------------------------------


def _files(place: str) -> tuple[list[tuple[str, str, FileStamp]], int]:
    """(address, path below the place, stamp) of each file, in order, and how many others lie there. Raises InputProblems."""
    if parquet.is_url(place):
        listed = parquet.files_under(place)
        found = [each for each in listed if _known(each[0].partition("?")[0], PARQUET_ENDINGS) and not _hidden(each[1])]
        if not found:
            raise refusal("no Parquet file lies here", "From an object store Parquet files are read.", place)
        return [(address, below, stamp) for address, below, stamp in found], len(listed) - len(found)
    path = Path(place)
    if not path.exists():
        raise refusal("there is no such file or folder", "Check the name.", place)
    if path.is_file():
        return [(place, path.name, _stamp(path))], 0
    if not path.is_dir():
        fix = "A table is read more than once: save it as a file first."
        raise refusal("this is a pipe or a device, no file", fix, place)
    every = [each for each in sorted(path.rglob("*")) if each.is_file() and not _hidden(str(each.relative_to(path)))]
    known = (*PARQUET_ENDINGS, *CSV_ENDINGS, *YAML_ENDINGS)
    kept = [(str(each), each.relative_to(path).as_posix(), _stamp(each)) for each in every if _known(each.name, known)]
    if not kept:
        raise refusal("no table and no visit file lies in this folder", _ENDS, place)
    return kept, len(every) - len(kept)


def _stamp(path: Path) -> FileStamp:
    found = path.stat()
    return found.st_size, found.st_mtime_ns


def _hidden(below: str) -> bool:
    """What other programs leave beside the tables of a data set."""
    return any(step.startswith((".", "_")) for step in below.split("/"))


def _known(name: str, endings: Sequence[str]) -> bool:
    return name.lower().endswith(tuple(endings))


def _input(address: str, below: str, place: str, stamp: FileStamp) -> Input:
    """The head of one file. Raises InputProblems."""
    path = Path(address)
    if _known(address, YAML_ENDINGS):
        source = ChunkSource("visits", place, place, 0)
        return Input(source, (FILE,), (arrow.TEXT,), {}, stamp, files=((address, below),))
    keys = parquet.partition_of(below)
    if parquet.is_url(address) or _known(address, PARQUET_ENDINGS) or parquet.is_parquet(path):
        head = parquet.parquet_head(address)
        headers, constants = _with_keys(head.headers, keys)
        source = ChunkSource("parquet", address, address, 0, count=len(head.headers), constants=constants)
        kinds = (*head.types, *[arrow.TEXT] * len(constants))
        found = Input(source, headers, kinds, head.first, stamp, groups=head.groups)
    else:
        csv = head_of(path)
        headers, constants = _with_keys(csv.headers, keys)
        source = ChunkSource("csv", address, address, 0, csv.separator, len(csv.headers), csv.row, constants)
        found = Input(source, headers, (arrow.TEXT,) * len(headers), csv.first, stamp, csv.begin)
    if len(headers) > MOST_COLUMNS:
        what = f"this table has {len(headers):,} columns, and {MOST_COLUMNS:,} are the most that are read"
        raise refusal(what, "Keep those that say something about a machine or a visit.", address)
    return found


def _with_keys(
    headers: tuple[str, ...], keys: Sequence[tuple[str, str | None]]
) -> tuple[tuple[str, ...], tuple[str | None, ...]]:
    """The columns of a file, and after them those that its folders say."""
    more = [(name, value) for name, value in keys if name not in headers]
    return (*headers, *(name for name, _ in more)), tuple(value for _, value in more)


def _visits_together(inputs: Sequence[Input]) -> list[Input]:
    """Visit files are one input."""
    visits = [each for each in inputs if each.source.kind == "visits"]
    others = [each for each in inputs if each.source.kind != "visits"]
    if not visits:
        return others
    named = tuple(pair for each in visits for pair in each.files)
    stamps = tuple(number for each in visits for number in each.stamp)
    return [*others, replace(visits[0], files=named, stamp=stamps)]


def _chunks(each: Input) -> Iterator[Chunk]:
    if each.files:
        for at in range(0, len(each.files), VISITS):
            some = each.files[at : at + VISITS]
            yield Chunk(0, each.source, len(some), files=some)
    elif each.source.kind == "csv":
        with Path(each.source.place).open("rb") as file:
            for piece in pieces(file, each.begin, each.stamp[0], each.source.separator):
                yield Chunk(0, each.source, piece.length, piece=piece)
    else:
        first = 1
        for group, rows in enumerate(each.groups):
            for start in range(0, rows, arrow.SLICE):
                count = min(arrow.SLICE, rows - start)
                yield Chunk(0, each.source, count, group=group, start=start, rows=count, first=first)
                first += count


# -- headers of others -------------------------------------------------------------------------------------------------


def headers_in(path: str) -> dict[str, str]:
    """A file of `header: name used here`; a header with nothing behind it is passed on. Raises InputProblems."""
    document = yamlfile.read(path)
    if not isinstance(document.data, Mapping):
        fix = "Write one line a column: `Saugdruck: suction pressure [bar]`."
        raise InputProblems([document.problem((), "this is no list of headers", fix)])
    problems = []
    found: dict[str, str] = {}
    for header, name in document.data.items():
        if name is None or isinstance(name, str):
            found[str(header).strip()] = (name or "").strip()
        else:
            fix = "Write the name of a line of a visit with its unit in brackets, or nothing."
            problems.append(document.problem((header,), f"`{printable(str(header), 40)}` has no name behind it", fix))
    if problems:
        raise InputProblems(problems)
    return found
