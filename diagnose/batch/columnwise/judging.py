"""From words to the charge verdict, for columns of visits of one kind of machine: see `pipeline.judge`."""

from __future__ import annotations

import weakref
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from diagnose.batch.columnwise.charging import RIGHT, Charged, charged
from diagnose.batch.columnwise.codes import Lexicon, Pile
from diagnose.batch.columnwise.confirming import confirmed_by
from diagnose.batch.columnwise.estimating import Estimated, estimated
from diagnose.batch.columnwise.explaining import Explained, Making, Weighed, explained
from diagnose.batch.columnwise.matching import Fired, Scored, Sure, scored
from diagnose.batch.columnwise.saying import SaidWords, said
from diagnose.diagnosis.pipeline import STANDS
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.plausibility.columnwise import rows_of
from diagnose.quantities.uncertainty import Estimate
from diagnose.rulebook import Applying, Rule, Rulebook, machine_facts
from diagnose.rulebook.matcher.compiled import Compiled, compiled
from diagnose.visit import Machine, Reading, Visit
from diagnose.visit.reason import Reason

DIAGNOSED, NOT_READY, OUTSIDE = range(3)
STATUSES = ("diagnosed", "not ready", "outside")

MOST_KEPT = 2000
"""Kinds of machines that are kept of a book, some 50 kB each."""
_Kinds = dict[tuple[tuple[str, str], ...], "MachineKind"]
_KEPT: dict[int, tuple[weakref.ref[Rulebook], _Kinds]] = {}


def _kept(rules: Rulebook) -> _Kinds:
    """The kinds that were worked out of this book, as long as there is one."""
    number = id(rules)
    if number not in _KEPT:

        def forget(_: object) -> None:
            _KEPT.pop(number, None)

        _KEPT[number] = weakref.ref(rules, forget), {}
    return _KEPT[number][1]


@dataclass(frozen=True)
class MachineKind:
    """One kind of machine: what of the book is about it, and what was worked out of that once."""

    facts: Mapping[str, str]
    rules: Rulebook
    applying: Applying
    book: Compiled
    number: Mapping[str, int]  # of each pattern
    making: Making

    @classmethod
    def of(cls, machine: Machine, rules: Rulebook) -> MachineKind:
        """The kind of a machine, worked out once for each book; of all that is measured only what its facts say matters."""
        facts = machine_facts(machine)
        kept = _kept(rules)
        key = tuple(sorted(facts.items()))
        if key not in kept:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            about = rules.about(facts)
            applying = about.applying(facts)
            number = {pattern.id: i for i, pattern in enumerate(applying.patterns)}
            making = Making.of(about, applying)
            kept[key] = cls(facts, about, applying, compiled(applying.patterns), number, making)
        return kept[key]

    def holding(self, kind: str, sure: Sure, n: int, least: float | None = None) -> list[tuple[Rule, Any]]:
        """Rules of a kind that hold in some row, and in which; see `Diagnosis.holding`. least: how sure."""
        found = []
        for rule in self.applying.rules:
            if rule.kind != kind:
                continue
            if not (rule.when or rule.either):
                found.append((rule, np.ones(n, dtype=bool)))
            elif (number := self.number[rule.id]) in sure:
                rows = sure[number] > 0.5 if least is None else sure[number] >= least
                if rows.any():
                    found.append((rule, rows))
        return found


@dataclass(frozen=True, slots=True)
class Rows:
    """n rows of one kind of machine as one visit of columns, with all that is asked of them.

    seen: finding -> word -> in which rows. wanted: the quantities that are worked out, all where None. exact: as if no
    instrument had an error. lexicon: numbers all codes.
    """

    visit: Visit
    n: int
    seen: Mapping[str, Mapping[str, Any]]
    kind: MachineKind
    wanted: Collection[str] | None
    exact: bool
    lexicon: Lexicon

    def some(self, which: Any) -> Rows:
        """Some of them, by number; a row may come up more than once."""
        return replace(self, visit=rows_of(self.visit, which), n=which.size, seen=rows_of(self.seen, which))

    def reading(self, readings: Mapping[str, Reading]) -> Rows:
        """The same with other readings."""
        return replace(self, visit=replace(self.visit, rounds=(self.visit.last._replace(readings=readings),)))

    def estimated(self) -> Estimated:
        """Their quantities."""
        return estimated(self.visit, self.n, self.wanted, self.exact)

    def said(self, estimates: Mapping[str, Estimate]) -> SaidWords:
        """These quantities in words, and what was seen."""
        return said(estimates, self.seen, self.kind.rules, self.kind.facts, self.n)


