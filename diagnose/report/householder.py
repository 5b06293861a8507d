"""What a visit found, for who lives in the house: no points, shares, rule ids or prices, and no more of the trade's words than
a person without training understands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from diagnose.diagnosis.after_repair import RepairOutcome
from diagnose.diagnosis.charge import confirmed_by
from diagnose.diagnosis.dangers import Danger
from diagnose.diagnosis.ranking import Strength
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.report.charge import mass_text
from diagnose.report.dangers import danger_text
from diagnose.report.wording import lower_first, name_of, points_nowhere


class Plain(NamedTuple):
    """One fault: that it is there, for the middle of a sentence; what it means; what should be done about it."""

    is_so: str
    means: str
    do: str


FAULTS: Mapping[str, Plain] = {
    "low-charge": Plain(
        "there is too little refrigerant in the machine",
        "Refrigerant carries the heat. It is not used up: where some is missing, it has leaked out or was never put in.",
        "Find and seal the leak, then fill in the right amount by weight. Topping up without that does not last.",
    ),
    "overcharge": Plain(
        "there is too much refrigerant in the machine",
        "Too much of it raises the pressure and the use of electricity, and can wear out the compressor.",
        "Take out what is too much, by weight, and measure again.",
    ),
    "low-indoor-airflow": Plain(
        "too little air flows through the indoor unit",
        "A dirty filter or coil, closed registers or narrow ducts are the usual causes. While it cools, the coil may ice up.",
        "Clean, open or replace what holds the air back, then measure again.",
    ),
    "low-outdoor-airflow": Plain(
        "too little air flows through the outdoor unit",
        "Dirt on the coil, plants or boxes beside it, or a slow fan are the usual causes. The machine works harder for less.",
        "Clean the coil, clear the space around the unit, check the fan, then measure again.",
    ),
    "liquid-line-restriction": Plain(
        "something holds the refrigerant back in its pipe",
        "A clogged filter in the pipe, a kink or a valve that is not fully open are the usual causes. More refrigerant would "
        "not help.",
        "Find the narrow place, open or replace it, and measure again.",
    ),
    "metering-underfeeding": Plain(
        "the part that doses the refrigerant lets too little of it pass",
        "The indoor unit then gives less than it could. More refrigerant would not help.",
        "Check that part and its sensor, and set or replace it.",
    ),
    "metering-overfeeding": Plain(
        "the part that doses the refrigerant lets too much of it pass",
        "Liquid may then reach the compressor and damage it.",
        "Check that part and its sensor, and set or replace it soon.",
    ),
    "non-condensables": Plain(
        "air has got into the refrigerant pipes",
        "Air raises the pressure there and the use of electricity, and harms the compressor.",
        "Take the refrigerant out, draw off the air with a vacuum pump, and fill in fresh refrigerant by weight.",
    ),
    "weak-compressor": Plain(
        "the compressor, the machine’s pump, is worn",
        "The machine then gives less than it should, however well the rest of it works.",
        "Confirm this by a second test before the compressor is replaced.",
    ),
    "compressor-not-running": Plain(
        "the compressor, the machine’s pump, does not run",
        "Air still blows, but hardly cooled or heated. A switch or a small electrical part is often the cause.",
        "Find out what keeps it from running, repair that, then measure again.",
    ),
    "check-valve-leaking": Plain(
        "a valve that should be shut while the machine heats lets refrigerant past",
        "The machine heats less than it should, and liquid may reach the compressor.",
        "Check that valve, and replace it if this is confirmed.",
    ),
    "reversing-valve-leaking": Plain(
        "the valve that changes between heating and cooling leaks inside",
        "The machine pumps part of its heat round and round, and the house gets less of it.",
        "Check that valve, and replace it if this is confirmed.",
    ),
    "defrost-fault": Plain(
        "the outdoor unit does not clear itself of frost as it should",
        "Frost grows to ice and shuts off the air, so the machine heats less and less.",
        "Melt the ice, find out why it is not cleared, and repair that.",
    ),
    "supplementary-heat-on": Plain(
        "the extra electric heater runs although the heat pump could do the work alone",
        "The house is then heated with far more electricity than needed.",
        "Find out what switches it on (thermostat, outdoor switch, relay), and correct that.",
    ),
    "nothing-wrong": Plain(
        "nothing is wrong in the machine",
        "If something still bothers you, its cause may be the ducts, the thermostat, the insulation or the machine’s size.",
        "Nothing needs to be repaired. These readings are worth keeping for the next visit.",
    ),
}
"""By fault of the shipped book; others are told by their name."""

DANGERS: Mapping[str, str] = {
    "high-side-pressure": "The pressure in the machine is over its limit.",
    "high-side-near-limit": "The pressure in the machine is close to its limit.",
    "suction-in-vacuum": "The pressure in a pipe is below that of the air outside it, so that air can be drawn in.",
    "test-gas-burns": "The pipes were filled with a gas that can make the oil in them explode. Keep away until it is let off.",
    "test-pressure-too-high": "The pipes stood under more pressure than they are made for and may fail later.",
    "live-parts": "Parts inside stay under dangerous voltage although the machine stands, and it may start by itself.",
    "caution/liquid-reaches-the-compressor": "Liquid reaches the compressor and can destroy it.",
    "caution/liquid-return": "Liquid may be reaching the compressor, which can damage it.",
    "caution/wet-compression": "Liquid reaches the compressor, which can damage it.",
    "caution/discharge-far-too-hot": "The compressor runs far too hot and is being destroyed.",
    "caution/discharge-hot": "The compressor runs too hot, which wears it out.",
    "caution/current-far-too-high": "The compressor takes far more electric current than it may.",
    "caution/current-too-high": "The compressor takes more electric current than it may.",
    "caution/voltage-imbalance": "The electric supply is uneven, which burns motors. Leave the machine off until an "
    "electrician has repaired it.",
    "caution/supply-voltage": "The voltage of the electric supply is wrong for this machine. Leave it off until an "
    "electrician has repaired it.",
    "caution/worn-starting-part": "An electrical part that starts a motor is worn and will fail one day.",
    "caution/hot-pipe": "A pipe of the machine is hot enough to burn skin. Do not touch the pipes.",
    "caution/flammable-a3": "The refrigerant in this machine burns easily. Keep flames and sparks away from the machine; if "
    "you suspect a leak, open the windows, switch nothing, leave and call for help.",
    "caution/flammable-a2l": "The refrigerant in this machine can burn. Keep flames away from the machine; if you suspect a "
    "leak, open the windows and call a technician.",
    "caution/built-for-less-pressure": "The machine holds a refrigerant with more pressure than it is built for.",
    "caution/built-for-another-safety-class": "The machine holds a refrigerant that can burn and that it is not built for. "
    "Keep flames away from the machine.",
    "caution/leak-found": "Refrigerant leaks out of the machine. Keep the rooms aired until it is repaired.",
    "caution/burning-refrigerant-leaks": "The refrigerant in this machine burns and is leaking. Open the windows, switch "
    "nothing, use no flame, leave and call for help.",
    "caution/suction-side-nearly-empty": "Hardly any refrigerant flows in the machine, so nothing cools its compressor.",
    "caution/house-may-freeze": "The house may freeze. Keep it warm with the supplementary heat or heaters made for rooms, "
    "never with a stove, a grill or an engine, and let the taps drip.",
}
"""By the code of the danger; those of a company's own rules are told by their title."""

