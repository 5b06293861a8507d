"""Tables in memory: cells as Python values, as figures and as words."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from diagnose.visit.sheet import NOT_TAKEN
from diagnose.yamlfile import refusal

ArrowTable = pa.Table
ArrowSchema = pa.Schema
TEXT = pa.string()
SLICE = 32_768
"""Rows of a Parquet file, or of a table in memory, that are examined at once: fewer take longer each, more take more memory."""
LONGEST_CELL = 1 << 24
"""Bytes of a text that is passed on."""


def as_table(given: object) -> tuple[pa.Table, bool]:
    """A pyarrow Table, and whether a pandas DataFrame was given. Raises InputProblems for anything else."""
    if isinstance(given, pa.Table):
        return given, False
    if type(given).__module__.partition(".")[0] == "pandas" and hasattr(given, "columns"):
        return _from_pandas(given), True
    raise refusal(f"a {type(given).__name__} is no table", "Give a pyarrow Table or a pandas DataFrame.")


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
        with suppress(pa.ArrowException):
            return each.cast(pa.int64()).as_py()  # a time of another age
        return f"<{each.type}>"


def figures_in(table: pa.Table, place: int) -> tuple[np.ndarray, np.ndarray]:
    """A column as figures, NaN where a cell says nothing; and which cells say something else than one plain figure."""
    column = table.column(place)
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
    empty = pc.is_in(pc.utf8_lower(text), pa.array(sorted(NOT_TAKEN)))
    found = _numbers(pc.cast(pc.if_else(plain, text, pa.scalar(None, pa.string())), pa.float64()))
    said = ~(_mask(plain) | _mask(empty) | _mask(pc.is_null(column)))
    return found, said | np.isinf(found)


def words_in(table: pa.Table, place: int) -> tuple[np.ndarray, list[object]]:
    """A column as the number of each cell in a list of distinct values; -1 where it is empty."""
    column = table.column(place)
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
    """The same with texts as every function of pyarrow takes them: no views, and signs for bytes that are no UTF-8."""
    for place, field in enumerate(table.schema):
        kind = no_view(field.type)
        if kind != field.type:
            table = table.set_column(place, field.with_type(kind), table.column(place).cast(kind))
        if pa.types.is_string(kind) or pa.types.is_large_string(kind):
            try:
                table.column(place).validate(full=True)
            except pa.ArrowInvalid:
                cells = table.column(place).cast(pa.large_binary()).to_pylist()
                texts = [None if cell is None else cell.decode("utf-8", "replace") for cell in cells]
                table = table.set_column(place, field.with_type(kind), pa.array(texts, kind))
    return table


def no_view(kind: pa.DataType) -> pa.DataType:
    """The type that holds the same without being a view, or a list of numbers into another."""
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    return {pa.string_view(): pa.large_string(), pa.binary_view(): pa.large_binary()}.get(kind, kind)


def batches(table: pa.Table) -> Iterator[pa.Table]:
    """The table in slices."""
    for start in range(0, table.num_rows, SLICE):
        yield table.slice(start, SLICE)
