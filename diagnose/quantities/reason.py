"""Why something is said or held back, as a value: sentences are made of it in `report/` alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is said or held: a code, and the figures of its sentence (SI; readings' names, words)."""

    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)
