"""The form of the page on paper, for a clipboard: one sheet, front and back, every field where the page asks for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.page.form import GROUPS, JsonObject, form_of
from diagnose.practice.worksheet import CARE
from diagnose.report import html
from diagnose.report.wording import lower_first
from diagnose.rulebook import Rulebook
from diagnose.visit import HEATING, System

SHORT = 40
"""Letters up to which the words to choose from stand beside their field; more of them are written in by hand."""
WORKED_OUT: Mapping[str, tuple[tuple[str, str], ...]] = {
    "cooling": (
        ("Evaporating temperature", "suction pressure, dew"),
        ("Superheat", "suction line − evaporating"),
        ("Target superheat", "orifice: outdoor air, wet bulb"),
        ("Condensing temperature", "liquid pressure, bubble"),
        ("Subcooling", "condensing − liquid line"),
        ("Target subcooling", "valve: rating plate"),
        ("Air temperature split", "return − supply"),
    ),
    HEATING: (
        ("Evaporating temperature", "suction pressure, dew"),
        ("Superheat", "suction line − evaporating"),
        ("Outdoor coil below outdoor air", "outdoor − evaporating"),
        ("Condensing temperature", "liquid pressure, bubble"),
        ("Subcooling", "condensing − liquid line"),
        ("Condensing over return air", "condensing − return"),
        ("Air rise", "supply − return"),
    ),
}
"""What is worked out from the first readings, and from which."""
TEMPERATURES = ("Evaporating temperature", "Condensing temperature")
LINES = ("What is wrong, and why", "What to do next", "Done", "Parts and refrigerant")


def paper_form(rules: Rulebook, system: System = "us", mode: str = "cooling") -> str:
    """The blank form as one self-contained page, A4 or Letter."""
    groups: dict[str, list[JsonObject]] = {
        group["title"]: [
            _field(f, system) for f in group["fields"] if mode in f["modes"] and f["path"] != "machine/mode"
        ]
        for group in form_of(rules)["groups"]
    }
    machine, air, seen, standing, gauges, more, readings = (groups[name] for name in GROUPS)
    degree, difference = ("°F", "°F") if system == "us" else ("°C", "K")
    values: dict[str, Any] = {
        "title": f"Visit in {mode}",
        "care": CARE,
        "front": [("Machine", machine), ("Air side", air), ("Gauges and lines", gauges)],
        "worked": [(n, how, degree if n in TEMPERATURES else difference) for n, how in WORKED_OUT[mode]],
        "seen": [*seen, *standing],
        "back": [(GROUPS[6], readings), (GROUPS[5], more)],
        "lines": LINES,
        "book": rules.name,
    }
    return html.page("paper.html", values)


def _field(field: JsonObject, system: System) -> JsonObject:
    """Its name, the unit to write in, and the words to choose from where they are few."""
    words: Sequence[str] = field.get("choices") or ()
    few = len(", ".join(words)) <= SHORT or field["path"].startswith("seen/")
    name = field["label"]
    if field["path"].startswith("machine/line set/"):
        name = f"Line set: {lower_first(name)}"
    return {"name": name, "unit": _unit(field, system), "words": words if few else ()}


def _unit(field: JsonObject, system: System) -> str:
    """As the table of fields itself writes an example in that system; none for words and plain numbers."""
    if not field.get("units"):
        return ""
    written = field["examples"] or [field["us"], field["si"]]
    example: str = written[0] if system == "us" else written[-1]
    unit = " ".join(word for word in example.split() if not word[0].isdigit()) or str(field[system])
    return {"F": "°F", "C": "°C"}.get(unit, unit)
