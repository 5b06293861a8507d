"""The same job question by question, no file needed: asks, checks each answer at once, and makes a visit mapping."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.diagnosis.gauges import GaugeAdvice, gauge_advice
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.page.form import modes, modes_of_seen
from diagnose.report.gauges import gauges_text
from diagnose.report.start_up import NITROGEN
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.visit import COOLING, HEATING, READINGS, System, Visit, VisitError
from diagnose.visit.fields import FIELDS, LINE_SET, LINES, MACHINE, ROUND, Field, Word
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.sheet import NOT_TAKEN
from diagnose.visit.start_up_fields import GROUPS, HEAT, LINE_CHECK, ROWS, START_UP, TOLD, TOLD_PART, lines_of
from diagnose.yamlfile import files

GATES: Mapping[str, str] = {
    LINE_CHECK: "Line set looked at, lengths and sizes known? (y/n)",
    "pressure test": "Pressure test with nitrogen? (y/n)",
    "vacuum": "Vacuum, read after the pump was valved off? (y/n)",
    HEAT: "Airflow by electric heat? (y/n)",
    "blower table": "Airflow by the maker's blower table? (y/n)",
    "static": "Static pressures, filter, coil and ducts? (y/n)",
    "charge": "Refrigerant weighed in or out? (y/n)",
}
"""What opens the questions of each group."""
SECTIONS = (LINES.name, START_UP, *(part.name for part in GROUPS))
"""Where answers stand until they are laid out."""


def _laid_out(visit: Mapping[str, Any], start_up: bool) -> dict[str, Any]:
    """The answers as a visit has them; a line set of which the size or the length is not known is left out."""
    found: dict[str, Any] = {
        name: said if isinstance(said, str) else dict(said)
        for name, said in visit.items()
        if name not in SECTIONS and said
    }
    if {"liquid line", "length"} <= visit.get(LINES.name, {}).keys():
        found.setdefault("machine", {})[LINES.name] = dict(visit[LINES.name])
    groups = {part.name: dict(said) for part in GROUPS if (said := visit.get(part.name))}
    if start_up:
        found[START_UP] = {**groups, **visit.get(START_UP, {})}
    return found


def _alone(section: str, name: str, said: object) -> dict[str, Any]:
    """A visit that holds one answer and nothing else, so that it can be checked."""
    if section == LINES.name:
        return {"machine": {LINES.name: {"liquid line": "3/8 in", "length": "80 m", name: said}}}
    if section in SECTIONS and section != START_UP:
        return {START_UP: {section: {name: said}}}
    return {section: {name: said}}


FIRST_LOOKS = (
    "thermostat", "power", "breaker", "air filter", "blower", "outdoor fan", "compressor sound", "indoor coil", "outdoor coil",
    "indoor coil ice", "condensate drain",
)  # fmt: skip
"""Looked at before anything is measured, in the order of the way through the house."""
HEATING_LOOKS = ("outdoor coil frost", "supplementary heat")
"""Looked at as soon as it is said that the machine heats."""
STANDING_LOOKS = ("contactor", "low pressure switch", "high pressure switch", "overload", "windings")
"""Looked at where the compressor stands, from the call to the windings."""
STANDING_FACTS = ("rated voltage", "capacitor rating")
STANDING_READINGS = ("contactor coil voltage", "voltage 1 to 2", "voltage 2 to 3", "voltage 3 to 1", "capacitor")
LOCKED_OUT = (
    "  The compressor stands: follow the call from the thermostat to its windings. Lock out the power, verify zero "
    "voltage, and discharge capacitors through a resistor before you reach in; measure live parts only if you are "
    "licensed to."
)
NOT_RUNNING = "not running"
RUNNING = "running"
GAUGES = "gauges"


def _takes_gauges(reading: str) -> bool:
    """Whether a reading is taken with gauges."""
    return READINGS[reading].instrument == "gauges" if reading in READINGS else False


def _advised(visit: Mapping[str, Any], rules: Rulebook) -> tuple[Diagnosis, GaugeAdvice]:
    """Whether to put the gauges on, and the diagnosis of the answers until now, all of which were checked, that says so."""
    d = examine({part: said for part, said in visit.items() if said}, rules)
    return d, gauge_advice(d)


def leads_to(visit: Mapping[str, Any], rules: Rulebook) -> str:
    """What is asked after the looks: of a machine that runs, of one that stands, or neither, where something must be mended
    before any reading says anything (ice)."""
    advice = _advised(visit, rules)[1] if visit["seen"] else None
    if advice is not None and advice.code == "compressor-stands":
        return NOT_RUNNING
    return "" if advice is not None and advice.rule is not None and advice.rule.holds == "visit" else RUNNING


Answer = Callable[[str], str]
Say = Callable[[str], None]

BACK = ("<", "back")


@dataclass(frozen=True, slots=True)
class Question:
    """One question: where its answer stands in the visit, how it is put, examples (US, then SI where that differs).

    words: the choice there is, if any. leads_to: the part of the interview that a `yes` opens; the answer itself is not kept.
    unless: a reading in whose place this one is asked.
    """

    section: str
    name: str
    text: str
    examples: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    leads_to: str = ""
    unless: str = ""

    def example(self, system: System) -> str:
        """In these units."""
        return self.examples[-1 if system == "si" else 0]


def _question(field: Field | Word) -> Question:
    examples = field.examples if isinstance(field, Field) else field.examples[:1]
    unless = field.name.replace("relative humidity", "wet bulb") if "relative humidity" in field.name else ""
    return Question(field.section, field.name, upper_first(field.question), examples, unless=unless)


def _asked(section: str, first: bool) -> tuple[Question, ...]:
    """Those that are asked first, in their order, or those that are asked further."""
    those = [field for field in FIELDS if field.section == section and field.question and bool(field.asked) == first]
    return tuple(map(_question, sorted(those, key=lambda field: field.asked)))


MACHINE_QUESTIONS = _asked("machine", first=True)
FIRST_READINGS = tuple(question.name for question in _asked("readings", first=True))
FURTHER = (*_asked("machine", first=False), *_asked("readings", first=False))
COMPLAINT = Question("complaint", "", "What the customer says", ("no cooling since Sunday",))
_GAUGES = Question("", "gauges on", "Put the gauges on? (y/n; Enter: as said above)", leads_to=GAUGES)
_MORE = Question("", "more", "Further facts of the machine, and readings? (y/n)", leads_to="further")
_SEEN = Question("", "looked at", "Things seen or told, such as dirt, ice or an earlier repair? (y/n)", leads_to="seen")
_INTRODUCTION = (
    "Press Enter to leave out what you do not know; write < to go back to the question before. "
    "Write every number with its unit."
)


def reading_question(name: str) -> Question:
    """The question for one reading, with where its probe sits."""
    return _question(ROUND[name])


def interview(
    answer: Answer, say: Say, rules: Rulebook, system: System | None = None, start_up: bool = False
) -> dict[str, Any]:
    """Asks until all is said. An empty answer leaves the question out, `<` or `back` goes to the one before.

    system: the units of the examples; None: those of the answers so far. start_up: asks for what is done at a start-up too.
    Returns a visit mapping.
    """
    visit: dict[str, Any] = {"machine": {}, "readings": {}, "seen": {}, "complaint": ""}
    visit |= {section: {} for section in SECTIONS} if start_up else {}
    opened: set[str] = set()
    plan = _plan(rules, start_up)
    put: list[int] = []  # the questions put so far, for the way back
    say(_INTRODUCTION)
    if start_up:
        say(f"Take care: {NITROGEN}.")
    at = 0
    while at < len(plan):
        part, question = plan[at]
        if not _open(part, question, visit, opened, rules) or any(plan[i][1] == question for i in put):
            at += 1
            continue
        if question is _GAUGES:
            d, advice = _advised(visit, rules)
            say(f"  {gauges_text(d.told_in(system or _system(visit, rules)), advice)}")
            (opened.add if advice.needed else opened.discard)(GAUGES)
        if part == NOT_RUNNING and plan[at - 1][0] != NOT_RUNNING:
            say(LOCKED_OUT)
        if question is _MORE:
            say("These further facts settle many doubts.")
        if _put(question, visit, opened, rules, answer, say, system or _system(visit, rules)):
            put.append(at)
            at += 1
        elif put:
            at = put.pop()
        else:
            say("  This is the first question.")
    return _laid_out(visit, start_up)


def _start_up() -> Iterator[tuple[str, Question]]:
    """The questions of a start-up, group by group in the order of the work, with the part that must be opened for each."""
    for part in GROUPS:
        name = part.name
        yield "", Question("", name, GATES[name], leads_to=name)
        for one in LINE_SET.values() if name == LINE_CHECK else ():
            yield name, Question(LINES.name, one.name, upper_first(one.about.rstrip(".")), one.examples)
        if name in ROWS:
            yield name, Question(START_UP, name, upper_first(part.about.rstrip(".")), (part.example,))
            continue
        for line in lines_of(name).values():  # type: ignore[arg-type]
            unless = "power" if name == HEAT and line.name in ("voltage", "current", "phases") else ""
            examples = () if isinstance(line, Word) else line.examples
            yield name, Question(name, line.name, upper_first(line.question), examples, unless=unless)
    told = (TOLD_PART.example.strip("[]").split(", ")[0],)
    yield "", Question(START_UP, TOLD, "What the customer was told or shown", told)


def _open(part: str, question: Question, visit: dict[str, Any], opened: set[str], rules: Rulebook) -> bool:
    """Whether this part of the interview is to be asked, by the answers so far."""
    if question.unless and question.unless in visit.get(question.section, ()):
        return False
    heats = str(visit.get("machine", {}).get("mode", COOLING)).lower().startswith("heat")
    if (HEATING if heats else COOLING) not in _modes(question, rules):
        return False
    if part in (NOT_RUNNING, RUNNING):
        return leads_to(visit, rules) == part
    return part in ("", *opened)


def _modes(question: Question, rules: Rulebook) -> Sequence[str]:
    """The modes in which anything is made of the answer."""
    if question.section == "seen":
        return modes_of_seen(question.name, rules)
    if question.section == "readings" and question.name in ROUND:
        return modes(ROUND[question.name])
    return (COOLING, HEATING)


def _plan(rules: Rulebook, start_up: bool) -> list[tuple[str, Question]]:
    """Every question in its order, with the part that must be opened for it."""
    seen = {
        entry.finding: Question(
            "seen", entry.finding, f"{upper_first(entry.finding)}: {', '.join(entry.words)}", words=tuple(entry.words)
        )
        for entry in rules.seen.values()
    }
    facts = [_question(MACHINE[name]) for name in STANDING_FACTS]
    standing = [*(seen[name] for name in STANDING_LOOKS if name in seen), *facts]
    standing += map(reading_question, STANDING_READINGS)
    without = [name for name in FIRST_READINGS if not _takes_gauges(name)]
    gauges = [name for name in FIRST_READINGS if _takes_gauges(name)]
    machine = [("", question) for question in MACHINE_QUESTIONS]
    further = [
        ("", _MORE), *(("further", question) for question in (*FURTHER, *map(_question, rules.own.fields))),
        ("", _SEEN), *(("seen", question) for question in seen.values()),
    ]  # fmt: skip
    if start_up:  # nothing is looked for, and the gauges are on
        return [*machine, *_start_up(), *(("", reading_question(name)) for name in FIRST_READINGS), *further]
    return [
        ("", COMPLAINT), *(("", seen[name]) for name in FIRST_LOOKS if name in seen),
        *machine, *(("", seen[name]) for name in HEATING_LOOKS if name in seen),
        *((NOT_RUNNING, question) for question in standing),
        *((RUNNING, reading_question(name)) for name in without),
        ("", _GAUGES), *((GAUGES, reading_question(name)) for name in gauges),
        *further,
    ]  # fmt: skip


def _system(visit: Mapping[str, Mapping[str, str]], rules: Rulebook) -> System:
    """The units of the answers so far."""
    said = {section: answers for section, answers in visit.items() if section not in ("seen", "complaint")}
    return Visit.parse(_laid_out(said, "start-up" in said), rules.own).system


def _put(
    question: Question,
    visit: dict[str, Any],
    opened: set[str],
    rules: Rulebook,
    answer: Answer,
    say: Say,
    system: System,
) -> bool:
    """Asks one question until its answer can be read or is left out. False: back to the question before."""
    if question is COMPLAINT:
        visit["complaint"] = ""
    elif question.section:
        visit[question.section].pop(question.name, None)  # asked again, it begins anew
    while True:
        said = answer(
            f"{question.text} (for example {question.example(system)})" if question.examples else question.text
        ).strip()
        if said.lower() in BACK:
            return False
        if question.leads_to:
            if question is _GAUGES and not said:
                return True
            (opened.add if said.lower().startswith("y") else opened.discard)(question.leads_to)
            return True
        if said.lower() in NOT_TAKEN - {"none"}:  # which is an answer to what was looked for
            return True
        kept, wrong = _word(question, said) if question.words else (said, problem_with(question, said, rules.own))
        if wrong is None and question is COMPLAINT:
            visit["complaint"] = kept
            return True
        if wrong is None:
            visit[question.section][question.name] = kept
            return True
        say(f"  {wrong}")


def _word(question: Question, said: str) -> tuple[str, str | None]:
    """One of a choice of words; the first letters are enough where only one word begins so."""
    said = " ".join(said.lower().split())
    fitting = [word for word in question.words if word == said] or [w for w in question.words if w.startswith(said)]
    if len(fitting) == 1:
        return fitting[0], None
    return said, f"Write one of: {', '.join(question.words)}. Enter leaves it out."


def problem_with(question: Question, said: str, own: Own = NOTHING_OWN) -> str | None:
    """What is wrong with an answer, in a sentence or two; None if it can be read. own: lines that the rule book adds."""
    try:
        answered = number_or_text(said)
        by_itself = _alone(question.section, question.name, answered) if question.name else {question.section: said}
        Visit.parse(by_itself, own)
    except VisitError as error:
        first = error.problems[0]
        return f"{first.what.rstrip('.')}. {first.fix}".replace(f"`{question.name}`: ", "")
    return None


def number_or_text(said: str) -> str | float:
    """A bare number as a number, as YAML would read it."""
    try:
        return float(said)
    except ValueError:
        return said


def as_file(visit: Mapping[str, Mapping[str, str]]) -> str:
    """The visit as the text of a visit file."""
    from diagnose.workshop import yamledit

    return yamledit.written(visit)


def refuse_to_keep(path: Path) -> None:
    """Raises InputProblems where a visit could not be written to this path."""
    files.refuse(path, over=False)


def keep(visit: Mapping[str, Mapping[str, str]], path: Path) -> None:
    """Writes the visit file; never over another. Raises InputProblems."""
    files.write(path, as_file(visit), over=False)
