"""Every word this program uses, with what it means and its units: made from the rule book and the visit file's fields."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose import units
from diagnose.quantities import EXPECTED, STEPS, QuantityKind, own_steps
from diagnose.report.blocks import Block, line
from diagnose.report.wording import cite, in_units, name_of, upper_first
from diagnose.rulebook import Rulebook
from diagnose.units import Kind
from diagnose.visit.fields import CHOICES, MACHINE, READINGS, SAME_AS
from diagnose.visit.fields import WORDS as WORDS_OF_A_VISIT
from diagnose.workshop.showing import WORDS

# Words of the trade that no file of the project defines but all of them use. Common practice and cycle physics.
_TRADE = (
    ("absolute pressure", "Pressure above a perfect vacuum, psia (kPa absolute): gauge pressure plus atmospheric pressure."),
    ("allowance", "What a maker adds to the factory charge for each foot (meter) of line set, suction line included."),
    ("bubble line", "Where the first bubble forms in liquid, or the last bubble condenses. Subcooling is counted from it."),
    ("dew line", "Where the last drop boils, or the first drop forms in vapor. Superheat is counted from it."),
    ("gauge pressure", "Pressure above that of the air around the gauge, psig (kPa gauge)."),
    ("glide", "Dew minus bubble temperature of a blend at one pressure, °F (K). A pure refrigerant has none."),
    ("line set", "Liquid line and suction line between the units. The factory charge covers a length; the rest is weighed in."),
    ("micron", "A unit for deep vacuum, a thousandth of a millimeter of mercury: 500 microns is 67 Pa."),
    ("recover", "To remove refrigerant into a recovery cylinder, so that none is vented."),
    ("saturation temperature", "The temperature at which a refrigerant boils or condenses at a given pressure."),
    ("safety class", "A1 does not burn, A2L burns slowly, A3 burns readily (ASHRAE 34, from memory)."),
    ("weigh in", "To charge an evacuated circuit by the scale with what it should hold in all: plate, line set, coil, drier."),
    ("±", "The range that holds 95 of 100 readings, two standard deviations either way."),
)  # fmt: skip
_DEVICES = {
    "fixed orifice": "Metering device without moving parts. It feeds by pressure alone and does not hold superheat.",
    "TXV": "Thermostatic expansion valve. Its bulb senses the suction line, and it opens and closes to hold superheat.",
    "EEV": "Electronic expansion valve. A motor opens and closes it to hold superheat.",
    "cooling": "Mode in which the indoor coil boils refrigerant. Where a visit names no mode, it is this one.",
    "heating": "Mode of a heat pump in which the indoor coil condenses refrigerant.",
}


def glossary_page(rules: Rulebook) -> list[Block]:
    """All words in alphabetical order, one entry for each, whatever it is used for."""
    return [
        Block("answer", "Glossary"),
        line(f"The words of the rule book {rules.name} and of visit files, with US and SI units."),
        *(Block("term", " ".join(said), name) for name, said in entries(rules).items()),
    ]


def entries(rules: Rulebook) -> dict[str, list[str]]:
    """Word → sentences, in alphabetical order."""
    found: dict[str, list[str]] = {}
    for name, said in _all(rules):
        found.setdefault(name, []).append(said)
    return {name: found[name] for name in sorted(found, key=lambda name: (name.lower(), name))}


def _all(rules: Rulebook) -> Iterator[tuple[str, str]]:
    for word, meaning in (*WORDS, *_TRADE):
        yield word, _sentence(meaning)
    for name, finding in rules.findings.items():
        words = ", ".join(finding.words)
        told = f"Seen as {words}." if finding.seen else f"In words: {words}."
        yield name, f"{_sentence(finding.what)} {told}"
    for step in (*STEPS, *own_steps(rules.own.quantities)):
        if step.shown and not step.name.startswith(EXPECTED):
            formula = step.formula.replace(" - ", " − ")
            yield step.name, f"Worked out: {formula}{_units(step.kind)}. Source: {cite(step.source, rules)}."
    for name, state in rules.states.items():
        yield name, f"{state.question} Answers: {', '.join(state.words)}."
    for fault, entry in rules.faults.items():
        yield name_of(fault, rules), f"A fault ({fault}). {entry.what}"
    for fact in (*MACHINE.values(), *rules.own.sizes):
        yield fact.name, f"A fact about the machine. {fact.about}{_written(fact.kind)}"
    for own in rules.own.words:
        yield own.name, f"A fact about the machine. {own.about} In words: {', '.join(own.choices)}."
    for reading in (*READINGS.values(), *rules.own.readings):
        power = reading.instrument == "power meter"  # no meter shows tons
        yield reading.name, f"{reading.about}{' In kW.' if power else _written(reading.kind)}"
    for of, choices in CHOICES.items():
        yield of, f"A fact about the machine. {WORDS_OF_A_VISIT[of].about} In words: {', '.join(choices)}."
        for word in choices if "yes" not in choices else ():
            others = [other for other, same in SAME_AS[of].items() if same == word]
            also = f" Also written {', '.join(others)}." if others else ""
            yield word, f"{_DEVICES.get(word, f'A word for this fact about the machine: {of}.')}{also}"


def _sentence(text: str) -> str:
    return f"{upper_first(text).rstrip('.')}."


def _units(kind: QuantityKind) -> str:
    us, si = (in_units(0.0, kind, system)[1] for system in ("us", "si"))
    if not us:
        return ""
    return f", in {us} ({si})" if us != si else f", in {us}"


def _written(kind: Kind) -> str:
    us, si = (units.show(1.0, kind, units.unit_for(kind, system)).split(" ", 1) for system in ("us", "si"))
    if len(us) < 2:
        return ""
    us[1] = " ".join(word for word in us[1].split() if not word.isdigit())  # pounds and ounces have two figures
    return f" In {us[1]} ({si[1]})." if us[1] != si[1] else f" In {us[1]}."
