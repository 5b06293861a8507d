"""One visit on its way from a document to values: names and figures looked up, mistakes and remarks collected."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from diagnose import units
from diagnose.units import Measured, System, UnitError
from diagnose.visit.fields import FIELDS, LINES, PARTS, ROUND, Field, Section
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.reason import Reason
from diagnose.visit.trade_words import (
    elsewhere,
    instead,
    meant,
    misspelt,
    named_with_unit,
    which,
    with_named_unit,
    without_own_words,
)
from diagnose.yamlfile import Document, Problem, printable

At = tuple[str | int, ...]
EXAMPLES = {part.name: part.example for part in PARTS}
NOT_TAKEN = frozenset(
    {"", "-", "--", "–", "—", "?", "n/a", "na", "#n/a", "nan", "null", "none", "not taken", "not measured", "unknown"}
)
"""What people write where they read no figure."""
_TUBE = re.compile(r"\s*(?:[0-9]+[\s-]+)?[0-9]+/[0-9]+\s*")


_SI_UNITS = (
    {"C", "K", "kg", "g", "kW", "W"}
    | {"Pa", "hPa", "kPa", "MPa", "bar", "mbar", "kg/cm2"}
    | {"L/s", "m3/h", "m3/s", "m3/min"}
)


PLATE_DEGREES = ("rated subcooling", "rated superheat")
MOST_ASKED, LEAST_ASKED = 8.4, 2.2  # K; plates ask for 5 to 15 °F (common practice, no source)


class Sheet:
    """Lives for one visit only. at: where in the document the visit stands. own: lines that a company has added."""

    def __init__(self, document: Document, at: At = (), own: Own = NOTHING_OWN) -> None:
        self.document = document
        self.root = at
        self.own = own
        self.own_fields = {field.name: field for field in own.fields}
        self.problems: list[Problem] = []
        self.beyond: list[Problem] = []  # those of pressures beyond what a refrigerant with a table can have
        self.not_covered = False  # a refrigerant without a table, at whose pressures nobody here can judge
        self.notes: list[Reason] = []
        self.left_out: list[str] = []
        self.listed: set[tuple[str, ...]] = set()  # what is known there, once told
        self.written: list[str] = []  # units of the readings
        self.as_gauge: dict[str, str] = {}  # readings without a mark, as they were written
        self.plate_degrees: list[tuple[At, Measured]] = []  # differences from the plate, with their unit

    @property
    def system(self) -> System:
        """The units of the answer: those that most readings were written in; US where it is even."""
        si = sum(unit.split(" ")[0] in _SI_UNITS for unit in self.written)
        return "si" if si * 2 > len(self.written) else "us"

    def bad(self, at: At, what: str, fix: str = "", key: bool = False) -> None:
        """What is wrong there, or with the name there, and how to mend it."""
        self.problems.append(self.document.problem(self.root + at, what, fix, key))

    def possible(self, field: Field, value: float, at: At, what: str, fix: str) -> bool:
        """Whether a figure lies within what its field can hold; told where it does not."""
        if not (inside := field.low <= value <= field.high):
            self.bad(at, what, fix)
            if field.kind == "pressure":
                self.beyond.append(self.problems[-1])
        return inside

    def place_of(self, problem: Problem) -> tuple[bool, int, int]:
        """The order of the file; what is wrong in the baseline's own file comes last."""
        return problem.file != self.document.name, problem.line, problem.column

    def note(self, reason: Reason) -> None:
        """A remark for the reader, once."""
        if reason not in self.notes:
            self.notes.append(reason)

    def mapping(self, value: object, at: At) -> dict[str, object]:
        """The mapping at `at`, keys as strings; empty where there is none, with a problem if it is something else."""
        if value is None:
            return {}
        if not isinstance(value, Mapping):
            last = at[-1] if at else None
            where = "a visit" if last is None else f"`{last}`" if isinstance(last, str) else f"round {last + 1}"
            example = (
                LINES.example
                if last == LINES.name
                else EXAMPLES[str(at[0])]
                if at
                else "machine: {refrigerant: R-410A}"
            )
            self.bad(at, f"{where} must be a list of `name: value` lines", f"For example `{example}`.")
            return {}
        found: dict[str, object] = {}
        for key, item in value.items():
            name = " ".join(key.split()) if isinstance(key, str) else None
            if name is not None and name not in found:
                found[name] = item
            elif name is not None:
                self.bad((*at, name), f"{quoted(name)} is written twice", "Keep one of them.", key=True)
            else:
                self.bad(at, f"{quoted(key)} is not a name", "Names are words, for example `suction pressure`.")
        return found

    def lines(
        self, value: object, at: At, section: Section, known: Iterable[str], thing: str
    ) -> Iterator[tuple[str, At, object]]:
        """(name used here, place, what is written) of each line of a part; what is not known, or twice there, is told."""
        names, taken = tuple(known), dict[str, str]()
        for word, item in self.mapping(value, at).items():
            means = meant(section, word) or named_with_unit(section, word)
            found = tuple(name for name in means if len(means) > 1 or name in names)
            if (own := self.own_fields.get(word.lower())) is not None and own.section == section:
                found = (own.name,)
            item = with_named_unit(section, found, word, item)
            found = _by_unit(found, item) if len(found) > 1 else found
            if not found:
                self.unknown(at, word, names, thing, section)
            elif len(found) > 1:
                self.bad((*at, word), f"{quoted(word)} can mean two things", which(found, section), key=True)
            elif found[0] in taken:
                what = f"{quoted(taken[found[0]])} and {quoted(word)} are the same line"
                self.bad((*at, word), what, "Keep one of them.", key=True)
            else:
                taken[found[0]] = word
                yield found[0], (*at, word), item

    def unknown(self, at: At, word: str, known: Iterable[str], thing: str, section: Section | None = None) -> None:
        """A name that is not known there, and what it may be meant for."""
        names = tuple(known)
        own = " A line of your own rules needs `--rules FOLDER`." if section in ("machine", "readings") else ""
        known_ones = f"Known: {', '.join(names)}.{own}" if names not in self.listed else "Known: see above."
        begin, colon, end = word.partition(":")
        spaced = f"Write a space after the colon: `{printable(begin)}: {printable(end.strip())}`." if colon else ""
        fix = spaced or instead(word) or misspelt(word, names) or elsewhere(section, word)
        if not fix and word[:1].isdigit():
            fix = "If it belongs to the number before it, write a decimal point: inside `{ }` a comma ends a line of the visit."
        if not fix and own and self.own.unsure:
            self.left_out.append(word)
            return
        if not fix:
            fix = known_ones
            self.listed.add(names)
        self.bad((*at, word), f"{quoted(word)} is not {thing}", fix, key=True)

    def measured(self, value: object, field: Field, at: At) -> Measured | None:
        """The figure in SI; None where it was not taken, or cannot be read, which is told."""
        value = without_own_words(value, field.name) if isinstance(value, str) else value
        if isinstance(value, str) and value and value.strip().lower() in NOT_TAKEN:
            return None
        if isinstance(value, str) and field.section in ("line set", "lines"):
            value = tube_size(value)
        if isinstance(value, str) and field.kind == "capacitance" and "/" in value:
            name = field.name.removeprefix("fan ")
            fix = f"Write each by itself, for example `{name}: 45 uF` and `fan {name}: 5 uF`."
            self.bad(at, f"{quoted(at[-1])}: {quoted(value)} is two capacitors in one can", fix)
            return None
        try:
            example = field.examples[-1 if self.system == "si" else 0]  # for the message
            result = units.parse(value, field.kind, example, field.high)
        except UnitError as error:
            fix = line_of_its_own(as_text(value), field) or error.fix
            self.bad(at, f"{quoted(at[-1])}: {error.what}", fix)
            return None
        if result.note:
            self.as_gauge.setdefault(field.name, " ".join(as_text(value).split())[:40])
        return result

    def fact(self, value: object, field: Field, at: At) -> float | None:
        """SI; None where it cannot be read, or cannot be on any such machine."""
        found = self.measured(value, field, at)
        if found is None:
            return None
        what = f"`{at[-1]}`: {quoted(value)} is not possible here"
        if not self.possible(field, found.value, at, what, "Look at the number and its unit."):
            return None
        if field.name in PLATE_DEGREES:
            self.plate_degrees.append((at, found))
        # No switch is set more finely than the weather moves the pressure of the air.
        return found.value - 101325.0 if field.kind == "pressure" and not found.gauge else found.value


