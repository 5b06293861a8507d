"""Which findings the leading fault makes, and which a second one, for columns of visits: see `diagnosis/second_fault.py`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.matching import EvidenceRows, Scored
from diagnose.batch.columnwise.saying import SaidWords
from diagnose.diagnosis.ranking import HAIR
from diagnose.diagnosis.second_fault import pull_apart
from diagnose.rulebook import Applying, Rulebook
from diagnose.rulebook.makes import Made, Makes


@dataclass(frozen=True)
class Making:
    """What each fault makes on one kind of machine, and what each pattern asks for in findings and words."""

    makes: Makes
    asked: Mapping[int, tuple[tuple[str, frozenset[str]], ...]]

    @classmethod
    def of(cls, rules: Rulebook, applying: Applying) -> Making:
        """What they make where these rules apply."""
        numbers = {number for weighed in applying.weighed.values() for number, _, _ in weighed}
        return cls(applying.makes, {n: rules.spelled_out(rules.by_id[applying.patterns[n].id]) for n in numbers})


@dataclass(frozen=True, slots=True)
class Weighed:
    """n rows of one kind of machine: the book about it, what its faults make, findings in words, and every fault's score."""

    rules: Rulebook
    making: Making
    words: SaidWords
    scored: Scored
    n: int

    def chance(self, name: str, *asked: str) -> Any:
        """How likely a finding has one of these words; 0 where it was not measured."""
        return self.words[name].chance(asked) if name in self.words else 0.0

    def there(self, name: str) -> Any:
        """The rows in which a finding was made."""
        return self.words[name].there if name in self.words else np.zeros(self.n, dtype=bool)


@dataclass(slots=True)
class Explained:
    """See `ExplainedAway`. second: its place in the book, -1 for none; known, of_charge: whether anything is."""

    second: Any
    known: Any
    of_charge: Any


def explained(w: Weighed) -> Explained:
    """See `second_fault.explain_away`, with rows of one leader worked out together."""
    figures, making, words = w.rules.judgement.second_fault, w.making, w.words
    off = {name: one.chance(making.makes.off[name]) for name, one in words.items() if name in making.makes.off}
    firm = {name: rows for name, chance in off.items() if (rows := chance >= figures.firm).any()}
    found = Explained(np.full(w.n, -1, dtype=np.int16), np.ones(w.n, dtype=bool), np.zeros(w.n, dtype=bool))
    for name, its in making.makes.of_charge.items():
        if name in firm and words[name].measured:
            found.of_charge |= firm[name] & (words[name].chance(its) >= figures.sure)
    for leader in np.unique(w.scored.order[0]):
        _of_leader(w, int(leader), np.flatnonzero(w.scored.order[0] == leader), off, firm, found)
    return found


def _of_leader(
    w: Weighed, leader: int, rows: Any, off: Mapping[str, Any], firm: Mapping[str, Any], found: Explained
) -> None:
    rules, scored, words, making = w.rules, w.scored, w.words, w.making
    figures = rules.judgement.second_fault
    name_of = scored.faults[leader]
    right = rules.faults[name_of].charge == "right"
    firmly = {name: where[rows] for name, where in firm.items()}
    firmly = {name: where for name, where in firmly.items() if where.any()}
    its = {name: _made(words, name, off, making.makes.of[name_of], rows) for name in firmly}
    first = {name: firmly[name] & its[name] for name in firmly}
    others = {name: firmly[name] & ~its[name] for name in firmly}
    n_first = _count(first, rows.size)
    second = np.full(rows.size, -1, dtype=np.int16)
    n_own = np.zeros(rows.size, dtype=np.int64)
    if not right:
        best, new = _second(w, leader, rows)
        for place in np.unique(best[best >= 0]):
            which = best == place
            made = making.makes.of[scored.faults[int(place)]]
            own = {
                name: which & rest & _made(words, name, off, made, rows) for name, rest in others.items() if rest.any()
            }
            by_others = _count(own, rows.size)
            # Else those that its evidence rests on, and that the leader does not make.
            instead: dict[str, Any] = {}
            for name, fresh in new.get(int(place), {}).items():
                instead[name] = which & (by_others == 0) & fresh & ~first.get(name, np.False_)
            count = np.where(by_others > 0, by_others, _count(instead, rows.size))
            named = which & (count > 0)
            second[named] = place
            n_own = np.where(named, count, n_own)
            for name in others:
                taken = own.get(name, np.False_) | instead.get(name, np.False_)
                others[name] = others[name] & ~taken
    n_left = _count(others, rows.size)
    share = scored.shares[leader, rows]
    if right:
        known = n_left < figures.unplaced
    else:
        balance = sum((e.weight[rows] for e in scored.evidence[name_of]), np.zeros(rows.size))
        alone = (n_left == 0) | ((balance > HAIR) & ((n_left == 1) | (n_left < n_first)))
        with_second = (share >= figures.fair) & (n_left <= n_first + n_own)
        known = np.where(second >= 0, with_second, alone)
    doubtful = np.flatnonzero(~known)
    if doubtful.size:  # any one fault that makes all of it is a pattern, whoever leads
        all_by_one = np.zeros(doubtful.size, dtype=bool)
        for made in making.makes.of.values():
            whole = np.ones(doubtful.size, dtype=bool)
            for name in firmly:
                whole &= ~firmly[name][doubtful] | _made(words, name, off, made, rows[doubtful])
            all_by_one |= whole
        known[doubtful] = all_by_one
    second[~known] = -1
    found.second[rows], found.known[rows] = second, known


