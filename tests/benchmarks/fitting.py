"""What points best tell simulated machines apart: `python tests/benchmarks/fitting.py [CASES] [SEED] [--write]`.

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
from scipy.sparse import csr_matrix

from diagnose import Diagnosis, examine, load_rules
from diagnose.evaluation.drawing import with_only
from diagnose.evaluation.model import READINGS
from diagnose.files import update
from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped
from diagnose.simulator.population import FAULTS, draw
from diagnose.visit import visit_from, visit_in
from diagnose.workshop.trials import case_paths, read_case

PULL = 0.002
"""Nats a case for one point squared away from the book."""
HINGE = 2.0
"""Nats a case for one point squared by which an order or a shipped case would be broken: far more than a fit can gain."""
MARGIN, ADVICE = 1.0, 1.9
"""Points by which the fault that a shipped case expects stays ahead; and where advice on the charge is expected."""
HEALTHY = 2.0
"""A false alarm does harm, a doubt costs a reading: a healthy machine counts as two."""
ALIKE = frozenset({"liquid-line-restriction", "metering-underfeeding"})
"""One fault at the gauges (`one_doubt` of readiness.yaml): four fifths of what such a machine tells is shared."""
CAUTION = 1.25
"""Scores are taken for so much larger than they are while fitting, so that points come out as much smaller: on machines of
structures left out of the fit, what was said at 0.93 of the odds was true in 0.84 without it."""
LEAST, MOST = 0.5, 4.0  # points
HEARD = 0.003
"""Share of the machines on which a rule must count, or its points stay: a shipped case alone would move them otherwise."""
FIRM = 3.0
"""Points: what speaks so strongly against a sound machine loses none, for few simulated machines are so far off."""


Examined = tuple[Diagnosis, frozenset[str], float]
"""A visit, what comes first if it is right, how much it counts (of a shipped case: by how many points it must lead)."""


@dataclass
class Sample:
    """Examined visits: for each case and fault the certainty that each rule counted for, and which faults are the truth."""

    counted: csr_matrix  # (case * faults) x rules
    usual: np.ndarray  # case x fault, what no rule of this table moves
    true: np.ndarray  # case x fault, 1 for the truth, 0.8 shared among alike
    weight: np.ndarray  # case


def simulated(rules: Rulebook, cases: int, seed: int) -> Iterator[Examined]:
    """Machines read in three ways, with and without their good day; the truth; how much each counts."""
    for place in range(cases):
        practice = draw(seed, place, families="seen")
        truth = frozenset({practice.truth})
        harm = HEALTHY if practice.truth == "nothing-wrong" else 1.0
        for names, weight in (("basic", 1.0), ("airflow", 1.0)):
            visit = with_only(practice.visit, READINGS[names])
            yield examine(visit_from(visit), rules), truth, harm * weight
        good_day = {**with_only(practice.visit, READINGS["airflow"]), "baseline": practice.baseline}
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


def sample(found: Iterable[Examined], rules: Rulebook, alike: frozenset[str] = frozenset()) -> Sample:
    """What a fit needs of them; visits that are not ranked are left out. alike: faults that share what either tells."""
    faults, number = list(rules.faults), {rule.id: i for i, rule in enumerate(rules.rules)}
    rows, columns, values, usual, true, weight = [], [], [], [], [], []
    for diagnosis, truth, counts in found:
        if not diagnosis.ranked:
            continue
        row = len(weight) * len(faults)
        scores = dict.fromkeys(faults, 0.0)
        for ranked in diagnosis.ranked:
            scores[ranked.fault] = rules.faults[ranked.fault].usual
            for each in ranked.evidence:
                rows.append(row + faults.index(ranked.fault))
                columns.append(number[each.rule.id])
                values.append(each.counted)
        usual.append(list(scores.values()))
        shared = 0.8 if truth & alike else 0.0
        true.append([float(f in truth) if f not in alike else shared + (f in truth) * 0.2 for f in faults])
        weight.append(counts)
    shape = (len(weight) * len(faults), len(rules.rules))
    return Sample(csr_matrix((values, (rows, columns)), shape), np.array(usual), np.array(true), np.array(weight))


class Fit:
    """The objective: how unlikely the truths are, how far the points moved, and what must hold."""

    def __init__(self, rules: Rulebook, machines: Sample, cases: Sample):
        self.rules, self.machines, self.cases = rules, machines, cases
        self.book = np.array([rule.points for rule in rules.rules])
        number = {rule.id: i for i, rule in enumerate(rules.rules)}
        heard = np.asarray(machines.counted.sum(0)).ravel() >= HEARD * len(machines.weight)
        self.free = np.array([rule.fault in FAULTS for rule in rules.rules]) & heard
        self.order = np.array(
            [
                (number[special], i)
                for i, rule in enumerate(rules.rules)
                if rule.fault
                for special in rules.more_special(rule)
                if rules.by_id[special].points * rule.points > 0
                and abs(rules.by_id[special].points) >= abs(rule.points)
            ]
        )
        self.sign = np.sign(self.book)
        right = [fault for fault, entry in rules.faults.items() if entry.charge == "right"]
        self.firm = np.array([r.fault in right and r.points <= -FIRM for r in rules.rules])

    def loss(self, points: np.ndarray) -> tuple[float, np.ndarray]:
        """Nats a case, and its slope by each point."""
        loss, slope = _unlikely(self.machines, points)
        held, held_slope = self._broken(points)
        moved = points - self.book
        return loss + held + PULL * float(moved @ moved), slope + held_slope + 2 * PULL * moved

    def _broken(self, points: np.ndarray) -> tuple[float, np.ndarray]:
        slope = np.zeros_like(points)
        special, general = self.order.T
        lack = np.maximum(0.0, np.abs(points[general]) - np.abs(points[special]))
        np.add.at(slope, general, 2 * HINGE * lack * self.sign[general])
        np.add.at(slope, special, -2 * HINGE * lack * self.sign[special])
        scores = self.cases.usual + (self.cases.counted @ points).reshape(self.cases.usual.shape)
        own = np.where(self.cases.true > 0.3, scores, -np.inf)
        others = np.where(self.cases.true > 0.3, -np.inf, scores)
        place, rival = own.argmax(1), others.argmax(1)
        each = np.arange(len(scores))
        behind = np.maximum(0.0, self.cases.weight - own[each, place] + others[each, rival])
        pull = np.zeros_like(scores)
        pull[each, place], pull[each, rival] = -2 * HINGE * behind, 2 * HINGE * behind
        slope += self.cases.counted.T @ pull.ravel()
        return HINGE * float(lack @ lack + behind @ behind), slope

    def solve(self) -> np.ndarray:
        """The best points, in halves."""
        bounds = [
            (p, p) if not free else (LEAST, MOST) if p > 0 else (-MOST, p if firm else -LEAST)
            for p, free, firm in zip(self.book, self.free, self.firm, strict=True)
        ]
        start = np.clip(self.book, [b[0] for b in bounds], [b[1] for b in bounds])
        found = minimize(self.loss, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 500})
        points = np.where(self.free, np.clip(np.round(found.x * 2) / 2, *np.array(bounds).T), self.book)
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

    def worth(self, points: np.ndarray) -> np.ndarray:
        """How much unlikelier the truths are without each rule, nats a thousand cases; nothing is refitted."""
        whole = _unlikely(self.machines, points)[0]
        return np.array(
            [
                1000 * (_unlikely(self.machines, np.where(np.arange(len(points)) == i, 0.0, points))[0] - whole)
                if self.free[i]
                else np.inf
                for i in range(len(points))
            ]
        )


def _unlikely(sample: Sample, points: np.ndarray) -> tuple[float, np.ndarray]:
    scores = CAUTION * np.log(2) * (sample.usual + (sample.counted @ points).reshape(sample.usual.shape))
    scores -= scores.max(1, keepdims=True)
    odds = np.exp(scores)
    share = odds / odds.sum(1, keepdims=True)
    right = (share * sample.true).sum(1)
    weight = sample.weight / sample.weight.sum()
    pull = (share * sample.true / np.maximum(right, 1e-12)[:, None] - share) * weight[:, None]
    return -float(weight @ np.log(np.maximum(right, 1e-12))), -CAUTION * np.log(2) * (sample.counted.T @ pull.ravel())


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
    options.add_argument("--write", action="store_true")
    chosen = options.parse_args()
    rules = load_rules()
    machines = sample(simulated(rules, chosen.cases, chosen.seed), rules, ALIKE)
    fit = Fit(rules, machines, sample(expected(rules), rules))
    points = fit.solve()
    print(
        f"nats a case: {_unlikely(machines, fit.book)[0]:.3f} as shipped, {_unlikely(machines, points)[0]:.3f} fitted"
    )
    for rule, new in zip(rules.rules, points, strict=True):
        if new != rule.points:
            print(f"{rule.points:+5.1f} -> {new:+5.1f}  {rule.id}")
    print("could go (nats a thousand cases lost without it):")
    worth = fit.worth(points)
    for i in np.argsort(worth)[:60]:
        print(f"{worth[i]:7.2f}  {points[i]:+5.1f}  {rules.rules[i].id}")
    if chosen.write:
        write_points(rules, points)


if __name__ == "__main__":
    main()