USUAL = ("caution/flammable-a3", "caution/flammable-a2l", "caution/hot-pipe")
"""Dangers of sound machines as well."""

SURE: Mapping[Strength, str] = {
    "strong": "The readings show this clearly.",
    "fair": "The readings point to this, but do not prove it yet.",
    "weak": "This is a first suspicion; the readings do not decide it.",
    "unlikely": "This is a first suspicion; the readings do not decide it.",
}
WHY_NOT: Mapping[str, str] = {
    "ready/running-time": "it had not run long enough",
    "ready/hunting": "its readings were not steady",
    "ready/superheat-settled": "its readings were not steady",
    "ready/subcooling-settled": "its readings were not steady",
    "ready/suction-settled": "its readings were not steady",
    "ready/liquid-settled": "its readings were not steady",
    "ready/ice": "there was ice on the indoor coil",
    "ready/frosted": "there was thick frost on the outdoor coil",
    "ready/just-defrosted": "it had only just cleared itself of frost",
    "ready/heating-weather": "the weather was not right for it",
    "ready/heating-in-deep-cold": "the weather was not right for it",
    "ready/cold-outdoors": "the weather was not right for it",
    "ready/room-too-hot": "it was too hot indoors",
    "nothing-to-judge": "too little has been measured so far",
    "outside/cold-store": "it is not an air conditioner",
    "outside/chiller": "it is a machine that cools water, not air",
    "outside/water-cooled": "it is cooled by water, not by air",
    "outside/part-load": "it was not running at full power",
    "outside/stage-not-stated": "it was not certain that it ran at full power",
    "outside/cold-space": "it was too cold indoors",
    "outside/heats-on-a-hot-day": "it seemed to heat although it should cool",
}
"""Why nothing could be concluded, by code; others are left to the office."""
AFTER: Mapping[RepairOutcome, str] = {
    "not comparable": "Whether the work helped cannot be judged from these readings yet.",
    "too little read": "Whether the work helped cannot be judged: too little was measured afterwards.",
    "nothing to repair": "Nothing clear was wrong before, and nothing is now.",
    "dangerous": "The machine is still dangerous, so the work is not done.",
    "repaired": "The repair did what it should, and nothing else stands out.",
    "right now": "Nothing stands out any more.",
    "on its way": "It is better than before, but not yet right.",
    "not reached": "The repair does not show in the readings yet.",
    "worse": "The readings are worse than before; this has to be looked into.",
    "too far": "The correction went too far and has to be taken back in part.",
    "other fault": "What stood out before is gone, but something else stands out now.",
    "second fault": "The repair worked; a second fault is left.",
}
TOPPED_UP = (
    "Refrigerant was added. A machine does not use it up: unless its leak has been found and sealed, have that done."
)
THAW = "Leave the cooling off and the indoor fan on until the ice has melted, which can take hours."
STOP = "Please leave the machine switched off until this is repaired."
CARE = (
    "Please do not open the covers: parts inside can hold a dangerous voltage even after the machine is switched off.",
    "Only a certified technician may open the refrigerant pipes.",
)


