"""What points best tell simulated machines apart: `python tests/benchmarks/fitting.py [CASES] [SEED] [--mode MODE] [--write]`.

Not a test and no judge: which rules there are, and the sign of each, physics and practice have decided; this only weighs
them. What a rule counted for is linear in its points, so the likelihood of the true faults has one optimum. Held while
fitting: every sign; a rule that asks for more never weighs less than the general one; what the textbook and laboratory
cases expect first stays first. Points are pulled towards what stands in the book, because simulated machines are not
machines, and then set in halves, one after the other.

It prints what would change, and which rules could go: those without which the fit is hardly worse. `--write` changes the
rule files; then run every test.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from diagnose import Diagnosis, examine, load_rules
from diagnose.evaluation.drawing import with_only
from diagnose.evaluation.model import merged, readings_of
from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped
from diagnose.simulator import MODES, Mode
from diagnose.simulator.fault_sizes import NOTHING_WRONG, faults_of
from diagnose.simulator.population import draw
from diagnose.visit import visit_from, visit_in
from diagnose.workshop.trials import case_paths, read_case
from diagnose.yamlfile.files import update

PULL = 0.001
"""Nats a case for one point squared away from the book."""
ORDER = 2.0
"""Nats a case for one point squared by which a rule that asks for more would weigh less: far more than a fit can gain."""
BEHIND = 0.02
"""The same for each shipped case whose fault leads by too little. With a hundred times as much a dozen narrow cases undid
what the machines gain; with this none is lost."""
MARGIN, ADVICE = 0.2, 1.1
"""Points by which the fault that a shipped case expects stays ahead; and where advice on the charge is expected."""

HEALTHY = 2.6
"""A false alarm does harm, a doubt costs a reading: a healthy machine counts for so many."""
SHARED = 0.8
"""Of what a machine tells that goes to every fault that counts as one with its own (`merged`): they are one at the gauges."""
LEAST, MOST = 0.5, 4.0  # points
COOLS: frozenset[Mode] = frozenset({"cooling"})
"""What evidence that names no mode is for; what is for both is weighed where it cools."""
HEARD = 0.003
"""Share of the machines on which a rule must count, or its points stay: a shipped case alone would move them otherwise."""
WORTH = 0.2
"""Nats a thousand cases: a rule without which less than that is lost tells these machines apart no better."""

Examined = tuple[Diagnosis, frozenset[str], float]
"""A visit, what comes first if it is right, how much it counts (of a shipped case: by how many points it must lead)."""


@dataclass
class Sample:
    """Examined visits: for each how surely each rule is met, and which faults are the truth."""

    sure: np.ndarray  # visit x rule
    usual: np.ndarray  # visit x fault, what no rule of this table moves; minus infinity: this machine cannot have it
    true: np.ndarray  # visit x fault, 1 for the truth, 0.8 for what counts as one with it
    weight: np.ndarray  # visit


def simulated(rules: Rulebook, cases: int, seed: int, mode: Mode) -> Iterator[Examined]:
    """Machines read in three ways, with and without their good day; the truth; how much each counts."""
    sets = readings_of(mode)
    for place in range(cases):
        practice = draw(seed, place, families="seen", mode=mode)
        truth = frozenset({practice.truth})
        harm = HEALTHY if practice.truth == NOTHING_WRONG else 1.0
        for names in ("basic", "airflow", "all"):
            yield examine(visit_from(with_only(practice.visit, sets[names])), rules), truth, harm
        good_day = {**with_only(practice.visit, sets["airflow"]), "baseline": practice.baseline}
        yield examine(visit_from(good_day), rules), truth, 0.5 * harm


def expected(rules: Rulebook) -> Iterator[Examined]:
    """The shipped cases, with the fault that each expects first."""
    for folder in ("textbook", "lab", "demo"):
        for path in case_paths(shipped("cases") / folder):
            case = read_case(path)
            first, word = case.entry.expect.first, case.entry.expect.charge
            lists = isinstance(first, list) and case.entry.truth in first and not case.entry.expect.also
            if lists or (folder == "lab" and case.entry.truth in rules.faults):
                first = case.entry.truth  # a list says what may be; what is was first, and stays so
            advice = [f for f, entry in rules.faults.items() if word in ("low", "high") and entry.charge == word]
            if advice or first is not None:
                first = advice or ([first] if isinstance(first, str) else first)
                yield (
                    examine(visit_in(case.document, ("visit",)), rules),
                    frozenset(first),
                    ADVICE if advice else MARGIN,
                )


def sample(found: Iterable[Examined], rules: Rulebook, shared: float = 0.0) -> Sample:
    """What a fit needs of them; visits that are not ranked are left out. shared: of what is told, with faults alike."""
    faults, number = list(rules.faults), {rule.id: i for i, rule in enumerate(rules.rules)}
    sure, usual, true, weight = [], [], [], []
    for diagnosis, truth, counts in found:
        if not diagnosis.ranked:
            continue
        met = np.zeros(len(number))
        for firing in diagnosis.matched.firings:
            if firing.rule in number:
                met[number[firing.rule]] = firing.sure
        ranked = {place.fault for place in diagnosis.ranked}
        sure.append(met)
        usual.append([rules.faults[f].usual if f in ranked else -np.inf for f in faults])
        alike = {merged(f) for f in truth}
        true.append([1.0 if f in truth else shared * (merged(f) in alike) for f in faults])
        weight.append(counts)
    return Sample(np.array(sure), np.array(usual), np.array(true), np.array(weight))


class Fit:
    """The objective: how unlikely the truths are, how far the points moved, and what must hold. kept: the rules there are."""

    def __init__(self, rules: Rulebook, machines: Sample, cases: Sample, mode: Mode):
        self.rules, self.machines, self.cases = rules, machines, cases
        self.book = np.array([rule.points for rule in rules.rules])
        number = {rule.id: i for i, rule in enumerate(rules.rules)}
        self.special = [[number[s] for s in rules.more_special(rule)] if rule.fault else [] for rule in rules.rules]
        self.general = [[i for i, more in enumerate(self.special) if n in more] for n in range(len(self.special))]
        self.fault = np.array([[float(rule.fault == f) for f in rules.faults] for rule in rules.rules])
        self.kept = np.array([bool(rule.fault) for rule in rules.rules])
        heard = (machines.sure > 0).sum(0) >= HEARD * len(machines.weight)
        own = [
            rule.fault in faults_of(mode) and min(dict(rule.applies).get("mode", COOLS)) == mode for rule in rules.rules
        ]
        self.free = np.array(own) & heard
        self.order = np.array(
            [
                (special, i)
                for i, rule in enumerate(rules.rules)
                for special in self.special[i]
                if self.book[special] * rule.points > 0 and abs(self.book[special]) >= abs(rule.points)
            ]
        )
        self.sign = np.sign(self.book)
        self.counted = {id(each): self._counted(each) for each in (machines, cases)}

    def _counted(self, each: Sample) -> np.ndarray:
        """What is left of each rule after the more special ones there are: visit x rule."""
        return np.stack([self._left(each, i) for i in range(len(self.book))], axis=1)

    def _left(self, each: Sample, i: int) -> np.ndarray:
        if not self.kept[i]:
            return np.zeros(len(each.sure))
        taken = [each.sure[:, s] for s in self.special[i] if self.kept[s]]
        return np.maximum(0.0, each.sure[:, i] - np.max(taken, axis=0)) if taken else each.sure[:, i]

    def scores(self, each: Sample, points: np.ndarray) -> np.ndarray:
        """Visit x fault."""
        return each.usual + self.counted[id(each)] @ (points[:, None] * self.fault)

    def unlikely(self, points: np.ndarray) -> float:
        """Nats a case of the machines."""
        return self._unlikely(self.scores(self.machines, points))[0]

    def _unlikely(self, scores: np.ndarray) -> tuple[float, np.ndarray]:
        each = self.machines
        odds = np.exp2(scores - scores.max(1, keepdims=True))
        share = odds / odds.sum(1, keepdims=True)
        right = np.maximum((share * each.true).sum(1), 1e-12)
        weight = each.weight / each.weight.sum()
        pull = (share * each.true / right[:, None] - share) * weight[:, None]
        return -float(weight @ np.log(right)), -np.log(2) * pull

    def _by_rule(self, each: Sample, pull: np.ndarray) -> np.ndarray:
        return np.einsum("cr,cf,rf->r", self.counted[id(each)], pull, self.fault, optimize=True)

    def loss(self, points: np.ndarray) -> tuple[float, np.ndarray]:
        """Nats a case, and its slope by each point."""
        loss, pull = self._unlikely(self.scores(self.machines, points))
        held, push = self._behind(self.scores(self.cases, points))
        slope = self._by_rule(self.machines, pull) + self._by_rule(self.cases, push)
        special, general = self.order.T
        lack = np.maximum(0.0, np.abs(points[general]) - np.abs(points[special]))
        np.add.at(slope, general, 2 * ORDER * lack * self.sign[general])
        np.add.at(slope, special, -2 * ORDER * lack * self.sign[special])
        moved = points - self.book
        total = loss + held + ORDER * float(lack @ lack) + PULL * float(moved @ moved)
        return total, slope + 2 * PULL * moved

    def _behind(self, scores: np.ndarray) -> tuple[float, np.ndarray]:
        """What it costs that a shipped case's expected fault does not lead far enough, and the slope by each score."""
        own = np.where(self.cases.true > 0.3, scores, -np.inf)
        others = np.where(self.cases.true > 0.3, -np.inf, scores)
        place, rival = own.argmax(1), others.argmax(1)
        each = np.arange(len(scores))
        behind = np.maximum(0.0, self.cases.weight - own[each, place] + others[each, rival])
        pull = np.zeros_like(scores)
        pull[each, place], pull[each, rival] = -2 * BEHIND * behind, 2 * BEHIND * behind
        return BEHIND * float(behind @ behind), pull

    def solve(self) -> np.ndarray:
        """The best points, in halves."""
        bounds = [
            (p, p) if not free else (LEAST, MOST) if p > 0 else (-MOST, -LEAST)
            for p, free in zip(self.book, self.free, strict=True)
        ]
        low, high = np.array(bounds).T
        start = np.clip(self.book, low, high)
        found = minimize(self.loss, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 500})
        points = np.where(self.free, np.clip(np.round(found.x * 2) / 2, low, high), self.book)
        return self._polished(points, bounds)

    def _polished(self, points: np.ndarray, bounds: list[tuple[float, float]]) -> np.ndarray:
        """Half a point up or down, as long as that helps: the rounding is made good."""
        best, slope = self.loss(points)
        for _ in range(3):
            before = best
            for i in np.argsort(-np.abs(slope)):
                step = -0.5 if slope[i] > 0 else 0.5
                if not self.free[i] or not bounds[i][0] <= points[i] + step <= bounds[i][1]:
                    continue
                tried = points.copy()
                tried[i] += step
                value, new = self.loss(tried)
                if value < best - 1e-6:
                    points, best, slope = tried, value, new
            if best > before - 1e-5:
                break
        return points

    def spare(self, points: np.ndarray, worth: float = WORTH) -> Iterator[tuple[int, float]]:
        """Rules that may go, one after the other: the one whose absence costs least of what is left, and what it costs.

        Nats a thousand cases, with the shipped cases; until that is more than `worth`. What a rule took of general ones is
        theirs again. Afterwards this fit knows only the rules that are left.
        """
        samples = (self.machines, self.cases)
        scores = [self.scores(each, points) for each in samples]

        def without(i: int) -> list[np.ndarray]:
            self.kept[i] = False
            gained = [
                sum(
                    np.outer((self._left(each, n) - self.counted[id(each)][:, n]) * points[n], self.fault[n])
                    for n in (i, *(g for g in self.general[i] if self.kept[g]))
                )
                for each in samples
            ]
            self.kept[i] = True
            return [had + more for had, more in zip(scores, gained, strict=True)]

        def costs(scores: list[np.ndarray]) -> float:
            return 1000 * (self._unlikely(scores[0])[0] + self._behind(scores[1])[0])

        while True:
            whole = costs(scores)
            least, i = min((costs(without(i)) - whole, i) for i in np.flatnonzero(self.free & self.kept))
            if least > worth:
                return
            yield int(i), least
            scores = without(i)
            self.kept[i] = False
            for each in samples:
                for n in (i, *self.general[i]):
                    self.counted[id(each)][:, n] = self._left(each, n)


