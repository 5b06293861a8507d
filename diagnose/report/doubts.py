"""The sentences for doubts about readings, for what of a baseline is not used, and for what a visit had assumed.

One template a code. A place in it is `{figure:kind}`: `temperature`, `difference` and `pressure` (gauge) are shown in the
units of the report; `percent` is a share; `list` is names with commas, `choice` with "or"; `place` is a reading's short name.
Where the figures decide what is said, a function picks the template.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from string import Formatter
from types import MappingProxyType
from typing import Any

from diagnose.quantities.plausibility.view import FIRM
from diagnose.report.wording import listed
from diagnose.visit.reason import Figures, Reason

ShowValue = Callable[[float, str], str]
"""(SI value, kind of quantity) -> text with its unit; pressures as gauge."""
Template = str | Callable[[Figures], str]


def sentence(reason: Reason, show: ShowValue) -> str:
    """What a technician reads for a reason, one sentence or a few. Raises KeyError for a code or figure that is missing."""
    template = SENTENCES[reason.code]
    text = template if isinstance(template, str) else template(reason.figures)
    return filled(text, {"weight": 1.0, **reason.figures}, show)


def filled(template: str, figures: Figures, show: Callable[[Any, str], str]) -> str:
    """A template with these figures in its places: by the words below, and for all other kinds by `show`."""
    return _Filling(show).vformat(template, (), figures)


_PLACES = {
    "suction line temperature": "suction line",
    "liquid line temperature": "liquid line",
    "outdoor air temperature": "outdoor air",
    "return air dry bulb": "return air",
    "supply air dry bulb": "supply air",
}
_WORDS: Mapping[str, Callable[[Any], str]] = {
    "": str,
    "percent": lambda share: f"{share * 100:.{0 if share > 0.1 else 1}f} %",
    "list": ", ".join,
    "choice": lambda names: listed(names, "or"),
    "place": _PLACES.__getitem__,
    "number": lambda value: f"{value:.1f}",
    "aside": lambda weight: "Not used" if weight >= FIRM else "Doubtful, so counted only in part",
    "use": lambda weight: "not used" if weight >= FIRM else "doubtful and counted only in part",
    "whose limit": {
        "machine": "the machine’s own high pressure cut-out",
        "refrigerant": "where cut-outs for this refrigerant usually open",
        "any": "more than any refrigerant of the rule book may have",
    }.__getitem__,
}


class _Filling(Formatter):
    """Puts figures into a template, each by the kind behind its colon."""

    def __init__(self, show: Callable[[Any, str], str]) -> None:
        self.show = show

    def format_field(self, value: Any, format_spec: str) -> str:
        word = _WORDS.get(format_spec)
        return word(value) if word else self.show(value, format_spec)


def _wrong_way_round(likely: str) -> str:
    return (
        f"The {{cold}} is {{by:difference}} above the {{warm}}, which is impossible: {likely}. "
        "{weight:aside}: {set_aside:list}."
    )


def _suction_line_too_cold(figures: Figures) -> str:
    absolute = (
        " A gauge that shows absolute pressure, written down as gauge pressure, would do the same."
        if figures["absolute_gauge_fits"]
        else ""
    )
    return (
        "The suction line reads {by:difference} colder than the refrigerant in it can be. The clamp makes poor contact or "
        f"reads low, the gauge is off, or another refrigerant is in the machine.{absolute} The superheat is {{weight:use}}."
    )


def _suction_clamp_reads_air(figures: Figures) -> str:
    although = ", although liquid stands in the condenser" if figures["liquid_in_condenser"] else ""
    return (
        f"The suction line reads nearly the same as the outdoor air ({{line:temperature}}){although}: the clamp may be reading "
        f"air. {_CLAMP_IT} The superheat is {{weight:use}}."
    )


def _wrong_scale(shown: str, written: str) -> Callable[[Figures], str]:
    def template(figures: Figures) -> str:
        several = "others" in figures
        which = "The {others:list} and {reading} look" if several else "The {reading} looks"
        return (
            f"{which} written in the wrong unit: the other readings fit if the thermometer showed {shown} and {written} was "
            f"written down. {'The {reading}' if several else 'It'} would then be {{meant:temperature}}, not "
            f"{{as_written:temperature}}. {'They are' if several else 'It is'} {{weight:use}}."
        )

    return template


_PADS = "; where wet pads cool the outdoor air, read it between pads and coil"


def _swapped(what: str) -> Callable[[Figures], str]:
    def template(figures: Figures) -> str:
        meant = (
            " As written, superheat is {superheat:difference} and subcooling {subcooling:difference}; the other way round "
            "they are {superheat_swapped:difference} and {subcooling_swapped:difference}."
            if "superheat" in figures
            else ""
        )
        house = (figures["one"], figures["other"]) == ("outdoor air temperature", "return air dry bulb")
        pads = _PADS if house and figures["first"] > figures["second"] else ""
        return (
            f"The {{one:place}} and {{other:place}} {what} look swapped: {{first:temperature}} is written for the "
            "{one:place} and {second:temperature} for the {other:place}, and the other readings fit the other way round."
            f"{meant} Check which is which and read both again{pads}. They are {{weight:use}}."
        )

    return template


def _wrong_unit(shown: str, written: str) -> str:
    return (
        f"The pressures look written in the wrong unit: they fit if the gauges showed {shown} and {written} was written "
        "down. They would then be {suction:pressure} and {liquid:pressure}. Look at the face of the gauges. The pressures "
        "are {weight:use}."
    )


def _no_heat(figures: Figures) -> str:
    outdoors = figures["reading"] == "suction pressure"
    coil, way, other = ("outdoor", "colder", "warmer") if outdoors else ("indoor", "warmer", "colder")
    port = ", the port is on the line that is hot in heating" if outdoors else ", hardly any refrigerant is left"
    return (
        f"In heating the {coil} coil is {way} than its air, yet by the {{reading}} it is {{by:difference}} {other}: the "
        f"{{reading}} or the {{air}} is wrong or in another unit{port}, a defrost was running, or the machine is cooling."
    )


def _saturations(way: str) -> Callable[[Figures], str]:
    def template(figures: Figures) -> str:
        shown = [
            f"{name} beyond its table" if figures[name] is None else f"{name} {{{name}:temperature}}"
            for name in ("evaporating", "condensing")
        ]
        shown += [] if figures["outdoor"] is None else ["outdoor air {outdoor:temperature}"]
        fit = " These pressures would fit {fitting:choice}." if figures["fitting"] else ""
        empty = ", or hardly any refrigerant is left" if way == "low" else ""
        return (
            f"Both saturation temperatures are too {way} for {{refrigerant}} ({', '.join(shown)}): most likely another "
            f"refrigerant is in this machine or was chosen in the visit, or both gauges are off{empty}.{fit} Read the "
            "rating plate and any conversion label. The pressures are {weight:use}."
        )

    return template


def _gauge_contradicts(figure: str, readings: str) -> str:
    return (
        f"The gauge shows {{shown:difference}} of {figure}, but {readings} make {{worked_out:difference}}: the gauge is set to "
        "another refrigerant, its clamp sits elsewhere or was read at another time, or one of the figures is a slip. The "
        f"{figure} that the gauge shows is {{weight:use}}."
    )


def _baseline(why: str) -> str:
    return f"The baseline is not used: {why}. Everything is judged by the general figures for such machines."


def _baseline_figure(why: str) -> str:
    return f"The baseline is not used for the {{quantity}}: {why}."


_CLAMP_IT = "Clean the pipe, strap the clamp on tight, insulate it, and read again."

SENTENCES: Mapping[str, Template] = MappingProxyType({
    # -- readings that cannot be -------------------------------------------------------------------------------------
    "suction-above-liquid": (
        "The suction pressure ({suction:pressure}) is above the liquid pressure ({liquid:pressure}): the two are written in "
        "each other's place, the hoses are swapped, or a heat pump is running in the other mode. The pressures are "
        "{weight:use}."
    ),
    "below-vacuum": (
        "The {reading}, {pressure:pressure}, is next to a perfect vacuum. No machine that runs holds one: it is a vacuum "
        "pump's gauge, a gauge off its zero, or a unit that is wrong, or the circuit is shut off and empty. Nothing is ranked "
        "by it."
    ),
    "pressure-above-table": (
        "The {reading}, {pressure:pressure}, is above {end:pressure}, where {refrigerant} is near its critical point and no "
        "condensing temperature can be told any more. Stop the machine, then check whether the gauge, the unit or the "
        "refrigerant is wrong. Nothing is ranked by it."
    ),
    "pressure-below-table": (
        "The {reading}, {pressure:pressure}, is below {end:pressure}, the lowest for which a boiling temperature of "
        "{refrigerant} is known here. Stop the machine, then check whether the gauge, the unit or the refrigerant is wrong. "
        "Nothing is ranked by it."
    ),
    "pressures-equal": (
        "The two pressures are nearly equal ({suction:pressure} and {liquid:pressure}): the compressor is off, it runs without "
        "pumping, or a valve of the manifold is open. Close both valves, check whether the compressor runs, and read again."
    ),
    "pressures-equal-while-it-cools": (
        "The two pressures are nearly equal ({suction:pressure} and {liquid:pressure}), as at rest, yet the supply air is "
        "cold: one was written down twice, both hoses are on one side, or the compressor has only just stopped. Check whether "
        "it runs, and read both again. The pressures are {weight:use}."
    ),
    "pressures-equal-while-it-heats": (
        "The two pressures are nearly equal ({suction:pressure} and {liquid:pressure}), yet the line at the suction gauge is "
        "hot: in heating the larger service valve is on the high side. Read the common suction port and its line, and write "
        "these two as `vapour line pressure` and `vapour line temperature`. They are {weight:use}."
    ),
    "return-air-like-fog": (
        "By the {reading} the return air has {humidity:percent} humidity, more than a cooled house has: the wick is dry, or a "
        "reading was written down twice. It is {weight:use}."
    ),
    "return-air-without-water": (
        "The {reading}, {humidity:percent}, is drier than any room: the meter is dead, or a digit is missing. It is "
        "{weight:use}."
    ),
    "suction-pressure-too-low-to-cool": (
        "At {suction:pressure} the refrigerant boils {below:difference} below the return air, and hardly any circulates; yet "
        "the air is cooled by {split:difference}. A digit or the point of the suction pressure is wrong, or its hose is shut. "
        "It is {weight:use}."
    ),
    "no-compressor-current": lambda f: (
        "The compressor draws next to no current ({current:current}"
        f"{', rated {rated:current}' if f.get('rated') else ''}): it is off, {'' if f.get('rated') else 'or '}the clamp is not "
        f"around one lead alone{', or the plate was misread' if f.get('rated') else ''}. Readings taken with the machine off "
        "cannot be judged."
    ),
    "humidity-contradicts-wet-bulb": (
        "The {side} air wet bulb means {by_wet_bulb:percent} relative humidity, but {written:percent} is written: one of "
        "the two is wrong. The relative humidity is {weight:use}."
    ),
    "suction-line-too-cold": _suction_line_too_cold,
    "suction-clamp-reads-air": _suction_clamp_reads_air,
    "suction-line-above-air": (
        "The suction line reads {line:temperature}, {by:difference} above any air that was read, and nothing there can warm it "
        "that much: the clamp sits on another line, or the unit is another one. The superheat is {weight:use}."
    ),
    "suction-line-warmed": (
        "The suction line is {by:difference} warmer at the service valve than where it leaves the coil, with a superheat of "
        "{coil:difference} there: it is long or bare in a hot place, or one of the clamps is off. Insulate it, for its vapor "
        "cools the compressor. The superheat at the service valve is {weight:use}."
    ),
    "condensing-below-outdoor-air": lambda f: (
        f"The refrigerant would condense {'{by:difference} below' if f['by'] > 0 else 'hardly above'} the outdoor air, "
        "which is impossible while the machine works. Hardly any refrigerant is left in the circuit, the outdoor probe is in "
        "the sun, away from the coil inlet or ahead of wet pads, the liquid pressure is wrong or was read downstream of a "
        "half-open valve, or another refrigerant is in the machine."
    ),
    "liquid-line-below-outdoor-air": (
        "The liquid line reads {by:difference} colder than the outdoor air that cools it: the clamp is downstream of a "
        "restriction, makes poor contact or reads low, or the outdoor probe is in the sun or ahead of wet pads. What either "
        "shows is {weight:use}."
    ),
    "liquid-line-below-house-air": (
        "The liquid line reads {by:difference} colder than the air of the house that cools it, more than any line loses: the "
        "clamp is downstream of a restriction, makes poor contact or reads the outdoor air. The subcooling is {weight:use}."
    ),
    "liquid-line-too-warm": (
        "The liquid line reads {by:difference} warmer than liquid in it can be: the clamp is too near the discharge line "
        "or in the sun, the gauge is off, or another refrigerant is in the machine. The subcooling is {weight:use}."
    ),
    "liquid-clamp-reads-air": (
        f"The liquid line reads nearly the same as the outdoor air: the clamp may be reading air. {_CLAMP_IT}"
    ),
    "discharge-line-too-cold": (
        "The discharge line reads {by:difference} colder than its vapor condenses: the clamp makes poor contact, or liquid "
        "is passing through the compressor. Feel for frost and listen before anything else. The discharge temperature is "
        "{weight:use}."
    ),
    "supply-air-too-cold": (
        "The supply air reads {by:difference} colder than the refrigerant that cools it: the suction pressure, the supply "
        "air probe or the refrigerant is wrong."
    ),
    "wet-bulb-below-dry-air": (
        "The {reading} reads {wet_bulb:temperature}, but in air this warm, however dry, none is below {driest:temperature}: a "
        "digit or the unit is wrong, or the thermometer is. It is {weight:use}."
    ),
    "wick-at-freezing": (
        "The {reading} ({wet_bulb:temperature}) is so near freezing that the wick may hold ice instead of water. "
        "It is {weight:use}."
    ),
    "return-wet-bulb-above-dry-bulb": _wrong_way_round("the two are swapped, or the wick is dry or in the sun"),
    "supply-wet-bulb-above-dry-bulb": _wrong_way_round("the two are swapped, or the wick is dry"),
    "suction-line-above-discharge-line": _wrong_way_round("the clamps are swapped, or the compressor is off"),
    "supply-air-above-return-air": _wrong_way_round(
        "the probes are swapped, the machine is heating, or it is not cooling at all"
    ),
    "supply-air-below-return-air": _wrong_way_round(
        "the probes are swapped, a defrost was running, or the machine is cooling: look, and note the mode"
    ),
    "vapor-line-below-liquid-line": _wrong_way_round(
        "the clamps are swapped, or no hot gas comes: a defrost, cooling, or a reversing valve that has not shifted"
    ),
    "suction-tube-above-suction-line": _wrong_way_round(
        "the clamps are swapped, or hold both on one spot and compare"
    ),
    "no-heat-in-heating": _no_heat,
    "supply-wet-bulb-above-return": _wrong_way_round("the probes are swapped, or a wick is dry"),
    "drier-outlet-above-inlet": _wrong_way_round(
        "the two are swapped, or the clamps disagree: hold both on one spot and compare"
    ),
    "metering-inlet-above-liquid-line": _wrong_way_round(
        "the line runs through a hot attic or the sun, or the clamps disagree: hold both on one spot and compare"
    ),
    "outdoor-air-above-condenser-leaving-air": _wrong_way_round(
        "the probes are swapped, the fan is off, or wet pads cool the air ahead of the coil"
    ),
    "gauge-superheat-contradicts": _gauge_contradicts("superheat", "suction line temperature and suction pressure"),
    "gauge-subcooling-contradicts": _gauge_contradicts("subcooling", "liquid line temperature and liquid pressure"),
    # -- beyond the plate, the capacity, one another -----------------------------------------------------------------
    "current-beyond-the-plate": (
        "The compressor current ({current:current}) is far above the rated {rated:current} of the plate: no compressor runs "
        "like that. A decimal point or the range of the clamp is wrong, the clamp is around more than one lead, the plate "
        "was misread, or the compressor does not start and draws its locked current: then switch it off. The current is "
        "{weight:use}."
    ),
    "current-beyond-the-capacity": (
        "The compressor current ({current:current}) is far above what compressors for this capacity are rated for, "
        "{rated:current} at the most: a decimal point, the range of the clamp or the capacity is wrong, or the clamp is "
        "around more than one lead. If it is true, the compressor does not start: switch it off. The current is "
        "{weight:use}."
    ),
    "airflow-beyond-the-capacity": (
        "The airflow is {per_capacity:airflow per capacity}, which no coil of this size has: its unit or a digit is wrong, "
        "or the nominal capacity is. The airflow is {weight:use}."
    ),
    "discharge-line-too-hot": (
        "The discharge line reads {discharge:temperature}: oil breaks down long before, and the protector of the compressor "
        "opens. Look at the unit and the clamp. If it is true, switch the machine off. The discharge temperature "
        "is {weight:use}."
    ),
    "supply-air-same-as-return-air": (
        "The supply air is as warm as the return air ({split:difference} apart), yet the refrigerant condenses "
        "{over:difference} above the outdoor air, so it carries heat out that it took up indoors. Both thermometers are in one "
        "air, or a number was copied. {weight:aside}: {set_aside:list}."
    ),
    "supply-air-not-warmed": (
        "The supply air is as warm as the return air ({split:difference} apart), yet the refrigerant condenses "
        "{over:difference} above it and gives its heat to that air. Both thermometers are in one air, a number was copied, or "
        "the blower stands. {weight:aside}: {set_aside:list}."
    ),
    "celsius-written-as-fahrenheit": _wrong_scale("°C", "°F"),
    "fahrenheit-written-as-celsius": _wrong_scale("°F", "°C"),
    # -- slips told by the other readings ----------------------------------------------------------------------------
    "clamps-swapped": _swapped("clamps"),
    "air-thermometers-swapped": _swapped("thermometers"),
    "psi-written-as-kpa": _wrong_unit("psi", "kPa"),
    "kpa-written-as-psi": _wrong_unit("kPa", "psi"),
    "bar-written-as-psi": _wrong_unit("bar", "psi"),
    "saturations-too-high": _saturations("high"),
    "saturations-too-low": _saturations("low"),
    "standing-pressure-too-low": (
        "With the machine off, the saturation temperature at the standing pressure is {by:difference} below the air around the "
        "machine, as if no liquid were left. Yet with the machine running there is {subcooling:difference} of subcooling. So a "
        "gauge reads low, or the machine had not come to the temperature of the air around it. Open the hose to the air: "
        "the gauge must read zero. The standing pressure is {weight:use}."
    ),
    "standing-pressure-as-when-running": (
        "The standing pressure, {standing:pressure}, is that of the running high side ({running:pressure}): it was read with "
        "the machine on, or too soon after it stopped. It shows air in the circuit only with the compressor off and all parts "
        "at one temperature. It is {weight:use}."
    ),
    # -- the baseline ------------------------------------------------------------------------------------------------
    "baseline-other-mode": _baseline("a good day in cooling says nothing of a day in heating, nor the other way round"),
    "baseline-other-refrigerant": _baseline(
        "its refrigerant was {was} and is {now} today, so it is another machine or was converted"
    ),
    "baseline-other-metering": _baseline(
        "its metering device was {was} and is {now} today, so it is another machine or was rebuilt"
    ),
    "baseline-other-state": _baseline("its `{fact}` was {was} and is {now} today, so other figures were right then"),
    "baseline-other-capacity": _baseline("its nominal capacity differs, so it is another machine"),
    "baseline-figure-not-right": _baseline_figure("it was not right that day either"),
    "baseline-figure-far-off": _baseline_figure("that day it was too far from what sound machines show"),
    "baseline-figure-no-surer": _baseline_figure(
        "with the errors of that day and the change of weather it is no surer than the general figure"
    ),
    # -- what a visit had assumed ------------------------------------------------------------------------------------
    "taken-as-gauge": (
        "Pressures without a mark, such as `{written}`, are read as gauge pressure, as service gauges are marked: "
        "{readings:list}. Behind what counts from a perfect vacuum stands `absolute`."
    ),
    "discharge-pressure-as-liquid": (
        "The discharge pressure is read as the liquid pressure. Taken before the condenser it is a little higher, and the "
        "subcooling comes out {least:difference} to {most:difference} too large."
    ),
    "air-of-an-earlier-round": (
        "Read in an earlier round, not more than five minutes before, and used with the last: {readings:list}."
    ),
    "seer-converted": "SEER2 {seer2:number} is taken as SEER {seer:number}: the newer test makes it about 5 % smaller.",
    "baseline-within-baseline": "A baseline within a baseline is not used.",
})  # fmt: skip
"""A template for each code that plausibility, the baseline and the reading of a visit give."""
