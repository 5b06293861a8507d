"""Case files made from visits, and expectations changed on purpose: what `cases new` and `cases accept` write.

What a person wrote is kept as it was written, comments and units too. What was written is read back and run before it
is left in place.
"""

from __future__ import annotations

import datetime
import os
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose import units, yamlfile
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.sentences import problems
from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped
from diagnose.visit import visit_in
from diagnose.workshop.trials import (
    BAD_VISIT,
    Case,
    CaseResult,
    Expected,
    case_in,
    in_unit,
    off_by,
    ranked_above,
    read_case,
    run_case,
    words,
)
from diagnose.yamlfile import Document, InputProblems, Problem, did_you_mean

WIDTH = 110
ARITHMETIC = ("superheat", "subcooling")  # figures that every technician can work out again by hand
SCHEMA = "# yaml-language-server: $schema="

# -- a case from a visit -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Known:
    """What a person knows of a visit: the fault (or `bad visit`), where that is known from, and what happened."""

    truth: str
    truth_from: str
    story: str


def truth_problem(truth: str, rules: Rulebook) -> str:
    """Why this cannot be a truth, and how to mend it; empty where it can."""
    if truth in rules.faults or truth == BAD_VISIT:
        return ""
    near = did_you_mean(truth, [*rules.faults, BAD_VISIT])
    known = f"Known: {', '.join(rules.faults)}, or {BAD_VISIT}."
    return f"`{truth}` is not a fault. {near or known}"


def refuse_to_write(path: Path) -> None:
    """Raises InputProblems where no new case can be written to this path."""
    if path.suffix != ".yaml":
        raise _told(path, "a case file must end in .yaml", f"For example `{path.with_suffix('.yaml')}`.")
    if os.path.lexists(path):
        raise _told(path, "there is a file of this name already", "Name another: a case is never written over.")


