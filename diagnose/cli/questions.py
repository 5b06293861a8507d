"""The same job question by question, no file needed: asks, checks each answer at once, and makes a visit mapping."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose import files
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.visit import Visit, VisitError
from diagnose.visit.fields import FIELDS, ROUND, Field, Word

Answer = Callable[[str], str]
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Question:
    """One question: where its answer stands in the visit, how it is put, an example."""

    section: str
    name: str
    text: str
    example: str


def _question(field: Field | Word) -> Question:
    return Question(field.section, field.name, upper_first(field.question), field.examples[0])


def _asked(section: str, first: bool) -> tuple[Question, ...]:
    """Those that are asked first, in their order, or those that are asked further."""
    those = [field for field in FIELDS if field.section == section and field.question and bool(field.asked) == first]
    return tuple(map(_question, sorted(those, key=lambda field: field.asked)))


MACHINE_QUESTIONS = _asked("machine", first=True)
FIRST_READINGS = tuple(question.name for question in _asked("readings", first=True))
FURTHER = (*_asked("machine", first=False), *_asked("readings", first=False))


def reading_question(name: str) -> Question:
    """The question for one reading, with where its probe sits."""
    return _question(ROUND[name])


def interview(answer: Answer, say: Say, rules: Rulebook) -> dict[str, Any]:
    """Asks until all is said. An empty answer leaves the question out. Returns a visit mapping."""
    visit: dict[str, Any] = {"machine": {}, "readings": {}, "seen": {}}
    say("Press Enter to leave out what you do not know. Write every number with its unit.")
    for question in (*MACHINE_QUESTIONS, *map(reading_question, FIRST_READINGS)):
        put(question, visit, answer, say)
    say("These further facts settle many doubts.")
    if yes(answer, "Further facts of the machine, and readings? (y/n)"):
        for question in FURTHER:
            put(question, visit, answer, say)
    if yes(answer, "Things seen, such as dirt or ice? (y/n)"):
        for entry in rules.seen.values():
            text = f"{upper_first(entry.finding)}: {', '.join(entry.words)}"
            put_word(Question("seen", entry.finding, text, entry.words[0]), tuple(entry.words), visit, answer, say)
    return {section: said for section, said in visit.items() if said}


def yes(answer: Answer, text: str) -> bool:
    """Whether the answer begins with y."""
    return answer(text).strip().lower().startswith("y")


def put(question: Question, visit: dict[str, Any], answer: Answer, say: Say) -> None:
    """Asks one question until its answer can be read, or is left out."""
    while True:
        said = answer(f"{question.text} (for example {question.example})").strip()
        if not said:
            return
        wrong = problem_with(question, said)
        if wrong is None:
            visit[question.section][question.name] = said
            return
        say(f"  {wrong}")


def put_word(question: Question, words: tuple[str, ...], visit: dict[str, Any], answer: Answer, say: Say) -> None:
    """The same for a choice of words; the first letters are enough where only one word begins so."""
    while True:
        said = " ".join(answer(question.text).lower().split())
        if not said:
            return
        fitting = [word for word in words if word == said] or [word for word in words if word.startswith(said)]
        if len(fitting) == 1:
            visit[question.section][question.name] = fitting[0]
            return
        say(f"  Write one of: {', '.join(words)}.")


def problem_with(question: Question, said: str) -> str | None:
    """What is wrong with an answer, in a sentence or two; None if it can be read."""
    try:
        Visit.parse({question.section: {question.name: number_or_text(said)}})
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
