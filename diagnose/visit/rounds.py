"""The readings of a visit, round by round."""

from __future__ import annotations

import re
from collections.abc import Mapping

from diagnose.units import MICRON
from diagnose.visit.fields import CARRIED_MINUTES, DEFROSTED, MINUTES, READINGS, ROUND, Field, Instrument
from diagnose.visit.model import Reading, Round
from diagnose.visit.reason import Reason
from diagnose.visit.sheet import At, Sheet, quoted
from diagnose.visit.trade_words import TWO_IN_ONE

_BOTH = re.compile(
    r"\s*([+-]?[0-9.]+)\s*(°?\s*[FCK])?\s*(?:db)?\s*(?:[/,@]|at)?\s*([+-]?[0-9.]+)\s*(°?\s*[FCK]|%)?\s*(?:wb|rh)?\s*",
    re.I,
)


def read_rounds(sheet: Sheet, value: object, limits: Mapping[str, Instrument], heating: bool) -> tuple[Round, ...]:
    """One round or several, in the order of their minutes."""
    if isinstance(value, list):
        found = [_one_round(sheet, item, ("readings", i), limits, heating) for i, item in enumerate(value)]
        given = [item.get(MINUTES) is not None if isinstance(item, Mapping) else item is not None for item in value]
    else:
        found, given = [_one_round(sheet, value, ("readings",), limits, heating)], [True]
    if len(found) > 1:
        for i, each in enumerate(found):
            if each.minutes is None and not given[i]:  # one that was given and could not be read is told already
                sheet.bad(
                    ("readings", i),
                    "this round of readings has no `minutes running`",
                    "With several rounds each one says when it was taken, for example `minutes running: 15`.",
                )
        times = [r.minutes for r in found if r.minutes is not None]
        if len(set(times)) < len(times):
            sheet.bad(("readings",), "two rounds have the same `minutes running`", "Give each its own minute.")
        found.sort(key=lambda r: r.minutes or 0.0)
        found[-1] = _with_the_air_before(sheet, found)
    return tuple(found) or (Round(None, {}),)


def _with_the_air_before(sheet: Sheet, rounds: list[Round]) -> Round:
    """The last round, with what was read of the air in the minutes before it and not again."""
    last = rounds[-1]
    carried: dict[str, Reading] = {}
    for taken in reversed(rounds[:-1]):
        if taken.minutes is None or last.minutes is None or last.minutes - taken.minutes > CARRIED_MINUTES:
            continue
        for name, reading in taken.readings.items():
            of_air = reading.field.instrument in ("air thermometers", "humidity meter") and "standing" not in name
            if of_air and name not in last.readings and _other_humidity(name) not in {*last.readings, *carried}:
                carried.setdefault(name, reading)
    if not carried:
        return last
    sheet.note(Reason("air-of-an-earlier-round", {"readings": tuple(carried)}))
    return last._replace(readings={**last.readings, **carried})


_IN_COOLING = {
    "vapour line temperature": "suction line temperature",
    "vapour line pressure": "suction pressure",
}
"""The larger line carries hot gas in heating alone. Whatever the trade calls it means this line, so it is told apart here."""


def _one_round(sheet: Sheet, value: object, at: At, limits: Mapping[str, Instrument], heating: bool) -> Round:
    times: dict[str, float] = {}
    readings: dict[str, Reading] = {}
    taken: set[str] = set()
    known = (*ROUND, *(field.name for field in sheet.own.readings))
    for word, here, item in sheet.lines(value, at, "readings", known, "a reading"):
        if item is None:  # a line left empty on a form is a reading not taken
            continue
        if word in (MINUTES, DEFROSTED):
            time = sheet.measured(item, ROUND[word], here)
            if time is not None and not ROUND[word].low <= time.value <= ROUND[word].high:
                since = "the start" if word == MINUTES else "the defrost ended"
                sheet.bad(here, f"`{word}`: {quoted(item)} is not possible", f"Write minutes since {since}.")
            elif time is not None:
                times[word] = time.value / 60.0
            continue
        if word == "liquid pressure" and "discharge" in str(here[-1]).lower():
            sheet.note(Reason("discharge-pressure-as-liquid", {"least": 0.5, "most": 1.5}))
        for name, each in _both_bulbs(word, item):
            if name in taken:
                sheet.bad(here, f"`{name}` is written twice, once behind a `/`", "Keep one of them.")
                continue
            taken.add(name)
            name = name if heating else _IN_COOLING.get(name, name)
            if name in readings:
                sheet.bad(
                    here,
                    f"`{name}` is written twice: in cooling the vapour line is the suction line",
                    "Keep one of them.",
                )
                continue
            reading = _reading(sheet, name, each, here, limits)
            if reading is not None:
                readings[name] = reading
    return Round(times.get(MINUTES), readings, times.get(DEFROSTED))


# What reads in these is no service gauge. Common practice, no source.
_OF_VACUUM_GAUGES = frozenset({"micron", "torr"})
_VACUUM_GAUGE = Instrument(0.1, 0.0, "pressure", "common practice, no source", least=10 * MICRON)


def _reading(sheet: Sheet, word: str, value: object, at: At, limits: Mapping[str, Instrument]) -> Reading | None:
    own = sheet.own_fields.get(word)
    spec = own if isinstance(own, Field) else READINGS[word]
    found = sheet.measured(value, spec, at)
    if found is None:
        return None
    gauge_value = found.value if found.gauge or spec.kind != "pressure" else found.value - 101325.0
    what = f"`{word}`: {quoted(value)} cannot be right"
    if not sheet.possible(spec, gauge_value, at, what, "Look at the number, the point and the unit."):
        return None
    limit = _VACUUM_GAUGE if found.unit in _OF_VACUUM_GAUGES else spec.default or limits[spec.instrument]
    sheet.written.append(found.unit)
    own_field = None if word in READINGS else spec
    return Reading(word, found.value, limit.error(found.value), found.unit, found.gauge, own_field)


def _both_bulbs(word: str, value: object) -> list[tuple[str, object]]:
    """`75/63 F` of return or supply air is its dry and wet bulb, `75 F/50 %` dry bulb and humidity; else as it is."""
    match = _BOTH.fullmatch(value) if word in TWO_IN_ONE and isinstance(value, str) else None
    if match is None or not ("/" in str(value) or (match[2] and match[4] == "%")):
        return [(word, value)]
    dry_bulb, wet_bulb = TWO_IN_ONE[word]
    first, unit, second, other = match.groups()
    if other == "%":
        return [(dry_bulb, f"{first} {unit or ''}"), (wet_bulb.replace("wet bulb", "relative humidity"), f"{second} %")]
    return [(dry_bulb, f"{first} {unit or other or ''}"), (wet_bulb, f"{second} {other or unit or ''}")]


def _other_humidity(name: str) -> str:
    """Wet bulb and relative humidity tell the same of one air."""
    if "wet bulb" in name:
        return name.replace("wet bulb", "relative humidity")
    return name.replace("relative humidity", "wet bulb")
