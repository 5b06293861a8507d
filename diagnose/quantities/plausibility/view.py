"""What the tests of plausibility look at, and what they say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.uncertainty import COVERAGE, Estimate, absolute
from diagnose.units.columns import clamp, hypot, is_column, root
from diagnose.visit import Visit
from diagnose.visit.reason import Reason

ATMOSPHERE = 101325.0  # Pa

FIRM = 0.5
"""Weight from which a doubt is acted on as a whole (holds, checks): more likely wrong than right."""
TOLD = 0.1
"""Weight from which a doubt is told; below it takes away less than anybody would notice."""
HAIR = 1e-12
"""Parts of the whole narrower than this are a rounding."""


def ramp(x: float, none: float, full: float) -> float:
    """0 up to `none`, 1 from `full`, straight between: of all ways from one to the other the least steep. Either way round."""
    return clamp((x - none) / (full - none), 0.0, 1.0)


def around(x: float, limit: float, width: float) -> float:
    """How far x is above a limit that is known to about `width` either way, 0 to 1."""
    return ramp(x, limit - width, limit + width)


class Doubt(NamedTuple):
    """One doubt about the readings.

    reason: what is doubted and the likely slip, as a code and its figures. readings: those it is about. set_aside:
    readings not used. spoils: quantities not used. holds_charge: no charge verdict until it is cleared. holds_visit: no
    fault is ranked either. check: what of rules/checks.yaml would clear it. weight: how sure it is, 0 to 1; what is set
    aside keeps only the rest of its say. start: how much of the whole other doubts took before it, which say instead of it
    what is wrong; of two doubts with the same start the surer one holds wherever the other does. Of a visit of columns both
    are columns.
    """

    reason: Reason
    readings: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
    spoils: tuple[str, ...] = ()
    holds_charge: bool = False
    holds_visit: bool = False
    check: str | None = None
    weight: float = 1.0
    start: float = 0.0

    @property
    def end(self) -> float:
        """How much of the whole this doubt and those before it take."""
        return self.start + self.weight

    @property
    def firm(self) -> bool:
        """Whether the readings are more likely wrong than right."""
        return self.weight >= FIRM

    @property
    def told(self) -> bool:
        """Whether it is worth a sentence."""
        return self.weight >= TOLD

    def times(self, share: float) -> Doubt:
        """The same with less weight; the sentence knows of it."""
        weight = self.weight * share
        if is_column(weight):
            return self._replace(weight=weight)
        figures = {k: v for k, v in self.reason.figures.items() if k != "weight"}
        reason = Reason(self.reason.code, figures if weight >= 1.0 else {**figures, "weight": weight})
        return self._replace(reason=reason, weight=weight)

    def at(self, start: float) -> Doubt:
        """The same beginning there."""
        return self._replace(start=start)

    def after(self, taken: float) -> Doubt:
        """The same where other doubts, instead of which it would hold, have taken so much of the whole."""
        left = 1.0 - taken
        return (
            self if not is_column(taken) and taken <= 0 else self.times(left)._replace(start=taken + self.start * left)
        )


def taken(found: Iterable[Doubt]) -> float:
    """How much of the whole any of these take, 0 to 1."""
    found = list(found)
    if any(is_column(doubt.weight) for doubt in found):
        from diagnose.quantities.plausibility import columnwise

        return columnwise.taken(found)
    total = until = 0.0
    for start, end in sorted((doubt.start, doubt.end) for doubt in found):
        total += max(0.0, end - max(start, until))
        until = max(until, end)
    return total


class Layer(NamedTuple):
    """What is left out of the readings, and how much of the whole is judged like that, 0 to 1."""

    share: float
    set_aside: frozenset[str]
    spoilt: frozenset[str]


def layers(doubts: Sequence[Doubt]) -> tuple[Layer, ...]:
    """The visit with and without what is doubted, by how sure the doubts are; the shares add to 1.

    One doubt of weight 0.3 gives two: 0.7 with everything, 0.3 without. Doubts lie on the whole from `start` to `end`, and a
    new layer begins wherever one of them does or ends. The last of the layers are those that leave out most.
    """
    acting = [doubt for doubt in doubts if doubt.weight > 0 and (doubt.set_aside or doubt.spoils)]
    cuts = sorted(
        {0.0, 1.0, *(min(place, 1.0) for doubt in acting for place in (doubt.start, doubt.end))}, reverse=True
    )
    found: list[Layer] = []
    for high, low in pairwise(cuts):
        out = [doubt for doubt in acting if doubt.start <= low and doubt.end >= high]
        aside = frozenset(name for doubt in out for name in doubt.set_aside)
        spoilt = frozenset(name for doubt in out for name in doubt.spoils)
        if high - low > HAIR:
            found.append(Layer(high - low, aside, spoilt))
    return tuple(found)


class ReadingsView(NamedTuple):
    """What the tests look at: values and limits of error of readings and quantities.

    Where the visit is one of columns (its figures are columns, nan for what a row has not), so is all that it gives.
    """

    visit: Visit
    estimates: Mapping[str, Estimate]
    limits: PlausibilityLimits

    def value(self, reading: str) -> float | None:
        """The reading in SI, pressures absolute; None where it was not taken."""
        found = self.visit.last.readings.get(reading)
        return None if found is None else absolute(found, self.visit.machine)

    def error(self, *readings: str) -> float:
        """The limit of error of a difference of these readings, SI; those not taken add nothing."""
        errors = [self.visit.last.readings[r].error for r in readings if r in self.visit.last.readings]
        return root(sum([e * e for e in errors], 0.0))

    @property
    def glide(self) -> float:
        """K by which a blend that is part liquid, part vapour may lie below its dew or above its bubble temperature."""
        gas = self.visit.machine.refrigerant
        return gas.glide if gas is not None else 0.0

    def quantity(self, name: str) -> tuple[float, float] | None:
        """(value, limit of error) of a quantity."""
        found = self.estimates.get(name)
        return None if found is None else (found.value, COVERAGE * found.sigma)

    def above(self, low: str, high: str) -> tuple[float, float]:
        """(K by which `low` is above `high`, how sure that is no error, 0 to 1); nothing where either is missing."""
        a, b = self.value(low), self.value(high)
        if a is None or b is None:
            return 0.0, 0.0
        return a - b, self.beyond(a - b, self.error(low, high))

    def beyond(self, by: float, error: float, more: float = 0.0) -> float:
        """How sure a reading is wrong that lies K beyond what can be, 0 to 1. error: its limit of error, K.

        more: K that are allowed besides.
        """
        return ramp((by - more) / hypot(error / COVERAGE, self.limits.lag), *self.limits.fading)
