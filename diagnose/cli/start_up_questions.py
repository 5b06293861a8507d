"""The questions of a start-up, group by group in the order of the work, and its answers laid out as a visit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from diagnose.visit.fields import LINE_SET, LINES, Word
from diagnose.visit.start_up_fields import GROUPS, HEAT, LINE_CHECK, ROWS, START_UP, TOLD, TOLD_PART, lines_of

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


class Line(NamedTuple):
    """One question of a start-up, as the interview puts it; as `questions.Question`."""

    section: str
    name: str
    text: str
    examples: tuple[str, ...] = ()
    unless: str = ""


def lines() -> Iterator[tuple[str, str, list[Line]]]:
    """(group, the question that opens it, its questions)."""
    for part in GROUPS:
        asked: list[Line] = []
        if part.name == LINE_CHECK:
            asked += [Line(LINES.name, one.name, one.about.rstrip("."), one.examples) for one in LINE_SET.values()]
        if part.name in ROWS:
            asked.append(Line(START_UP, part.name, part.about.rstrip("."), (part.example,)))
        else:
            for one in lines_of(part.name).values():  # type: ignore[arg-type]
                unless = "power" if part.name == HEAT and one.name in ("voltage", "current", "phases") else ""
                examples = () if isinstance(one, Word) else one.examples
                asked.append(Line(part.name, one.name, one.question, examples, unless))
        yield part.name, GATES[part.name], asked
    told = (TOLD_PART.example.strip("[]").split(", ")[0],)
    yield "", "", [Line(START_UP, TOLD, "What the customer was told or shown", told)]


def laid_out(visit: Mapping[str, Any], start_up: bool) -> dict[str, Any]:
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


def alone(section: str, name: str, said: object) -> dict[str, Any]:
    """A visit that holds one answer and nothing else, so that it can be checked."""
    if section == LINES.name:
        return {"machine": {LINES.name: {"liquid line": "3/8 in", "length": "80 m", name: said}}}
    if section in SECTIONS and section != START_UP:
        return {START_UP: {section: {name: said}}}
    return {section: {name: said}}
