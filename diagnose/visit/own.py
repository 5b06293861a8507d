"""What a company adds to the table of fields: readings, machine facts and quantities of its own, as its rule book has them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from diagnose.units import Kind
from diagnose.visit.fields import Field, Word


class OwnQuantity(NamedTuple):
    """A reading or a machine fact, the difference of two, or their ratio.

    kind: of the result. formula: as the file has it. first, second: names of readings, facts or quantities. what: a clause.
    """

    name: str
    what: str
    kind: Kind | Literal["ratio"]
    formula: str
    how: Literal["is", "difference", "ratio"]
    first: str
    second: str
    source: str


@dataclass(frozen=True, slots=True)
class Own:
    """Lines of a visit beside those of `fields.py`, and quantities beside those of `diagnose.quantities`.

    sizes, words: machine facts with a unit, and in words. unsure: there may be more, for the rules that say so cannot be used:
    then a line that is not known is left out, and does not stop the visit.
    """

    readings: tuple[Field, ...] = ()
    sizes: tuple[Field, ...] = ()
    words: tuple[Word, ...] = ()
    quantities: tuple[OwnQuantity, ...] = ()
    unsure: bool = False

    @property
    def fields(self) -> tuple[Field | Word, ...]:
        """All lines of a visit."""
        return (*self.words, *self.sizes, *self.readings)

    def __iter__(self) -> Iterator[Field | Word | OwnQuantity]:
        yield from self.fields
        yield from self.quantities


NOTHING_OWN = Own()
