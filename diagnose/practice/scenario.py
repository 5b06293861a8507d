"""Where practice visits take place, what people complain about there, and what a look at the machine would show.

The shops stand on the harbour street that the demo cases imagine. A complaint belongs to a family of faults, never to
one fault: who hears it knows no more than at a real door. Which complaint goes with which faults, and how often a cause
shows, is common practice and our judgement, no source.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from diagnose.simulator import Mode, Practice
from diagnose.simulator.fault_sizes import NOTHING_WRONG
from diagnose.visit import FIXED_ORIFICE

# The shop, who speaks for it, and the rooms that may have a machine of their own.
SHOPS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "fish shop": ("fishmonger", ("sales room", "office upstairs")),
    "bakery": ("baker", ("sales room", "back room")),
    "bookshop": ("bookseller", ("ground floor", "attic")),
    "café": ("café owner", ("guest room", "terrace room")),
    "chandlery": ("chandler", ("store", "rope loft")),
    "tea house": ("tea house keeper", ("parlor", "winter garden")),
    "barber shop": ("barber", ("salon", "waiting room")),
    "flower shop": ("florist", ("window side", "work room")),
    "shoe repair": ("cobbler", ("workshop", "sales room")),
    "pharmacy": ("pharmacist", ("sales room", "back store")),
    "ice cream parlor": ("ice cream maker", ("guest room", "counter side")),
    "sail loft": ("sailmaker", ("cutting floor", "office")),
    "net store": ("net maker", ("work room", "counter room")),
    "toy shop": ("toy seller", ("ground floor", "gallery")),
    "clock shop": ("clock mender", ("workshop", "sales room")),
    "laundry": ("laundry keeper", ("ironing room", "front room")),
}

_FEEDS_LITTLE = ("low-charge", "liquid-line-restriction", "metering-underfeeding")
_HEAT_STAYS_IN = ("low-outdoor-airflow", "non-condensables", "overcharge")


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is said, with {who} for who says it, and the faults behind which it may be."""

    text: str
    faults: tuple[str, ...]


COMPLAINTS = (
    Complaint(
        "The {who} says the room is warm since noon, though the machine has not stopped once.",
        (*_FEEDS_LITTLE, *_HEAT_STAYS_IN, "weak-compressor"),
    ),
    Complaint(
        "It cools in the morning and falls behind in the afternoon, says the {who}.",
        (*_FEEDS_LITTLE, *_HEAT_STAYS_IN, "weak-compressor", "low-indoor-airflow"),
    ),
    Complaint(
        "The {who} says it never got as cool this summer as it did last year.",
        (*_FEEDS_LITTLE, "weak-compressor", "low-indoor-airflow", "low-outdoor-airflow", "non-condensables"),
    ),
    Complaint(
        "Hardly any air comes out of the grilles at the far end, says the {who}, and the corner there is warm.",
        ("low-indoor-airflow", "low-charge", "weak-compressor", NOTHING_WRONG),
    ),
    Complaint(
        "The {who} says the air feels damp, and the paper bags go limp.",
        ("low-charge", "metering-overfeeding", "weak-compressor", "overcharge", NOTHING_WRONG),
    ),
    Complaint(
        "The power bill went up by a third, says the {who}, and nothing else changed.",
        (*_HEAT_STAYS_IN, "low-charge", "low-indoor-airflow", "weak-compressor", "metering-overfeeding"),
    ),
    Complaint(
        "The unit outside shut itself off twice last week in the heat, says the {who}, and came back on its own.",
        (*_HEAT_STAYS_IN, "liquid-line-restriction", "metering-underfeeding", "low-charge"),
    ),
    Complaint(
        "It sounds different from last year, says the {who}, and cannot say how.",
        ("overcharge", "metering-overfeeding", "weak-compressor", "non-condensables", "low-charge", NOTHING_WRONG),
    ),
    Complaint(
        "The {who} bought the place in spring and wants somebody to look at the machine once.",
        (
            *_FEEDS_LITTLE,
            *_HEAT_STAYS_IN,
            "low-indoor-airflow",
            "metering-overfeeding",
            "weak-compressor",
            NOTHING_WRONG,
        ),
    ),
    Complaint(
        "Yearly visit. The {who} has nothing to complain about.",
        (
            NOTHING_WRONG,
            "low-charge",
            "overcharge",
            "low-outdoor-airflow",
            "low-indoor-airflow",
            "metering-overfeeding",
        ),
    ),
    Complaint(
        "Another firm worked on it in spring, says the {who}. It has not been right since.",
        ("overcharge", "non-condensables", "liquid-line-restriction", "metering-overfeeding", "metering-underfeeding"),
    ),
    Complaint(
        "There was ice on the pipe once, says the {who}. It was gone when the machine had rested.",
        (*_FEEDS_LITTLE, "low-indoor-airflow", "metering-overfeeding"),
    ),
    Complaint(
        "The neighbor’s machine is newer and cools better, says the {who}. Is this one ill?",
        (NOTHING_WRONG, "low-charge", "weak-compressor", "low-outdoor-airflow", "low-indoor-airflow"),
    ),
)

