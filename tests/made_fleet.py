"""A table as `diagnose batch` writes it, made up: visits of shops of which the shares are chosen."""

from __future__ import annotations

import csv
import io
from typing import Any

FAULTS = ("nothing-wrong", "low-charge", "overcharge", "low-indoor-airflow")


def row(machine: str, low: float = 0.0, right: float | None = None, **more: object) -> dict[str, object]:
    """A visit of which `low` is the share of low charge; the rest is nothing wrong, unless `right` says otherwise."""
    right = 1 - low if right is None else right
    rest = 1 - low - right
    found: dict[str, object] = {
        "machine": machine, "date": "2026-07-14", "kind": "split", "refrigerant": "R-410A", "metering": "TXV",
        "status": "diagnosed", "fault": "low-charge" if low > right else "nothing-wrong", "share": max(low, right),
        "second": "", "charge verdict": "low" if low > 0.8 else "right" if right > 0.8 else "do not judge",
        "charge estimate low [%]": -20 if low > 0.8 else "", "charge estimate high [%]": -5 if low > 0.8 else "",
        "dangers": "", "problems": "",
        **{f"share: {fault}": share for fault, share in zip(FAULTS, (right, low, rest / 2, rest / 2), strict=True)},
    }  # fmt: skip
    return {**found, **{name.replace("_", " "): value for name, value in more.items()}}


def text_of(rows: list[dict[str, Any]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(dict.fromkeys(name for each in rows for name in each)))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


MANY = [row(f"shop {i}", low=(i % 10) / 10, date=f"2026-{4 + i % 5:02}-03", refrigerant=("R-22" if i % 7 == 0 else "R-410A"))
        for i in range(70)]  # fmt: skip
