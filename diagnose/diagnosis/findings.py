"""Numbers become words, once: each quantity, with its uncertainty, gets a probability for each word of its finding.

The value of a quantity, or its distance from the expected one, is taken as normally distributed: its own uncertainty
and the spread of healthy machines about the expected value add as variances. The limits between the words stand in
rules/findings.yaml.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities import EXPECTED, STEPS, QuantityKind, own_steps, run
from diagnose.quantities.uncertainty import Estimate, inputs
from diagnose.rulebook import Rulebook, applies, machine_facts
from diagnose.rulebook.entries import FindingEntry, WordScale
from diagnose.units.columns import choose, erfc, greater
from diagnose.visit import Visit, VisitError
from diagnose.visit.trade_words import SEEN, said_as
from diagnose.yamlfile import Problem, did_you_mean, printable

# A word this unlikely is not said. What is left is shared out again, so that nothing jumps where a word falls silent.
SILENT = 0.01


class Finding(NamedTuple):
    """One finding of one visit: a probability for each word, and what it was judged by.

    The words add to 1, or to what is left where a reading it comes from is doubted.
    limits: between the words, SI, on `by` (value, difference from expected, share of expected); empty for things seen.
    """

    name: str
    words: Mapping[str, float]
    estimate: Estimate | None = None
    scale: WordScale | None = None
    limits: tuple[float, ...] = ()
    spread: float = 0.0

    def __repr__(self) -> str:
        return f"<Finding {self.name}: {', '.join(f'{word} {chance:.2f}' for word, chance in self.words.items())}>"

    @property
    def word(self) -> str:
        """The likeliest word."""
        return max(self.words, key=lambda w: self.words[w])

    def chance(self, words: Collection[str]) -> float:
        """How likely it has one of these words."""
        return sum([self.words[word] for word in self.words if word in words])

    @property
    def counts(self) -> float:
        """How much of it counts, 0 to 1: all, unless a reading it comes from is doubted."""
        return min(1.0, sum(self.words.values()))


def by_good_day(finding: Finding) -> bool:
    """Whether it was judged by the machine's own good day."""
    return finding.scale is not None and finding.scale.target == "baseline"


def probabilities(words: Sequence[str], limits: Sequence[float], value: float, sigma: float) -> dict[str, float]:
    """The chance that the true value lies between the limits of each word; words from low to high.

    A value on a limit with no uncertainty belongs to the upper word.
    """
    found = chances(limits, value, sigma)
    return {word: chance for word, chance in zip(words, found, strict=True) if chance > 0}


def chances(limits: Sequence[float], value: float, sigma: float) -> list[float]:
    """The chance of each word, none where it is silent; value and sigma may be columns."""
    if value.__class__ is float and sigma.__class__ is float and sigma > 0.0:  # the same without a look at each figure
        by = sigma * _ROOT_2
        below = [0.0, *[0.5 * math.erfc((value - limit) / by) for limit in limits], 1.0]
        heard = [high - low - SILENT for low, high in pairwise(below)]
        heard = [chance if chance > 0.0 else 0.0 for chance in heard]
        total = sum(heard)
        return [chance / total for chance in heard]
    edges = [0.0, *_below(limits, value, sigma), 1.0]
    loud = [greater(0.0, greater(0.0, high - low) - SILENT) for low, high in pairwise(edges)]
    total = sum(loud)
    return [chance / total for chance in loud]


def _below(limits: Sequence[float], value: float, sigma: float) -> list[float]:
    sure: Any = sigma <= 0
    if sure is True:
        return [choose(value < limit, 1.0, 0.0) for limit in limits]
    by = sigma * _ROOT_2
    chance = [0.5 * erfc((value - limit) / by) for limit in limits]
    if sure is False or not sure.any():
        return chance
    return [choose(sure, choose(value < limit, 1.0, 0.0), each) for limit, each in zip(limits, chance, strict=True)]


_ROOT_2 = math.sqrt(2)


def find(
    visit: Visit, estimates: Mapping[str, Estimate], rules: Rulebook, only: Collection[str] | None = None
) -> dict[str, Finding]:
    """All findings of the visit, in the order of the book. Raises VisitError where something seen is not known.

    only: the names of those that are wanted, all unless they are given.
    """
    problems = seen_problems(visit, rules)
    if problems:
        raise VisitError(problems)
    facts = machine_facts(visit.machine)
    found = {}
    for entry in rules.findings.values():
        if only is not None and entry.finding not in only:
            continue
        if entry.seen:
            if entry.finding in visit.seen:
                found[entry.finding] = Finding(entry.finding, {visit.seen[entry.finding]: 1.0})
            continue
        finding = measured(entry, estimates.get(entry.quantity or ""), facts)
        if finding is not None:
            found[entry.finding] = finding
    return found


