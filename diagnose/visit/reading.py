"""From a visit file, or the same mapping from Python, to a Visit; every mistake is collected, none is guessed away."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from numbers import Integral, Real
from pathlib import Path, PurePosixPath, PureWindowsPath

from diagnose import yamlfile
from diagnose.visit.fields import HEATING, INSTRUMENTS, LONGEST_REMARK, REMARKS, SECTIONS, WEIGHED, Instrument
from diagnose.visit.instruments import read_instruments
from diagnose.visit.machine import of_both, read_machine
from diagnose.visit.model import Machine, Visit
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.parts import in_parts, value_at
from diagnose.visit.reason import Reason
from diagnose.visit.rounds import read_rounds
from diagnose.visit.sheet import EXAMPLES, LEAST_ASKED, MOST_ASKED, At, Sheet, as_text, quoted
from diagnose.visit.start_up import read_start_up
from diagnose.visit.start_up_fields import START_UP
from diagnose.yamlfile import DEEPEST, MOST_VALUES, Document, InputProblems, Mistake, Problem, printable


class VisitError(InputProblems):
    """The visit cannot be read. `problems` lists everything that is wrong with it, each with how to mend it.

    rest: what could be read of the visit, so that whoever knows more about it can add to the list.
    """

    def __init__(self, problems: Iterable[Problem], rest: Visit | None = None) -> None:
        super().__init__(problems)
        self.rest = rest


def read_visit(source: str | os.PathLike[str], own: Own = NOTHING_OWN) -> Visit:
    """The visit in a file (`-` for standard input); own: lines that a rule book adds. Raises VisitError with every problem."""
    try:
        path: str | bytes | None = os.fspath(source)
    except Exception:  # a number would be taken for an open file, read, and closed
        path = None
    if not isinstance(path, str):
        what = f"{quoted(source)} is neither a visit nor the path of one"
        raise VisitError([Problem("", 0, 0, what, "Give the path of a visit file, or a mapping laid out like one.")])
    try:
        document = yamlfile.read(path)
    except InputProblems as error:
        raise VisitError(error.problems) from None
    return visit_in(document, place_of(document), own)


def visit_from(data: Mapping[str, object], name: str = "", own: Own = NOTHING_OWN) -> Visit:
    """The visit in a mapping laid out as the visit file, or as a case file. Raises VisitError with every problem."""
    try:
        document = yamlfile.from_data(copied(data), name)
    except Mistake as error:
        raise VisitError([Problem(name, 0, 0, error.what, error.fix)]) from None
    return visit_in(document, place_of(document), own)


def visit_in(document: Document, at: At = (), own: Own = NOTHING_OWN) -> Visit:
    """The visit that stands in a document that is already read, below `at`. Raises VisitError."""
    return _visit(Sheet(document, at, own))


def place_of(document: Document) -> At:
    """Where the visit stands: a case file holds one and its answer; given as a visit, the visit in it is meant."""
    return ("visit",) if isinstance(document.data, Mapping) and {"case", "visit"} <= document.data.keys() else ()


def _visit(sheet: Sheet, inherited: Mapping[str, Instrument] | None = None, mode: str | None = None) -> Visit:
    """inherited, mode: of a baseline, the instruments it was read with and what the machine did where it does not say."""
    sheet.document = in_parts(sheet.document, sheet.root, sheet.own)
    data = value_at(sheet.document.data, sheet.root)
    if data is None:
        sheet.bad((), "the visit is empty", "Write at least `machine:` and `readings:`.")
    top = sheet.mapping(data, ())
    for word in top:
        if word not in SECTIONS:
            sheet.unknown((), word, SECTIONS, "a part of a visit")
    limits = read_instruments(sheet, top.get("instruments"), INSTRUMENTS if inherited is None else inherited)
    machine = read_machine(sheet, top.get("machine"))
    rounds = read_rounds(sheet, top.get("readings"), limits, (machine.mode or mode) == HEATING)
    start_up = read_start_up(sheet, top.get(START_UP), limits)
    _plate_in_other_degrees(sheet)
    if sheet.as_gauge:
        written = next(iter(sheet.as_gauge.values()))
        sheet.note(Reason("taken-as-gauge", {"readings": tuple(sheet.as_gauge), "written": written}))
    seen = _seen(sheet, top.get("seen"))
    sheet.mapping(top.get("practice"), ("practice",))  # of a practice visit; read by diagnose.practice
    baseline = None
    if inherited is None:
        baseline = _baseline(sheet, top.get("baseline"), machine, limits)
    elif top.get("baseline") is not None:
        sheet.note(Reason("baseline-within-baseline"))
    visit = Visit(
        machine=machine,
        rounds=rounds,
        seen=seen,
        baseline=baseline,
        notes=tuple(sheet.notes),
        system=sheet.system,
        document=sheet.document.name,
        remarks=_remarks(sheet, top),
        start_up=start_up,
        weighed=_weighed(sheet, top.get("refrigerant")),
        own=sheet.own,
        left_out=tuple(sheet.left_out),
        seen_at={word: sheet.document.problem((*sheet.root, "seen", word), "", key=True) for word in seen},
    )
    if sheet.not_covered:
        sheet.problems = [problem for problem in sheet.problems if problem not in sheet.beyond]
    if sheet.problems:
        raise VisitError(sorted(sheet.problems, key=sheet.place_of), visit)
    return visit


def _plate_in_other_degrees(sheet: Sheet) -> None:
    """A plate's figure in degrees that the readings are not written in, and of a size that plates do not have."""
    metric = sheet.system == "si"
    for at, found in sheet.plate_degrees:
        number = found.value if found.unit in ("C", "K") else found.value * 1.8
        odd = found.value < LEAST_ASKED if metric else found.value > MOST_ASKED
        if sheet.written and odd and (found.unit == "F") == metric:
            ours, theirs = ("K", "F") if metric else ("F", found.unit)
            meant = found.value if metric else found.value * 1.8
            sheet.bad(
                at,
                f"`{at[-1]}`: `{number:g} {theirs}` is {meant:.3g} {ours}, {'less' if metric else 'more'} than plates ask for",
                f"Write `{number:g} {ours}` if the plate says so, or `{meant:.3g} {ours}` if it does ask for that.",
            )