def _count(found: Mapping[str, Any], n: int) -> Any:
    return sum((rows.astype(np.int64) for rows in found.values()), np.zeros(n, dtype=np.int64))


def _made(words: SaidWords, name: str, off: Mapping[str, Any], made: Made, rows: Any) -> Any:
    """See `second_fault._made`."""
    return 2 * words[name].chance(made.get(name, frozenset()))[rows] >= off[name][rows]


def _second(w: Weighed, leader: int, rows: Any) -> tuple[Any, dict[int, dict[str, Any]]]:
    """The fault with most points besides the leader's findings, and of each the findings that are new; see `_second` there."""
    rules, scored, of = w.rules, w.scored, w.making.makes.of
    figures = rules.judgement.second_fault
    name_of = scored.faults[leader]
    alike = next((group for group in rules.charge.one_doubt if name_of in group), [name_of])
    charge = rules.faults[name_of].charge
    best, most = np.full(rows.size, -1), np.full(rows.size, -np.inf)
    rank_of_best = np.full(rows.size, len(scored.faults))
    ranks = np.argsort(scored.order[:, rows], axis=0, kind="stable")
    new: dict[int, dict[str, Any]] = {}
    for place, fault in enumerate(scored.faults):
        its = rules.faults[fault].charge
        if its == "right" or fault in alike or (charge is not None and its is not None):
            continue
        few = np.flatnonzero(scored.speaking[place, rows] >= figures.net - HAIR)  # the leader's part only lessens it
        if not few.size:
            continue
        points, fresh = _net(w, scored.evidence[fault], rows[few], of[name_of], of[fault])
        enough = points >= figures.net - HAIR
        points = np.rint(points / HAIR)
        new[place] = {name: np.zeros(rows.size, dtype=bool) for name in fresh}
        for name, where in fresh.items():
            new[place][name][few] = where
        # Of equal ones the likelier goes first.
        better = enough & ((points > most[few]) | ((points == most[few]) & (ranks[place, few] < rank_of_best[few])))
        which = few[better]
        best[which], most[which], rank_of_best[which] = place, points[better], ranks[place, which]
    return best, new


def _net(w: Weighed, evidence: list[EvidenceRows], rows: Any, made: Made, its: Made) -> tuple[Any, dict[str, Any]]:
    """What is left of a fault's evidence without what the leader makes, points; and the findings that are new."""
    words, making = w.words, w.making
    speaking, against = np.zeros(rows.size), np.zeros(rows.size)
    new: dict[str, Any] = {}
    for e in evidence:
        weight = e.weight[rows]
        if not weight.any():
            continue
        asked = [(name, allowed) for name, allowed in making.asked[e.pattern] if name in words]
        if e.points > 0:
            most = np.zeros(rows.size)
            shares: dict[str, Any] = {}
            for name, allowed in asked:
                off = making.makes.off.get(name, frozenset())
                if allowed & off:
                    shares[name] = _share(
                        words, name, allowed & off - made.get(name, frozenset()), allowed, rows, shares.get(name)
                    )
            for name, share in shares.items():
                most = np.maximum(most, share)
                fresh = (share >= 0.5) & (weight > 0)
                new[name] = new[name] | fresh if name in new else fresh
            speaking = speaking + weight * most
        else:
            excused = np.zeros(rows.size)
            for name, allowed in asked:
                if allowed & making.makes.off.get(name, frozenset()):
                    part = _share(words, name, allowed & made.get(name, frozenset()), allowed, rows)
                    excused = np.maximum(excused, part)
                elif pull_apart(name, made, its):
                    excused = np.maximum(excused, words[name].there[rows])
            against = against + weight * (1 - excused)
    return speaking + against, new


def _share(
    words: SaidWords, name: str, part: frozenset[str], whole: frozenset[str], rows: Any, before: Any = None
) -> Any:
    """The share of these words' chance that the others have; as it was before (0) where none of it is there."""
    total = np.asarray(words[name].chance(whole)[rows])
    found = np.where(total > 0, words[name].chance(part)[rows] / np.where(total > 0, total, 1.0), 0.0)
    return np.broadcast_to(found, rows.shape) if before is None else np.where(total > 0, found, before)
