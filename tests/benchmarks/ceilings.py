"""What hides the rest: `python tests/benchmarks/ceilings.py [CASES] [SEED] [LESSONS]`.

Not a test: a measurement. The rules beside classifiers (boosted trees, better on two faults than the straight lines of
`diagnose.evaluation.classifier`) on machines of unseen families, with rising numbers of readings:

- false alarms against missed faults: whoever ranks faults can be made to say "nothing wrong" sooner or later. How many faulty
  machines are missed, one fault each, when as many sound ones as stated get a fault?
- two faults at once: a classifier that learned from one fault or none ranks, as the rules do; others, one for each fault, that
  learned from as many machines again with two, name a second from that chance at which 1 of 20 of the machines that are
  measured with one fault or none gets one (taken from these machines themselves, in favor of the ceiling).

Taught by seen families, as the points of the rules, or by unseen ones. The seeds of lessons lie below 0.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier

from diagnose.diagnosis.pipeline import examine
from diagnose.evaluation.drawing import answer_of, device_of, features, seen_features, truth_of, with_only
from diagnose.evaluation.model import NOTHING_WRONG, READINGS, Answered, RankedAnswer, merged
from diagnose.evaluation.scoring import score_pairs
from diagnose.quantities.uncertainty import estimate
from diagnose.rulebook import load_rules
from diagnose.simulator import Families, Practice, draw, faults_of
from diagnose.visit import visit_from

LEVELS = ("basic", "airflow", "all")
ALARMS = (0.08, 0.15, 0.28)
IN_VAIN = 0.05
FAULTS = tuple(fault for fault in faults_of("cooling") if fault != NOTHING_WRONG)
Shares = Sequence[Mapping[str, float]]


def machines(seed: int, count: int, families: Families, faults: Sequence[str], pairs: bool = False) -> list[Practice]:
    return [draw(seed, i, faults=tuple(faults), pairs=pairs, families=families) for i in range(count)]


def row(practice: Practice, level: str) -> dict[str, float]:
    estimates = estimate(visit_from(with_only(practice.visit, READINGS[level])))
    return features(estimates, device_of(practice)) | seen_features(practice)


def chances(lessons: Sequence[Practice], truths: Sequence[object], asked: Sequence[Practice], level: str) -> Shares:
    """What a classifier says of the machines asked after; True and False stand as text."""
    taught = [row(one, level) for one in lessons]
    columns = sorted({name for one in taught for name in one})

    def table(rows: Sequence[Mapping[str, float]]) -> list[list[float]]:
        return [[one.get(name, math.nan) for name in columns] for one in rows]

    model = HistGradientBoostingClassifier(max_iter=150, learning_rate=0.06, max_leaf_nodes=15, random_state=0)
    model.fit(table(taught), [str(truth) for truth in truths])
    said = model.predict_proba(table([row(one, level) for one in asked]))
    return [dict(zip(map(str, model.classes_), map(float, one), strict=True)) for one in said]


def trade(sound: Shares, faulty: Shares) -> Iterator[float]:
    """The share of faulty machines that are missed where as many sound ones as stated get a fault."""

    def lead(said: Mapping[str, float]) -> float:
        best = max((share for fault, share in said.items() if fault != NOTHING_WRONG), default=0.0)
        return math.log((best + 1e-12) / (said.get(NOTHING_WRONG, 0.0) + 1e-12))

    alarms, shows = [lead(one) for one in sound], np.array([lead(one) for one in faulty])
    for allowed in ALARMS:
        yield float((shows <= np.quantile(alarms, 1 - allowed)).mean())


def with_second(ranked: Shares, each: Mapping[str, Shares], measured_one: int) -> list[RankedAnswer]:
    """The ranking with a second fault where one is named; the first `measured_one` machines have one fault or none."""
    orders = [sorted(one, key=lambda fault: -one[fault]) for one in ranked]
    second = [max((each[f][i]["True"], f) for f in each if f != order[0]) for i, order in enumerate(orders)]
    least = np.quantile([chance for chance, _ in second[:measured_one]], 1 - IN_VAIN)
    return [
        RankedAnswer(tuple((fault, 0.0) for fault in order), frozenset(), "", also=(name,) if chance >= least else ())
        for order, (chance, name) in zip(orders, second, strict=True)
    ]


def main(cases: int, seed: int, lessons: int) -> None:
    book, every = load_rules(), faults_of("cooling")
    singles, pairs = machines(seed, cases, "unseen", every), machines(seed, cases, "unseen", FAULTS, pairs=True)
    sound = machines(seed, cases, "unseen", (NOTHING_WRONG,))
    truths = [truth_of(one, i) for i, one in enumerate(pairs)]
    faulty = [i for i, one in enumerate(singles) if truth_of(one, i).fault != NOTHING_WRONG]
    print(
        f"{cases} machines each, seed {seed}; missed where {', '.join(map(str, ALARMS))} of the sound ones get a fault"
    )

    def told(who: str, level: str, single: Shares, healthy: Shares, twos: Sequence[RankedAnswer]) -> None:
        missed = " ".join(f"{share:.3f}" for share in trade(healthy, [single[i] for i in faulty]))
        two = score_pairs(level, [Answered(truth, True, one) for truth, one in zip(truths, twos, strict=True)])
        print(
            f"{who:>16}, {level:7}: missed {missed}; of two faults one first {two.one_first}, both {two.both_told}",
            flush=True,
        )

    for level in LEVELS:
        said = [answer_of(examine(with_only(one.visit, READINGS[level]), book)) for one in (*singles, *sound, *pairs)]
        shares = [dict(one.ranked) for one in said]
        told("rules", level, shares[:cases], shares[cases : 2 * cases], said[2 * cases :])
        print(f"{'':18}a second named in vain {sum(bool(one.also) for one in said[:cases]) / cases:.3f}", flush=True)
    labels = sorted({merged(fault) for fault in FAULTS})
    for families in ("seen", "unseen"):
        ones = machines(-1 - seed, lessons, families, every)
        both = [*ones, *machines(-1 - seed, lessons, families, FAULTS, pairs=True)]
        counted = [truth_of(one, 0).counted for one in both]
        for level in LEVELS:
            ranked = chances(ones, [merged(truth_of(one, 0).fault) for one in ones], [*singles, *sound, *pairs], level)
            each = {f: chances(both, [f in truth for truth in counted], [*singles, *pairs], level) for f in labels}
            twos = with_second([*ranked[:cases], *ranked[2 * cases :]], each, cases)[cases:]
            told(f"taught by {families}", level, ranked[:cases], ranked[cases : 2 * cases], twos)


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    main(*(given + [500, 90078, 2500][len(given) :]))