def blended(parts: Sequence[tuple[float, Mapping[str, Finding]]]) -> dict[str, Finding]:
    """Findings with some readings and without, each with its share of the whole (they add to 1): one finding of each name.

    A finding that a part has not is not measured there and asserts nothing, so its words add to less than 1. What it was
    judged by is that of the largest part which has it.
    """
    if len(parts) == 1:
        return dict(parts[0][1])
    found: dict[str, Finding] = {}
    heaviest = sorted(parts, key=lambda part: -part[0])
    for name in dict.fromkeys(name for _, findings in parts for name in findings):
        best = next(findings[name] for _, findings in heaviest if name in findings)
        words = blended_words([(share, findings[name].words) for share, findings in parts if name in findings])
        if words:
            found[name] = best._replace(words=words)
    return found


def blended_words(parts: Sequence[tuple[float, Mapping[str, float]]]) -> dict[str, float]:
    """The words of one finding, each part with its share of the whole."""
    words: dict[str, float] = {}
    for share, each in parts:
        for word, chance in each.items():
            if share * chance > 0:
                words[word] = words.get(word, 0.0) + share * chance
    return words


def measured(entry: FindingEntry, estimate: Estimate | None, facts: Mapping[str, str]) -> Finding | None:
    """The finding that this estimate of its quantity makes on such a machine; None where it makes none.

    Towards the edge of the table that its expected value is from, what would be said beyond the edge counts as well;
    towards the edge of its own domain it counts less and less.
    """
    if estimate is None:
        return None
    found, target = _measured(entry, estimate, facts), estimate.target
    inside = 1.0 if target is None else target.inside
    if found is not None and (estimate.inside * inside >= 1.0 or not found.limits):
        return found  # whether there is a target is no matter of degree: the protocol's verdict needs one
    parts = [(estimate.inside * inside, found)]
    if target is not None:
        beyond = _measured(entry, estimate._replace(expected=target.beyond), facts)
        parts.append((estimate.inside * (1.0 - inside), beyond))
    having = [(share, each) for share, each in parts if each is not None]
    words = blended_words([(share, each.words) for share, each in having])
    return max(having, key=lambda part: part[0])[1]._replace(words=words) if words else None


def _measured(entry: FindingEntry, estimate: Estimate, facts: Mapping[str, str]) -> Finding | None:
    scale, judged = _scale_for(entry, estimate, facts)
    if scale is None:
        return None
    if judged is None:  # by whether there is a target
        word = estimate.expected.reason if isinstance(estimate.expected, NoTarget) else "found"
        return Finding(entry.finding, {word: 1.0}, estimate, scale) if word in entry.words else None
    value, sigma, spread = judged
    if scale.spread is not None:  # beyond a table the distance from it comes on top
        spread = math.hypot(scale.spread, spread) if scale.by == "nearest" else scale.spread
    limits = _limits(estimate, scale)
    words = probabilities(entry.words, limits, value, math.hypot(sigma, spread))
    return Finding(entry.finding, words, estimate, scale, limits, spread)


def _limits(estimate: Estimate, scale: WordScale) -> tuple[float, ...]:
    """Those of the scale; by a good day that says less than they ask for they stand further out, all by one factor."""
    day = estimate.good_day
    if scale.target != "baseline" or day is None or day.least <= 0.0:
        return scale.limits
    if scale.by == "share":
        own = day.expected.value
        if own <= 0 or min(scale.limits) <= 0:
            return scale.limits
        nearest = min(abs(math.log(limit)) for limit in scale.limits)
        return tuple(limit ** _further(day.least / own, nearest) for limit in scale.limits)
    return tuple(limit * _further(day.least, min(map(abs, scale.limits))) for limit in scale.limits)


def _further(least: float, nearest: float) -> float:
    return max(1.0, least / nearest) if nearest > 0 else 1.0


def _judged(estimate: Estimate, scale: WordScale) -> tuple[float, float, float] | None:
    """What the limits are compared with: value, its standard deviation, spread of the expected value; None if unknown."""
    if scale.target == "baseline":
        day = estimate.good_day
        if day is None:
            return None
        if scale.by == "difference":
            return day.difference, day.sigma, day.expected.spread
        own = day.expected.value
        return None if own <= 0 else (estimate.value / own, day.sigma / own, day.expected.spread / own)
    target = estimate.target
    if scale.by == "value":
        return estimate.value, estimate.sigma, 0.0
    if scale.by == "nearest":
        near = estimate.expected.nearest if isinstance(estimate.expected, NoTarget) else None
        return None if near is None else (estimate.value - near.value, estimate.sigma, near.spread)
    if target is None:
        return None
    if scale.by == "difference":
        return estimate.value - target.value, estimate.difference_sigma, target.spread
    if target.value <= 0:
        return None
    return estimate.value / target.value, estimate.difference_sigma / target.value, target.spread / target.value


def scale_for(entry: FindingEntry, estimate: Estimate, facts: Mapping[str, str]) -> WordScale | None:
    """The first scale for this machine and this kind of expected value; one by its own good day before all others."""
    return _scale_for(entry, estimate, facts)[0]