_LITTLE_HEAT = (
    "low-charge",
    "weak-compressor",
    "reversing-valve-leaking",
    "low-outdoor-airflow",
    "check-valve-leaking",
)

IN_HEATING = (
    Complaint(
        "The {who} says it was warm enough until the frost came, and now it is not.",
        (*_LITTLE_HEAT, "liquid-line-restriction", "metering-underfeeding", "metering-overfeeding", "defrost-fault"),
    ),
    Complaint(
        "The power bill of this winter is half as much again, says the {who}.",
        (*_LITTLE_HEAT, "supplementary-heat-on", "overcharge", "low-indoor-airflow", "defrost-fault"),
    ),
    Complaint(
        "The air from the grilles is no more than lukewarm, says the {who}.",
        (*_LITTLE_HEAT, "metering-overfeeding", "metering-underfeeding", "liquid-line-restriction", NOTHING_WRONG),
    ),
    Complaint(
        "White steam rose from the unit outside, says the {who}. Does it burn?",
        (NOTHING_WRONG, "defrost-fault", "low-outdoor-airflow", "low-charge"),
    ),
    Complaint(
        "It shut itself off twice last week, says the {who}, and came back on its own.",
        ("low-indoor-airflow", "overcharge", "non-condensables", "liquid-line-restriction", "low-charge"),
    ),
    Complaint(
        "Hardly any air comes out of the grilles, says the {who}, but it is hot.",
        ("low-indoor-airflow", "supplementary-heat-on", "overcharge", "non-condensables"),
    ),
    Complaint(
        "Another firm worked on it in autumn, says the {who}. It has not been right since.",
        (
            "overcharge", "non-condensables", "liquid-line-restriction", "metering-overfeeding", "metering-underfeeding",
            "supplementary-heat-on", "low-charge",
        ),
    ),
    Complaint(
        "It hisses outside as it never did, says the {who}.",
        ("check-valve-leaking", "reversing-valve-leaking", "weak-compressor", "metering-overfeeding", NOTHING_WRONG),
    ),
    Complaint(
        "Yearly visit before the winter. The {who} has nothing to complain about.",
        (NOTHING_WRONG, *_LITTLE_HEAT, "supplementary-heat-on", "overcharge", "metering-overfeeding", "low-indoor-airflow"),
    ),
)  # fmt: skip
SAID: Mapping[Mode, tuple[Complaint, ...]] = {"cooling": COMPLAINTS, "heating": IN_HEATING}


def place_and_complaint(
    chance: random.Random, truth: str, elsewhere: Collection[str] = (), mode: Mode = "cooling"
) -> tuple[str, str]:
    """The machine's label and what is said about it; of any complaint that this fault may be behind.

    elsewhere: shops that are not taken where others are left.
    """
    shop = chance.choice([name for name in SHOPS if name not in elsewhere] or list(SHOPS))
    who, rooms = SHOPS[shop]
    room = chance.choice(rooms)
    complaint = chance.choice([one for one in SAID[mode] if truth in one.faults])
    return f"{shop}, {room}", complaint.text.format(who=who)


CLEAN: Mapping[Mode, Mapping[str, str]] = {
    "cooling": {
        "air filter": "clean",
        "indoor coil": "clean",
        "indoor coil ice": "none",
        "blower": "normal",
        "registers": "open",
        "outdoor coil": "clean",
        "outdoor fan": "normal",
        "hot air return": "none",
        "oil stains": "none",
        "sight glass": "clear",
        "filter drier": "even",
        "recent opening": "no",
        "charge changed": "no",
    },
    "heating": {
        "air filter": "clean",
        "indoor coil": "clean",
        "blower": "normal",
        "registers": "open",
        "outdoor coil": "clean",
        "outdoor fan": "normal",
        "oil stains": "none",
        "filter drier": "even",
        "recent opening": "no",
        "charge changed": "no",
        "outdoor coil frost": "none",
        "defrost": "clears the coil",
        "supplementary heat": "off",
        "bypass check valve": "closed",
    },
}
"""What a look or a question finds on a machine that has nothing to show."""

STRAYS: tuple[tuple[str, str, float], ...] = (
    # Thing seen, word, how often it is met where it has nothing to do with the fault (judgement).
    ("air filter", "dirty", 0.22),  # dust on it, and yet the air passes
    ("outdoor coil", "dirty", 0.20),  # its face, not its rows
    ("oil stains", "present", 0.25),  # from a repair years ago
    ("charge changed", "added", 0.22),  # and leaked out again, or right since
    ("charge changed", "removed", 0.06),
    ("recent opening", "not evacuated well", 0.20),  # and lucky
    ("recent opening", "evacuated below 500 microns", 0.15),
    ("registers", "closed or blocked", 0.12),  # one room that nobody uses
    ("hot air return", "present", 0.06),
    ("blower", "slow", 0.05),  # it sounds so
    ("outdoor fan", "slow or stopped", 0.05),  # it looks so
    ("indoor coil", "dirty", 0.08),
    ("sensing bulb", "loose or bare", 0.12),  # its insulation is gone, and yet it senses
    ("filter drier", "cold or frosted at the outlet", 0.05),  # a hand that came from a hot line
)
"""So that no look and no question by itself names a fault: only figures tell whether what is seen is the cause."""

