"""An answer against the hidden truth: right or wrong, harmful or not; and which questions would have settled it soonest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from diagnose.diagnosis.charge import unparted
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.practice.asking import Action, minutes_of, playable
from diagnose.practice.exercise import Exercise
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.simulator.fault_sizes import NOTHING_WRONG
from diagnose.yamlfile import did_you_mean, refusal

Decision = Literal["low", "right", "high", "leave"]
DOES: Mapping[Decision, str] = {
    "low": "add refrigerant",
    "right": "leave the charge as it is",
    "high": "remove refrigerant",
    "leave": "leave the charge alone for now",
}
SETTLED = 0.9  # share of the odds with which the right fault must lead
MOST_STEPS = 3
ALONG_THE_LINE = ("liquid line drop", "drier temperature drop")
PROVED_BY: Mapping[str, tuple[str, ...]] = {
    "liquid-line-restriction": ALONG_THE_LINE,
    "metering-underfeeding": ALONG_THE_LINE,
    "non-condensables": ("standing pressure", "recent opening"),
}
"""What alone shows such a fault for certain, however sure the gauges of the running machine seem: see its file."""


CALLED: Mapping[str, str] = {
    "undercharge": "low-charge", "undercharged": "low-charge", "low on refrigerant": "low-charge", "leak": "low-charge",
    "overcharged": "overcharge", "too much refrigerant": "overcharge", "no fault": "nothing-wrong", "none": "nothing-wrong",
    "restriction": "liquid-line-restriction", "clogged drier": "liquid-line-restriction",
    "air in the system": "non-condensables", "noncondensables": "non-condensables", "air": "non-condensables",
    "dirty filter": "low-indoor-airflow", "dirty outdoor coil": "low-outdoor-airflow",
    "dirty condenser": "low-outdoor-airflow", "worn compressor": "weak-compressor", "bad compressor": "weak-compressor",
}  # fmt: skip
"""What learners call a fault, beside its name and its id."""


@dataclass(frozen=True, slots=True)
class SettlingStep:
    """One question that would have helped: its minutes, and the share of the right answer after it."""

    action: Action
    minutes: float
    share: float


@dataclass(frozen=True, slots=True)
class Quickest:
    """The share of the truth with the first readings, whether they settle it, and else the steps that may."""

    begin: float
    begun: bool
    steps: tuple[SettlingStep, ...]
    settled: bool


def standing_slip(exercise: Exercise, had: Sequence[str]) -> bool:
    """Whether a reading written down wrongly was never taken again."""
    return any(name not in had for name in exercise.slip)


def is_right(exercise: Exercise, answer: str, had: Sequence[str]) -> bool:
    """Whether the answer is the fault (either of two), or `bad visit` while a wrong reading still stands."""
    return answer in exercise.truths or (answer == BAD_VISIT and standing_slip(exercise, had))


def true_charge(exercise: Exercise, rules: Rulebook) -> str:
    """low, right or high: what the charge of the machine really is."""
    known = [rules.faults[fault].charge for fault in exercise.truths if fault in rules.faults]
    return next((charge for charge in known if charge in ("low", "high")), "right")


def harmful(exercise: Exercise, decision: Decision, rules: Rulebook) -> bool:
    """Whether the decision would have added to a charge that is not low, or taken from one that is not high."""
    return decision in ("low", "high") and decision != true_charge(exercise, rules)


def implied(answer: str, rules: Rulebook) -> Decision:
    """What an answer asks for where nobody said what is to be done about the charge."""
    entry = rules.faults.get(answer)
    charge = entry.charge if entry else None
    if charge == "low":
        return "low"
    if charge == "high":
        return "high"
    return "right" if answer == NOTHING_WRONG else "leave"


def share_of_truth(d: Diagnosis, exercise: Exercise) -> float:
    """The share of the right fault where it leads; 0 where another one does, or nothing may be said."""
    if not d.faults or d.faults[0].fault not in exercise.truths:
        return 0.0
    return sum(fault.share for fault in d.faults if fault.fault in exercise.truths)


def is_settled(d: Diagnosis, exercise: Exercise) -> bool:
    """Whether the right fault leads surely, looks like no other, and was read by what proves it, where gauges never do."""
    if share_of_truth(d, exercise) < SETTLED or exercise.truth in unparted(d.findings, d.rules):
        return False
    return exercise.truth not in PROVED_BY or any(name in d.findings for name in PROVED_BY[exercise.truth])


def quickest(exercise: Exercise, rules: Rulebook) -> Quickest:
    """What would settle the visit in the fewest minutes, from the first readings on.

    Each step takes the one question that settles it in the least time; where none does, the one that brings the truth
    furthest for its minutes. At most three steps.
    """
    had: frozenset[str] = frozenset()
    asked: tuple[str, ...] = ()
    steps: list[SettlingStep] = []

    @cache  # several questions bring the same readings
    def knowing(names: frozenset[str]) -> Diagnosis:
        return examine(exercise.judged(sorted(names)), rules)

    now = knowing(had)
    begin, begun = share_of_truth(now, exercise), is_settled(now, exercise)
    settled = begun
    actions = playable(exercise, rules)
    in_checks = {name for action in actions if action.kind == "check" for name in action.names}
    # A reading that a check takes is asked for with the check; a look may be cheaper by itself.
    actions = tuple(a for a in actions if a.kind != "reading" or a.name not in in_checks)
    while not settled and len(steps) < MOST_STEPS:
        used = minutes_of(exercise, asked, rules)
        open_ = [
            (minutes_of(exercise, (*asked, action.name), rules) - used, action)
            for action in actions
            if any(n not in had and (n not in exercise.given or n in exercise.slip) for n in action.names)
        ]
        tried: list[SettlingStep] = []
        settling: list[SettlingStep] = []
        for minutes, action in sorted(open_, key=lambda each: each[0]):
            if settling and minutes > settling[0].minutes:
                break  # it would take longer
            d = knowing(had.union(action.names))
            tried.append(SettlingStep(action, minutes, _truth(d, exercise)))
            settling += tried[-1:] if is_settled(d, exercise) else []
        if not tried:
            break
        before = _truth(now, exercise)
        if settling:
            step = max(settling, key=lambda s: s.share)
        else:
            handling = rules.judgement.next_checks.handling / 60.0
            step = max(tried, key=lambda s: (s.share - before) / (s.minutes + handling))
            if step.share <= before:
                break
        steps.append(step)
        asked = (*asked, step.action.name)
        had = had.union(step.action.names)
        now = knowing(had)
        settled = is_settled(now, exercise)
    return Quickest(begin, begun, tuple(steps), settled)


def _truth(d: Diagnosis, exercise: Exercise) -> float:
    """The share of the right fault wherever it stands."""
    return sum(fault.share for fault in d.faults if fault.fault in exercise.truths)


def known_answer(word: str, rules: Rulebook) -> str:
    """The fault that an answer names, by id or by name, or `bad visit`. Raises InputProblems."""
    text = " ".join(word.replace("_", " ").replace("-", " ").split()).lower()
    found = BAD_VISIT if text == BAD_VISIT else rules.fault_called(CALLED.get(text, word))
    if found is None:
        known = ", ".join([*rules.faults, f"'{BAD_VISIT}' (a reading cannot be right)"])
        fix = did_you_mean(word, [*rules.faults, BAD_VISIT]) or f"Known: {known}."
        raise refusal(f"`{word}` is not an answer", fix)
    return found
