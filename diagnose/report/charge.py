"""The charge in words: the verdict, why there is none, what it depends on, and how much."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from diagnose import units
from diagnose.diagnosis.charge import RATED, confirmed_by
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict, NoVerdict
from diagnose.properties.targets import NoTarget
from diagnose.report import weighing
from diagnose.report.wording import (
    estimate_text,
    finding_text,
    findings_text,
    limit_texts,
    name_of,
    no_target_text,
    number,
)
from diagnose.rulebook import machine_facts
from diagnose.visit import FIXED_ORIFICE, HEATING, System
from diagnose.visit.reason import Figures, Reason

WAIT = "Wait 15 minutes after each change, then take all readings again."


def headline(d: Diagnosis) -> str:
    """`low by superheat, 23.0 ± 1.6 °F against a target of 13.5 °F`."""
    c = d.charge
    if c.method == "weight":
        return weighing.verdict_text(d) if isinstance(c, ChargeVerdict) else c.verdict
    estimate = d.estimates.get(c.method or "")
    if isinstance(c, NoVerdict) or estimate is None:
        return c.verdict
    text = f"{c.verdict} by {c.method}, {estimate_text(estimate, d.system)}"
    own = f"{number(c.by.own, 'difference', d.system)} by its good day" if c.by.own is not None else ""
    target = estimate.target
    if target is None:
        alone = f"{c.verdict} by all readings together, {c.method} {estimate_text(estimate, d.system)}"
        return f"{text} against {own}" if own else alone
    own_word = "the maker’s" if d.visit.machine.mode == HEATING else "the plate’s"
    word = {"maker": own_word, "typical": "a typical", "assumed": "a typical", "protocol": "a target of"}.get(
        target.origin, ""
    )
    return f"{text} against {word} {number(target.value, 'difference', d.system)}{f', and {own}' if own else ''}"


def amount_text(c: ChargeVerdict, system: System, of: str = "") -> str:
    """`About 4 to 24 % is missing, 4 to 21 oz.`; `At least 8 % is missing.` Empty where it cannot be told.

    of: whose charge, after the mass.
    """
    if c.percent is None:
        return ""
    side = "missing" if c.verdict == "low" else "in excess"
    small, large = sorted(abs(p) for p in c.percent)
    mass = ""
    if c.mass is not None:
        least = min(abs(m) for m in c.mass)
        mass = f", {f'at least {mass_text(least, least, system)}' if c.at_least else mass_text(*c.mass, system)}{of}"
    return f"{f'At least {small} %' if c.at_least else f'About {small} to {large} %'} is {side}{mass}."


def acts_otherwise(d: Diagnosis) -> bool:
    """Whether a verdict that the charge is off is not acted on as on other machines: not yet, or by weight alone."""
    alone = d.charge.method != "weight" and machine_facts(d.visit.machine)["charging"] == "weight only"
    return d.charge.verdict != "right" and (confirmed_by(d.charge, d.rules) is not None or alone)


WAITS = {
    "right-behind-the-other-device": ("on a valve machine these readings would be right; ",) * 2,
    "subcooling-not-measured": (
        "a restriction starves the coil as well; ",
        "a hot condenser, an overfeeding device or a weak compressor floods the coil as well; ",
    ),
}
"""Why nothing is added yet, and why nothing is taken out, by the caveat on which the verdict hangs."""


def how_to_correct(d: Diagnosis, c: ChargeVerdict) -> str:
    """What to do about it; nothing yet, where the verdict hangs on a check."""
    if c.method == "weight":
        return weighing.correct_text(d)
    low = c.verdict == "low"
    if confirmed_by(c, d.rules):
        why = next((WAITS[caveat.code][not low] for caveat in c.caveats if caveat.code in WAITS), "")
        return f"{'Add' if low else 'Take out'} nothing yet: {why}first do what is asked for next."
    if machine_facts(d.visit.machine)["charging"] == "weight only":
        first = "Find and repair the leak first. " if low else ""
        return (
            f"{first}Recover the whole charge, evacuate, and weigh in exactly what the rating plate calls for. Never "
            f"{'add to' if low else 'trim'} this machine by temperatures: it holds too little, or burns."
        )
    if d.visit.machine.mode == HEATING and not low:
        return "Recover the whole charge, and weigh in what the rating plate and the line set call for."
    if low:
        return (
            "Find the leak, recover what is left, repair, test and evacuate, then weigh in the charge of the rating plate "
            f"and the line set. {WAIT}"
        )
    return f"Recover the excess by weight, a little at a time. {WAIT}"


def verdict_text(d: Diagnosis, c: ChargeVerdict, whole: str = "") -> str:
    """The verdict and how far off it is; what to do about it only where that is not what it is on other machines."""
    parts = [f"{headline(d)}.", amount_text(c, d.system), whole, how_to_correct(d, c) if acts_otherwise(d) else ""]
    return " ".join(part for part in parts if part)


def mass_text(low: float, high: float, system: System) -> str:
    """A range of refrigerant mass, both ends positive: `4 to 21 oz`, `110 to 600 g`; `4 oz` where the two are one."""
    unit = "oz" if system == "us" else "g"
    small, large = sorted(units.from_si(abs(x), unit, "mass") for x in (low, high))
    if large < 10:  # of a machine that holds little
        return f"{small:.1f} to {large:.1f} {unit}" if low != high else f"{large:.1f} {unit}"
    step = 1 if system == "us" else 10
    least, most = (round(end / step) * step for end in (small, large))
    return f"{least} to {most} {unit}" if low != high else f"{most} {unit}"


# -- why, and what it depends on ---------------------------------------------------------------------------------------


def _judged(d: Diagnosis, f: Figures) -> str:
    text = f"The {f['method']} is {_by(d, f)}"
    if f["difference"] is None or f["tolerance"] is None:
        return f"{text}: the charge is {f['verdict']}."
    within = number(f["tolerance"], "difference", d.system)
    it = "what it showed on its good day" if f["by_good_day"] else "it"
    if f["verdict"] != "right":
        return f"{text}, more than {within} {'above' if f['difference'] > 0 else 'below'} {it}: the charge is {f['verdict']}."
    side = f", if anything slightly {f['side']}" if f["side"] else ""
    return f"{text}, within {within} of {it}: the charge is right{side}."


def _beyond(d: Diagnosis, f: Figures) -> str:
    margin = number(d.rules.judgement.charge_range.beyond_any_target, "difference", d.system)
    return (
        f"The superheat is {estimate_text(d.estimates['superheat'], d.system)}. This weather has no target superheat, but "
        f"that is more than {margin} above any it could have, no liquid is left in the condenser, and no other fault explains "
        "it. By all readings together the charge is low."
    )


def _beyond_good_day(d: Diagnosis, f: Figures) -> str:
    superheat = d.estimates["superheat"]
    own = number(superheat.good_day.expected.value, "difference", d.system) if superheat.good_day else ""
    return (
        f"The superheat is {estimate_text(superheat, d.system)}. This weather has no target superheat, but by its own good day "
        f"this machine would show {own}, no liquid is left in the condenser, and no other fault explains it. By all readings "
        "together the charge is low."
    )


def _general_differs(d: Diagnosis, f: Figures) -> str:
    off = number(abs(f["difference"]), "difference", d.system)
    side = "above" if f["difference"] > 0 else "below"
    return (
        f"By the general target alone it would be called {f['verdict']} ({off} {side} it). This machine was off that target "
        "on its good day as well, so its own figure comes first. That holds only if its charge was known to be right that day."
    )


def _not_measured(d: Diagnosis, f: Figures) -> str:
    side = "suction" if f["method"] == "superheat" else "liquid"
    needs = (f"{side} pressure", f"{side} line temperature")
    read = [name for name in needs if name in d.visit.last.readings]
    only = f", and only the {read[0]} was read" if len(read) == 1 else ""
    judged = f"The charge of this machine is judged by {f['method']}, which was not measured"
    return f"{judged}: it needs {' and '.join(needs)}{only}."


def _unless_by_weight(said: Callable[[Diagnosis, Figures], str]) -> Callable[[Diagnosis, Figures], str]:
    """Of a machine that is charged by weight alone nothing has to be measured on a port, which it may not even have."""

    def told(d: Diagnosis, f: Figures) -> str:
        if machine_facts(d.visit.machine)["charging"] != "weight only":
            return said(d, f)
        return (
            "This machine is charged by weight alone, and only a scale tells its charge: `recovered charge` beside "
            "`factory charge`."
        )

    return told


def _no_target(d: Diagnosis, f: Figures) -> str:
    none = f["expected"]
    why = "the outdoor air temperature and the return air wet bulb are missing"
    return f"There is no target superheat to judge by: {no_target_text(none, d.system) if isinstance(none, NoTarget) else why}."


def _chances(f: Figures) -> str:
    return ", ".join(f"{chance * 100:.0f} % {word}" for word, chance in f["chances"])


def _near_limit(d: Diagnosis, f: Figures) -> str:
    words = [word for word, _ in f["chances"]]
    sentence = (
        f"The {f['method']} is {_by(d, f)}, so near the limit that by it alone the charge may be "
        f"{' or '.join(words)} (about {_chances(f)})."
    )
    if f["improve"] == RATED:
        sentence += " The rating plate settles it: read the subcooling that the maker asks for."
    elif f["improve"]:
        sentence += f" The {f['improve']} adds most to the doubt: measure it again, or with a better instrument."
    return sentence


def _valve_off(d: Diagnosis, f: Figures) -> str:
    side, found = "little" if f["word"] == "below range" else "much", d.findings["metering check"]
    low, high = limit_texts(found, d.system)
    holds = f"{low} to {high}" if found.scale and found.scale.by == "value" else f"it within {high}"
    return (
        f"The superheat is {_of('metering check', d)}, too {side} for a valve that works, which holds {holds}. Settle that "
        "before the charge."
    )


def _by_liquid(end: str) -> Callable[[Diagnosis, Figures], str]:
    def said(d: Diagnosis, f: Figures) -> str:
        alone = f"Superheat alone would call the charge {f['leaning']}"
        return f"{alone}, but subcooling is {_of('subcooling', d)}: {end}"

    return said


def _air_not_read(air: str) -> Callable[[Diagnosis, Figures], str]:
    def said(d: Diagnosis, f: Figures) -> str:
        return (
            f"By subcooling alone, {_of('charge by subcooling', d)}, the charge would be called high, but the {air} air was "
            f"not measured: air in the circuit reads as much subcooling too, and shows only against the {air} air."
        )

    return said


def _half_read(d: Diagnosis, f: Figures) -> str:
    alike = "a restriction starves" if f["leaning"] == "low" else "an overfeeding device or a weak compressor floods"
    return (
        f"By superheat alone, {_by(d, f)}, the charge would be called {f['leaning']}, but {alike} the coil as well, and of "
        f"the liquid side only the {f['read']} was read."
    )


def _subcooling_not_measured(d: Diagnosis, f: Figures) -> str:
    if f["verdict"] == "low":
        return "Subcooling was not measured. Add nothing until it is seen to be low: a restriction starves the coil as well."
    return (
        "Subcooling was not measured. Remove nothing until it is seen to be high: low indoor airflow, a hot condenser, an "
        "overfeeding device or a weak compressor floods the coil too."
    )


def _surely_off(d: Diagnosis, f: Figures) -> str:
    return (
        f"By {d.charge.method} alone the charge would be called right, but no sound machine shows this: "
        f"{findings_text(f['findings'], d.findings, d.system)}. Find out why first, then measure again."
    )


def _rival(end: str) -> Callable[[Diagnosis, Figures], str]:
    def said(d: Diagnosis, f: Figures) -> str:
        alone = f"By {f['method']} alone, {_by(d, f)}, the charge would be called {f['leaning']}"
        return f"{alone}, but {end.format(name_of(f['fault'], d.rules))}"

    return said


def _by(d: Diagnosis, f: Figures) -> str:
    """As the protocol judges it; where that has no target, by the machine's own good day."""
    judged = f"charge by {f['method']}"
    return _of(judged if judged in d.findings else f["method"], d)


