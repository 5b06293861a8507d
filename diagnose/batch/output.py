"""The output: its columns, its three forms, and how its parts become one file."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Literal

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from diagnose.batch.arrow import as_type, no_view

Form = Literal["parquet", "csv", "jsonl"]
GROUP = 131_072
"""Rows of a row group that is written, at the least."""
_FORMULA = "^[=+\\-@\\t\\r]|^'+[=+\\-@\\t\\r]"
_NUMBER = r"^[+-]?[0-9]*[.,]?[0-9]+(?:[eE][+-]?[0-9]+)?$"


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
    kind = no_view(distinct[0]) if len(distinct) == 1 else pa.string()
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
