"""Which kind of machine it is, in words, and what it was doing: the part of the table of fields for which `applies:` asks.

What is otherwise on each stands in rules/readiness.yaml (`machine/…`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

Section = Literal[
    "machine", "line set", "instruments", "readings", "refrigerant",
    "start-up", "lines", "pressure test", "vacuum", "electric heat", "blower table", "static", "charge",  # of a start-up
]  # fmt: skip
RUNNING_AT = "running at"
HIGH_SIDE_READ = "high side read"
BUILT_FOR = "built for"
MICROCHANNEL = "microchannel"
OUTDOORS = ("outdoors", HIGH_SIDE_READ)  # places of a metering device behind which the liquid line holds a mixture


class Word(NamedTuple):
    """One line of a visit that holds a word. choices: empty where any text may stand. same_as: what else the trade writes
    for a choice, in small letters (common practice, no source)."""

    section: Section
    name: str
    about: str
    examples: tuple[str, ...]
    question: str
    asked: int = 0
    choices: tuple[str, ...] = ()
    same_as: Mapping[str, str] = {}


# fmt: off
OTHER_KINDS = ("dehumidifier", "vrf", "vrv", "multi-split", "multi split", "multisplit", "portable", "water heater", "pool",
               "spa", "water source", "ground source", "geothermal", "vehicle", "car", "mobile",
               "automotive", "truck", "bus", "refrigerator", "fridge",
               "computer room", "server room", "crac", "desiccant", "absorption")
"""Words that make another machine of any kind they stand beside: a `pool heat pump` is no heat pump of a house."""
OF_ITS_KIND: tuple[Word, ...] = (
    Word("machine", "kind", "What kind of machine it is; coolers and freezers are no air conditioners.", ("split",),
         "Kind of machine", 0,
         ("split", "packaged", "ductless", "heat pump", "window", "walk-in cooler", "walk-in freezer", "reach-in",
          "ice maker", "chiller", "other"),
         {**dict.fromkeys(("split system", "central air"), "split"),
          **dict.fromkeys(("hp", "ashp", "heatpump", "air source heat pump"), "heat pump"),
          **dict.fromkeys(("rooftop", "rtu", "package", "package unit", "rooftop unit"), "packaged"),
          **dict.fromkeys(("mini split", "mini-split", "minisplit", "cassette"), "ductless"),
          **dict.fromkeys(("room air conditioner", "window unit", "ptac", "through the wall"), "window"),
          **dict.fromkeys(("walk-in", "walk in cooler", "cooler", "wine cellar", "beer cooler"), "walk-in cooler"),
          **dict.fromkeys(("walk in freezer", "freezer", "blast freezer", "blast chiller"), "walk-in freezer"),
          **dict.fromkeys(("reach in", "display case", "merchandiser"), "reach-in"),
          "ice machine": "ice maker",
          **dict.fromkeys(OTHER_KINDS, "other")}),
    Word("machine", "compressor", "Whether it has one stage, two, or any speed.", ("single stage", "two-stage", "inverter"),
         "Compressor: single stage, two-stage or inverter", 0, ("single stage", "two-stage", "inverter"),
         {"single-stage": "single stage", "single speed": "single stage", "one stage": "single stage",
          "two stage": "two-stage", "2 stage": "two-stage", "2-stage": "two-stage", "two speed": "two-stage",
          "variable speed": "inverter", "variable-speed": "inverter", "modulating": "inverter"}),
    Word("machine", RUNNING_AT, "The stage or speed while the readings were taken; a percentage will do.",
         ("high", "low", "60 %"), "Stage or speed it was running at (high, low, a percentage)", 0,
         ("high", "low", "part load"),
         {**dict.fromkeys(("high stage", "second stage", "2nd stage", "stage 2", "y2", "full", "full load", "full speed"),
                          "high"),
          **dict.fromkeys(("low stage", "first stage", "1st stage", "stage 1", "y1"), "low")}),
    Word("machine", "condenser cooled by", "What takes the heat away.", ("air", "water"), "Condenser cooled by air or water", 0,
         ("air", "water"),
         dict.fromkeys(("ground", "brine", "geothermal", "ground loop", "ground source", "water source", "cooling tower",
                        "evaporative", "evaporation"), "water")),
    Word("machine", "metering place", "Where the metering device is: outdoors, both service ports are on its low side. "
         "`high side read`: it is outdoors, and pressure and temperature were read ahead of it.",
         ("indoors", "outdoors"), "Metering device indoors or outdoors", 0, ("indoors", "outdoors", HIGH_SIDE_READ),
         {"indoor": "indoors", "outdoor": "outdoors"}),
    Word("machine", "accumulator", "Whether the suction line has one: spare liquid lies in it, above all in heating.",
         ("yes", "no"), "Suction line accumulator", 0, ("yes", "no"), {"true": "yes", "false": "no", "none": "no"}),
    Word("machine", "condenser coil", "Microchannel: flat tubes of aluminum that hold very little refrigerant.",
         ("fin and tube", MICROCHANNEL), "Outdoor coil: fin and tube or microchannel", 0, ("fin and tube", MICROCHANNEL),
         {"tube and fin": "fin and tube", "fin-and-tube": "fin and tube", "micro channel": MICROCHANNEL,
          "micro-channel": MICROCHANNEL}),
    Word("machine", "head pressure held by", "What kept the head pressure up in cool weather while the readings were taken.",
         ("fan", "flooded condenser"), "What kept the head pressure up (fan slowed or cycling, condenser flooded)", 0,
         ("nothing", "fan", "flooded condenser"),
         {"none": "nothing", "fan cycling": "fan", "fan speed": "fan", "fan slowed": "fan", "flooding": "flooded condenser",
          "flooding valve": "flooded condenser", "head pressure valve": "flooded condenser"}),
    Word("machine", "gas path", "Where a part of the gas went, beside its usual way, while the readings were taken.",
         ("usual", "reheat coil"), "Where a part of the gas went (reheat coil, heat recovery, a bypass)", 0,
         ("usual", "reheat coil", "heat recovery", "hot gas bypass", "flash gas bypass"),
         {"none": "usual", "reheat": "reheat coil", "dehumidifying": "reheat coil", "desuperheater": "heat recovery",
          "hot gas": "hot gas bypass", "flash gas": "flash gas bypass"}),
    Word("machine", "economizer", "Outdoor air that is mixed into the return air; `mixed air read`: the return air was read "
         "behind the mixing, before the coil.", ("closed", "open"), "Economizer closed or open", 0,
         ("closed", "open", "mixed air read"), {"none": "closed", "no": "closed", "shut": "closed", "yes": "open"}),
    Word("machine", "circuits", "How many refrigerant circuits cool the same air; the readings are those of one of them.",
         ("one", "two"), "Refrigerant circuits in the same air", 0, ("one", "two"),
         {"1": "one", "2": "two", "single": "one", "dual": "two", "three": "two", "3": "two", "four": "two", "4": "two"}),
    Word("machine", BUILT_FOR, "Refrigerant on the maker's plate, where another one has replaced it.", ("R-22",),
         "Refrigerant it was built for, where that was replaced"),
)
# fmt: on
