"""Rows of one kind of machine, with all that is asked of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from diagnose.batch.columnwise.codes import Lexicon
from diagnose.batch.columnwise.estimating import Estimated, estimated
from diagnose.batch.columnwise.judging import Kind
from diagnose.batch.columnwise.saying import Words, said
from diagnose.quantities.plausibility.columnwise import visit_of_rows
from diagnose.quantities.uncertainty import Estimate
from diagnose.visit import Reading, Visit


@dataclass(frozen=True, slots=True)
class Rows:
    """n rows as one visit of columns.

    seen: finding -> word -> in which rows. wanted: the quantities that are worked out, all where None. exact: as if no
    instrument had an error. lexicon: numbers all codes.
    """

    visit: Visit
    n: int
    seen: Mapping[str, Mapping[str, Any]]
    kind: Kind
    wanted: Collection[str] | None
    exact: bool
    lexicon: Lexicon

    def some(self, which: Any) -> Rows:
        """Some of them, by number; a row may come up more than once."""
        seen = {name: {word: where[which] for word, where in of.items()} for name, of in self.seen.items()}
        return replace(self, visit=visit_of_rows(self.visit, which), n=which.size, seen=seen)

    def reading(self, readings: Mapping[str, Reading]) -> Rows:
        """The same with other readings."""
        return replace(self, visit=replace(self.visit, rounds=(self.visit.last._replace(readings=readings),)))

    def estimated(self) -> Estimated:
        """Their quantities."""
        return estimated(self.visit, self.n, self.wanted, self.exact)

    def said(self, estimates: Mapping[str, Estimate]) -> Words:
        """These quantities in words, and what was seen."""
        return said(estimates, self.seen, self.kind.rules, self.kind.facts, self.n)
