"""What hides the rest: `python tests/benchmarks/ceilings.py [CASES] [SEED] [LESSONS] [--mode MODE] [--singles]`.

Not a test: a measurement. The rules beside classifiers (boosted trees, better on two faults than the straight lines of
`diagnose.evaluation.classifier`) on machines of unseen families, with rising numbers of readings and a good day:

- the true fault first, with one fault or none; which pairs of faults are most often taken for one another.
- false alarms against missed faults: whoever ranks faults can be made to say "nothing wrong" sooner or later. How many faulty
  machines are missed, one fault each, when as many sound ones as stated get a fault?
- two faults at once (not with `--singles`): a classifier that learned from one fault or none ranks, as the rules do; others,
  one for each fault, that learned from as many machines again with two, name a second from that chance at which 1 of 20 of the
  machines that are measured with one fault or none gets one (taken from these machines themselves, in favor of the ceiling).

Taught by seen families, as the points of the rules, or by unseen ones. The seeds of lessons lie below 0.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier

from diagnose.diagnosis.pipeline import examine
from diagnose.evaluation.drawing import answer_of, beside, device_of, features, seen_features, truth_of, with_only
from diagnose.evaluation.model import NOTHING_WRONG, Answered, RankedAnswer, merged, readings_of
from diagnose.evaluation.scoring import score_pairs
from diagnose.quantities.uncertainty import estimate
from diagnose.rulebook import load_rules
from diagnose.simulator import MODES, Families, Mode, Practice, draw, faults_of
from diagnose.simulator.readings import VisitMapping
from diagnose.visit import visit_from

GOOD_DAY = "good day"  # with the readings of "airflow" on both days
LEVELS = ("basic", "airflow", "all", GOOD_DAY)
ALARMS = (0.08, 0.15, 0.28)
IN_VAIN = 0.05
Shares = Sequence[Mapping[str, float]]


def machines(
    mode: Mode, seed: int, count: int, families: Families, faults: Sequence[str], pairs: bool = False
) -> list[Practice]:
    return [draw(seed, i, faults=tuple(faults), pairs=pairs, families=families, mode=mode) for i in range(count)]


def visit_at(practice: Practice, level: str) -> VisitMapping:
    sets = readings_of(practice.mode)
    if level != GOOD_DAY:
        return with_only(practice.visit, sets[level])
    return {
        **with_only(practice.visit, sets["airflow"]),
        "baseline": with_only(practice.baseline, sets["airflow"]),
    }


def row(practice: Practice, level: str) -> dict[str, float]:
    def of(visit: object) -> dict[str, float]:
        return features(estimate(visit_from(visit)), device_of(practice)) | seen_features(practice)

    visit = visit_at(practice, level)
    return beside(of({**visit, "baseline": None}), of(visit["baseline"])) if level == GOOD_DAY else of(visit)


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


def main(cases: int, seed: int, lessons: int, mode: Mode, singly: bool) -> None:
    book, every = load_rules(), faults_of(mode)
    faults = tuple(fault for fault in every if fault != NOTHING_WRONG)
    singles = machines(mode, seed, cases, "unseen", every)
    pairs = [] if singly else machines(mode, seed, cases, "unseen", faults, pairs=True)
    sound = machines(mode, seed, cases, "unseen", (NOTHING_WRONG,))
    truths, one_fault = [truth_of(one, i) for i, one in enumerate(pairs)], [merged(one.truth) for one in singles]
    faulty = [i for i, truth in enumerate(one_fault) if truth != NOTHING_WRONG]
    print(
        f"{cases} machines each, seed {seed}; missed where {', '.join(map(str, ALARMS))} of the sound ones get a fault"
    )

    def told(who: str, level: str, single: Shares, healthy: Shares, twos: Sequence[RankedAnswer]) -> None:
        missed = " ".join(f"{share:.3f}" for share in trade(healthy, [single[i] for i in faulty]))
        first = [max(one, key=one.__getitem__, default="") for one in single]
        alarms = sum(max(one, key=one.__getitem__, default="") != NOTHING_WRONG for one in healthy) / cases
        mixed = Counter(f"{truth} as {said}" for truth, said in zip(one_fault, first, strict=True) if said != truth)
        right = 1 - mixed.total() / cases
        print(f"{who:>16}, {level:8}: first {right:.3f}, alarms {alarms:.3f}; missed {missed}", flush=True)
        print(f"{'':28}{', '.join(f'{name} {count}' for name, count in mixed.most_common(6))}", flush=True)
        if pairs:
            score = score_pairs(level, [Answered(truth, True, one) for truth, one in zip(truths, twos, strict=True)])
            print(f"{'':28}of two faults one first {score.one_first}, both {score.both_told}", flush=True)

    for level in LEVELS:
        said = [answer_of(examine(visit_at(one, level), book)) for one in (*singles, *sound, *pairs)]
        shares = [dict(one.ranked) for one in said]
        told("rules", level, shares[:cases], shares[cases : 2 * cases], said[2 * cases :])
        print(f"{'':28}a second named in vain {sum(bool(one.also) for one in said[:cases]) / cases:.3f}", flush=True)
    labels = sorted({merged(fault) for fault in faults})
    for families in ("seen", "unseen"):
        ones = machines(mode, -1 - seed, lessons, families, every)
        both = [] if singly else [*ones, *machines(mode, -1 - seed, lessons, families, faults, pairs=True)]
        counted = [truth_of(one, 0).counted for one in both]
        for level in LEVELS:
            ranked = chances(ones, [merged(one.truth) for one in ones], [*singles, *sound, *pairs], level)
            twos: Sequence[RankedAnswer] = ()
            if pairs:
                each = {f: chances(both, [f in truth for truth in counted], [*singles, *pairs], level) for f in labels}
                twos = with_second([*ranked[:cases], *ranked[2 * cases :]], each, cases)[cases:]
            told(f"taught by {families}", level, ranked[:cases], ranked[cases : 2 * cases], twos)


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("cases", 500), ("seed", 90078), ("lessons", 2500)):
        options.add_argument(name, type=int, nargs="?", default=usual)
    options.add_argument("--mode", choices=MODES, default="cooling")
    options.add_argument("--singles", action="store_true")
    chosen = options.parse_args()
    main(chosen.cases, chosen.seed, chosen.lessons, chosen.mode, chosen.singles)
