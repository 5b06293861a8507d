"""The lesson after an answer: right or wrong, where the reasoning left the physics, and what would have settled it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.ranking import Evidence, Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons import fault_page
from diagnose.practice.asking import Action, minutes_of, opened
from diagnose.practice.exercise import GAVE_UP, Exercise, shown
from diagnose.practice.judging import (
    DOES,
    Decision,
    Quickest,
    SettlingStep,
    harmful,
    implied,
    is_right,
    quickest,
    standing_slip,
    true_charge,
)
from diagnose.practice.reasons import FAINT, WeighedReason, weigh
from diagnose.report import Block, heading, item, line, wording
from diagnose.report.evidence import POINTS, evidence_text, points_text, share_text, title_of
from diagnose.report.sentences import said
from diagnose.report.wording import counted
from diagnose.rulebook import Rulebook, machine_facts, steps_for
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.simulator.fault_sizes import NOTHING_WRONG
from diagnose.visit import System

TOLD = 4  # reasons told at most on one side
LEADING = 3


@dataclass(frozen=True, slots=True)
class Feedback:
    """An answer judged. right: the fault itself, or the bad reading where one was left standing.

    decision: what the answer would have done to the charge. harmful: refrigerant added though it is not missing, or removed
    though there is no excess. minutes: of work asked for. sound: whether the
    reason carries the answer; None where none was given.
    """

    exercise: Exercise
    answer: str
    right: bool
    decision: Decision
    harmful: bool
    asked: int
    minutes: float
    sound: bool | None
    blocks: tuple[Block, ...]


def judged(
    exercise: Exercise,
    asked: Sequence[str],
    answer: str,
    rules: Rulebook,
    decision: Decision | None = None,
    because: str = "",
    system: System | None = None,
    full: bool = False,
) -> Feedback:
    """Judges an answer (a fault of the book, `bad visit`, or `gave up`) against the hidden truth, with the lesson.

    full: the whole lesson of the fault, as `diagnose lesson` has it; else the short one.

    Where no decision on the charge is given, it is what the answer asks for: a low charge is filled up. Raises
    InputProblems where the rules do not know what the visit says.
    """
    had = opened(exercise, asked, rules)
    d = examine(exercise.judged(had), rules).told_in(system)
    whole = examine(exercise.judged(exercise.everything), rules).told_in(system)
    decided = decision or implied(answer, rules)
    harm = harmful(exercise, decided, rules)
    best = quickest(exercise, rules)
    minutes = minutes_of(exercise, asked, rules)
    right = is_right(exercise, answer, had)
    weighed = weigh(because, answer, d)
    blocks = [
        Block("answer", _headline(exercise, answer, right, rules)),
        *_by_luck(d, answer, right, weighed),
        *_standing(d, exercise, answer, minutes, len(asked), rules),
        *_slip(exercise, had),
        *_reasoning(d, whole, exercise, answer, right, rules),
        *_because(weighed),
        *_sooner(best, minutes),
        *_charge(exercise, answer, decision, decided, harm, rules),
        *_hidden(exercise, d.system),
        *(block for fault in exercise.truths for block in lesson_blocks(fault, rules, d, full)),
        Block("foot", f"A machine of the simulator, seed {exercise.seed}. Rule book: {rules.name}."),
    ]
    return Feedback(exercise, answer, right, decided, harm, len(asked), minutes, weighed.sound, tuple(blocks))


# -- the page ------------------------------------------------------------------------------------------------------


def name_of(fault: str, rules: Rulebook) -> str:
    """A fault's name in the middle of a sentence."""
    if fault == BAD_VISIT:
        return "a reading that cannot be right"
    return wording.name_of(fault, rules) if fault in rules.faults else fault


def truth_text(exercise: Exercise, rules: Rulebook) -> str:
    """The fault, or both."""
    return " and ".join(name_of(fault, rules) for fault in exercise.truths)


def _headline(exercise: Exercise, answer: str, right: bool, rules: Rulebook) -> str:
    truth = truth_text(exercise, rules)
    fault = "faults" if exercise.also else "fault"
    if answer == GAVE_UP:
        return f"Opened without an answer. The {fault}: {truth}."
    if right and answer == BAD_VISIT:
        return f"Right: a reading cannot be true, and no verdict can rest on it. The {fault} behind it: {truth}."
    if right and exercise.also:
        other = exercise.also if answer == exercise.truth else exercise.truth
        return f"Right: {name_of(answer, rules)}. There is a second fault: {name_of(other, rules)}."
    if right:
        return f"Right: {truth}."
    if answer == BAD_VISIT and exercise.slip:
        return f"Wrong: every reading was right by then. The {fault}: {truth}."
    return f"Wrong. The {fault}: {truth}."


