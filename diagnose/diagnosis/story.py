"""A machine over its visits: what of each visit is remembered, what drifts slowly, which visit is its good day.

A drift is looked for in the difference of a quantity from what it should be, at like weather, since the last repair: a line
by least squares, each visit weighed by its instruments and by how far a sound machine wanders from day to day (`laws` and
`drifts` in rules/judgement.yaml). Weighted least squares and the standard deviation of its slope: textbook; where the visits
scatter more than that says, the standard deviation grows with it (Birge's ratio).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from diagnose.diagnosis.charge import TOGETHER, confirmed_by
from diagnose.diagnosis.findings import by_good_day
from diagnose.diagnosis.record import Diagnosis
from diagnose.properties.targets import NoTarget
from diagnose.quantities.uncertainty import Estimate
from diagnose.rulebook.judgement import DriftFigures
from diagnose.visit import Machine, System

FOLLOWED = ("superheat", "subcooling", "condensing over ambient", "air temperature split")
OUTDOOR = "outdoor air temperature"
_NORMAL = "normal"


@dataclass(frozen=True, slots=True)
class Figure:
    """One quantity of one visit, K. expected: what it should be in general (None: nothing is expected), origin: whose figure.
    difference: value minus expected, with its standard deviation by the instruments. wander: how far a sound machine moves from
    day to day, one standard deviation. low, high: the limits of the word "normal" on that visit (None: it was not judged).
    """

    value: float
    sigma: float
    expected: float | None = None
    origin: str | None = None
    difference: float | None = None
    difference_sigma: float | None = None
    wander: float = 0.0
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Story:
    """What of a visit's diagnosis is remembered. fault, name, strength, share: of the likeliest (None: held). right: whether
    that is "nothing wrong". outdoor: K. worked: whether something was done or weighed on this visit. stop: whether the machine
    was to be stopped. together: whether the charge was right only by all readings together: a leak that is slow would pass so.
    check: on which a charge that is off hung.
    """

    status: str
    system: System
    fault: str | None
    name: str | None
    strength: str | None
    share: float | None
    verdict: str
    right: bool
    mode: str | None
    outdoor: float | None
    worked: bool
    figures: Mapping[str, Figure]
    stop: bool = False  # of what was kept before this was remembered nobody knows; nor of the next
    refrigerant: str | None = None
    together: bool = False
    check: str | None = None

    def of_one_gas(self, other: Story) -> bool:
        """Whether both may be of one refrigerant."""
        return self.refrigerant is None or other.refrigerant in (None, self.refrigerant)


@dataclass(frozen=True, slots=True)
class Look:
    """One visit in a machine's story. date: ISO."""

    id: str
    date: str
    story: Story


@dataclass(frozen=True, slots=True)
class Drift:
    """A quantity that moves away from what it should be: slope and its standard deviation, K a day, over visits and days; sure:
    whether it is told."""

    name: str
    slope: float
    sigma: float
    visits: int
    days: float
    sure: bool


def tell(d: Diagnosis) -> Story:
    """What of a diagnosis is remembered."""
    first = d.faults[0] if d.faults else None
    outdoor = d.estimates.get(OUTDOOR)
    return Story(
        status=d.status,
        system=d.system,
        fault=first.fault if first else None,
        name=d.rules.faults[first.fault].name if first else None,
        strength=first.strength if first else None,
        share=round(first.share, 4) if first else None,
        verdict=d.charge.verdict,
        right=first is not None and d.rules.faults[first.fault].charge == "right",
        mode=d.visit.machine.mode,
        outdoor=outdoor.value if outdoor else None,
        worked=bool(d.visit.weighed or d.visit.remarks.get("done")),
        figures={name: _figure(d, d.estimates[name]) for name in FOLLOWED if name in d.estimates},
        stop=d.stop,
        refrigerant=d.visit.machine.refrigerant.name if d.visit.machine.refrigerant else None,
        check=confirmed_by(d.charge, d.rules),
        together=any(reason.code == TOGETHER for reason in d.charge.reasons),
    )


def _figure(d: Diagnosis, e: Estimate) -> Figure:
    """By what holds in general, not by a good day: a visit with one and a visit without one stay comparable."""
    low, high = _band(d, e)
    found = Figure(e.value, e.sigma, wander=d.rules.judgement.drifts.wander, low=low, high=high)
    if e.target is None or e.difference is None:
        return found
    return replace(
        found,
        expected=e.target.value,
        origin=e.target.origin,
        difference=e.difference,
        difference_sigma=e.difference_sigma,
        wander=_wander(d, e.name, e.target.value, d.visit.machine),
    )