def plain_fault(d: Diagnosis, fault: str) -> Plain:
    """A fault in plain words; one of a company's own by its name."""
    own = Plain(f"the cause is this: {name_of(fault, d.rules)}", "", "Have it confirmed and repaired by a technician.")
    return FAULTS.get(fault, own)


def plain_danger(d: Diagnosis, danger: Danger) -> str:
    """What is dangerous, in one or two sentences."""
    return DANGERS.get(danger.code) or f"{danger_text(d, danger)[0]}."


def harmed(d: Diagnosis) -> bool:
    """Whether a danger comes from something wrong with the machine, not from what any such machine has."""
    return any(danger.code not in USUAL for danger in d.dangers)


def plain_answer(d: Diagnosis) -> str:
    """The headline."""
    if d.start_up is not None and (d.start_up.having("failed") or not d.visit.last.readings):
        if d.start_up.having("failed"):
            return "Something has to be put right before the machine is used."
        return "Nothing wrong was found while the machine was being made ready."
    if d.held:
        why = next((WHY_NOT[reason.code] for reason in d.held if reason.code in WHY_NOT), "")
        return f"The machine could not be judged today{f': {why}' if why else ''}."
    if not d.explained.known:
        return "The readings fit no known fault, so they have to be taken again."
    if points_nowhere(d):
        return "Too little was measured to say what is wrong, if anything is."
    first = d.faults[0]
    right = d.rules.faults[first.fault].charge == "right"
    words = plain_fault(d, first.fault).is_so
    if right and harmed(d):
        return "Apart from the danger named above, nothing wrong was found in the machine."
    if right and first.strength == "strong":
        return "Nothing wrong was found in the machine."
    return f"{'Most likely' if first.strength in ('strong', 'fair') else 'Perhaps'} {words}."


