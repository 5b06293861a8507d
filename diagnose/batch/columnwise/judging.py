"""From words to the charge verdict, for columns of visits of one kind of machine: see `pipeline.judge`."""

from __future__ import annotations

import weakref
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.charging import NONE, RIGHT, Charged, charged
from diagnose.batch.columnwise.codes import Lexicon, Pile
from diagnose.batch.columnwise.estimating import Estimated, rows_of
from diagnose.batch.columnwise.explaining import Explained, Making, explained
from diagnose.batch.columnwise.matching import Fired, Scored, Sure, scored
from diagnose.batch.columnwise.saying import Said, Words
from diagnose.diagnosis.pipeline import STANDS
from diagnose.quantities.plausibility import Doubt
from diagnose.rulebook import Applying, Rule, Rulebook, machine_facts
from diagnose.rulebook.matcher.compiled import Compiled, compiled
from diagnose.visit import Machine
from diagnose.visit.reason import Reason

DIAGNOSED, NOT_READY, OUTSIDE = range(3)
STATUSES = ("diagnosed", "not ready", "outside")

MOST_KEPT = 2000
"""Kinds of machines that are kept of a book, some 50 kB each."""
_Kinds = dict[tuple[tuple[str, str], ...], "Kind"]
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
class Kind:
    """One kind of machine: what of the book is about it, and what was worked out of that once."""

    facts: Mapping[str, str]
    rules: Rulebook
    applying: Applying
    book: Compiled
    number: Mapping[str, int]  # of each pattern
    making: Making

    @classmethod
    def of(cls, machine: Machine, rules: Rulebook) -> Kind:
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


@dataclass(slots=True)
class Judged:
    """What was judged of n rows. status: place in STATUSES; held: why nothing is ranked."""

    status: Any
    held: Pile
    scored: Scored
    explained: Explained
    charged: Charged
    outside: Any


def words_of(words: Words, rows: Any) -> Words:
    """The findings of some of the rows."""
    return {
        name: Said(
            {word: rows_of(chance, rows) for word, chance in one.words.items()},
            one.there[rows],
            one.measured,
            rows_of(one.last, rows),
        )
        for name, one in words.items()
    }


def doubts_of(doubts: Sequence[Doubt], rows: Any) -> list[Doubt]:
    """The doubts about some of the rows."""
    return [each._replace(weight=rows_of(each.weight, rows), start=rows_of(each.start, rows)) for each in doubts]


def estimated_of(found: Estimated, rows: Any) -> Estimated:
    """The quantities of some of the rows."""
    estimates = {
        name: e._replace(**{field: rows_of(one, rows) for field, one in e._asdict().items()})
        for name, e in found.estimates.items()
    }
    touched = {name: {source: rows_of(has, rows) for source, has in of.items()} for name, of in found.touched.items()}
    return Estimated(estimates, touched)


def judge(
    kind: Kind,
    machine: Machine,
    n: int,
    found: Estimated,
    words: Words,
    matched: Fired,
    read: Fired,
    doubts: Sequence[Doubt],
    stop: Any,
    lexicon: Lexicon,
) -> Judged:
    """Everything from the fired rules on. read: those fired by all that was read; stop: machines that must be stopped."""
    rules = kind.rules
    found_scored = scored(rules, kind.applying, matched.patterns, n)
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
    nothing = ~waits & ~found_scored.told
    held.add(nothing & ~outside, lexicon.number("nothing-to-judge"))
    waits |= nothing
    status = np.where(outside, OUTSIDE, np.where(waits, NOT_READY, DIAGNOSED)).astype(np.int8)
    ranked = status == DIAGNOSED
    which = explained(found_scored, words, rules, kind.making, n)
    which.second[~ranked], which.known[~ranked], which.of_charge[~ranked] = -1, True, False
    holds = [(rule, rows) for rule, rows in ready if rule.holds == "charge"]
    odd = Doubt(Reason("no-known-pattern"), holds_charge=True, weight=np.where(which.known, 0.0, 1.0))
    every = [*doubts, odd, *_nearly(kind, matched, read)]
    charge = charged(machine, found, words, found_scored, holds, every, rules, kind.making, lexicon, n)
    _say(charge, held, holds, waits | outside, stop, which, lexicon, n)
    return Judged(status, held, found_scored, which, charge, outside)


def _nearly(kind: Kind, matched: Fired, read: Fired) -> list[Doubt]:
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
    n: int,
) -> None:
    """See `pipeline.say_of_the_charge` and `certainty.charge_as_sure`."""
    first_held = np.full(n, -1, dtype=np.int16)
    for rows, codes in zip(reversed(held.rows), reversed(held.codes), strict=True):
        first_held[rows] = codes
    _instead(charge, waits, first_held)
    for rule, rows in holds:
        if rule.id == STANDS:
            first = np.full(n, -1, dtype=np.int16)
            for other, where in reversed(holds):
                first[where] = lexicon.number(other.id)
            _instead(charge, rows & ~waits, first)
            charge.early = charge.early & ~rows  # all of them are told there
    right = charge.verdict == RIGHT
    _instead(charge, right & stop, np.full(n, lexicon.number("stop-before-charging"), dtype=np.int16))
    known = (charge.verdict == RIGHT) & which.of_charge
    _instead(charge, known, np.full(n, lexicon.number("surely-off-normal"), dtype=np.int16))


def _instead(charge: Charged, rows: Any, codes: Any) -> None:
    """No verdict in those rows, for another reason."""
    charge.verdict[rows] = NONE
    charge.code.codes[rows] = codes[rows]
    charge.low[rows], charge.high[rows], charge.at_least[rows] = np.nan, np.nan, False