@dataclass(slots=True)
class Judged:
    """What was judged of n rows. status: place in STATUSES; held: why nothing is ranked."""

    status: Any
    held: Pile
    scored: Scored
    explained: Explained
    charged: Charged
    outside: Any

    def put(self, again: Judged, rows: Any) -> None:
        """Take over what was judged again of some rows."""
        self.held.without(rows, self.status.size)
        for where, codes in zip(again.held.rows, again.held.codes, strict=True):
            self.held.rows.append(rows[where])
            self.held.codes.append(codes)
        for old, new in zip(self._columns(), again._columns(), strict=True):
            old[..., rows] = new

    def _columns(self) -> list[Any]:
        s, e, c = self.scored, self.explained, self.charged
        found = [self.status, self.outside, s.scores, s.shares, s.order, e.second, e.known, e.of_charge]
        return [*found, c.verdict, c.code.codes, c.check.codes, c.low, c.high, c.at_least, c.early]


def judge(
    whole: Rows, found: Estimated, words: SaidWords, matched: Fired, read: Fired, doubts: Sequence[Doubt], stop: Any
) -> Judged:
    """Everything from the fired rules on, of all rows or some. read: those fired by all that was read; stop: machines that must
    be stopped.
    """
    kind, lexicon, n = whole.kind, whole.lexicon, stop.size
    w = Weighed(kind.rules, kind.making, words, scored(kind.rules, kind.applying, matched.patterns, n), n)
    held = Pile.empty()
    ready = kind.holding("readiness", matched.patterns, n)
    outside = np.zeros(n, dtype=bool)
    for rule, rows in kind.holding("readiness", read.patterns, n):
        if rule.holds == "outside":
            outside |= rows
            held.add(rows, lexicon.number(rule.id))
    waits = np.zeros(n, dtype=bool)
    for code, rows in [
        *((rule.id, rows) for rule, rows in ready if rule.holds == "visit"),
        *((doubt.reason.code, np.asarray(doubt.firm)) for doubt in doubts if doubt.holds_visit),
    ]:
        held.add(rows & ~outside, lexicon.number(code))
        waits |= rows
    nothing = ~waits & ~w.scored.told
    held.add(nothing & ~outside, lexicon.number("nothing-to-judge"))
    waits |= nothing
    status = np.where(outside, OUTSIDE, np.where(waits, NOT_READY, DIAGNOSED)).astype(np.int8)
    ranked = status == DIAGNOSED
    which = explained(w)
    which.second[~ranked], which.known[~ranked], which.of_charge[~ranked] = -1, True, False
    holds = [(rule, rows) for rule, rows in ready if rule.holds == "charge"]
    odd = Doubt(Reason("no-known-pattern"), holds_charge=True, weight=np.where(which.known, 0.0, 1.0))
    charge = charged(w, whole.visit.machine, found, holds, [*doubts, odd, *_nearly(kind, matched, read)], lexicon)
    charge.check = confirmed_by(w, whole.visit, charge, found.estimates, doubts, lexicon)
    _say(charge, held, holds, waits | outside, stop, which, lexicon)
    return Judged(status, held, w.scored, which, charge, outside)


def _nearly(kind: MachineKind, matched: Fired, read: Fired) -> list[Doubt]:
    """See `field.nearly_held`."""
    found = []
    for sure, holds in ((read.patterns, "outside"), (matched.patterns, "visit")):
        for rule in kind.applying.rules:
            number = kind.number.get(rule.id)
            if rule.holds == holds and number in sure:
                weight = np.where(sure[number] <= 0.5, sure[number], 0.0)
                if weight.any():
                    found.append(Doubt(Reason(rule.id), holds_charge=True, holds_visit=True, weight=weight))
    return found


def _say(
    charge: Charged,
    held: Pile,
    holds: Sequence[tuple[Rule, Any]],
    waits: Any,
    stop: Any,
    which: Explained,
    lexicon: Lexicon,
) -> None:
    """See `pipeline.say_of_the_charge` and `certainty.charge_as_sure`."""
    first = np.full(stop.size, -1, dtype=np.int16)
    for rows, codes in zip(reversed(held.rows), reversed(held.codes), strict=True):
        first[rows] = codes
    charge.none(waits, first[waits])
    for rule, rows in holds:
        if rule.id == STANDS:
            for other, where in reversed(holds):
                first[where] = lexicon.number(other.id)
            charge.none(rows & ~waits, first[rows & ~waits])
            charge.early = charge.early & ~rows  # all of them are told there
    charge.none((charge.verdict == RIGHT) & stop, lexicon.number("stop-before-charging"))
    charge.none((charge.verdict == RIGHT) & which.of_charge, lexicon.number("surely-off-normal"))
