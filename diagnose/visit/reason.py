"""A reason as a value: what every room may say, and only `report` puts into a sentence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

Figures = Mapping[str, Any]
"""What stands in the sentence of a reason: SI floats, names, tuples of names."""


class Reason(NamedTuple):
    """Why something is said or held: a code, and the figures of its sentence (SI; readings' names, words).

    code: kebab-case, unique in the program, for example `suction-above-liquid`. figures: SI floats, names, tuples of names.
    """

    code: str
    figures: Figures = {}  # noqa: RUF012 - a Mapping, which nobody writes into
