"""Every limit of findings.yaml, just below and just above, from a second writing of them: finding_limits.csv."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from diagnose import units
from diagnose.diagnosis.findings import probabilities
from diagnose.rulebook import Rulebook
from diagnose.units import Kind

FILE = Path(__file__).with_name("finding_limits.csv")
with FILE.open(encoding="utf-8") as file:
    TABLE = list(csv.DictReader(file))
ROWS = [(row["finding"], int(row["scale"]), row["limits"], row["spread"]) for row in TABLE]
PARSED_AS: dict[str, Kind] = {"drift": "difference", "share drift": "percent", "small percent": "percent"}


def si(written: str, kind: str) -> float:
    """As a technician would work it out."""
    if kind == "ratio":
        return float(written)
    if kind == "airflow per capacity":
        flow, per = written.split("/")
        return units.parse(flow, "airflow").value / units.parse(f"1 {per}", "capacity").value
    return units.parse(written, PARSED_AS.get(kind, kind)).value  # type: ignore[arg-type]


def test_every_scale_has_a_row(book: Rulebook) -> None:
    """In the order in which they are tried: the first that is of the machine is taken."""
    scales = [
        (name, str(i), "; ".join(f"{fact}: {' or '.join(sorted(words))}" for fact, words in scale.applies))
        for name, entry in book.findings.items()
        for i, scale in enumerate(entry.scales)
    ]
    assert [(row["finding"], row["scale"], row["of"]) for row in TABLE] == scales


@pytest.mark.parametrize(("name", "place", "limits", "spread"), ROWS)
def test_a_word_ends_at_its_limit(book: Rulebook, name: str, place: int, limits: str, spread: str) -> None:
    entry = book.findings[name]
    scale = entry.scales[place]
    assert scale.spread == (
        None if not spread else pytest.approx(si(spread, "difference" if scale.kind == "temperature" else scale.kind))
    )
    for i, written in enumerate(limits.split("; ") if limits else ()):
        limit = si(written, scale.kind)
        hair = 1e-6 * max(abs(limit), 1e-3)
        for value, word in ((limit - hair, entry.words[i]), (limit + hair, entry.words[i + 1])):
            assert probabilities(entry.words, scale.limits, value, 0.0)[word] == 1.0
