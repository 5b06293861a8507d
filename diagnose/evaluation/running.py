"""One evaluation from seed to figures."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.evaluation import classifier
from diagnose.evaluation.drawing import advice_of
from diagnose.evaluation.model import (
    Answered,
    Evaluation,
    Measurement,
    PairsMeasured,
    RankedAnswer,
    Rate,
    Score,
    merged,
    readings_of,
)
from diagnose.evaluation.scoring import detail, score, score_pairs, score_slips
from diagnose.evaluation.work import CaseProgress, CaseView, Looked, Task, TaskKind, look_at_all
from diagnose.rulebook import Rulebook, load_rules
from diagnose.simulator import Families, Mode

LEAST_LESSONS = 1500


def evaluate(
    seed: int,
    count: int,
    *,
    readings: Sequence[str] = ("basic", "running", "airflow", "all"),
    baseline: bool = False,
    pairs: bool = False,
    slips: bool = False,
    train: int | None = None,
    families: Families = "plain",
    mode: Mode = "cooling",
    rules: Rulebook | None = None,
    jobs: int | None = None,
    progress: CaseProgress | None = None,
) -> Evaluation:
    """Draws `count` machines with one fault each (or none) and measures rules and yardsticks on them.

    count: 1 or more. seed: 0 or more; the same seed gives the same figures, whatever `jobs` (processes; one a processor
    unless said).
    readings: names in READINGS. baseline: also with the machine's own good day. pairs: also `count` machines with two
    faults. slips: also visits with a slip of the hand, on the fewest and the most readings asked for. train: cases the
    classifier learns from (drawn from other seeds; as many as `count` and at least 1500 unless said, 0 for none).
    families: which machines (`simulator.family`); on the unseen ones the classifier learns from the seen ones, as the
    rules' points may, and a second one from unseen ones: the best that is possible.
    mode: what the machines do; in heating there are more faults and other readings, and no slips.
    progress: called with (done, all) after each case. The processes are fresh ones, so a script calls this below
    `if __name__ == "__main__":`, or with jobs=1.
    """
    sets = readings_of(mode)
    names = tuple(name for name in sets if name in readings)
    train = max(count, LEAST_LESSONS) if train is None else train
    note = "" if classifier.available() and train else classifier.MISSING if train else "it was not asked for"
    train = 0 if note else train
    rules = rules if rules is not None else load_rules()

    tried = tuple(dict.fromkeys((names[0], names[-1]))) if slips else ()
    tasks = [Task("case", seed, i, names, baseline, tried, families, mode) for i in range(count)]
    # No seed of a user is below nought, so these machines are never among those that are measured.
    taught: Families = "seen" if families == "unseen" else families
    tasks += [Task("lesson", -1 - seed, i, names, baseline, (), taught, mode) for i in range(train)]
    own = train if families == "unseen" else 0
    tasks += [Task("own lesson", -1 - seed, i, names, baseline, (), families, mode) for i in range(own)]
    tasks += [Task("pair", seed, i, names, baseline, (), families, mode) for i in range(count if pairs else 0)]
    by_kind: dict[TaskKind, list[Looked]] = {"case": [], "lesson": [], "own lesson": [], "pair": []}
    for one in look_at_all(tasks, rules, jobs, progress):
        by_kind[one.kind].append(one)
    cases, taught_by = by_kind["case"], (by_kind["lesson"], by_kind["own lesson"])
    fair = rules.judgement.strengths.fair
    return Evaluation(
        seed=seed,
        cases=count,
        trained=train,
        rulebook=rules.name,
        matcher=cases[0].matcher,
        families=families,
        measured=tuple(_measured(name, sets[name], cases, taught_by, baseline, fair) for name in names),
        pairs=_pairs(by_kind["pair"], names, "rules"),
        pairs_with_baseline=_pairs(by_kind["pair"], names if baseline else (), "with_baseline"),
        slips=score_slips([slip for case in cases for slip in case.slips]),
        classifier_note=note,
        mode=mode,
    )


def _measured(
    name: str,
    readings: tuple[str, ...],
    cases: Sequence[Looked],
    taught_by: Sequence[Sequence[Looked]],
    baseline: bool,
    fair: float,
) -> Measurement:
    looks = [one.looks[name] for one in cases]
    rules = _answered(cases, looks, [look.rules for look in looks])
    known = _answered(cases, looks, [look.with_baseline for look in looks]) if baseline else []

    def ceiling(lessons: Sequence[Looked], which: str) -> Score | None:
        if not lessons or (which == "features_baseline" and not baseline):
            return None
        return score(_answered(cases, looks, _classified(name, which, cases, lessons, fair)))

    lessons, own = taught_by
    return Measurement(
        name=name,
        readings=readings,
        rules=detail(rules),
        with_baseline=detail(known) if baseline else None,
        protocol=score(_answered(cases, looks, [look.protocol for look in looks])),
        off_chart=Rate(sum(look.off_chart for look in looks), len(looks)),
        right_on_chart=score([one for one, look in zip(rules, looks, strict=True) if not look.off_chart]).right_charge,
        classifier=ceiling(lessons, "features"),
        classifier_with_baseline=ceiling(lessons, "features_baseline"),
        at_home=ceiling(own, "features"),
        at_home_with_baseline=ceiling(own, "features_baseline"),
    )


def _answered(
    cases: Sequence[Looked], looks: Sequence[CaseView], answers: Sequence[RankedAnswer | None]
) -> list[Answered]:
    return [
        Answered(one.truth, look.shows, answer)
        for one, look, answer in zip(cases, looks, answers, strict=True)
        if answer is not None
    ]


def _classified(
    name: str, which: str, cases: Sequence[Looked], lessons: Sequence[Looked], fair: float
) -> list[RankedAnswer]:
    """What a classifier that learnt from the lessons says; its advice on the charge is that of the fault it puts first."""
    rows = [getattr(one.looks[name], which) for one in lessons]
    model = classifier.trained(rows, [merged(one.truth.fault) for one in lessons])
    ranked = model.ranked([getattr(one.looks[name], which) for one in cases])
    return [
        RankedAnswer(one, frozenset(fault for fault, share in one if share >= fair), advice_of(one[0][0]))
        for one in ranked
    ]


def _pairs(twos: Sequence[Looked], names: Sequence[str], which: str) -> tuple[PairsMeasured, ...]:
    found = []
    for name in names if twos else ():
        looks = [one.looks[name] for one in twos]
        found.append(score_pairs(name, _answered(twos, looks, [getattr(look, which) for look in looks])))
    return tuple(found)
