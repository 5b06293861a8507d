"""The machine of a visit: its facts, its line set, and the pressure of the air around it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from diagnose import units
from diagnose.properties import NotCovered, Refrigerant, UnknownRefrigerant, refrigerant, standard_pressure
from diagnose.visit.fields import (
    BUILT_FOR,
    CAPILLARIES,
    CAPILLARY,
    LINE_SET,
    LINES,
    MACHINE,
    METERING_DEVICE,
    PLATE_HOLDS,
    RUNNING_AT,
    SEER_OF_SEER2,
    STATION_ERROR,
    STATION_GAP,
    THIS_DAY,
    TIMES_THE_PLATE,
    WORDS,
    Word,
)
from diagnose.visit.machine_words import OTHER_KINDS
from diagnose.visit.model import LineSet, Machine
from diagnose.visit.reason import Reason
from diagnose.visit.sheet import At, Sheet, as_text, quoted, share_of
from diagnose.yamlfile import did_you_mean, printable

_OWN_PLACE = ("name", "mode", "refrigerant", "metering")  # words that a Machine has a place of its own for


def read_machine(sheet: Sheet, value: object) -> Machine:
    """What the visit says of it; what cannot be read is told and left out."""
    facts: dict[str, float] = {}
    words: dict[str, str] = {}
    line_set: LineSet | None = None
    gas: Refrigerant | None = None
    sizes = MACHINE | {field.name: field for field in sheet.own.sizes}
    named = WORDS | {field.name: field for field in sheet.own.words}
    for word, at, item in sheet.lines(value, ("machine",), "machine", (*named, *sizes, LINES.name), "a machine fact"):
        if item is None:
            continue  # a line left empty on a form says nothing
        if word in sizes:
            fact = sheet.fact(item, sizes[word], at)
            if fact is not None:
                facts[word] = fact
        elif word == LINES.name:
            line_set = _line_set(sheet, item)
        elif not isinstance(item, (str, int, float)):
            sheet.bad(
                at, f"`{word}`: {quoted(item)} is not a word", f"For example `{word}: {named[word].examples[0]}`."
            )
        elif word == "refrigerant":
            gas = _refrigerant(sheet, item, at)
        elif word == BUILT_FOR:
            first = _refrigerant(sheet, item, at)
            words[word] = first.name if first is not None else ""
        else:
            words[word] = _choice(sheet, named[word], item, at)
            if word == "metering" and " ".join(as_text(item).lower().split()) in CAPILLARIES:
                words[METERING_DEVICE] = CAPILLARY
    if words.get("compressor") == "single stage" and words.get(RUNNING_AT) in ("low", "part load"):
        what = f"`{RUNNING_AT}: {words[RUNNING_AT]}` does not go with `compressor: single stage`"
        sheet.bad(("machine", RUNNING_AT), what, "Correct one of the two: a single stage runs fully or not at all.")
    if line_set is not None and (kind := words.get("kind")) in ("packaged", "window"):
        what = f"`line set` does not go with `kind: {kind}`"
        sheet.bad(("machine", LINES.name), what, "Leave out one of the two: such a machine has no line set to add for.")
    _one_station(sheet, facts)
    _believable_weights(sheet, facts)
    seer2 = facts.pop("SEER2", None)
    if seer2 is not None and "SEER" not in facts:
        facts["SEER"] = seer2 * SEER_OF_SEER2
        sheet.note(Reason("seer-converted", {"seer2": seer2, "seer": facts["SEER"]}))
    station = facts.pop("station pressure", None)
    source: Literal["measured", "altitude", "assumed"] = (
        "measured" if station is not None else "altitude" if "altitude" in facts else "assumed"
    )
    pressure = station if station is not None else standard_pressure(facts.get("altitude", 0.0))
    assert pressure is not None  # its range in the table keeps the altitude within the standard atmosphere
    return Machine(
        name=words.get("name", "unnamed machine"),
        mode=words.get("mode") or None,
        refrigerant=gas,
        metering=words.get("metering") or None,
        facts=facts,
        words={name: word for name, word in words.items() if name not in _OWN_PLACE and word},
        line_set=line_set,
        station_pressure=pressure,
        station_error=STATION_ERROR[source],
        station_from=source,
    )


def _one_station(sheet: Sheet, facts: Mapping[str, float]) -> None:
    """Altitude and station pressure that no weather brings together: one of them is wrong, most often the pressure."""
    altitude, station = facts.get("altitude"), facts.get("station pressure")
    likely = None if altitude is None else standard_pressure(altitude)
    if altitude is None or station is None or likely is None or abs(station - likely) <= STATION_GAP:
        return
    us = f"{altitude / units.FOOT:,.0f} ft has about {likely / units.IN_HG:.1f} inHg, not {station / units.IN_HG:.1f}"
    si = f"{altitude:,.0f} m about {likely / 100:.0f} hPa, not {station / 100:.0f}"
    sheet.bad(
        ("machine", "station pressure"),
        f"`altitude` and `station pressure` contradict each other: a place at {us} ({si})",
        "Write the pressure read at the place, not one reduced to sea level, or correct the altitude; one of them will do.",
    )


def _believable_weights(sheet: Sheet, facts: Mapping[str, float]) -> None:
    """What a scale showed, against the plate: many times as much was written in another unit."""
    factory, size = facts.get("factory charge"), facts.get("nominal capacity")
    if factory is not None and size is not None and not PLATE_HOLDS[0] <= factory / size <= PLATE_HOLDS[1]:
        per_ton = factory / size * units.TON
        held = f"{per_ton / units.POUND:.2g} lb ({per_ton:.2g} kg) per ton"
        what = f"`factory charge` is {held}, which no air conditioner or heat pump has"
        sheet.bad(("machine", "factory charge"), what, "Look at it and at `nominal capacity`, and at their units.")
    for name in THIS_DAY:
        kg = facts.get(name)
        if factory is not None and kg is not None and kg > TIMES_THE_PLATE * factory:
            what = f"`{name}` is {kg / factory:.0f} times the `factory charge`"
            sheet.bad(("machine", name), what, "Look at both numbers and their units.")


def _refrigerant(sheet: Sheet, value: object, at: At) -> Refrigerant | None:
    try:
        return refrigerant(as_text(value))
    except UnknownRefrigerant as error:
        was = at[-1] == BUILT_FOR and isinstance(error, NotCovered)
        fix = (
            "Leave this line out, and go by the label of the retrofit; where there is none, by the maker's advice."
            if was
            else error.fix
        )
        sheet.bad(at, error.what, fix)
        sheet.not_covered = sheet.not_covered or (isinstance(error, NotCovered) and not was)
        return None


def _choice(sheet: Sheet, line: Word, value: object, at: At) -> str:
    if line.name == "name":
        return printable(as_text(value)[:80], 80)
    text = " ".join(as_text(value).split())
    if isinstance(value, bool):  # YAML reads a bare yes or no as one
        text = "yes" if value else "no"
    for known in line.choices:
        if text.lower() == known.lower():
            return known
    if line.name == RUNNING_AT and (speed := share_of(text)) is not None and 0 < speed <= 2:
        return "high" if speed >= 0.95 else "part load"
    same = line.same_as.get(text.lower())
    if same is None and line.name == "kind" and any(f" {word} " in f" {text.lower()} " for word in OTHER_KINDS):
        same = "other"  # whatever else is said: a pool heat pump is no heat pump of a house
    if same is None:
        several = sum(choice.lower() in text.lower() for choice in line.choices) > 1  # then either may be meant
        fix = "" if several else did_you_mean(text, line.choices)
        fix = fix or f"Write one of: {', '.join(line.choices)}."
        sheet.bad(at, f"`{line.name}`: {quoted(value)} is not known", fix)
    return same or ""


def _line_set(sheet: Sheet, value: object) -> LineSet | None:
    at: At = ("machine", LINES.name)
    found: dict[str, float] = {}
    given: set[str] = set()
    for word, here, item in sheet.lines(value, at, "line set", LINE_SET, "a fact of a line set"):
        given.add(word)
        size = sheet.fact(item, LINE_SET[word], here)
        if size is not None:
            found[word] = size
    missing = [w for w in ("liquid line", "length") if w not in found]
    if missing:
        missing = [w for w in missing if w not in given]  # one that could not be read is told already
        if value is not None and missing:
            sheet.bad(at, f"`line set` lacks {' and '.join(missing)}", f"For example `{LINES.name}: {LINES.example}`.")
        return None
    _one_line_set(sheet, found)
    return LineSet(**{name.replace(" ", "_"): size for name, size in found.items()})


def _one_line_set(sheet: Sheet, found: Mapping[str, float]) -> None:
    """Two lines or two lengths that cannot belong to one line set."""
    at: At = ("machine", LINES.name)
    suction, longest = found.get("suction line"), max(found["length"], found.get("suction length", 0.0))
    if suction is not None and suction < found["liquid line"] - _HAIR:
        sheet.bad((*at, "suction line"), "the suction line is thinner than the liquid line", _THINNER)
    if abs(found.get("lift", 0.0)) > longest + _HAIR:
        what = "the lift is more than the length of the line"
        sheet.bad(
            (*at, "lift"), what, "Write the whole length of pipe, one way, and of it the part that rises as the lift."
        )


_HAIR = 1e-6  # m; the same figure in feet and in meters
_THINNER = "The thick, insulated pipe is the suction line; they may have changed places."


def of_both(today: Machine, then: Machine) -> Machine:
    """The machine of a baseline: what it says itself, and today's facts where it is silent."""
    placed = then if then.station_from != "assumed" else today
    return Machine(
        name=then.name if then.name != Machine().name else today.name,
        mode=then.mode or today.mode,
        refrigerant=then.refrigerant or today.refrigerant,
        metering=then.metering or today.metering,
        facts={**{name: fact for name, fact in today.facts.items() if name not in THIS_DAY}, **then.facts},
        words={**today.words, **then.words},
        line_set=then.line_set or today.line_set,
        station_pressure=placed.station_pressure,
        station_error=placed.station_error,
        station_from=placed.station_from,
    )