def _remarks(sheet: Sheet, top: Mapping[str, object]) -> dict[str, tuple[str, ...]]:
    """Free text, kept as it is written but for its line breaks and what no page can print."""
    found: dict[str, tuple[str, ...]] = {}
    for word in REMARKS:
        listed = top.get(word) if isinstance(top.get(word), list) else [top.get(word)]
        for item in listed if isinstance(listed, list) else []:
            if isinstance(item, (Mapping, list)):
                sheet.bad((word,), f"`{word}` must be a text", f"For example `{word}: {EXAMPLES[word]}`.")
                break
            text = " ".join("".join(c if c.isprintable() else " " for c in as_text(item)).split())
            if len(text) > LONGEST_REMARK:
                what = f"`{word}` is longer than {LONGEST_REMARK} characters"
                sheet.bad((word,), what, "Shorten it: it is printed with every report.")
            elif item is not None and text:
                found[word] = (*found.get(word, ()), text)
    return found


def _weighed(sheet: Sheet, value: object) -> dict[str, float]:
    """Refrigerant added and recovered, kg; a list of amounts is added up."""
    at: At = ("refrigerant",)
    if isinstance(value, str | int | float):
        fix = "Write which refrigerant it is under `machine:`; here stands how much went in and came out, as "
        sheet.bad(at, f"`refrigerant`: {quoted(value)} is no amount", f"{fix}`{EXAMPLES['refrigerant']}`.")
        return {}
    found: dict[str, float] = {}
    for word, here, item in sheet.lines(value, at, "refrigerant", WEIGHED, "a line of the refrigerant log"):
        for one in item if isinstance(item, list) else [item]:
            amount = None if one is None else sheet.fact(one, WEIGHED[word], here)
            if amount is not None:
                found[word] = found.get(word, 0.0) + amount
    return found


def _seen(sheet: Sheet, value: object) -> dict[str, str]:
    """Words only; which words there are stands in rules/findings.yaml and is checked against the rule book."""
    found: dict[str, str] = {}
    for word, item in sheet.mapping(value, ("seen",)).items():
        if item is None:
            continue
        item = {True: "yes", False: "no"}[item] if isinstance(item, bool) else item  # a bare word that YAML reads so
        if isinstance(item, str):
            found[word] = " ".join(item.split()).lower()
        else:
            sheet.bad(
                ("seen", word), f"{quoted(word)}: {quoted(item)} is not a word", "For example `air filter: clean`."
            )
    return found


def _baseline(sheet: Sheet, value: object, today: Machine, limits: Mapping[str, Instrument]) -> Visit | None:
    """The machine when it was right: a visit, its readings alone (then on today's machine), or the path of its file."""
    at: At = ("baseline",)
    if value is None:
        return None
    if isinstance(value, Mapping):
        return _nested(sheet, Sheet(sheet.document, (*sheet.root, *at), sheet.own), limits, today)
    if not isinstance(value, str) or value.strip() in ("", "-"):
        sheet.bad(at, "`baseline` must hold `readings:`, or the path of a visit file")
        return None
    try:  # only a visit that is a file itself, or is to become one, may name another beside it
        document = baseline_document(sheet.document, value)
    except Mistake as error:
        sheet.bad(at, error.what, error.fix)
        return None
    return _nested(sheet, Sheet(document, place_of(document), sheet.own), INSTRUMENTS, today)