def write_points(rules: Rulebook, points: np.ndarray) -> None:
    """Each rule's `points:` line of the shipped files; nothing else is touched."""
    changed = {r.id: float(p) for r, p in zip(rules.rules, points, strict=True) if p != r.points}
    for path in (shipped("rules") / "faults").glob("*.yaml"):
        was = text = path.read_text()
        for name, new in changed.items():
            text = re.sub(rf"(?m)(^  - id: {re.escape(name)}\n(?:    .*\n)*?    points: )\S+", rf"\g<1>{new:g}", text)
        update(path, text, was)


def main() -> None:
    """Draw, examine, fit, and say what came of it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("cases", type=int, nargs="?", default=1200)
    options.add_argument("seed", type=int, nargs="?", default=4001)
    options.add_argument("--mode", choices=MODES, default="cooling")
    options.add_argument("--write", action="store_true")
    chosen = options.parse_args()
    rules = load_rules()
    machines = sample(simulated(rules, chosen.cases, chosen.seed, chosen.mode), rules, SHARED)
    fit = Fit(rules, machines, sample(expected(rules), rules), chosen.mode)
    points = fit.solve()
    print(f"nats a case: {fit.unlikely(fit.book):.3f} as shipped, {fit.unlikely(points):.3f} fitted")
    for rule, new in zip(rules.rules, points, strict=True):
        if new != rule.points:
            print(f"{rule.points:+5.1f} -> {new:+5.1f}  {rule.id}")
    print("could go, one after the other (nats a thousand cases lost without it):")
    for i, cost in fit.spare(points):
        print(f"{cost:7.2f}  {points[i]:+5.1f}  {rules.rules[i].id}")
    if chosen.write:
        write_points(rules, points)


if __name__ == "__main__":
    main()