def plain_findings(d: Diagnosis) -> list[str]:
    """What that means, how sure it is, a second fault, and the refrigerant; nothing where nothing was concluded."""
    if d.held:
        return []
    found: list[str] = []
    if d.explained.known and not points_nowhere(d):
        first = d.faults[0]
        found = [text for text in (plain_fault(d, first.fault).means, SURE[first.strength]) if text]
        found += [f"There may be a second fault as well: {plain_fault(d, other).is_so}." for other in d.also]
    c = d.charge
    if not isinstance(c, ChargeVerdict):
        return [*found, "Whether the amount of refrigerant is right could not be decided today."]
    if confirmed_by(c, d.rules):
        return [*found, f"The amount of refrigerant seems too {c.verdict}; that has to be confirmed first."]
    amount = ""
    if c.verdict != "right" and c.mass is not None and not c.at_least:
        amount = f" (about {mass_text(*c.mass, d.system)} {'missing' if c.verdict == 'low' else 'too much'})"
    return [
        *found,
        f"The amount of refrigerant is {c.verdict if c.verdict == 'right' else f'too {c.verdict}'}{amount}.",
    ]


def plain_start_up(d: Diagnosis) -> list[str]:
    """How far a start-up got; nothing where the visit is none."""
    if d.start_up is None:
        return []
    right, failed = len(d.start_up.having("done")), len(d.start_up.having("failed"))
    wrong = f", {failed} {'has' if failed == 1 else 'have'} to be put right" if failed else ""
    return [
        f"Start-up: of its {len(d.start_up.items)} checks {right} {'is' if right == 1 else 'are'} done and right{wrong}."
    ]


def plain_next(d: Diagnosis) -> list[str]:
    """What should be done, what is dangerous first; a machine that was topped up has a leak until somebody has found it."""
    topped = d.visit.weighed.get("added", 0.0) > 0.0 and "recovered" not in d.visit.weighed and d.start_up is None
    return [*_next(d), *([TOPPED_UP] if topped else [])]


def _next(d: Diagnosis) -> list[str]:
    found = [THAW] if any(reason.code == "ready/ice" for reason in d.held) else []
    if d.stop:
        found.append("Leave the machine off until the danger named above is repaired.")
    elif harmed(d):
        found.append("Have the danger named above looked into first.")
    if d.start_up is not None and d.start_up.having("failed"):
        return [*found, "Put right what the checks of the start-up showed, and check it again."]
    if d.start_up is not None and not d.visit.last.readings:
        return [*found, "Measure the machine while it runs, as the last check of its start-up."]
    if d.held or not d.explained.known:
        return [*found, "Have the readings taken again when the machine can be judged; until then nothing is replaced."]
    first = d.faults[0]
    likely = first.strength in ("strong", "fair")
    if d.rules.faults[first.fault].charge == "right" and not points_nowhere(d):
        later = "Nothing needs to be repaired now. Measure again if something still bothers you."
        return found or [plain_fault(d, first.fault).do if likely else later]
    too_much = d.rules.faults[first.fault].charge == "high" and not isinstance(d.charge, ChargeVerdict)
    waits = too_much or confirmed_by(d.charge, d.rules) is not None
    if first.strength != "strong" or waits:
        found.append("Measure a little more first, so that nothing is repaired or replaced for no reason.")
    if likely and not waits:
        found.append(plain_fault(d, first.fault).do)
    return found + [f"Then look at this as well: {lower_first(plain_fault(d, other).do)}" for other in d.also]