def _of(finding: str, d: Diagnosis) -> str:
    return finding_text(d.findings[finding], d.system)


SENTENCES: Mapping[str, str | Callable[[Diagnosis, Figures], str]] = {
    "metering-not-given": _unless_by_weight(
        lambda d, f: (
            "Whether this machine is charged by superheat or by subcooling depends on its metering device, which "
            "the visit does not name: write `metering: fixed orifice`, `TXV` or `EEV`."
        )
    ),
    "refrigerant-not-given": "The refrigerant is not given, so no saturation temperature can be looked up.",
    "charge-not-measured": _unless_by_weight(_not_measured),
    "no-target-superheat": _no_target,
    "near-the-limit": _near_limit,
    "valve-off-its-superheat": _valve_off,
    "right-behind-the-other-device": lambda d, f: (
        f"With {'a valve (TXV or EEV)' if d.visit.machine.metering == FIXED_ORIFICE else 'a fixed orifice'} these readings "
        "would be those of a right charge: look which device is really fitted."
    ),
    "liquid-side-half-read": _half_read,
    "condensing-not-measured": _air_not_read("outdoor"),
    "heat-out-not-measured": _air_not_read("return"),
    "efficiency-not-noted": lambda d, f: (
        f"By {f['method']} alone, {_by(d, f)}, the charge would be called high. But air in the circuit reads the same, with a "
        "hotter condenser, and without a SEER nobody knows how hot this one should be."
    ),
    "line-may-be-warmed": (
        "The air is cooled as far as it should be, so the coil may be fed and the suction line warmed on its way: read its "
        "temperature where it leaves the coil."
    ),
    "suction-clamp-may-read-air": "The coil cools its air as no starved coil does, so the suction line clamp may be reading "
    "air. Strap it on tight, insulate it, and read the line where it leaves the coil as well.",
    "liquid-is-left": lambda d, f: (
        f"Subcooling is {_of('subcooling', d)}, but a charge so low that the coil starves leaves hardly any. A restriction "
        "leaves more, and a liquid line clamp that reads a few degrees too warm hides it: read it again."
    ),
    "valve-holds-superheat": lambda d, f: f"The valve holds its superheat: {_of('metering check', d)}.",
    "liquid-is-held-back": _by_liquid(
        "the liquid is there and held back. Look for a restriction or an underfeeding metering device."
    ),
    "little-liquid-in-condenser": _by_liquid(
        "the condenser holds little liquid. Look for low indoor airflow, an overfeeding metering device, or a weak compressor."
    ),
    "liquid-as-on-its-good-day": _by_liquid(
        "the condenser holds as much liquid as on its good day, which a charge that is off would change. Look first at what "
        "else moves the superheat: the airflow and heat of the coil, the metering device, and the readings themselves."
    ),
    "readings-say-nothing-wrong": _rival(
        "the other readings point to {}. Take all readings again before you touch the charge."
    ),
    "likely-only-by-others": lambda d, f: (
        f"By {f['method']} alone, {_by(d, f)}, the charge would be called {f['leaning']}, but what makes that likelier than a "
        f"right charge is not what {name_of(f['own'], d.rules)} causes. Find out what does first, then measure again."
    ),
    "rival-too-likely": _rival(
        "another fault is too likely for the charge to be touched yet: {}. Settle that first, then measure again."
    ),
    "surely-off-normal": _surely_off,
    "rival-explains-better": _rival(
        "another fault explains the readings as well or better: {}. Settle that first, then measure again."
    ),
    "charge-judged": _judged,
    "no-target-so-by-liquid": (
        "This weather has no target superheat, so what this machine’s own good day asks of its subcooling stands in for it."
    ),
    "all-readings-agree": lambda d, f: (
        f"By {f['method']} alone that would not be sure (about {_chances(f)}); by all readings together the chance that the "
        f"charge is off is about {max(1.0, f['off'] * 100):.0f} %."
    ),
    "beyond-any-target": _beyond,
    "beyond-good-day": _beyond_good_day,
    "charge-weighed": weighing.by_the_scale_text,
    "readings-say-otherwise": lambda d, f: (
        f"The other readings point to {name_of(f['fault'], d.rules)}: check the plate, the sizes and lengths of the lines, the "
        "scale, and whether all of the charge came out."
    ),
    "weight-near-the-limit": weighing.near_text,
    "general-target-differs": _general_differs,
    "subcooling-not-measured": _subcooling_not_measured,
    "superheat-not-measured": "Superheat was not measured. Add nothing until it is: a valve that lets too much through empties "
    "the condenser as well.",
    "subcooling-by-a-doubted-clamp": "The subcooling rests on a clamp that may be reading air: leave the charge alone until it "
    "is strapped on tight and read again.",
    "subcooling-shows-it-alone": lambda d, f: (
        f"Nothing but the subcooling shows that the charge is {f['verdict']}, and a liquid line clamp that reads a few degrees "
        f"too {'warm' if f['verdict'] == 'low' else 'cold'} would show the same: read it again."
    ),
    "liquid-line-read-otherwise": lambda d, f: (
        f"Nothing but the subcooling shows that the charge is {f['verdict']}, and another place on the liquid line reads "
        f"{'colder' if f['verdict'] == 'low' else 'warmer'}: hold both clamps on one spot and compare."
    ),
    "subcooling-not-low": lambda d, f: (
        f"Subcooling is {_of('subcooling', d)}, not low: rule out a restriction first: measure the liquid "
        "line temperature upstream and downstream of the drier."
    ),
    "subcooling-does-not-fit": lambda d, f: (
        f"Subcooling is {_of('subcooling', d)}, which does not fit a right charge well. Measure it again."
    ),
    "airflow-not-confirmed": "Nobody has confirmed the airflow, and every refrigerant reading depends on it.",
    "weigh-in-heating": (
        "In heating no gauge shows when the charge is right. Weigh it in, and confirm it in cooling weather."
    ),
    "running-time-not-confirmed": "Nobody noted how long the machine had run. Before 15 minutes this verdict means nothing.",
    # A charge estimate is typically right on low or high with several faults at once, its amount is not, and charging by
    # subcooling alone is not reliable then (Hu and Yuill 2021, Energy and Buildings 111355, abstract, read).
    "second-fault": lambda d, f: (
        f"A second fault may be there as well ({name_of(f['fault'], d.rules)}): correct that first. With two faults at once "
        "the readings still show low or high, but not by how much."
    ),
}


def charge_sentence(d: Diagnosis, reason: Reason) -> str:
    """The sentence of a reason of the charge verdict."""
    said = SENTENCES[reason.code]
    return said if isinstance(said, str) else said(d, reason.figures)
