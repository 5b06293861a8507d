"""The items of a start-up as values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple, get_args

from diagnose.quantities.start_up import Measure
from diagnose.visit import Reading

Status = Literal["done", "failed", "left out", "cannot be told"]
ItemName = Literal[
    "line set", "pressure test", "evacuation", "decay test", "airflow", "static pressure", "charge by weight",
    "running readings", "customer",
]  # fmt: skip
ITEMS: tuple[ItemName, ...] = get_args(ItemName)
"""In the order of the work."""


class Item(NamedTuple):
    """One step of a start-up. code: why it has this status, unique in the program. figures: SI, names."""

    item: ItemName
    status: Status
    code: str
    figures: Mapping[str, Any] = {}


class Commissioning(NamedTuple):
    """A start-up: every item, in the order of the work."""

    items: tuple[Item, ...]

    def having(self, status: Status) -> tuple[Item, ...]:
        """The items of one status."""
        return tuple(item for item in self.items if item.status == status)

    @property
    def keeps(self) -> bool:
        """Whether the readings of this day can be the baseline of later ones: found right, and nothing failed."""
        right = any(item.item == "running readings" and item.status == "done" for item in self.items)
        return right and not self.having("failed")


def left_out(item: ItemName) -> Item:
    """Nothing is said of it."""
    return Item(item, "left out", "left-out")


def measure(reading: Reading) -> Measure:
    """Its value and limit of error, as it was read."""
    return Measure(reading.value, reading.error)
