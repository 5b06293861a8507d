"""Why heating reads differently: one page for a class, with the figures of a sound heat pump beside those of cooling."""

from __future__ import annotations

from diagnose.lessons import story
from diagnose.lessons.figures import BothSystems
from diagnose.lessons.odd_machines import silent_in_heating
from diagnose.properties import targets
from diagnose.properties.targets import F, Target
from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.wording import cite
from diagnose.rulebook import Rulebook
from diagnose.visit import System

MILD, FROST = 255.372 + 47 * F, 255.372 + 17 * F
"""The two outdoor temperatures at which heat pumps are rated, K."""
CHARTED = (14 * F, 35 * F)
"""Least and most subcooling that makers' heating charts print, in any weather, K."""


def heating_page(rules: Rulebook, system: System = "us", both: bool = True) -> list[Block]:
    """What changes when the reversing valve shifts, what a sound machine then reads, and what nobody may conclude."""
    f = BothSystems(system, both)
    return [
        Block("answer", "Why heating reads differently"),
        line(
            "A heat pump that heats is the same machine with its coils in each other's place. The compressor, the charge and "
            "the gauges are the same; nearly every figure that is right in cooling is wrong now."
        ),
        heading("What changes"),
        item(
            "The indoor coil condenses. How far it must be above the air of the house tells whether the heat gets out. Filter, "
            "blower and registers now hinder the condenser.",
            lead="Indoors.",
        ),
        item(
            "The outdoor coil evaporates, well below the outdoor air, so in damp frost it collects ice, and the machine must "
            "stop now and then to melt it. Dirt and a slow fan outdoors now starve the evaporator of heat.",
            lead="Outdoors.",
        ),
        item(
            "The indoor coil is the smaller one. A charge that is right in cooling is more than it needs, and the rest backs "
            "up in it as subcooling, or lies in the accumulator.",
            lead="The charge.",
        ),
        item(
            "With liquid in the accumulator the gas leaves it saturated. Superheat near zero is then ordinary.",
            lead="Superheat.",
        ),
        item(
            "The larger line carries hot gas, on the high side. The liquid port may stand behind a check valve or a strainer; "
            "only the pressure of the larger line shows what they hold back.",
            lead="The ports.",
        ),
        heading("What a sound machine reads"),
        Block("rows", rows=_table(f)),
        line(
            "± is twice the scatter of sound machines. Heating: lines through the charts of two makers, and "
            "the subcooling that they print. Source: "
            f"{cite(targets.HEATING_CHARTS, rules)}."
        ),
        *(item(rule.entry.why, lead=f"{rule.entry.title}.") for rule in rules.rules if silent_in_heating(rule)),
        heading("What nobody may conclude"),
        item("Subcooling of 20 °F (11 K) means too much refrigerant. In heating it is ordinary."),
        item("Superheat of zero means too much refrigerant. With an accumulator it is ordinary."),
        item("A low suction pressure means too little. The colder it is outdoors, the lower it must be."),
        item("Warm supply air means that all is well. Strip heaters make it too."),
        line("So the charge is weighed in heating weather, and confirmed when it is warm enough to cool."),
        heading("Which faults only a heat pump has"),
        *(
            item(entry.what, lead=f"{entry.name}.")
            for entry in rules.faults.values()
            if any(fact == "mode" for fact, _ in entry.applies)
        ),
        *story.questions(_ASKED),
    ]


_ASKED = (
    (
        "It is 17 °F (−8 °C) outdoors and the suction gauge shows a saturation temperature of 7 °F (−14 °C). Is that low?",
        "No. The coil must be colder than the air to take heat from it; about 10 °F (6 K) colder is what charts print.",
    ),
    (
        "The same gauges could come from a worn compressor or a leaking reversing valve. What tells them apart?",
        "The two suction tubes at the valve: alike, the valve is tight; more than 4 °F (2.2 K) apart, it leaks.",
    ),
    (
        "A tenth of the charge is missing. Why may no gauge show it at 20 °F (−7 °C), when it would at 50 °F (10 °C)?",
        "In the cold the suction gas is thin, so less refrigerant goes round, and more of the charge lies spare in the "
        "accumulator or the indoor coil. The shortage is hidden there. The milder it is, the more the circuit needs.",
    ),
)


def _table(f: BothSystems) -> tuple[tuple[str, ...], ...]:
    cooling = {
        "condensing over the air that takes the heat": targets.condensing_over_ambient(14.0),
        "evaporating below the air that gives it": targets.evaporator_temperature_difference(None),
        "subcooling of a valve machine": targets.subcooling(None),
        "change of the indoor air": targets.typical_temperature_split(),
    }
    rows: list[tuple[str, ...]] = [
        ("figure", "cooling", f"heating at {f.value(MILD, 'temperature')}", f"at {f.value(FROST, 'temperature')}")
    ]
    charted = " to ".join(f.value(edge, "difference") for edge in CHARTED)
    for name, usual in cooling.items():
        found = [_heating(name, outdoor) for outdoor in (MILD, FROST)]
        rows.append((name, _about(usual, f), *(_about(one, f) if one else charted for one in found)))
    return tuple(rows)


def _heating(name: str, outdoor: float) -> Target | None:
    """None where the charts print a range and no law."""
    return {
        "condensing over the air that takes the heat": targets.condensing_over_return_air(outdoor),
        "evaporating below the air that gives it": targets.outdoor_coil_below_outdoor_air(outdoor),
        "change of the indoor air": targets.air_rise(outdoor),
    }.get(name)


def _about(target: Target, f: BothSystems) -> str:
    return f.plus_minus(target.value, target.spread, "difference")