def line_of_its_own(text: str, field: Field) -> str:
    """`13.4 SEER2` under `SEER`: where the value belongs that ends with the name of another line; empty where none does."""
    for other in FIELDS:
        number, name, rest = text.rpartition(f" {other.name}")
        if name and not rest and other.section == field.section and other.name != field.name:
            return f"Write `{other.name}: {printable(number.strip())}`."
    return ""


def tube_size(text: str) -> str:
    """With its unit: tubes are sized in fractions of an inch alone."""
    return f"{text} in" if _TUBE.fullmatch(text) else text


def share_of(value: object) -> float | None:
    """What a percentage says; None where it is none."""
    try:
        return units.parse(value, "percent").value
    except UnitError:
        return None


def _by_unit(names: tuple[str, ...], value: object) -> tuple[str, ...]:
    """Of the lines that a word can mean, the one whose unit was written: `liquid: 306 psi` is no temperature."""
    fits = []
    for name in names:
        if (field := ROUND.get(name)) is not None and isinstance(value, str):
            try:
                units.parse(value, field.kind, field.examples[0], field.high)
            except UnitError:
                continue
            fits.append(name)
    return tuple(fits) if len(fits) == 1 else names


def as_text(value: object) -> str:
    """The value as text. Never raises, though Python refuses to print very long numbers and objects may do anything."""
    try:
        return str(value)
    except Exception:
        return f"a {type(value).__name__}"


def quoted(value: object) -> str:
    """The value between backquotes, cut to a length that fits a line."""
    text = as_text(value)
    return f"`{printable(text, 40) if len(text) <= 40 else printable(text[:37], 40) + '...'}`"
