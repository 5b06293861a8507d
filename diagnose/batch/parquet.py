"""Parquet files, on this machine or in an object store: which there are, their heads, and rows of them in slices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, unquote

import pyarrow as pa
import pyarrow.fs as pafs
import pyarrow.parquet as pq

from diagnose.batch.arrow import SLICE, cells_of, without_views
from diagnose.yamlfile import first_line, refusal

NO_PARTITION = "__HIVE_DEFAULT_PARTITION__"
_MAGIC = b"PAR1"


def is_url(place: str) -> bool:
    """Whether this is the address of an object store (`s3://`, `gs://` …) or `file://`, not a path."""
    return "://" in place


def files_under(place: str) -> list[tuple[str, str, tuple[int, int]]]:
    """(address, path below the place, (size, time of the last change)) of each file there. Raises InputProblems."""
    try:
        found, base = pafs.FileSystem.from_uri(place)
        info = found.get_file_info(base)
        if info.type is pafs.FileType.NotFound:
            raise refusal("nothing is found there", "Check the address.", place)
        listed = [info] if info.is_file else found.get_file_info(pafs.FileSelector(base, recursive=True))
    except (OSError, pa.ArrowException, ValueError) as error:
        raise refusal(
            f"this place cannot be read ({first_line(error)})", "Check the address and your rights.", place
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
        what = f"this Parquet file cannot be read ({first_line(error)})"
        raise refusal(
            what, "Write it again; a file that was cut off lacks its end, where its contents are listed.", place
        ) from None
    return ParquetHead(tuple(schema.names), tuple(schema.types), groups, first)


def _first_cells(file: pq.ParquetFile) -> dict[int, object]:
    try:
        batch = next(file.iter_batches(batch_size=20), None)
    except (OSError, pa.ArrowException, MemoryError):
        return {}  # the rows say so
    found: dict[int, object] = {}
    some = without_views(pa.Table.from_batches([batch] if batch is not None else [], file.schema_arrow))
    for place in range(some.num_columns):
        cell = next((value for value in cells_of(some, place) if value not in (None, "")), None)
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
        raise refusal(f"this Parquet file cannot be read ({first_line(error)})", "Write it again.", place) from None
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
                failed[index] = first_line(error)
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