def _nested(sheet: Sheet, baseline: Sheet, limits: Mapping[str, Instrument], today: Machine) -> Visit | None:
    """A baseline, with a sheet of its own; its mistakes are mistakes of this visit."""
    try:
        found = _visit(baseline, limits, today.mode)
    except VisitError as error:
        sheet.problems += error.problems
        return None
    for note in found.notes:
        if note.code == "baseline-within-baseline":
            sheet.note(note)
    return replace(found, machine=of_both(today, found.machine))


# -- a visit from Python ----------------------------------------------------------------------------------------------


def copied(data: object) -> object:
    """The same values, once more. Raises Mistake.

    They may be of any class, hold themselves, have no end, or raise when they are read; a file cannot, so the same limits hold.
    """
    return _Copy().of(data)


class _Copy:
    def __init__(self) -> None:
        self.values = 0

    def of(self, value: object, depth: int = 0) -> object:
        self.values += 1
        if self.values > 2 * MOST_VALUES:  # a file counts names and values alike
            what = f"the visit holds more than {MOST_VALUES:,} names and values"
            raise Mistake(what, "Check that this is the right one.")
        if depth > DEEPEST:
            raise Mistake(f"lists and groups are nested deeper than {DEEPEST}", "Check the brackets.")
        try:
            if value is None or type(value) in (str, int, float, bool):
                return value
            if isinstance(value, str):
                return str.__str__(value)
            if isinstance(value, Mapping):
                return {_key(key): self.of(item, depth + 1) for key, item in value.items()}
            if isinstance(value, (list, tuple)):
                return [self.of(item, depth + 1) for item in value]
            if isinstance(value, Integral):  # of an array library, too
                return int(value)
            return float(value) if isinstance(value, (Real, Decimal)) else value
        except Mistake:
            raise
        except Exception as error:
            fix = "Give plain groups, lists, texts and numbers."
            raise Mistake(f"a {type(value).__name__} cannot be read ({type(error).__name__})", fix) from None


def _key(key: object) -> object:
    return str.__str__(key) if isinstance(key, str) else key


# -- the file that a visit names as its baseline ----------------------------------------------------------------------

FROM_A_FILE = (
    "`baseline` is a path, which can be followed from a visit file only",
    "Give the readings themselves: `baseline: {readings: {...}}`.",
)
_BELOW = "Put the file beside this visit and write its name, or give the readings: `baseline: {readings: {...}}`."


def baseline_document(visit: Document, written: str) -> Document:
    """The file at a path that stands in a visit. Raises Mistake.

    A visit may come from anywhere, and whoever reads the messages about it need not be who may read the other files of this
    machine: nothing above the visit's folder is opened, by whatever name or link, and of a file that is no visit nothing is
    told but where it fails.
    """
    own = Path(visit.name)
    if not visit.marks or visit.name in ("", yamlfile.STANDARD_INPUT) or not own.parent.is_dir():
        raise Mistake(*FROM_A_FILE)
    named, shown = written.strip(), f"`baseline`: `{printable(written.strip(), 60)}`"
    parts = {*PurePosixPath(named).parts, *PureWindowsPath(named).parts}
    if PurePosixPath(named).is_absolute() or PureWindowsPath(named).anchor or ".." in parts:
        raise Mistake(f"{shown} leads out of the folder of this visit", _BELOW)
    try:
        folder, path = own.parent.resolve(), (own.parent / named).resolve()
        inside, plain = path.is_relative_to(folder), path.is_file() or not path.exists()
        itself = inside and path.exists() and own.exists() and path.samefile(own)
    except (OSError, ValueError, RuntimeError):  # a NUL in it, a name too long, a link to itself
        raise Mistake(f"{shown} cannot be used as a name of a file", "Check the name.") from None
    if not inside:
        raise Mistake(f"{shown} leads out of the folder of this visit", _BELOW)
    if not plain:
        raise Mistake(f"{shown} is not a file", "Give the name of a visit file.")
    if itself:
        raise Mistake(f"{shown} is this visit itself", "Name the file of an earlier day, when the machine was right.")
    try:
        document = yamlfile.read(path)
    except InputProblems as error:
        first = error.problems[0]
        if path.exists() and first.line:
            raise Mistake(
                f"{shown} cannot be read as a visit: it goes wrong in line {first.line}", _look(named)
            ) from None
        raise Mistake(f"{shown}: {first.what}", first.fix) from None
    if not isinstance(document.data, Mapping) or not {"machine", "readings", "visit"} & document.data.keys():
        raise Mistake(f"{shown} is not a visit: it has neither `machine:` nor `readings:`", _look(named))
    return Document(str(own.parent / named), document.data, document.lines, document.marks, document.keys)


def _look(named: str) -> str:
    return f"See what is wrong with it: `diagnose examine {printable(named, 60)}`."