def _standing(
    d: Diagnosis, exercise: Exercise, answer: str, minutes: float, asked: int, rules: Rulebook
) -> Iterator[Block]:
    if answer != GAVE_UP:
        yield line(f"Your answer: {answer if answer == BAD_VISIT else name_of(answer, rules)}.")
    yield line(f"The complaint: {exercise.complaint}")
    count = f"{counted(asked, 'further question')}, {counted(minutes, 'minute')} of work"
    yield heading("What your readings say")
    yield line(f"You asked {count}." if asked else "You asked nothing further.")
    if not d.faults:
        yield line(said(d, d.held[0]))
        return
    rows = [("place", "fault", "share of the odds", "note")]
    for place, fault in enumerate(d.faults):
        marks = ["the truth"] if fault.fault in exercise.truths else []
        marks += ["your answer"] if fault.fault == answer else []
        if place < LEADING or marks:
            rows.append((str(place + 1), title_of(fault, d), share_text(fault.share), ", ".join(marks)))
    yield Block("rows", rows=tuple(rows))


def _slip(exercise: Exercise, had: Sequence[str]) -> Iterator[Block]:
    if not exercise.slip:
        return
    yield heading("A slip of the pen")
    for name, wrong in exercise.slip.items():
        yield item(f"The {name} was written down as {wrong}. It is {exercise.readings[name]}.")
    if standing_slip(exercise, had):
        yield line("You never took it again, so your answer rests on a reading that is wrong.")
    else:
        yield line("You took it again, as such a reading deserves.")


def _reasoning(
    d: Diagnosis, whole: Diagnosis, exercise: Exercise, answer: str, right: bool, rules: Rulebook
) -> Iterator[Block]:
    mine = _explained(d, answer)
    if right or answer in (GAVE_UP, BAD_VISIT):
        truth = _explained(d, exercise.truth) or _explained(whole, exercise.truth)
        if truth is not None:
            later = "" if d.faults else ", with all readings taken"
            yield heading(f"Evidence for {name_of(exercise.truth, rules)}{later}")
            yield line(POINTS)
            yield from _told(truth.supporting, "No finding is evidence for it by itself.", d)
            if against := [
                e for e in truth.opposing if abs(e.weight) >= FAINT
            ]:  # a word in doubt speaks both ways a little
                yield heading("Evidence against it all the same")
                yield from _told(against, "", d)
        return
    yield heading("Evidence against your answer")
    yield line(POINTS)
    opposing = mine.opposing if mine else ()
    yield from _told(opposing, f"Nothing you had measured is evidence against {name_of(answer, rules)}.", d)
    at_last = _explained(whole, answer)
    known = {e.rule.id for e in opposing}
    more = [e for e in (at_last.opposing if at_last else ()) if e.rule.id not in known]
    if more:
        yield line("What further readings would have shown against it:")
        yield from _told(more[:2], "", whole)
    alike = _alike(d.rules, answer, exercise.truth)
    if alike:
        yield line(f"How to tell them apart: {alike}")
    if mine and mine.supporting:
        yield heading("What may have led you there")
        yield from _told(mine.supporting[:2], "", d)
    truth = _explained(d, exercise.truth)
    if truth and truth.supporting:
        yield heading(f"Evidence you already had for {name_of(exercise.truth, rules)}")
        yield from _told(truth.supporting[:LEADING], "", d)


def _explained(d: Diagnosis, fault: str) -> Ranked | None:
    return next((one for one in d.faults if one.fault == fault), None)


def _told(evidence: Sequence[Evidence], nothing: str, d: Diagnosis) -> Iterator[Block]:
    strong = [e for e in evidence if abs(e.weight) >= FAINT] or evidence
    for e in strong[:TOLD]:
        yield item(evidence_text(e, d), points_text(e.weight))
    if not evidence and nothing:
        yield line(nothing)


def _alike(rules: Rulebook, one: str, other: str) -> str:
    pair = [rules.faults[name].looks_like for name in (one, other) if name in rules.faults]
    return next((text for alike in pair for name in (one, other) if (text := alike.get(name))), "")


# -- the learner's own words ---------------------------------------------------------------------------------------


def _because(weighed: WeighedReason) -> Iterator[Block]:
    """What was given as the reason, checked against the figures."""
    if weighed.lines:
        yield heading("Your reason, checked against the figures")
        yield from (item(text) for text in weighed.lines)


def _by_luck(d: Diagnosis, answer: str, right: bool, weighed: WeighedReason) -> Iterator[Block]:
    """A right answer on a reason that does not carry it, or on readings that did not show it."""
    if not right or answer == BAD_VISIT:
        return
    if weighed.sound is False:
        yield item("The answer is right, but the reason you gave does not show it: see below.", "!")
    mine = _explained(d, answer)
    if mine is None or mine.share < 0.5:
        share = "nothing could be judged yet" if mine is None else f"it had {share_text(mine.share)} of the odds"
        yield item(f"A right guess: by the readings you had, {share}. On a real machine, measure before you act.", "!")


# -- what would have settled it, the charge, what was hidden -------------------------------------------------------


