"""Drawings for lessons, from `diagram`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from diagnose.pipeline import Diagnosis
from diagnose.report.blocks import Block

What = Literal["pressure_enthalpy", "schematic", "superheat_chart"]


def figures(d: Diagnosis, what: What) -> Iterator[Block]:
    """The drawing of this visit, where its readings allow one."""
    return iter(())
