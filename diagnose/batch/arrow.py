"""Arrow tables: Parquet read in slices, cells as Python values, the three forms of output. The only importer of pyarrow."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Literal
from urllib.parse import quote, unquote

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.fs as pafs
import pyarrow.parquet as pq

from diagnose.batch.headers import EMPTY
from diagnose.yamlfile import InputProblems, Problem, printable

Form = Literal["parquet", "csv", "jsonl"]
ArrowTable = pa.Table
ArrowSchema = pa.Schema
SLICE = 32_768
"""Rows of a Parquet file, or of a table in memory, that are examined at once: fewer take longer each, more take more memory."""
GROUP = 131_072
"""Rows of a row group that is written, at the least."""
LONGEST_CELL = 1 << 24
"""Bytes of a text that is passed on."""
NO_PARTITION = "__HIVE_DEFAULT_PARTITION__"
_FORMULA = "^[=+\\-@\\t\\r]|^'+[=+\\-@\\t\\r]"
_NUMBER = r"^[+-]?[0-9]*[.,]?[0-9]+(?:[eE][+-]?[0-9]+)?$"
_MAGIC = b"PAR1"


# -- files -------------------------------------------------------------------------------------------------------------


def is_url(place: str) -> bool:
    """Whether this is the address of an object store (`s3://`, `gs://` …) or `file://`, not a path."""
    return "://" in place


def files_under(place: str) -> list[tuple[str, str, tuple[int, int]]]:
    """(address, path below the place, (size, time of the last change)) of each file there. Raises InputProblems."""
    try:
        found, base = pafs.FileSystem.from_uri(place)
        info = found.get_file_info(base)
        if info.type is pafs.FileType.NotFound:
            raise _bad(place, "nothing is found there", "Check the address.")
        listed = [info] if info.is_file else found.get_file_info(pafs.FileSelector(base, recursive=True))
    except (OSError, pa.ArrowException, ValueError) as error:
        raise _bad(
            place, f"this place cannot be read ({_first_line(error)})", "Check the address and your rights."
        ) from None
    root, kind, options = base.rstrip("/"), place.partition("://")[0], "".join(place.partition("?")[1:])
    return sorted(
        (f"{kind}://{quote(each.path)}{options}", each.path.removeprefix(root).lstrip("/"), (each.size, each.mtime_ns))
        for each in listed
        if each.is_file
    )


def _opened(place: str) -> pq.ParquetFile:
    if not is_url(place):
        return pq.ParquetFile(place)
    found, path = pafs.FileSystem.from_uri(place)
    return pq.ParquetFile(path, filesystem=found, pre_buffer=True)


@dataclass(frozen=True, slots=True)
class ParquetHead:
    """What a Parquet file holds. groups: rows of each row group. first: by place, the first cell that holds anything."""

    headers: tuple[str, ...]
    types: tuple[pa.DataType, ...]
    groups: tuple[int, ...]
    first: Mapping[int, object]


def is_parquet(path: Path) -> bool:
    """By its first bytes, whatever its name."""
    try:
        with path.open("rb") as file:
            return file.read(4) == _MAGIC
    except OSError:
        return False


def parquet_head(place: str, look: bool = True) -> ParquetHead:
    """Raises InputProblems where it cannot be read. look: at the first cells too."""
    try:
        with _opened(place) as file:
            schema, data = file.schema_arrow, file.metadata
            groups = tuple(data.row_group(i).num_rows for i in range(data.num_row_groups))
            first = _first_cells(file) if look and sum(groups) else {}
    except (OSError, pa.ArrowException, ValueError) as error:
        what = f"this Parquet file cannot be read ({_first_line(error)})"
        raise _bad(
            place, what, "Write it again; a file that was cut off lacks its end, where its contents are listed."
        ) from None
    return ParquetHead(tuple(schema.names), tuple(schema.types), groups, first)


def _first_cells(file: pq.ParquetFile) -> dict[int, object]:
    try:
        batch = next(file.iter_batches(batch_size=20), None)
    except (OSError, pa.ArrowException, MemoryError):
        return {}  # the rows say so
    found: dict[int, object] = {}
    for place, column in enumerate(batch.columns if batch is not None else ()):
        cell = next((value for value in column.to_pylist() if value not in (None, "")), None)
        if cell is not None:
            found[place] = cell
    return found


def read_slice(place: str, group: int, start: int, count: int) -> tuple[pa.Table, dict[int, str]]:
    """These rows of a row group, and by place why a column could not be read: it is then empty. Raises InputProblems where the
    file cannot even be opened.
    """
    try:
        file = _opened(place)
    except (OSError, pa.ArrowException, ValueError) as error:
        raise _bad(place, f"this Parquet file cannot be read ({_first_line(error)})", "Write it again.") from None
    with file:
        try:
            return _sliced(file, group, start, count, None), {}
        except (OSError, pa.ArrowException, MemoryError):
            pass
        columns, failed = [], {}
        schema = file.schema_arrow
        for index, name in enumerate(schema.names):
            try:
                columns.append(_sliced(file, group, start, count, [name]).column(0))
            except (OSError, pa.ArrowException, MemoryError, IndexError) as error:
                failed[index] = _first_line(error)
                columns.append(pa.chunked_array([pa.nulls(count, schema.field(index).type)]))
        return pa.Table.from_arrays(columns, names=schema.names), failed


def _sliced(file: pq.ParquetFile, group: int, start: int, count: int, columns: list[str] | None) -> pa.Table:
    """A row group is decoded in batches of `count` rows, up to the one that is wanted: `start` is a multiple of it."""
    at, taken = 0, []
    for batch in file.iter_batches(batch_size=SLICE, row_groups=[group], columns=columns):
        low, high = max(start - at, 0), min(start + count - at, batch.num_rows)
        if high > low:
            taken.append(batch.slice(low, high - low))
        at += batch.num_rows
        if at >= start + count:
            break
    return pa.Table.from_batches(taken)


def partition_of(below: str) -> tuple[tuple[str, str | None], ...]:
    """Names and values in the folders of a partitioned data set, `year=2026/region=north/…`."""
    found = []
    for folder in below.split("/")[:-1]:
        name, mark, value = folder.partition("=")
        if mark and name:
            found.append((unquote(name), None if value == NO_PARTITION else unquote(value)))
    return tuple(found)


# -- cells -------------------------------------------------------------------------------------------------------------


def as_table(given: object) -> tuple[pa.Table, bool]:
    """A pyarrow Table, and whether a pandas DataFrame was given. Raises InputProblems for anything else."""
    if isinstance(given, pa.Table):
        return given, False
    if isinstance(given, pa.RecordBatch):
        return pa.Table.from_batches([given]), False
    try:
        if type(given).__module__.partition(".")[0] == "pandas" and hasattr(given, "columns"):
            return _from_pandas(given), True
        if hasattr(given, "__arrow_c_stream__"):
            return pa.table(given), False
    except (pa.ArrowException, TypeError, ValueError) as error:
        raise _bad("", f"this table cannot be read ({_first_line(error)})", _GIVE) from None
    raise _bad("", f"a {type(given).__name__} is no table", _GIVE)


_GIVE = "Give a pyarrow Table or a pandas DataFrame."


def _from_pandas(given: Any) -> pa.Table:
    """Column by column, so that one of mixed values becomes text and spoils no other."""
    columns = []
    for place in range(len(given.columns)):
        series = given.iloc[:, place]
        try:
            columns.append(pa.array(series, from_pandas=True))
        except (pa.ArrowException, TypeError, ValueError):
            columns.append(pa.array([None if _missing(value) else str(value) for value in series.tolist()]))
    names = [str(name) for name in given.columns]
    return (
        pa.Table.from_arrays(columns, names=names)
        if columns
        else pa.table({"": pa.nulls(len(given))}).drop_columns([""])
    )


def _missing(value: object) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def together(parts: Sequence[pa.Table], schema: pa.Schema) -> pa.Table:
    """One table of several."""
    return pa.concat_tables(parts) if parts else schema.empty_table()


def to_pandas(table: pa.Table) -> Any:
    """The same as a DataFrame."""
    return table.to_pandas()


def cells_of(table: pa.Table, place: int) -> list[object]:
    """A column as Python values."""
    column = table.column(place)
    try:
        return list(column.to_pylist())
    except (pa.ArrowException, ValueError, OverflowError):  # a date beyond Python's, a text that is no UTF-8
        return [_cell(each) for each in column]


def _cell(each: Any) -> object:
    try:
        return each.as_py()
    except (pa.ArrowException, ValueError, OverflowError):
        return str(each)


def figures_in(table: pa.Table, place: int) -> tuple[np.ndarray, np.ndarray]:
    """A column as figures, NaN where a cell says nothing; and which cells say something else than one plain figure."""
    column = table.column(place)
    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    if pa.types.is_floating(column.type) or pa.types.is_integer(column.type) or pa.types.is_decimal(column.type):
        found = _numbers(pc.cast(column, pa.float64(), safe=False))
        return found, np.isinf(found)
    if pa.types.is_large_string(column.type):
        column = column.cast(pa.string())
    if not pa.types.is_string(column.type):
        said = ~_mask(pc.is_null(column))
        return np.full(len(said), np.nan), said
    text = pc.utf8_trim_whitespace(column)
    plain = pc.and_(pc.match_substring_regex(text, _PLAIN), pc.invert(pc.match_substring_regex(text, _A_THOUSAND)))
    empty = pc.is_in(pc.utf8_lower(text), pa.array(sorted(EMPTY)))
    found = _numbers(pc.cast(pc.if_else(plain, text, pa.scalar(None, pa.string())), pa.float64()))
    said = ~(_mask(plain) | _mask(empty) | _mask(pc.is_null(column)))
    return found, said | np.isinf(found)


def words_in(table: pa.Table, place: int) -> tuple[np.ndarray, list[object]]:
    """A column as the number of each cell in a list of distinct values; -1 where it is empty."""
    column = table.column(place)
    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    try:
        coded = pc.dictionary_encode(column).combine_chunks()
    except pa.ArrowException:  # a kind of cells that cannot be told apart, lists for example
        return np.arange(len(column), dtype=np.int64), cells_of(table, place)
    coded = coded if isinstance(coded, pa.DictionaryArray) else pa.array([], pa.dictionary(pa.int32(), column.type))
    return _numbers(pc.fill_null(coded.indices, -1)).astype(np.int64), coded.dictionary.to_pylist()


def _numbers(column: Any) -> np.ndarray:
    return np.asarray(column.to_numpy(zero_copy_only=False) if isinstance(column, pa.Array) else column.to_numpy())


def _mask(column: Any) -> np.ndarray:
    return np.asarray(pc.fill_null(column, False).to_numpy(), dtype=bool)


_PLAIN = r"^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?$"
_A_THOUSAND = r"^[+-]?[1-9][0-9]?[0-9]?\.[0-9]{3}$"  # or three decimals: it depends on the unit


def text_table(columns: Sequence[Sequence[str | None]]) -> pa.Table:
    """A table of texts, as CSV holds them."""
    names = [str(place) for place in range(len(columns))]
    return pa.Table.from_arrays([pa.array(cells, pa.string()) for cells in columns], names=names)


def with_constants(table: pa.Table, values: Sequence[str | None]) -> pa.Table:
    """The same, with a column for each of these."""
    for place, value in enumerate(values):
        table = table.append_column(f"partition {place}", pa.array([value] * table.num_rows, pa.string()))
    return table


def as_type(column: pa.ChunkedArray, wanted: pa.DataType) -> pa.ChunkedArray:
    """The column as the output has it."""
    if column.type == wanted:
        return column
    try:
        return column.cast(wanted)
    except (pa.ArrowException, ValueError):
        texts = [None if value is None else _as_text(value) for value in map(_cell, column)]
        return pa.chunked_array([pa.array(texts, pa.string()).cast(wanted, safe=False)])


def _as_text(value: object) -> str:
    return json.dumps(value, default=str, ensure_ascii=False) if isinstance(value, (list, dict)) else str(value)


def too_long(table: pa.Table, place: int) -> tuple[pa.Table, list[int]]:
    """The same table without texts of more than LONGEST_CELL in this column, and the rows that had one."""
    column = table.column(place)
    if not (
        pa.types.is_string(column.type)
        or pa.types.is_large_string(column.type)
        or pa.types.is_large_binary(column.type)
    ):
        return table, []
    long = pc.fill_null(pc.greater(pc.binary_length(column), LONGEST_CELL), False)
    if not pc.any(long).as_py():
        return table, []
    cells = pc.if_else(long, pa.scalar(None, column.type), column)
    rows = pc.indices_nonzero(long).to_pylist()
    return table.set_column(place, table.schema.field(place), cells), rows


def first_match(table: pa.Table, place: int, pattern: str) -> int | None:
    """The first row whose text fits."""
    column = table.column(place)
    if not pa.types.is_string(column.type) or not column.null_count < len(column):
        return None
    found = pc.index(pc.match_substring_regex(column, pattern), True).as_py()
    return None if found < 0 else found


def texts_of(table: pa.Table, place: int | None) -> np.ndarray:
    """A column as texts without blanks around them, None where a cell says nothing; place None: nowhere."""
    if place is None:
        return np.full(table.num_rows, None, object)
    texts = pc.utf8_trim_whitespace(as_type(table.column(place), pa.string()))
    return np.array(pc.if_else(pc.equal(texts, ""), None, texts).to_pylist(), object)


def some_cells(table: pa.Table, rows: np.ndarray, places: Sequence[int]) -> list[dict[int, object]]:
    """Of each of these rows, the cells at these places."""
    some = table.select(list(places)).take(pa.array(rows))
    columns = [cells_of(some, at) for at in range(len(places))]
    return [dict(zip(places, row, strict=True)) for row in zip(*columns, strict=True)] or [{} for _ in rows]


def without_views(table: pa.Table) -> pa.Table:
    """The same with texts as every function of pyarrow takes them."""
    for place, field in enumerate(table.schema):
        kind = _no_view(field.type)
        if kind != field.type:
            table = table.set_column(place, field.with_type(kind), table.column(place).cast(kind))
    return table


def _no_view(kind: pa.DataType) -> pa.DataType:
    return {pa.string_view(): pa.large_string(), pa.binary_view(): pa.large_binary()}.get(kind, kind)


# -- output ------------------------------------------------------------------------------------------------------------


def schema_of(
    identity: Sequence[str], passed: Sequence[tuple[str, pa.DataType]], answers: Sequence[tuple[str, bool]]
) -> pa.Schema:
    """identity: texts. answers: name, and whether it holds numbers."""
    return pa.schema(
        [
            *(pa.field(name, pa.string()) for name in identity),
            *(pa.field(name, kind) for name, kind in passed),
            *(pa.field(name, pa.float64() if number else pa.string()) for name, number in answers),
        ]
    )


def one_type(kinds: Sequence[pa.DataType], form: Form) -> pa.DataType:
    """The type of a column that is passed on, which may be another in each file; text where they differ."""
    distinct = list(dict.fromkeys(kinds))
    kind = _no_view(distinct[0]) if len(distinct) == 1 else pa.string()
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    if form == "parquet" and not pa.types.is_null(kind):
        return kind
    plain = (
        pa.types.is_integer(kind)
        or pa.types.is_float64(kind)
        or pa.types.is_boolean(kind)
        or pa.types.is_date(kind)
        or pa.types.is_timestamp(kind)
    )
    return kind if plain else pa.string()


TEXT = pa.string()


def words(codes: np.ndarray, known: Sequence[str]) -> pa.Array:
    """Texts by their number in a list; -1 for none."""
    return pa.DictionaryArray.from_arrays(
        pa.array(codes, pa.int32(), mask=codes < 0), pa.array(known, pa.string())
    ).cast(pa.string())


def figures(values: np.ndarray) -> pa.Array:
    """Figures, NaN for none."""
    return pa.array(values, pa.float64(), mask=np.isnan(values))


def where(rows: np.ndarray, cells: pa.Array) -> pa.Array:
    """The cells of these rows, and none in others."""
    return pc.if_else(pa.array(rows), cells, None)


def joined_words(offsets: np.ndarray, codes: np.ndarray, known: Sequence[str]) -> pa.Array:
    """Several texts in each cell, with commas between: those of row i stand from offsets[i] to offsets[i + 1]."""
    return pc.binary_join(pa.ListArray.from_arrays(pa.array(offsets, pa.int32()), words(codes, known)), ",")


def assembled(schema: pa.Schema, columns: Sequence[Any]) -> pa.Table:
    """A part of the output. columns: arrays, or lists of Python values."""
    arrays = [
        as_type(column, field.type) if isinstance(column, pa.ChunkedArray) else pa.array(column, field.type)
        for column, field in zip(columns, schema, strict=True)
    ]
    return pa.Table.from_arrays(arrays, schema=schema)


def encoded(table: pa.Table, form: Form) -> bytes:
    """A part of the output as it goes into the file; for Parquet as an Arrow stream, out of which row groups are made."""
    if form == "csv":
        out = io.BytesIO()
        pacsv.write_csv(harmless(table), out, pacsv.WriteOptions(include_header=False))
        return out.getvalue()
    if form == "jsonl":
        names = table.schema.names
        columns = [_json_cells(column) for column in table.columns]
        lines = (
            json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False) for row in zip(*columns, strict=True)
        )
        return "".join(f"{line}\n" for line in lines).encode("utf-8")
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema, options=pa.ipc.IpcWriteOptions(compression="lz4")) as writer:
        writer.write_table(table)
    return sink.getvalue().to_pybytes()


def _json_cells(column: pa.ChunkedArray) -> list[object]:
    if pa.types.is_date(column.type) or pa.types.is_timestamp(column.type):
        column = column.cast(pa.string())
    cells = column.to_pylist()
    if pa.types.is_floating(column.type):
        return [None if value is None or not math.isfinite(value) else value for value in cells]
    return cells


def harmless(table: pa.Table) -> pa.Table:
    """The same, with a `'` before each text that a spreadsheet would take for a formula."""
    for place, field in enumerate(table.schema):
        if pa.types.is_string(field.type) or pa.types.is_large_string(field.type):
            column = table.column(place)
            formula = pc.and_(
                pc.match_substring_regex(column, _FORMULA), pc.invert(pc.match_substring_regex(column, _NUMBER))
            )
            if pc.any(formula).as_py():
                quoted = pc.binary_join_element_wise("'", column, "")
                table = table.set_column(place, field, pc.if_else(formula, quoted, column))
    return table


def csv_head(schema: pa.Schema) -> bytes:
    """The first line of a CSV."""
    return encoded(pa.table([[name] for name in schema.names], names=[str(i) for i in range(len(schema))]), "csv")


class Writer:
    """The output, part by part. Memory holds one row group at the most."""

    def __init__(self, path: Path, schema: pa.Schema, form: Form) -> None:
        self.schema, self.form = schema, form
        self.waiting: list[pa.Table] = []
        self.parquet = pq.ParquetWriter(path, schema, compression="zstd") if form == "parquet" else None
        self.file = None if form == "parquet" else path.open("wb")
        if self.file is not None and form == "csv":
            self.file.write(csv_head(schema))

    def add(self, part: bytes) -> None:
        """One encoded part."""
        if self.file is not None:
            self.file.write(part)
            return
        self.waiting.append(pa.ipc.open_stream(part).read_all())
        if sum(table.num_rows for table in self.waiting) >= GROUP:
            self._write()

    def _write(self) -> None:
        assert self.parquet is not None
        if self.waiting:
            whole = pa.concat_tables(self.waiting)
            self.parquet.write_table(whole, row_group_size=max(whole.num_rows, 1))
            self.waiting = []

    def close(self) -> None:
        """Ends the file."""
        if self.parquet is not None:
            self._write()
            self.parquet.close()
        if self.file is not None:
            self.file.close()

    def __enter__(self) -> Writer:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.close()
        elif self.file is not None:
            self.file.close()


def batches(table: pa.Table, size: int = SLICE) -> Iterator[pa.Table]:
    """The table in slices."""
    for start in range(0, table.num_rows, size):
        yield table.slice(start, size)


def _first_line(error: BaseException) -> str:
    return printable(str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__, 160)


def _bad(place: str, what: str, fix: str) -> InputProblems:
    return InputProblems([Problem(printable(place, 200), 0, 0, what, fix)])
