"""The lines of an exam: what each asks for, how many marks it has, and how a learner's answer is marked."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from diagnose import units, yamlfile
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.practice.asking import find_action, meant_by
from diagnose.practice.exam import Exam, Paper
from diagnose.practice.exercise import GAVE_UP, Exercise
from diagnose.practice.judging import known_answer, quickest, true_charge
from diagnose.properties.targets import F, NoTarget
from diagnose.report.wording import name_of, number
from diagnose.rulebook import Rulebook
from diagnose.simulator import faults_of
from diagnose.units import UnitError
from diagnose.visit import FIXED_ORIFICE
from diagnose.yamlfile import InputProblems, did_you_mean

MarkedLine = Literal["superheat", "subcooling", "target", "charge", "fault", "next", "danger"]
MARKS: Mapping[MarkedLine, float] = {
    "superheat": 1, "subcooling": 1, "target": 1, "charge": 2, "fault": 3, "next": 1, "danger": 1,
}  # fmt: skip
ASKS: Mapping[MarkedLine, str] = {
    "superheat": "with its unit, such as 12 F or 6.7 K",
    "subcooling": "with its unit",
    "target": "superheat on an orifice, subcooling on a valve; none where there is none",
    "charge": "add, leave, remove, or not yet",
    "fault": "its name, such as low-charge",
    "next": "what to measure or look at next",
    "danger": "none, or with commas: high pressure, flammable refrigerant, liquid to the compressor, hot pipe, vacuum",
}
FULL, HALF = 1.0 * F, 2.0 * F  # K within which a figure has all its mark, or half of it
CHARGES = {"add": "low", "remove": "high", "leave": "right", "not yet": "leave"}
DANGERS: Mapping[str, tuple[str, ...]] = {
    "high pressure": ("high-side-pressure", "high-side-near-limit"),
    "flammable refrigerant": ("caution/flammable-a2l", "caution/flammable-a3"),
    "liquid to the compressor": (
        "caution/liquid-reaches-the-compressor", "caution/liquid-return", "caution/wet-compression",
    ),
    "hot pipe": ("caution/hot-pipe", "caution/discharge-hot", "caution/discharge-far-too-hot"),
    "vacuum": ("suction-in-vacuum",),
}  # fmt: skip
"""A word of the form -> the dangers and cautions of the rule book that it stands for."""


@dataclass(frozen=True, slots=True)
class Marked:
    """One line: what was answered, what is right, the marks, and what there is to say of it."""

    line: MarkedLine
    answer: str
    right: str
    got: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Handed:
    """A form that came back: whose it is, and the answers by visit and line."""

    path: str
    name: str
    code: str
    visits: tuple[Mapping[MarkedLine, str], ...]


# -- the form ----------------------------------------------------------------------------------------------------------


def form_text(paper: Paper) -> str:
    """The form to fill in, as YAML with nothing in it but empty lines."""
    head = ["# Fill in after each colon. Leave empty what you do not know."]
    head += [f"#   {line + ':':<12}{asks}" for line, asks in ASKS.items()]
    mode = paper.exercises[0].mode if paper.exercises else "cooling"
    head += [f"# {one}" for one in textwrap.wrap(f"Faults: {', '.join(faults_of(mode))}.", 100, break_on_hyphens=False)]
    body = [f"paper: {paper.code}", f"name: {paper.name}", "visits:"]
    for i in range(len(paper.exercises)):
        body += [f"  - visit: {i + 1}", *(f"    {line}:" for line in MARKS)]
    return "\n".join([*head, *body]) + "\n"


def read_form(path: Path, exam: Exam) -> Handed:
    """A form that came back. Raises InputProblems with everything that cannot be read in it."""
    document = yamlfile.read(path)
    top = document.data
    fix = "Take the form that `practice exam set` wrote."
    if not isinstance(top, Mapping) or not isinstance(top.get("visits"), list):
        raise InputProblems([document.problem((), "this is not the form of an exam", fix)])
    paper = exam.paper(str(top.get("name") or ""))
    problems = []
    if str(top.get("paper")) != paper.code:
        what = f"this is not the paper of {paper.name}: it has another code"
        problems.append(document.problem(("paper",), what, "Check whether name or paper belong to somebody else."))
    problems += [
        document.problem((word,), f"`{word}` is not a part of the form", fix, key=True)
        for word in top
        if word not in ("paper", "name", "visits")
    ]
    found: list[dict[MarkedLine, str]] = [{} for _ in paper.exercises]
    for i, one in enumerate(top["visits"] or ()):
        at = ("visits", i)
        place = one.get("visit") if isinstance(one, Mapping) else None
        if not isinstance(one, Mapping) or not isinstance(place, int) or not 1 <= place <= len(found):
            problems.append(document.problem(at, f"this is none of the visits 1 to {len(found)}", fix))
            continue
        for word, value in one.items():
            line = next((line for line in MARKS if line == word), None)
            if line is None and word != "visit":
                what, help_ = f"`{word}` is not a line of the form", did_you_mean(str(word), MARKS) or fix
                problems.append(document.problem((*at, str(word)), what, help_, key=True))
            elif line is not None and value is not None:
                said = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
                found[place - 1][line] = " ".join(said.split())
    if problems:
        raise InputProblems(problems)
    return Handed(str(path), paper.name, paper.code, tuple(found))


# -- marking -----------------------------------------------------------------------------------------------------------


def mark(handed: Handed, exam: Exam, rules: Rulebook, now: str) -> dict[str, Any]:
    """The marks of one learner, ready to be signed. now: when the form came back (ISO), if nobody noted it in the key."""
    paper = exam.paper(handed.name)
    now = paper.ended or now
    visits = [
        _marked(i + 1, one, answers, rules)
        for i, (one, answers) in enumerate(zip(paper.exercises, handed.visits, strict=True))
    ]
    return {
        "name": paper.name,
        "paper": paper.code,
        "rulebook": exam.rulebook,
        "started": paper.started,
        "handed in": now,
        "minutes": _minutes(paper.started, now),
        "allowed": exam.minutes,
        "marks": sum(found["marks"] for found in visits),
        "of": sum(MARKS.values()) * len(visits),
        "visits": visits,
    }


def _marked(place: int, one: Exercise, answers: Mapping[MarkedLine, str], rules: Rulebook) -> dict[str, Any]:
    lines = list(mark_visit(one, answers, rules))
    return {
        "visit": place,
        "fault": "+".join(one.truths),
        "answer": _fault_id(answers.get("fault", ""), rules),
        "marks": sum(m.got for m in lines),
        "lines": [
            {"line": m.line, "answer": m.answer, "right": m.right, "marks": m.got, "of": MARKS[m.line], "note": m.note}
            for m in lines
        ],
    }


def _minutes(started: str | None, now: str) -> float | None:
    if started is None:
        return None
    return round((datetime.fromisoformat(now) - datetime.fromisoformat(started)).total_seconds() / 60.0, 1)


def _fault_id(text: str, rules: Rulebook) -> str:
    try:
        return known_answer(text, rules) if text else GAVE_UP
    except InputProblems:
        return GAVE_UP


def mark_visit(one: Exercise, answers: Mapping[MarkedLine, str], rules: Rulebook) -> Iterator[Marked]:
    """Each line of one visit, in the order of the form."""
    d = examine(one.visit(), rules)
    for line in MARKS:
        yield mark_line(line, answers.get(line, ""), one, d)


def mark_line(line: MarkedLine, answer: str, one: Exercise, d: Diagnosis) -> Marked:
    """One line of one visit. d: what is said of what stood on the paper."""
    return _MARKING[line](line, answer, one, d)


def _figure(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    e = d.estimates.get(line)
    return _number(line, text, None if e is None else e.value, d)


def _target(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    """The maker's or the table's; where neither gives one, none is right, and the typical figure does no harm."""
    name = "superheat" if d.visit.machine.metering == FIXED_ORIFICE else "subcooling"
    e = d.estimates.get(name)
    if e is None or isinstance(e.expected, NoTarget) or e.target is None or e.target.origin in ("typical", "assumed"):
        usual = e.target.value if e is not None and e.target is not None else None
        if text.lower() in ("none", "no", "-"):
            return Marked(line, text, "none", MARKS[line])
        got = _number(line, text, usual, d).got / 2 if text else 0.0
        note = "no target is given for this machine; that is a typical figure" if got else "no target is given"
        return Marked(line, text, "none", got, note if text else "left empty")
    return _number(line, text, e.target.value, d)


def _number(line: MarkedLine, text: str, right: float | None, d: Diagnosis) -> Marked:
    if right is None:
        return Marked(line, text, "none", MARKS[line] if text.lower() == "none" else 0.0, "" if text else "left empty")
    said = f"{number(right, 'difference', 'us')} ({number(right, 'difference', 'si')})"
    if not text:
        return Marked(line, text, said, 0.0, "left empty")
    try:
        value = units.parse(text, "difference").value
    except UnitError:
        return Marked(line, text, said, 0.0, "no figure with a unit")
    apart = abs(value - right)
    got = 1.0 if apart <= FULL + 1e-9 else 0.5 if apart <= HALF + 1e-9 else 0.0
    return Marked(line, text, said, got * MARKS[line], "" if got == 1.0 else "near" if got else "not it")


def _charge(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    true = true_charge(one, d.rules)
    right = next(word for word, means in CHARGES.items() if means == true)
    decided = CHARGES.get(text.lower().removesuffix(" it"))
    if decided is None:
        return Marked(line, text, right, 0.0, "left empty" if not text else "none of add, leave, remove, not yet")
    open_ = isinstance(d.charge, NoVerdict)
    right = f"{right}; not yet, by these readings" if open_ else right
    if decided == true or (open_ and decided == "leave"):
        return Marked(line, text, right, MARKS[line])
    if decided in ("low", "high"):
        return Marked(line, text, right, 0.0, "this would do harm")
    return Marked(line, text, right, MARKS[line] / 2, "no harm done, and not settled")


def _fault(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    right = " and ".join(name_of(fault, d.rules) for fault in one.truths)
    if not text:
        return Marked(line, text, right, 0.0, "left empty")
    try:
        answer = known_answer(text, d.rules)
    except InputProblems:
        return Marked(line, text, right, 0.0, "no fault of the rule book: mark it by hand")
    if answer in one.truths:
        return Marked(line, text, right, MARKS[line])
    close = {f.fault for f in d.faults if f.share >= 0.25}
    if answer in close and set(one.truths) & {f.fault for f in d.faults[:3]}:
        return Marked(line, text, right, MARKS[line] / 3, "as likely by these readings, and not it")
    return Marked(line, text, right, 0.0, "not it")


def _next(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    """A question that settles it soonest, or one that the program would advise."""
    steps = quickest(one, d.rules)
    best = [step.action for step in steps.steps]
    advised = {check.check for check in next_checks(d)[:3]}
    named = best[0].name if best else "; ".join(sorted(advised))
    right = "nothing: the readings settle it" if steps.begun else named.replace("-", " ")
    if not text:
        return Marked(line, text, right, 0.0, "left empty")
    if steps.begun and text.lower() in ("none", "nothing", "no", "-"):
        return Marked(line, text, right, MARKS[line])
    if meant_by(text, d.rules.checks) in advised:  # also one that cannot be played: it changes the machine, or waits
        return Marked(line, text, right, MARKS[line])
    try:
        action = find_action(text, one, d.rules)
    except InputProblems:
        return Marked(line, text, right, 0.0, "not understood: mark it by hand")
    brings = {name for each in best for name in each.names} | {
        n for name in advised for n in d.rules.checks[name].gives
    }
    if action.name in advised or set(action.names) & brings:
        return Marked(line, text, right, MARKS[line])
    return Marked(line, text, right, 0.0, "it would settle little here")


def _danger(line: MarkedLine, text: str, one: Exercise, d: Diagnosis) -> Marked:
    codes = {danger.code for danger in d.dangers} | {rule.id for rule in d.cautions}
    there = {word for word, some in DANGERS.items() if codes & set(some)}
    right = ", ".join(word for word in DANGERS if word in there) or "none"
    if not text:
        return Marked(line, text, right, 0.0, "left empty")
    named = {part.strip() for part in re.split(r"[,;]| and ", text.lower())} - {"none", "no", ""}
    strange = sorted(named - DANGERS.keys())
    if strange:
        return Marked(line, text, right, 0.0, f"not on the list: {', '.join(strange)}")
    if named == there:
        return Marked(line, text, right, MARKS[line])
    seen, missed = named & there, there - named
    got = 0.5 * MARKS[line] if seen and not named - there else 0.0
    return Marked(line, text, right, got, f"missed: {', '.join(sorted(missed))}" if missed else "more than there is")


_MARKING: Mapping[MarkedLine, Callable[[MarkedLine, str, Exercise, Diagnosis], Marked]] = {
    "superheat": _figure,
    "subcooling": _figure,
    "target": _target,
    "charge": _charge,
    "fault": _fault,
    "next": _next,
    "danger": _danger,
}


def harmful_lines(marks: Mapping[str, Any]) -> int:
    """On how many visits the answer to the charge would have done harm."""
    return sum(line["note"] == "this would do harm" for visit in marks["visits"] for line in visit["lines"])


def are_marks(data: object) -> bool:
    """Whether this is what `mark` made, signed or not: every part that a page reads is there, of its kind."""
    if not isinstance(data, dict) or not isinstance(data.get("visits"), list):
        return False
    words, figures = ("name", "paper", "rulebook", "handed in"), ("allowed", "marks", "of")
    if not all(isinstance(data.get(name), str) for name in words):
        return False
    if not all(isinstance(data.get(name), (int, float)) for name in figures):
        return False
    if "minutes" not in data or not isinstance(data["minutes"], (int, float, type(None))):
        return False
    return all(
        isinstance(visit, dict)
        and isinstance(visit.get("fault"), str)
        and isinstance(visit.get("answer"), str)
        and isinstance(visit.get("lines"), list)
        and all(
            isinstance(one, dict)
            and one.get("line") in MARKS
            and all(isinstance(one.get(name), str) for name in ("answer", "right", "note"))
            and all(isinstance(one.get(name), (int, float)) for name in ("marks", "of"))
            for one in visit["lines"]
        )
        for visit in data["visits"]
    )


def rubric() -> Sequence[tuple[str, str, str]]:
    """Line, marks, and what they are given for, as it stands on the paper and on the examiner's page."""
    return (
        ("superheat", "1", "within 1 °F (0.6 K); half a mark within 2 °F (1.1 K)"),
        ("subcooling", "1", "the same"),
        ("target", "1", "the same; none where no table and no plate gives one"),
        (
            "charge",
            "2",
            "what the machine needs, or not yet where the readings allow no verdict; one mark for a caution that does no harm; "
            "nothing where it would do harm",
        ),
        ("fault", "3", "the hidden one; one mark for one that the readings make as likely"),
        ("next", "1", "what settles it soonest, or what the program would advise"),
        ("danger", "1", "all that there are and no other; half a mark for some of them"),
    )
