"""Tables made of visits: shipped ones as rows, and as many rows of one machine as a test wants."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from shared import DEMOS, PATHS

from diagnose import yamlfile
from diagnose.visit.trade_words import meant

HEAD = (
    "id", "machine", "refrigerant", "metering", "suction pressure [psig]", "suction line temperature [F]",
    "liquid pressure [psig]", "liquid line temperature [F]", "outdoor air temperature [F]",
)  # fmt: skip
ROW = ("1", "net loft", "R-410A", "TXV", "118", "53", "323", "99", "86")


def as_row(visit: Mapping[str, Any]) -> dict[str, object] | None:
    """The visit as one row, each cell with its own unit; None where a row cannot hold it."""
    found: dict[str, object] = {}
    for part, lines in visit.items():
        if part == "baseline" and isinstance(lines, dict) and set(lines) == {"readings"}:
            lines = lines["readings"]
        elif part not in ("machine", "readings", "seen", "instruments"):
            if part in ("start-up", "baseline", "practice"):
                return None
            continue  # free text
        if not isinstance(lines, dict):
            return None
        for name, value in lines.items():
            if isinstance(value, dict) and name == "line set":
                found.update({f"line set: {word}": cell for word, cell in value.items()})
            else:
                section = {"baseline": "readings", "machine": "machine", "instruments": "instruments"}.get(
                    part, "readings"
                )
                known = (name,) if part == "seen" else meant(section, name)  # the trade has several names, a column one
                found[f"{part}: {known[0] if len(known) == 1 else name}"] = value
    return found


def shipped_rows() -> dict[str, tuple[dict[str, object], Mapping[str, Any]]]:
    """By name, every shipped demo that a row can hold: the row, and the visit itself."""
    found = {}
    for name in DEMOS:
        data = yamlfile.read(PATHS[f"demo/{name}"]).data
        assert isinstance(data, dict)
        visit = data["visit"]
        row = as_row(visit)
        if row is not None:
            found[name] = (row, visit)
    return found


def columns_of(rows: Sequence[Mapping[str, object]]) -> dict[str, list[object]]:
    """By column, what each row has there."""
    names = dict.fromkeys(name for row in rows for name in row)
    return {name: [row.get(name) for row in rows] for name in names}


def row(**but: str) -> list[str]:
    """ROW, with other cells: by the first word of their header."""
    first = {
        name.split()[0] if name.split()[0] not in ("suction", "liquid") else name: i for i, name in enumerate(HEAD)
    }
    cells = list(ROW)
    for name, cell in but.items():
        cells[first[name]] = cell
    return cells


def write(path: Path, rows: Iterable[Sequence[str]], head: Sequence[str] = HEAD) -> Path:
    """A CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(head)
        writer.writerows(rows)
    return path


def many(path: Path, count: int) -> Path:
    """Rows of one machine whose suction pressure wanders, every seventh of which is no visit."""
    rows = [row(id=str(i)) for i in range(count)]
    for i, cells in enumerate(rows):
        cells[4] = "broken" if i % 7 == 6 else str(105 + i % 29)
    return write(path, rows)


def read(path: Path) -> list[dict[str, str]]:
    """A CSV as it was written, by column."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