def _band(d: Diagnosis, e: Estimate) -> tuple[float | None, float | None]:
    """Between which values the finding of this name is normal."""
    finding, words = d.findings.get(e.name), d.rules.findings[e.name].words
    if finding is None or finding.scale is None or not finding.limits or _NORMAL not in words[1:-1]:
        return None, None
    place = list(words).index(_NORMAL)
    if by_good_day(finding) and e.good_day is not None:
        middle = e.good_day.expected.value
    elif finding.scale.by == "nearest" and isinstance(e.expected, NoTarget) and e.expected.nearest is not None:
        middle = e.expected.nearest.value
    elif finding.scale.by == "difference" and e.target is not None:
        middle = e.target.value
    elif finding.scale.by == "value":
        middle = 0.0
    else:
        return None, None
    return middle + finding.limits[place - 1], middle + finding.limits[place]


def _wander(d: Diagnosis, name: str, expected: float, machine: Machine) -> float:
    law = d.rules.judgement.good_day.laws.get(name)
    if law is None:
        return d.rules.judgement.drifts.wander
    return law.left(machine) * (abs(expected) if law.by == "share" else 1.0)


def as_data(story: Story) -> dict[str, Any]:
    """For JSON."""
    return asdict(replace(story, figures=dict(story.figures)))


def story_from(data: Mapping[str, Any]) -> Story:
    """What `as_data` gave. Raises TypeError, KeyError or AttributeError for anything else."""
    return Story(**{**data, "figures": {name: Figure(**figure) for name, figure in data["figures"].items()}})


# -- what the visits say together --------------------------------------------------------------------------------------


def good_day(looks: Sequence[Look]) -> Look | None:
    """The last visit on which nothing was wrong and the charge was surely right: the baseline of the next."""
    last = looks[-1].story if looks else None
    return next(
        (look for look in reversed(looks) if last and _all_right(look.story) and look.story.of_one_gas(last)), None
    )


def _all_right(story: Story) -> bool:
    return story.right and story.verdict == "right" and not story.together and not story.stop


def drifts(looks: Sequence[Look], figures: DriftFigures) -> list[Drift]:
    """Every followed quantity that can be given a line, sure or not, at the weather of the last visit."""
    found = []
    for name in FOLLOWED:
        points = _points(looks, name, figures.like)
        if (drift := _line(name, points, figures)) is not None:
            found.append(drift)
    return found


def since_repair(looks: Sequence[Look]) -> Sequence[Look]:
    """The visits since something was done: from that visit on where it found the machine right, else from the next."""
    for i in range(len(looks) - 1, -1, -1):
        if looks[i].story.worked:
            return looks[i if looks[i].story.right else i + 1 :]
    return looks


def _points(looks: Sequence[Look], name: str, like: float) -> list[tuple[float, float, float]]:
    """Day, difference and its standard deviation (K) of the visits that can be compared with the last one."""
    usable = [look for look in since_repair(looks) if look.story.status == "diagnosed" and name in look.story.figures]
    if not usable:
        return []
    last = usable[-1].story
    points = []
    for look in usable:
        story, figure = look.story, look.story.figures[name]
        alike = story.of_one_gas(last) and story.mode == last.mode and figure.origin == last.figures[name].origin
        if last.outdoor is None or story.outdoor is None or abs(story.outdoor - last.outdoor) > like or not alike:
            continue
        if figure.difference is not None and figure.difference_sigma is not None:
            points.append((day(look.date), figure.difference, math.hypot(figure.difference_sigma, figure.wander)))
    return points


def day(date: str) -> float:
    """Days since the calendar began."""
    found = datetime.fromisoformat(date)
    return found.toordinal() + (found.hour + found.minute / 60) / 24


def _line(name: str, points: Sequence[tuple[float, float, float]], figures: DriftFigures) -> Drift | None:
    days = points[-1][0] - points[0][0] if points else 0.0
    if len(points) < figures.visits or days < figures.days:
        return None
    weights = [1 / sigma**2 for _, _, sigma in points]
    whole = sum(weights)
    middle = sum(w * t for w, (t, _, _) in zip(weights, points, strict=True)) / whole
    mean = sum(w * y for w, (_, y, _) in zip(weights, points, strict=True)) / whole
    spread = sum(w * (t - middle) ** 2 for w, (t, _, _) in zip(weights, points, strict=True))
    slope = sum(w * (t - middle) * (y - mean) for w, (t, y, _) in zip(weights, points, strict=True)) / spread
    left = sum(w * (y - mean - slope * (t - middle)) ** 2 for w, (t, y, _) in zip(weights, points, strict=True))
    birge = max(1.0, left / (len(points) - 2))
    sigma = math.sqrt(birge / spread)
    return Drift(name, slope, sigma, len(points), days, abs(slope) > figures.told * sigma)