def _scale_for(
    entry: FindingEntry, estimate: Estimate, facts: Mapping[str, str]
) -> tuple[WordScale | None, tuple[float, float, float] | None]:
    """The same, with what its limits are compared with."""
    target = estimate.target
    origins: list[str | None] = [None, target.origin if target else "none"]
    scales: Iterable[WordScale] = entry.scales
    if estimate.good_day is not None:
        origins.append("baseline")
        scales = sorted(scales, key=lambda s: s.target != "baseline")
    for scale in scales:
        if scale.target in origins and applies(scale.applies, facts):
            if scale.by == "target":
                return scale, None
            if (judged := _judged(estimate, scale)) is not None:
                return scale, judged
    return None, None


def odd_then(findings: Mapping[str, Finding], rules: Rulebook) -> frozenset[str]:
    """Quantities of a baseline that were themselves not as they should be, by what holds in general.

    Right is the word in which a machine stands that reads what its good day expects.
    """
    odd = set()
    for name, finding in findings.items():
        entry = rules.findings[name]
        scale = next((s for s in entry.scales if s.target == "baseline"), None)
        if scale is not None and entry.quantity is not None:
            right = entry.words[sum(limit <= (1.0 if scale.by == "share" else 0.0) for limit in scale.limits)]
            if finding.words.get(right, 0.0) < rules.judgement.good_day.believed_right:
                odd.add(entry.quantity)
    return frozenset(odd)


class Span(NamedTuple):
    """Between which values of its quantity (SI) a word is said; None: open on that side."""

    low: float | None
    high: float | None
    kind: QuantityKind


def spans(name: str, visit: Visit, rules: Rulebook) -> dict[str, Span]:
    """Where each word of a finding lies on this machine in this weather, also before anything of it is measured.

    Empty for what is seen, and where what it is judged against is not known yet.
    """
    entry = rules.findings[name]
    steps = (*STEPS, *own_steps(rules.own.quantities))
    step = next((s for s in steps if s.name == entry.quantity), None)
    if step is None:
        return {}
    values = inputs(visit.machine, visit.last)
    run(steps, values)
    expected = values.get(EXPECTED + step.name)
    # of what is not measured yet only the expected value is known
    stand_in = Estimate(step.name, step.kind, math.nan, math.nan, expected, None, math.nan, (), {}, "", "")
    scale = scale_for(entry, stand_in, machine_facts(visit.machine))
    if scale is None or scale.by == "target":
        return {}
    limits = scale.limits
    if scale.by != "value":
        near = expected.nearest if isinstance(expected, NoTarget) else expected
        if not isinstance(near, Target):
            return {}
        limits = tuple(x * near.value if scale.by == "share" else x + near.value for x in limits)
    edges: list[float | None] = [None, *limits, None]
    return {w: Span(low, high, step.kind) for w, (low, high) in zip(entry.words, pairwise(edges), strict=True)}


def named_as_now(visit: Visit, rules: Rulebook) -> Visit:
    """The visit with what was seen under the names of this book, where an earlier one had others.

    Without what only rules know that cannot be used now: they never stop a visit.
    """
    names = rules.renamed.get("finding", {})
    seen = {names.get(name, name): word for name, word in visit.seen.items()}
    left_out = [n for n in seen if n not in rules.seen and not did_you_mean(n, rules.seen)] if rules.unfit else []
    if seen.keys() == visit.seen.keys() and not left_out:
        return visit
    kept = {name: word for name, word in seen.items() if name not in left_out}
    return replace(visit, seen=kept, left_out=(*visit.left_out, *left_out))


def seen_problems(visit: Visit, rules: Rulebook) -> list[Problem]:
    """What the rule book does not know of the things seen: only it says which there are, and their words."""
    problems = seen_problems(visit.baseline, rules) if visit.baseline is not None else []
    for name, word in visit.seen.items():
        entry = rules.seen.get(name)
        if entry is None:
            known = f"Known: {', '.join(rules.seen)}. Words of your own rules need `--rules FOLDER`."
            listed = any(problem.fix == known for problem in problems)
            fix = did_you_mean(SEEN.get(name, name), rules.seen) or ("Known: see above." if listed else known)
            problems.append(_at(visit, name, f"`{printable(name)}` is not something this rule book asks for", fix))
        elif word not in entry.words:
            fix = did_you_mean(said_as(word, entry.words), entry.words) or f"Write one of: {', '.join(entry.words)}."
            problems.append(_at(visit, name, f"`{printable(name)}: {printable(word)}` is not known", fix))
    return problems


def _at(visit: Visit, name: str, what: str, fix: str) -> Problem:
    """The problem where the thing seen is written."""
    where = visit.seen_at.get(name, Problem(visit.document, 0, 0, ""))
    return where._replace(what=f"seen: {what}", fix=fix)
