"""The tables of tests/reference: published figures with their sources."""

from __future__ import annotations

import csv
from pathlib import Path

REFERENCE = Path(__file__).parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one of them."""
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
