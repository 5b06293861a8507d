"""What would change the answer: for each reading, the smallest change that puts another fault first.

One reading is moved, the same in all rounds as an instrument that is off would move it, the others stay. Both ways are
tried in steps of the instrument's limit of error, and the place where the answer turns is then halved down. A change that
no such reading can have, that makes the readings impossible, or the machine not ready to be judged, turns nothing.

A visit is asked this some eighty times, so only what follows from the moved reading is worked out again (quantities,
findings, rules, scores), and doubts about the readings are looked for only where they could matter. A reading is not
tried at all where no word of the findings that follow from it could put another fault first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose import units
from diagnose.diagnosis.findings import blended_words, find, measured
from diagnose.diagnosis.ranking import points
from diagnose.diagnosis.record import Diagnosis, GoodDayUse, once
from diagnose.quantities import baseline
from diagnose.quantities.plausibility import Doubt, doubts, layers
from diagnose.quantities.uncertainty import Estimate, Estimation
from diagnose.rulebook import Applying, Rulebook, machine_facts
from diagnose.rulebook.entries import FindingEntry
from diagnose.visit import READINGS, Reading, Visit

HALVINGS = 3  # of the last step: an eighth of the limit of error
MOST = 20  # readings
HOLDS = 0.5  # how sure a readiness rule must be to hold the visit: more likely true than not
HAIR = 1e-9  # points; scores nearer than this to each other are not told apart before they are worked out


@dataclass(frozen=True, slots=True)
class TurningPoint:
    """`reading` at `value` instead of as it is (SI, pressures as the reading has them) would put `fault` first.

    times_error: the change over the reading's limit of error (95 of 100), to the next eighth; `value` is rounded on to
    what would be written down. close: whether so small a change makes the answer weak.
    """

    reading: Reading
    value: float
    fault: str
    times_error: float
    close: bool


def sensitivity(d: Diagnosis, reach: float | None = None) -> tuple[TurningPoint, ...]:
    """For each reading the smallest change that would put another fault first, nearest first.

    reach: how far to look, in limits of error; None: as far as the rule book says. Readings that turn nothing are left out;
    nothing turns where no fault may be ranked.
    """
    if not d.faults:
        return ()
    moving = Leading(d.visit, d.rules, d.applying, d.good_day if d.good_day and d.good_day.used else None)
    figures = d.rules.judgement.sensitivity
    reach = figures.reach if reach is None else reach
    return turning_points(d.visit, d.ranked[0].fault, moving.first, reach, figures.close, moving.may_turn)


@once
def would_change(d: Diagnosis) -> tuple[TurningPoint, ...]:
    """Readings that would put another fault first if changed by little more than their limit of error.

    Not looked for where the first fault has nearly all of the odds.
    """
    figures = d.rules.judgement.sensitivity
    return sensitivity(d, figures.close) if d.faults and d.faults[0].share < figures.safe else ()


def turning_points(
    visit: Visit,
    first: str,
    leading: Callable[[Visit, str], str | None],
    reach: float,
    close: float,
    may_turn: Callable[[str], bool] = lambda _: True,
) -> tuple[TurningPoint, ...]:
    """The smallest change of each reading that puts another fault than `first` at the head, nearest first.

    leading: the first fault of the visit with this reading moved, or None where no fault may be ranked. may_turn: whether
    a reading is worth trying. reach: how far to look, close: how near makes the answer weak, in limits of error.
    """
    found = []
    taken = visit.last.readings
    for reading in [taken[name] for name in (*READINGS, *(r.name for r in visit.own.readings)) if name in taken][:MOST]:
        if reading.error > 0 and may_turn(reading.name):
            ways = (_turn(visit, reading, sign, first, leading, reach, close) for sign in (1.0, -1.0))
            found += sorted((t for t in ways if t is not None), key=lambda t: t.times_error)[:1]
    return tuple(sorted(found, key=lambda t: t.times_error))


def moved(visit: Visit, name: str, by: float) -> Visit:
    """The visit with one reading moved by so much (SI) in every round that has it."""
    rounds = []
    for taken in visit.rounds:
        old = taken.readings.get(name)
        change = {} if old is None else {name: old._replace(value=old.value + by)}
        rounds.append(taken._replace(readings={**taken.readings, **change}))
    return replace(visit, rounds=tuple(rounds))


def _turn(
    visit: Visit,
    reading: Reading,
    sign: float,
    first: str,
    leading: Callable[[Visit, str], str | None],
    reach: float,
    close: float,
) -> TurningPoint | None:
    def at(times: float) -> str | None:
        by = sign * times * reading.error
        if not _possible(visit, reading, reading.value + by):
            return None
        found = leading(moved(visit, reading.name, by), reading.name)
        return found if found != first else None

    for i in range(math.ceil(reach)):
        low, high = float(i), min(i + 1.0, reach)
        fault = at(high)
        if fault is not None:
            for _ in range(HALVINGS):
                middle = (low + high) / 2
                nearer = at(middle)
                low, high, fault = (low, middle, nearer) if nearer is not None else (middle, high, fault)
            written = _written(reading, reading.value + sign * high * reading.error, sign)
            there = at(sign * (written - reading.value) / reading.error)
            if there is not None:
                return TurningPoint(reading, written, there, high, high <= close)
            return TurningPoint(reading, reading.value + sign * high * reading.error, fault, high, high <= close)
    return None


def _possible(visit: Visit, reading: Reading, value: float) -> bool:
    """Whether a visit could have this reading at all; what reads a visit refuses the rest (SI)."""
    spec = reading.field
    above_air = spec.kind != "pressure" or reading.gauge
    return spec.low <= (value if above_air else value - visit.machine.station_pressure) <= spec.high


def _written(reading: Reading, value: float, sign: float) -> float:
    """The value as it would be written down, in the unit of the reading, rounded away from what was read."""
    kind = reading.field.kind
    for eighths in range(9):
        shown = units.as_shown(value + sign * eighths / 8 * reading.error, kind, reading.unit)
        if sign * (shown - value) >= 0:
            return shown
    return value


# -- the first fault of a visit with one reading moved ------------------------------------------------------------------


class Leading:
    """One visit, ready to be asked which fault would come first with another value of one reading."""

    def __init__(self, visit: Visit, rules: Rulebook, applying: Applying, good: GoodDayUse | None = None):
        self._book = _Book(rules, applying, good, visit)
        self._visit = visit
        self._bases: dict[frozenset[str], _Base] = {}
        self._whole = self._base(frozenset())
        found = self._book.doubts(visit, self._whole.estimates)
        self._doubted, self._firm = bool(found), sum(doubt.firm for doubt in found)

    def first(self, visit: Visit, reading: str) -> str | None:
        """The first fault of `visit`, which is this visit with one reading moved; None where none may be ranked.

        None too with more firm doubts about the readings than there are as it is.
        """
        base, now = self._whole, self._whole.moved(visit, reading)
        if not self._doubted:  # a doubt can hardly but take an answer away: it is looked for where there is one
            certain = base.with_changes(visit, reading, now)
            fault = self._book.leader(certain)
            if fault == base.fault:
                return None if self._book.held(certain) else fault
        found = self._book.doubts(visit, base.otherwise(now))
        if sum(doubt.firm for doubt in found) > self._firm or any(doubt.firm and doubt.holds_visit for doubt in found):
            return None
        if found or self._doubted:
            certain = self._doubtful(visit, reading, now, found)
        return None if self._book.held(certain) else self._book.leader(certain)

    def _doubtful(
        self, visit: Visit, reading: str, now: dict[str, Estimate | None], found: Sequence[Doubt]
    ) -> list[float]:
        """How sure each pattern is where some readings are doubted; now: what is otherwise, with all of them."""
        parts = []
        for layer in layers(found):
            base = self._base(layer.set_aside)
            changed = now if base is self._whole else base.moved(visit, reading)
            parts.append((layer.share, base, changed | dict.fromkeys(layer.spoilt)))
        if len(parts) == 1:
            _, base, changed = parts[0]
            return base.with_changes(visit, reading, changed)
        told = [(share, base.words | base.changed(visit, reading, changed)) for share, base, changed in parts]
        names = dict.fromkeys(name for _, words in told for name in words)
        words = {n: blended_words([(share, of[n]) for share, of in told if n in of]) for n in names}
        return self._book.applying.plain.certainties(words).patterns

    def may_turn(self, reading: str) -> bool:
        """Whether any words of the findings that follow from this reading could put another fault first.

        With doubts about the readings every one is worth trying: what is set aside may be another then.
        """
        return self._doubted or self._book.open(self._whole, self._book.following(self._whole, reading))

    def _base(self, aside: frozenset[str]) -> _Base:
        found = self._bases.get(aside)
        if found is None:
            found = self._bases[aside] = _Base(self._visit, aside, self._book)
        return found


class _Base:
    """The visit as it is, without the readings that are set aside: what a moved reading is worked out from."""

    def __init__(self, visit: Visit, aside: frozenset[str], book: _Book):
        self._book = book
        self.estimation = Estimation(visit, aside, book.rules.judgement.steadiness)
        self.estimates = self.estimation.estimates()
        self.words = {name: f.words for name, f in find(visit, book.judged(visit, self.estimates), book.rules).items()}
        self.certain = book.applying.plain.certainties(self.words)
        self.fault = book.leader(self.certain.patterns)

    def moved(self, visit: Visit, reading: str) -> dict[str, Estimate | None]:
        return self.estimation.moved(visit, reading)

    def otherwise(self, now: Mapping[str, Estimate | None]) -> dict[str, Estimate]:
        """All quantities, some otherwise (None: not there)."""
        return {name: e for name, e in {**self.estimates, **now}.items() if e is not None}

    def with_changes(self, visit: Visit, reading: str, now: Mapping[str, Estimate | None]) -> list[float]:
        """How sure each pattern is with these quantities otherwise than they are (None: not there)."""
        changed = self.changed(visit, reading, now)
        return self._book.applying.plain.again(self.certain, changed).patterns if changed else self.certain.patterns

    def changed(self, visit: Visit, reading: str, now: Mapping[str, Estimate | None]) -> dict[str, Mapping[str, float]]:
        """The findings that these quantities make otherwise: their words, none where one is no longer there."""
        book, names = self._book, set(now)
        estimates: Mapping[str, Estimate] = {name: e for name, e in now.items() if e is not None}
        if book.good is not None:
            if reading in baseline.CONDITIONS or not names.isdisjoint(baseline.CONDITIONS):
                names |= book.laws.keys()  # other weather: all that the good day says is otherwise
            whole = self.otherwise(now)
            estimates = book.judged(visit, {n: whole[n] for n in (*names, *baseline.CONDITIONS) if n in whole})
        changed: dict[str, Mapping[str, float]] = {}
        for name in names:
            for entry in book.findings_of.get(name, ()):
                finding = measured(entry, estimates.get(name), book.facts)
                words: Mapping[str, float] = {} if finding is None else finding.words
                if words != self.words.get(entry.finding, {}):
                    changed[entry.finding] = words
        return changed


class _Book:
    """What the rules and the good day say of one machine, in the numbers that are needed over and over."""

    def __init__(self, rules: Rulebook, applying: Applying, good: GoodDayUse | None, visit: Visit):
        self.rules, self.applying, self.good = rules, applying, good
        self.facts = machine_facts(visit.machine)
        self.findings_of: dict[str, list[FindingEntry]] = {}
        for entry in rules.findings.values():
            if entry.quantity is not None:
                self.findings_of.setdefault(entry.quantity, []).append(entry)
        self._weighed = [(f, e.usual, applying.weighed.get(f, ())) for f, e in rules.faults.items()]
        number = {pattern.id: i for i, pattern in enumerate(applying.patterns)}
        # A rule without conditions has no pattern; one that held every visit would leave none to be asked about here.
        held_by = [rule.id for rule in applying.rules if rule.holds in ("visit", "outside")]
        self._holding = [number[name] for name in held_by if name in number]

    @property
    def laws(self) -> Mapping[str, baseline.Law]:
        """By which the good day moves with the weather."""
        return self.rules.judgement.good_day.laws

    def doubts(self, visit: Visit, estimates: Mapping[str, Estimate]) -> tuple[Doubt, ...]:
        """Everything doubtful about the readings."""
        return doubts(visit, estimates, self.rules.judgement.plausibility)

    def judged(self, visit: Visit, estimates: Mapping[str, Estimate]) -> Mapping[str, Estimate]:
        """Estimates with what the good day expects of each, where there is one."""
        if self.good is None:
            return estimates
        figures = self.rules.judgement.good_day
        return baseline.project(visit, estimates, self.good.before.estimates, self.good.odd, figures).estimates

    def leader(self, certain: Sequence[float]) -> str:
        """The fault with the most points, of equals the first of the book."""
        return max(self._weighed, key=lambda fault: fault[1] + points(fault[2], certain))[0]

    def held(self, certain: Sequence[float]) -> bool:
        """Whether a rule says that the machine is not ready to be judged."""
        return any(certain[number] > HOLDS for number in self._holding)

    def following(self, base: _Base, reading: str) -> set[str]:
        """The findings that this reading may change."""
        names = set(base.estimation.following(reading))
        if self.good is not None and not (names | {reading}).isdisjoint(baseline.CONDITIONS):
            names |= self.laws.keys()
        return {entry.finding for name in names for entry in self.findings_of.get(name, ())}

    def open(self, base: _Base, findings: Collection[str]) -> bool:
        """Whether any words of these findings could put another fault first.

        A rule is at most as sure as with every word of them certain, and counts between nothing and that.
        """
        plain, now = self.applying.plain, base.certain.patterns
        touched = set(plain.touched(findings))
        every = {name: dict.fromkeys(self.rules.findings[name].words, 1.0) for name in findings}
        most = plain.again(base.certain, every).patterns
        least_of_first, most_of_others = 0.0, -math.inf
        for fault, usual, weighed in self._weighed:
            free = [w for w in weighed if w.pattern in touched or not touched.isdisjoint(w.special)]
            fixed = usual + points([w for w in weighed if w not in free], now)
            ends = [w.points * most[w.pattern] for w in free]
            if fault == base.fault:
                least_of_first = fixed + sum([end for end in ends if end < 0])
            else:
                most_of_others = max(most_of_others, fixed + sum([end for end in ends if end > 0]))
        return most_of_others >= least_of_first - HAIR