def case_from(visit: Path | str, path: Path, known: Known, rules: Rulebook, today: datetime.date) -> CaseResult:
    """Writes a case file from a visit file and runs it. Raises InputProblems; then nothing was written."""
    refuse_to_write(path)
    if problem := truth_problem(known.truth, rules):
        raise _told("", *problem.split(". ", 1))
    document = yamlfile.read(visit)
    if isinstance(document.data, Mapping) and "case" in document.data and "visit" in document.data:
        raise _told(document.name, "this is a case already", "Copy it, and change what is different.")
    diagnosis = examine(visit_in(document), rules)
    text = _case_text(document, path, known, diagnosis, today)
    result = _run_again(text, path, rules)
    if result.case.entry.visit != document.data:
        raise _told(
            document.name, "this visit cannot be put into a case as it is written", "Write one name on each line."
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise _told(
            path,
            f"the case cannot be written here ({(error.strerror or 'no reason given').lower()})",
            "Name another file.",
        ) from None
    return result


def _case_text(document: Document, path: Path, known: Known, diagnosis: Diagnosis, today: datetime.date) -> str:
    folder = path.resolve().parent
    lines = [
        *_schema_line(folder),
        f"case: {scalar(f'{folder.name}/{path.stem}')}",
        *_paragraph("story", known.story),
        f"truth: {known.truth}",
        *_paragraph("truth_from", known.truth_from),
        "visit:",
        *(f"  {text}" if text.strip() else "" for text in _visit_lines(document)),
        f"# What came out on {today.isoformat()}, not yet what should come out: a person must judge every line below,",
        "# mend what is wrong (the case then fails until the rules are mended), and take this comment out.",
        "expect:",
        *_lines_of(_expectation(diagnosis), 2),
    ]
    return "\n".join(lines) + "\n"


def _visit_lines(document: Document) -> list[str]:
    """As they were written, without what marks the beginning and the end of a file, or names its schema."""
    kept = [line for line in document.lines if line.rstrip() not in ("---", "...") and not line.startswith(SCHEMA)]
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def _schema_line(folder: Path) -> Iterator[str]:
    """The first line by which an editor completes and checks the file, where the schema can be reached from there."""
    schema = shipped("rules") / "schema" / "case.json"
    shared = shipped("cases").parent
    if schema.is_file() and folder.is_relative_to(shared):
        yield f"{SCHEMA}{Path(os.path.relpath(schema, folder)).as_posix()}"


def _expectation(diagnosis: Diagnosis) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if diagnosis.faults:
        found["first"] = diagnosis.faults[0].fault
    else:
        found["status"] = diagnosis.status
    found["charge"] = diagnosis.charge.verdict
    unit, within = ("F", "0.5 F") if diagnosis.system == "us" else ("K", "0.3 K")
    quantities = {
        name: {
            "value": f"{units.from_si(diagnosis.estimates[name].value, unit, 'difference'):.1f} {unit}",
            "within": within,
        }
        for name in ARITHMETIC
        if name in diagnosis.estimates
    }
    return found | ({"quantities": quantities} if quantities else {})


# -- a changed result, accepted ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Accepting:
    """A case whose present result is to become its expectation. changed: a sentence part for each line; empty: nothing."""

    case: Case
    result: CaseResult
    changed: tuple[str, ...]
    text: str


def acceptable(path: Path, because: str, rules: Rulebook, today: datetime.date) -> Accepting:
    """What accepting today's result would write into this case file; nothing is written yet. Raises InputProblems."""
    case = read_case(path)
    result = run_case(case, rules)
    if result.passed:
        return Accepting(case, result, (), "")
    if result.diagnosis is None:
        raise InputProblems([Problem("", 0, 0, problem) for problem in result.wrong])
    old = _mapping(case.document.data)["expect"]
    new = _present(case.entry.expect, old, result.diagnosis)
    changed = tuple(_changes(old, new))
    if not changed:
        raise _told(path, "this cannot be accepted", f"Mend it by hand: {result.wrong[0]}.")
    entry = {"date": today.isoformat(), "because": " ".join(because.split()), "changed": "; ".join(changed)}
    for whole in (False, True):
        lines = _with_expect(case.document, old, new, whole)
        text = "\n".join(_with_accepted(lines, case, entry)) + "\n"
        try:
            again = _run_again(text, path, rules)
        except InputProblems:
            continue
        if _same_otherwise(case, again.case, entry):
            return Accepting(case, result, changed, text)
    raise _told(
        path, "this cannot be accepted by the program", "Mend it by hand: write one name on each line of `expect:`."
    )


def accept(accepting: Accepting) -> None:
    """Writes it. Raises InputProblems where the file may not be written."""
    path = accepting.case.path
    try:
        newline = "\r\n" if b"\r\n" in path.read_bytes() else "\n"
        path.write_text(accepting.text, encoding="utf-8", newline=newline)
    except OSError as error:
        raise _told(
            path, f"the case cannot be written ({(error.strerror or 'no reason given').lower()})", "Check the rights."
        ) from None


def _present(expect: Expected, old: Mapping[str, Any], diagnosis: Diagnosis) -> dict[str, Any]:
    """The same expectations, each as it comes out today; what can no longer be said is left out."""
    new = dict(old)
    if diagnosis.status != expect.status:
        new["status"] = diagnosis.status
        if diagnosis.faults and expect.first is None:
            new["first"] = diagnosis.faults[0].fault
    for place, name in enumerate(("first", "second")):
        if name in old:
            has = diagnosis.faults[place].fault if len(diagnosis.faults) > place else None
            if has is None:
                del new[name]
            elif has not in words(old[name]):
                new[name] = has
    if "charge" in old and diagnosis.charge.verdict not in words(old["charge"]):
        new["charge"] = diagnosis.charge.verdict
    above = ranked_above(expect.model_copy(update={"first": new.get("first")}), diagnosis)
    shown = {rule.id for rule in diagnosis.cautions}
    told = {reason.code for reason, _ in problems(diagnosis)}
    advised = {check.check for check in next_checks(diagnosis)}
    holding = {
        "not_above": [name for name in expect.not_above if name not in above],
        "also": [name for name in expect.also if name in diagnosis.also],
        "cautions": [name for name in expect.cautions if name in shown],
        "problems": [code for code in expect.problems if code in told],
        "checks": [name for name in expect.checks if name in advised],
    }
    for key, left in holding.items():
        _leave(new, key, left)
    for unit in ("percent", "kg"):
        if unit in old:
            has_off = off_by(unit, diagnosis)
            value = None if has_off is None else _near(has_off, old[unit]["value"], old[unit]["within"])
            _leave(new, unit, None if value is None else {**old[unit], "value": value})
    quantities = {name: _quantity(name, wanted, diagnosis) for name, wanted in old.get("quantities", {}).items()}
    _leave(new, "quantities", {name: wanted for name, wanted in quantities.items() if wanted is not None})
    return new


def _leave(new: dict[str, Any], key: str, value: Any) -> None:
    """Changes what is there to what is left of it, or takes it out where nothing is."""
    if key in new and value:
        new[key] = value
    elif new.get(key):
        del new[key]


def _near(has: float, written: float, within: float) -> float:
    return written if abs(has - written) <= within else float(f"{has:.3g}")


def _quantity(name: str, wanted: Mapping[str, Any], diagnosis: Diagnosis) -> dict[str, Any] | None:
    estimate = diagnosis.estimates.get(name)
    which = "target" if "target" in wanted else "value"
    if estimate is None or (which == "target" and estimate.target is None):
        return None
    has = estimate.target.value if which == "target" and estimate.target else estimate.value
    kind: Any = estimate.kind
    try:
        if kind == "ratio":
            return {**wanted, which: _near(has, float(wanted[which]), float(wanted["within"]))}
        written = units.parse(wanted[which], kind)
        within = units.parse(wanted["within"], "difference" if kind == "temperature" else kind).value
        if abs(has - written.value) <= within:
            return dict(wanted)
        return {**wanted, which: in_unit(has, written.unit, kind, wanted["within"])}
    except (units.UnitError, KeyError, ValueError):
        return dict(wanted)  # cannot be compared: a person must mend it


def _changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    for key in dict.fromkeys((*old, *new)):
        before, after = old.get(key), new.get(key)
        if before == after:
            continue
        if isinstance(before, Mapping) and isinstance(after, Mapping):
            yield from (f"{key} {text}" for text in _changes(before, after))
        elif before is None:
            yield f"{key} {_brief(after)} was added"
        elif after is None:
            yield f"{key} {_brief(before)} was taken out"
        else:
            yield f"{key} was {_brief(before)}, is {_brief(after)}"


def _brief(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {_brief(item)}" for name, item in value.items())
    return " or ".join(map(str, value)) if isinstance(value, list) else str(value)


# -- lines ---------------------------------------------------------------------------------------------------------


def _with_expect(document: Document, old: Mapping[str, Any], new: Mapping[str, Any], whole: bool) -> list[str]:
    """The lines of the file with another expectation: only what changed, or the whole of `expect:`."""
    lines = list(document.lines)
    start, stop = _block(document, ("expect",), len(lines))
    if whole:
        lines[start:stop] = ["expect:", *_lines_of(new, 2)] if new else ["expect: {}"]
        return lines
    if added := {key: value for key, value in new.items() if key not in old}:
        lines[stop:stop] = _lines_of(added, 2)
    _replace(lines, document, ("expect",), stop, old, new)
    return lines


def _replace(
    lines: list[str], document: Document, path: yamlfile.Path, end: int, old: Mapping[str, Any], new: Mapping[str, Any]
) -> None:
    """Changes the lines of what changed, from the bottom up, so that the places above stay right."""
    for key in sorted(old, key=lambda name: -document.keys[(*path, name)].line):
        at = (*path, key)
        if key in new and old[key] == new[key]:
            continue
        start, stop = _block(document, at, end)
        mark = document.keys[at]
        if key not in new:
            del lines[start:stop]
        elif key == "quantities":
            _replace(lines, document, at, stop, old[key], new[key])
        else:
            fresh = _lines_of({key: new[key]}, mark.column - 1)
            if len(fresh) == 1 and stop - start == 1:
                fresh[0] += _comment(document, at)
            lines[start:stop] = fresh


def _block(document: Document, path: yamlfile.Path, end: int) -> tuple[int, int]:
    """First line of an entry and the line after its last, counted from 0; what stands before the next is the next's."""
    start = document.keys[path].line - 1
    beside = [mark.line - 1 for at, mark in document.keys.items() if at[:-1] == path[:-1] and mark.line - 1 > start]
    stop = min([*beside, end])
    while stop > start + 1 and document.lines[stop - 1].lstrip()[:1] in ("", "#"):
        stop -= 1
    return start, stop


def _comment(document: Document, at: yamlfile.Path) -> str:
    """What stands behind the value of this entry, on its line."""
    mark = document.marks[at]
    rest = document.lines[mark.line - 1][mark.column - 1 + mark.width :]
    return rest.rstrip() if rest.lstrip().startswith("#") else ""


def _with_accepted(lines: list[str], case: Case, entry: Mapping[str, str]) -> list[str]:
    """The list of what was accepted, one longer."""
    before = [one.model_dump() for one in case.entry.accepted]
    starts = [i for i, text in enumerate(lines) if text.startswith("accepted:")]
    if not starts:
        while lines and not lines[-1].strip():
            lines.pop()
        return [*lines, "accepted:", *_items([entry])]
    start = starts[0]
    stop = next((i for i in range(start + 1, len(lines)) if lines[i][:1] not in ("", " ", "-", "#")), len(lines))
    while stop > start + 1 and lines[stop - 1].lstrip()[:1] in ("", "#"):
        stop -= 1
    in_block = lines[start].split("#")[0].strip() == "accepted:"
    if in_block and before:
        first = lines[
            case.document.marks[("accepted", 0)].line - 1 + start - (case.document.keys[("accepted",)].line - 1)
        ]
        indent = len(first) - len(first.lstrip())
        return [*lines[:stop], *_items([entry], indent), *lines[stop:]]
    return [*lines[:start], "accepted:", *_items([*before, entry]), *lines[stop:]]


def _items(entries: Sequence[Mapping[str, str]], indent: int = 2) -> Iterator[str]:
    for entry in entries:
        for i, (name, value) in enumerate(entry.items()):
            yield f"{' ' * indent}{'- ' if i == 0 else '  '}{name}: {scalar(value)}"


def _lines_of(data: Mapping[str, Any], indent: int) -> list[str]:
    """One entry a line; quantities one a line below their name."""
    pad, found = " " * indent, []
    for key, value in data.items():
        if key == "quantities":
            found += [f"{pad}{key}:", *_lines_of(value, indent + 2)]
        else:
            found.append(f"{pad}{scalar(key)}: {_flow(value)}")
    return found


def _flow(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{scalar(name)}: {_flow(item)}" for name, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(item) for item in value) + "]"
    return f"{value:g}" if isinstance(value, float) else scalar(value) if isinstance(value, str) else str(value)


def scalar(text: str) -> str:
    """A text as YAML reads it back, without quotes where it needs none."""
    plain = re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 _./;()%-]*", text) and text == text.strip()
    if plain and text not in ("true", "false", "null") and not re.fullmatch(r"[0-9.eE+-]+", text):
        return text
    if plain and re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return text
    return "'" + text.replace("'", "''") + "'"


def _paragraph(name: str, text: str) -> Iterator[str]:
    short = scalar(" ".join(text.split()))
    if len(name) + 2 + len(short) <= WIDTH and not short.startswith("'"):
        yield f"{name}: {short}"
    else:
        yield f"{name}: >"
        yield from textwrap.wrap(" ".join(text.split()), WIDTH, initial_indent="  ", subsequent_indent="  ")


# -- proof ---------------------------------------------------------------------------------------------------------


def _run_again(text: str, path: Path, rules: Rulebook) -> CaseResult:
    """What was written, read back and run: it must pass. Raises InputProblems."""
    result = run_case(case_in(yamlfile.parse(text, str(path)), path), rules)
    if not result.passed:
        raise InputProblems([Problem(str(path), 0, 0, problem) for problem in result.wrong])
    return result


def _same_otherwise(before: Case, after: Case, entry: Mapping[str, str]) -> bool:
    """Whether nothing but the expectation changed, and the list of what was accepted is one longer."""
    old, new = _mapping(before.document.data), _mapping(after.document.data)
    rest = {key for key in (*old, *new) if key not in ("expect", "accepted")}
    listed = [*old.get("accepted", []), dict(entry)]
    return all(old.get(key) == new.get(key) for key in rest) and new["accepted"] == listed


def _mapping(data: object) -> dict[str, Any]:
    assert isinstance(data, dict)  # a case that could be read is one
    return data


def _told(path: Path | str, what: str, fix: str = "") -> InputProblems:
    return InputProblems([Problem(str(path), 0, 0, what, fix)])
