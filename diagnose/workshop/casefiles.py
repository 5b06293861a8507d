"""Case files made from visits, and expectations changed on purpose: what `cases new` and `cases accept` write.

What a person wrote is kept as it was written, comments and units too. What was written is read back and run before it
is left in place.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose import units, yamlfile
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.sentences import problems
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.shipped import shipped
from diagnose.visit import visit_in
from diagnose.workshop import yamledit
from diagnose.workshop.trials import (
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
from diagnose.yamlfile import Document, InputProblems, Problem, did_you_mean, files, refusal

ARITHMETIC = ("superheat", "subcooling")  # figures that every technician can work out again by hand
SCHEMA = "# yaml-language-server: $schema="

# -- a case from a visit -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KnownAnswer:
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
    if str(path) == files.STANDARD_OUTPUT:
        raise refusal(
            "a case must be a file: its folder and name are the case's name", "Name one that ends in .yaml.", path
        )
    if path.suffix != ".yaml":
        raise refusal("a case file must end in .yaml", f"For example `{path.with_suffix('.yaml')}`.", path)
    if os.path.lexists(path):
        raise refusal("there is a file of this name already", "Name another: a case is never written over.", path)


def case_from(visit: Path | str, path: Path, known: KnownAnswer, rules: Rulebook, today: datetime.date) -> CaseResult:
    """Writes a case file from a visit file and runs it. Raises InputProblems; then nothing was written."""
    refuse_to_write(path)
    if problem := truth_problem(known.truth, rules):
        raise refusal(*problem.split(". ", 1))
    document = yamlfile.read(visit)
    if isinstance(document.data, Mapping) and "case" in document.data and "visit" in document.data:
        raise refusal("this is already a case", "Copy it, and change what is different.", document.name)
    diagnosis = examine(visit_in(document, own=rules.own), rules)
    text = _case_text(document, path, known, diagnosis, today)
    result = _run_again(text, path, rules)
    if result.case.entry.visit != document.data:
        raise refusal(
            "this visit cannot be put into a case as it is written", "Write one name on each line.", document.name
        )
    files.make_folder(path.parent)
    files.write(path, text, over=False)
    return result


def _case_text(document: Document, path: Path, known: KnownAnswer, diagnosis: Diagnosis, today: datetime.date) -> str:
    folder = path.resolve().parent
    head = {
        "case": f"{folder.name}/{path.stem}",
        "story": yamledit.paragraph(known.story),
        "truth": known.truth,
        "truth_from": yamledit.paragraph(known.truth_from),
    }
    lines = [
        *_schema_line(folder),
        *yamledit.written(head).splitlines(),
        "visit:",
        *(f"  {text}" if text.strip() else "" for text in _visit_lines(document)),
        f"# What came out on {today.isoformat()}, not yet what should come out: a person must judge every line below,",
        "# mend what is wrong (the case then fails until the rules are mended), and take this comment out.",
        *yamledit.written({"expect": _laid_out(_expectation(diagnosis))}).splitlines(),
    ]
    return "\n".join(lines) + "\n"


def _laid_out(expect: Mapping[str, Any]) -> dict[str, Any]:
    """One entry a line; quantities one a line below their name."""
    return {
        key: {name: yamledit.flow(one) for name, one in value.items()} if key == "quantities" else yamledit.flow(value)
        for key, value in expect.items()
    }


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
    items = () if diagnosis.start_up is None else diagnosis.start_up.items
    found |= {"start_up": {item.item: item.status for item in items}} if items else {}
    return found | ({"quantities": quantities} if quantities else {})


# -- a changed result, accepted ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Accepting:
    """A case whose present result is to become its expectation. changed: a sentence part for each line; empty: nothing.

    was, text: of the file, before and after.
    """

    case: Case
    result: CaseResult
    changed: tuple[str, ...]
    was: str
    text: str


def acceptable(path: Path, because: str, rules: Rulebook, today: datetime.date, author: str = "") -> Accepting:
    """What accepting today's result would write into this case file; nothing is written yet. Raises InputProblems."""
    case = read_case(path)
    result = run_case(case, rules)
    if result.passed:
        return Accepting(case, result, (), "", "")
    if result.diagnosis is None:
        raise InputProblems([Problem("", 0, 0, problem) for problem in result.wrong])
    old = _mapping(case.document.data)["expect"]
    new = _present(case.entry.expect, old, result.diagnosis)
    changed = tuple(_changes(old, new))
    if not changed:
        raise refusal("this cannot be accepted", f"Mend it by hand: {result.wrong[0]}.", path)
    entry = {"date": today.isoformat(), "because": " ".join(because.split()), "changed": "; ".join(changed)}
    if author.strip():
        entry["author"] = " ".join(author.split())
    by_hand = refusal(
        "this cannot be accepted by the program", "Mend it by hand: write one name on each line of `expect:`.", path
    )
    try:
        was = files.text_of(path)
        text = yamledit.edited(was, lambda data: _edit(data, old, new, entry), str(path))
        again = _run_again(text, path, rules)
    except (InputProblems, OSError, ValueError):
        raise by_hand from None
    if not _same_otherwise(case, again.case, entry):
        raise by_hand
    return Accepting(case, result, changed, was, text)


def accept(accepting: Accepting) -> None:
    """Writes it. Raises InputProblems where the file may not be written."""
    files.update(accepting.case.path, accepting.text, accepting.was)


def _edit(data: Any, old: Mapping[str, Any], new: Mapping[str, Any], entry: Mapping[str, str]) -> None:
    """Changes what changed of `expect:`, and lists what was accepted."""
    _change(data["expect"], old, new)
    if data.get("accepted"):
        data["accepted"].append(yamledit.node(entry))
    else:
        data["accepted"] = yamledit.node([entry])


def _change(there: Any, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
    laid_out = _laid_out(new)
    for key in dict.fromkeys((*old, *new)):
        if key not in new:
            del there[key]
        elif key not in old:
            there[key] = laid_out[key]
        elif isinstance(old[key], Mapping) and isinstance(new[key], Mapping):
            _change(there[key], old[key], new[key])
        elif old[key] != new[key]:
            there[key] = laid_out[key]


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
        "dangers": [danger.code for danger in diagnosis.dangers if danger.code in (expect.dangers or ())],
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
    if "start_up" in old and diagnosis.start_up is not None:
        has_items = {str(item.item): item for item in diagnosis.start_up.items}
        new["start_up"] = {
            name: told if told in (has_items[name].status, has_items[name].code) else has_items[name].status
            for name, told in old["start_up"].items()
            if name in has_items
        }
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