_CAUSES: Mapping[str, tuple[tuple[str, str], ...]] = {
    "low-indoor-airflow": (
        ("air filter", "dirty"), ("indoor coil", "dirty"), ("blower", "slow"), ("blower", "dirty wheel"),
        ("registers", "closed or blocked"),
    ),
    "low-outdoor-airflow": (("outdoor coil", "dirty"), ("outdoor coil", "dirty"), ("outdoor fan", "slow or stopped")),
    "low-charge": (("oil stains", "present"), ("charge changed", "added"), ("charge changed", "removed")),
    "overcharge": (("charge changed", "added"),),
    "non-condensables": (("recent opening", "not evacuated well"),),
    "defrost-fault": (("defrost", "leaves ice"), ("defrost", "does not start")),
    "supplementary-heat-on": (("supplementary heat", "on"),),
    "check-valve-leaking": (("bypass check valve", "lets liquid through"),),
}  # fmt: skip
"""What a fault may leave to be seen: one of these."""
_SURE = ("supplementary-heat-on", "defrost-fault", "check-valve-leaking")  # a test shows them, not a look
SHOWS = 0.7  # how often the cause of a fault can be seen at all
FREEZING = 273.15 - 0.3  # K of the coil's surface, below which a film of ice grows


def seen_at(case: Practice, chance: random.Random, forgetful: bool = False, strays: bool = True) -> dict[str, str]:
    """What a look or a question would bring, in the words of rules/findings.yaml.

    Follows from the hidden faults and the simulated state, with what any old machine shows besides. forgetful: sometimes
    nobody knows the history of the machine; such things are left out. strays: False leaves out what is not the fault's.
    """
    truths = [fault for fault in (case.truth, case.also) if fault]
    found = dict(CLEAN[case.mode])
    if case.mode == "heating":
        found |= {name: str(word) for name, word in _written_down(case).items()}
    if case.mode == "cooling":
        orifice = case.machine.metering == FIXED_ORIFICE
        found |= {} if orifice else {"sensing bulb": "tight and insulated"}
        found["device at the coil"] = "fixed orifice" if orifice else "valve"
    for name, word, often in STRAYS:
        if name in found and chance.random() < often and strays:
            found[name] = word
    for fault in truths:
        causes = _CAUSES.get(fault, ())
        if causes and (fault in _SURE or chance.random() < SHOWS):
            found.update([chance.choice(causes)])
    if case.mode == "cooling":
        if _boils_before_the_glass(case):
            found["sight glass"] = "bubbles"
        if case.state.surface < FREEZING:
            found["indoor coil ice"] = "present"
        if "sensing bulb" in found and case.faults.bulb_contact < 1.0:
            found["sensing bulb"] = "loose or bare"
    if case.state.liquid_temperature - case.state.drier_outlet_temperature > 3.0 / 1.8:
        found["filter drier"] = "cold or frosted at the outlet"
    if forgetful and chance.random() < 0.5:
        del found["recent opening"], found["charge changed"]
    return found


def _written_down(case: Practice) -> Mapping[str, object]:
    seen = case.visit.get("seen")
    return seen if isinstance(seen, Mapping) else {}


def _boils_before_the_glass(case: Practice) -> bool:
    """The sight glass is taken to sit behind the drier; a restriction at the line's end lies behind the glass."""
    state = case.state
    if case.faults.restriction > 0.0 and case.faults.restriction_at != "drier":
        return state.condenser_outlet_quality > 0.0
    return max(state.condenser_outlet_quality, state.metering_inlet_quality) > 0.005


# Slips of the hand that the plausibility of readings can notice: two readings exchanged, or a clamp off its pipe.
SWAPS: tuple[tuple[str, str], ...] = (
    ("suction pressure", "liquid pressure"),
    ("suction line temperature", "liquid line temperature"),
    ("return air dry bulb", "return air wet bulb"),
    ("return air dry bulb", "supply air dry bulb"),
)


def slipped(chance: random.Random, readings: Mapping[str, str], given: tuple[str, ...]) -> dict[str, str]:
    """Readings as they were written down by somebody who took one for the other: name -> wrong text."""
    possible = [pair for pair in SWAPS if pair[0] in given and pair[1] in given]
    one, other = chance.choice(possible)
    return {one: readings[other], other: readings[one]}


# -- which machines there are ------------------------------------------------------------------------------------------

NEW_GASES = ("R-32", "R-454B")
SEER_OF_NEW = 14.0  # machines with these were built when the least allowed was 14 (common practice, no source)
SEER_OF_ORIFICE = 14.5  # beyond it makers use valves (common practice, no source)


def plausible(machine: Mapping[str, object]) -> bool:
    """Whether such a machine was ever sold: gas, metering device and efficiency belong to the same years."""
    seer = float(str(machine.get("SEER", 13.0)))
    if machine.get("refrigerant") in NEW_GASES and seer < SEER_OF_NEW:
        return False
    return not (machine.get("metering") == FIXED_ORIFICE and seer > SEER_OF_ORIFICE)
