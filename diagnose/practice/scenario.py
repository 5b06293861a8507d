"""Where practice visits take place, what people complain about there, and what a look at the machine would show.

The shops stand on the harbour street that the demo cases imagine. A complaint belongs to a family of faults, never to
one fault: who hears it knows no more than at a real door. Which complaint goes with which faults, and how often a cause
shows, is common practice and our judgement, no source.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from diagnose.simulator import Practice
from diagnose.simulator.population import NOTHING_WRONG
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


def place_and_complaint(chance: random.Random, truth: str, elsewhere: Collection[str] = ()) -> tuple[str, str]:
    """The machine's label and what is said about it; of any complaint that this fault may be behind.

    elsewhere: shops that are not taken where others are left.
    """
    shop = chance.choice([name for name in SHOPS if name not in elsewhere] or list(SHOPS))
    who, rooms = SHOPS[shop]
    room = chance.choice(rooms)
    complaint = chance.choice([one for one in COMPLAINTS if truth in one.faults])
    return f"{shop}, {room}", complaint.text.format(who=who)


def seen_at(case: Practice, chance: random.Random, forgetful: bool = False) -> dict[str, str]:
    """What a look or a question would bring, in the words of rules/findings.yaml.

    Follows from the hidden faults and the simulated state. forgetful: sometimes nobody knows the history of the
    machine; such things are left out.
    """
    truths = {case.truth, case.also}
    found = {
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
    }
    if "low-indoor-airflow" in truths:
        cause = (("air filter", "dirty"), ("indoor coil", "dirty"), ("blower", "slow"), ("blower", "dirty wheel"),
                 ("registers", "closed or blocked"))  # fmt: skip
        found.update([chance.choice(cause)])
    if "low-outdoor-airflow" in truths:
        found.update(
            [chance.choice((("outdoor coil", "dirty"), ("outdoor coil", "dirty"), ("outdoor fan", "slow or stopped")))]
        )
    if "low-charge" in truths and chance.random() < 0.7:
        found["oil stains"] = "present"
    if _boils_before_the_glass(case):
        found["sight glass"] = "bubbles"
    if case.state.liquid_temperature - case.state.drier_outlet_temperature > 3.0 / 1.8:
        found["filter drier"] = "cold or frosted at the outlet"
    if case.machine.metering != FIXED_ORIFICE:
        found["sensing bulb"] = "loose or bare" if case.faults.bulb_contact < 1.0 else "tight and insulated"
    if "non-condensables" in truths:
        found["recent opening"] = "not evacuated well"
    elif "overcharge" in truths:
        found["charge changed"] = "added"
    if forgetful and chance.random() < 0.5:
        del found["recent opening"], found["charge changed"]
    return found


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