def _sooner(best: Quickest, minutes: float) -> Iterator[Block]:
    yield heading("What would have settled it sooner")
    if best.begun:
        yield line(
            f"The first readings settle it: {share_text(best.begin)} of the odds. No further question was needed."
        )
        return
    if not best.steps:
        yield line("No single question settles this one. It takes all of them, and time.")
        return
    first = best.steps[0]
    yield item(f"{_asked(first.action)} ({counted(first.minutes, 'minute')}.) {_then(first)}", "1.")
    for i, step in enumerate(best.steps[1:]):
        yield item(f"Then: {_asked(step.action)} ({counted(step.minutes, 'minute')}.) {_then(step)}", f"{i + 2}.")
    needed = sum(step.minutes for step in best.steps)
    if best.settled:
        yield line(f"That is {counted(needed, 'minute')}. You used {minutes:g}.")
    else:
        yield line("Even then some doubt remains. Leave the charge alone until it is settled.")


def _asked(action: Action) -> str:
    return action.ask if action.kind != "reading" else f"Measure the {action.name}."


def _then(step: SettlingStep) -> str:
    return f"The right answer then has {share_text(step.share)} of the odds."


def _charge(
    exercise: Exercise, answer: str, decision: Decision | None, decided: Decision, harm: bool, rules: Rulebook
) -> Iterator[Block]:
    if answer == GAVE_UP:
        return
    true = true_charge(exercise, rules)
    yield heading("The charge")
    how = "You would" if decision else "With this answer you would"
    is_so = {"low": "is low", "right": "is right", "high": "is too high"}[true]
    if harm:
        yield item(
            f"{how} {DOES[decided]}. The charge {is_so}. On a real machine this would do harm: "
            + (
                "excess refrigerant floods the condenser, and the head pressure may rise within seconds."
                if decided == "low"
                else "a machine with no refrigerant to spare starves and runs hot, and the real fault is still there."
            ),
            "!",
        )
    elif decided == true or (decided == "leave" and true == "right"):
        yield line(f"{how} {DOES[decided]}. That is right: the charge {is_so}.")
    else:
        yield line(f"{how} {DOES[decided]}. That would do no harm, but the charge {is_so}.")


def _hidden(exercise: Exercise, system: System) -> Iterator[Block]:
    """The true values beside those of the same machine without the fault."""
    yield heading("What was hidden")
    if exercise.truth == NOTHING_WRONG:
        yield line("Nothing. Only the weather, the room and the instruments move the readings.")
    elif size := size_text(exercise):
        yield line(size)
    yield line("The true values, free of instrument errors, in the weather of that day:")
    ill = exercise.truth != NOTHING_WRONG
    rows: list[tuple[str, ...]] = [("reading", "true value", *(["without the fault"] if ill else []), "as read")]
    for name, read in exercise.readings.items():
        true, well = exercise.true[name], exercise.healthy[name]
        if name in exercise.given or true != well:
            texts = (true, well, read) if ill else (true, read)
            rows.append((name, *(shown(name, text, system) for text in texts)))
    yield Block("rows", rows=tuple(rows))


def size_text(exercise: Exercise) -> str:
    """How large the first fault was, as a sentence; empty where that cannot be said in one figure."""
    size = exercise.size
    percent = f"{100 * size:.0f} %"
    return {
        "low-charge": f"The machine held {percent} of its charge.",
        "overcharge": f"The machine held {percent} of its charge.",
        "low-indoor-airflow": f"The indoor coil got {percent} of its airflow.",
        "low-outdoor-airflow": f"The outdoor coil got {percent} of its airflow.",
        "liquid-line-restriction": f"The liquid line took {percent} of the pressure difference between high and low side.",
        "non-condensables": f"{1000 * size:.1f} g of air was in the circuit for each kg of refrigerant.",
        "weak-compressor": f"{percent} of what the compressor pumped leaked back to its suction side.",
    }.get(exercise.truth, "")


def lesson_blocks(fault: str, rules: Rulebook, d: Diagnosis, full: bool) -> Iterator[Block]:
    """The lesson about one fault: the whole one, as a part of this page, or what is short enough for a terminal and of this
    machine."""
    entry, facts = d.rules.faults.get(fault), machine_facts(d.visit.machine)
    if entry is None:
        return
    if full:
        for block in fault_page(fault, rules, d.system):
            if block.kind == "answer":
                yield Block("heading", block.text, "apart")
            elif block.kind != "foot":
                yield block
        return
    yield heading(f"The lesson: {name_of(fault, rules)}")
    yield line(entry.what)
    for other, text in entry.looks_like.items():
        yield item(f"Looks like {name_of(other, rules)}: {text}")
    if entry.repair is not None:
        yield heading("The repair")
        yield from (item(step) for step in steps_for(entry.repair.do, facts))
        yield from (item(caution, "!") for caution in steps_for(entry.repair.cautions, facts))
        yield line(f"Afterwards: {entry.repair.expect}")
    yield line(f"The whole lesson: diagnose lesson {fault}. These readings, step by step: diagnose lesson FILE.")
