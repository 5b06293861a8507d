"""The `start-up:` of a visit: what was done and measured when the machine was first started, group by group."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import pairwise

from diagnose.properties import UnknownRefrigerant, refrigerant
from diagnose.visit.fields import LONGEST_REMARK, Field, Instrument, Section, Word
from diagnose.visit.model import Reading, StartUp
from diagnose.visit.sheet import At, Sheet, as_text, quoted
from diagnose.visit.start_up_fields import (
    GROUP_WORDS,
    GROUPS,
    ROWS,
    START_UP,
    TABLE,
    TOLD,
    TOLD_PART,
    VACUUM,
    WEIGHED,
    lines_of,
)

_EXAMPLES = {part.name: part.example for part in (*GROUPS, TOLD_PART)}
_ABOVE_AIR = 101325.0  # no test pressure is set more finely than the weather moves the pressure of the air
_COMPOUND = re.compile(r"(?:in\.?\s*(?:of\s*)?(?:hg|mercury)|psi)", re.I)
_BETWEEN = re.compile(r"[;,]\s+|\n")  # a comma within a number has no space behind it
_SPLIT = re.compile(r"[\s@:=/]+(?=[0-9.])")
_SYSTEMS = ("temperature", "pressure", "small pressure", "airflow", "length", "mass")
"""Kinds whose unit shows whether somebody works in US or SI units."""


def read_start_up(sheet: Sheet, value: object, limits: Mapping[str, Instrument]) -> StartUp | None:
    """What the visit says of its start-up; None where it has none. What cannot be read is told and left out."""
    if value is None:
        return None
    if not isinstance(value, Mapping):
        fix = f"For example `{START_UP}: {{pressure test: {_EXAMPLES['pressure test']}}}`."
        sheet.bad((START_UP,), f"`{START_UP}` must hold what was done, group by group", fix)
        return None
    known = (*(part.name for part in GROUPS), TOLD)
    figures: dict[str, dict[str, Reading]] = {}
    words: dict[str, dict[str, str]] = {}
    rows: dict[str, tuple[tuple[Reading, Reading], ...]] = {}
    told: tuple[str, ...] = ()
    taken: dict[str, str] = {}
    for name, item in sheet.mapping(value, (START_UP,)).items():
        spelled = " ".join(re.sub(r"[-_]", " ", name.lower()).split())
        section = spelled if spelled in known else GROUP_WORDS.get(spelled)
        at: At = (START_UP, name)
        if section is None:
            sheet.unknown((START_UP,), name, known, "a part of a start-up")
        elif item is None:
            continue
        elif section in taken:
            sheet.bad(
                at, f"{quoted(taken[section])} and {quoted(name)} are the same part", "Keep one of them.", key=True
            )
        elif section == TOLD:
            told = _told(sheet, item, at)
        elif section in ROWS:
            rows[section] = _rows(sheet, item, section, at, limits)
        else:
            figures[section], words[section] = _group(sheet, item, section, at, limits)
        if section is not None:
            taken.setdefault(section, name)
    return StartUp(figures, words, rows, told)


def _group(
    sheet: Sheet, value: object, section: str, at: At, limits: Mapping[str, Instrument]
) -> tuple[dict[str, Reading], dict[str, str]]:
    part: Section = section  # type: ignore[assignment]
    if not isinstance(value, Mapping):
        sheet.bad(at, f"`{section}` must be a list of `name: value` lines", _example(section))
        return {}, {}
    fields, figures, words = lines_of(part), dict[str, Reading](), dict[str, str]()
    for name, here, item in sheet.lines(value, at, part, fields, f"a line of `{section}`"):
        line = fields[name]
        if item is None:
            continue
        if isinstance(line, Word):
            if (word := _word(sheet, item, line, here)) is not None:
                words[name] = word
        elif (found := _figure(sheet, item, line, here, limits)) is not None:
            figures[name] = found
    if section == WEIGHED and "whole" in figures and len(figures) > 1:
        what = "`whole` is all of the charge, `added` and `removed` change a factory charge"
        sheet.bad(at, what, "Write `whole` alone, or the others without it.")
    return figures, words


def _word(sheet: Sheet, value: object, line: Word, at: At) -> str | None:
    text = " ".join(as_text(value).lower().replace("_", " ").split())
    text = {True: "yes", False: "no"}.get(value, text) if isinstance(value, bool) else text
    if text in line.choices:
        return text
    if text in line.same_as:
        return line.same_as[text]
    if "refrigerant" in line.choices and _is_refrigerant(text):
        return "refrigerant"
    sheet.bad(at, f"`{at[-1]}`: {quoted(value)} is not known", f"Write one of: {', '.join(line.choices)}.")
    return None


def _is_refrigerant(text: str) -> bool:
    try:
        refrigerant(text)
    except UnknownRefrigerant:
        return False
    return True


def _figure(sheet: Sheet, value: object, line: Field, at: At, limits: Mapping[str, Instrument]) -> Reading | None:
    if line.kind == "vacuum" and isinstance(value, str) and _COMPOUND.search(value):
        what = (
            f"`{at[-1]}`: {quoted(value)} is what a compound gauge shows, and that cannot tell 500 microns from 5,000"
        )
        sheet.bad(at, what, f"Read an electronic vacuum gauge, for example `{line.examples[0]}`.")
        return None
    if line.name == "added" and as_text(value).strip().startswith(("-", "−")):
        sheet.bad(
            at, f"`added`: {quoted(value)} is negative", f"Write `removed: {as_text(value).strip()[1:].strip()[:20]}`."
        )
        return None
    found = sheet.measured(value, line, at)
    if found is None:
        return None
    above_air = found.value - (_ABOVE_AIR if line.kind == "pressure" and not found.gauge else 0.0)
    fix = "Look at the number and its unit."
    if line.kind == "small pressure":
        fix = f"Duct pressures are small: for example `{line.examples[0]}` or `{line.examples[-1]}`."
    if not sheet.possible(line, above_air, at, f"`{at[-1]}`: {quoted(value)} cannot be right", fix):
        return None
    if line.kind in _SYSTEMS:
        sheet.written.append(found.unit)
    limit = limits.get(line.instrument)
    error = 0.0 if limit is None else max(limit.share * abs(found.value) + limit.fixed, limit.least)
    return Reading(line.name, found.value, error, found.unit, found.gauge)


def _rows(
    sheet: Sheet, value: object, section: str, at: At, limits: Mapping[str, Instrument]
) -> tuple[tuple[Reading, Reading], ...]:
    """Pairs of figures, in the order they stand in."""
    found: list[tuple[Reading, Reading]] = []
    wrong = len(sheet.problems)
    for here, row in _written(sheet, value, section, at):
        pair = _row(sheet, row, section, here, limits)
        if pair is None:
            break  # the others are most likely written the same way
        found.append(pair)
    if len(sheet.problems) > wrong:
        return tuple(found)
    for i, (one, next_) in enumerate(pairwise(found)):
        if section == VACUUM and not next_[0].value > one[0].value:
            what = f"`{VACUUM}`: the minutes do not rise from row {i + 1} to row {i + 2}"
            sheet.bad(at, what, "Write the rows in the order they were read, each with its own minute.")
            break
    if section == TABLE:
        found.sort(key=lambda pair: pair[0].value)
        _falling(sheet, found, at)
    return tuple(found)


def _falling(sheet: Sheet, rows: list[tuple[Reading, Reading]], at: At) -> None:
    """A blower moves less air against more pressure; one that holds its airflow by itself, about the same."""
    for one, next_ in pairwise(rows):
        if one[0].value == next_[0].value:
            sheet.bad(at, f"`{TABLE}`: two rows have the same static pressure", "Copy the column of one speed only.")
            return
        if next_[1].value > 1.05 * one[1].value:
            what = f"`{TABLE}`: the airflow rises with the static pressure, and a blower’s falls"
            sheet.bad(at, what, "Check that each pressure stands beside its own airflow, of one speed.")
            return


def _written(sheet: Sheet, value: object, section: str, at: At) -> Iterator[tuple[At, object]]:
    """Each row as it is written: of a list, of a text, or of a mapping of the first figure to the second."""
    if isinstance(value, list):
        yield from (((*at, i), row) for i, row in enumerate(value))
    elif isinstance(value, str):
        rows = [row for row in _BETWEEN.split(value.strip().strip("[]")) if row.strip()]
        if (
            section == VACUUM
            and len(rows) == 1
            and len(_SPLIT.split(rows[0].strip())) == 1
            and rows[0].strip()[0].isdigit()
        ):
            rows = [f"0 min {rows[0]}"]  # a single reading is the one at which the pump was valved off
        yield from ((at, row) for row in rows)
    elif isinstance(value, Mapping) and not set(value) & set(lines_of(section)):  # type: ignore[arg-type]
        yield from (((*at, key), f"{as_text(key)} {as_text(item)}") for key, item in value.items())
    elif isinstance(value, Mapping):
        yield at, value
    else:
        sheet.bad(at, f"`{section}` must be a list of rows", _example(section))


def _row(
    sheet: Sheet, row: object, section: str, at: At, limits: Mapping[str, Instrument]
) -> tuple[Reading, Reading] | None:
    part: Section = section  # type: ignore[assignment]
    fields = lines_of(part)
    first, second = fields
    values: dict[str, object] = {}
    if isinstance(row, str):
        split = _SPLIT.split(row.strip(), maxsplit=1)
        if len(split) == 2:
            values = dict(zip(fields, split, strict=True))
            if re.search(r"[a-z\"]\s+[0-9]", split[1], re.I) and not _COMPOUND.search(split[1]):
                sheet.bad(
                    at, f"{quoted(row)} holds more than one row", f"Put a comma between rows. {_example(section)}"
                )
                return None
        places = dict.fromkeys(fields, at)
    elif isinstance(row, Mapping):
        places = {}
        for name, here, item in sheet.lines(row, at, part, fields, f"a figure of `{section}`"):
            values[name], places[name] = item, here
    if set(values) != set(fields) or None in values.values():
        sheet.bad(at, f"{quoted(row)} is no row of `{section}`: it needs `{first}` and `{second}`", _example(section))
        return None
    found = []
    for name, line in fields.items():
        assert isinstance(line, Field)
        one = _figure(sheet, values[name], line, places[name], limits)
        if one is None:
            return None
        found.append(one)
    return found[0], found[1]


def _told(sheet: Sheet, value: object, at: At) -> tuple[str, ...]:
    """Free text, or a list of it."""
    found: list[str] = []
    for item in value if isinstance(value, list) else [value]:
        if isinstance(item, (Mapping, list)):
            sheet.bad(at, f"`{TOLD}` must be a text, or a list of texts", _example(TOLD))
            return ()
        text = " ".join("".join(c if c.isprintable() else " " for c in as_text(item)).split())
        if len(text) > LONGEST_REMARK:
            sheet.bad(at, f"`{TOLD}` is longer than {LONGEST_REMARK} characters", "Shorten it.")
        elif item is not None and text and text.lower() not in ("no", "nothing", "false"):
            found.append(text)
    return tuple(found)


def _example(section: str) -> str:
    return f"For example `{section}: {_EXAMPLES[section]}`."
