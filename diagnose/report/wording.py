"""Figures as a technician reads them: value, ± the limit that holds 95 of 100, unit; in the units of the visit."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from diagnose import units
from diagnose.diagnosis.findings import Finding, Span, by_good_day
from diagnose.diagnosis.record import Diagnosis
from diagnose.properties.targets import MAKERS_HEATING_CHART, MINIMUM_TARGET_SUPERHEAT, F, NoTarget, Target
from diagnose.quantities import QuantityKind
from diagnose.quantities.uncertainty import COVERAGE, Estimate, absolute
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.entries import FROM, BookChange, RepairStep
from diagnose.rulebook.facts import in_order
from diagnose.visit import Reading, System, Visit

# kind of quantity -> system -> (SI value of one unit, offset of the unit's zero in SI, name, decimals)
_SCALES: Mapping[QuantityKind, Mapping[System, tuple[float, float, str, int]]] = {
    "temperature": {"us": (F, 459.67 * F, "°F", 1), "si": (1.0, 273.15, "°C", 1)},
    "difference": {"us": (F, 0.0, "°F", 1), "si": (1.0, 0.0, "K", 1)},
    "drift": {"us": (F, 0.0, "°F", 1), "si": (1.0, 0.0, "K", 1)},
    "share drift": {"us": (0.01, 0.0, "%", 1), "si": (0.01, 0.0, "%", 1)},
    "small percent": {"us": (0.01, 0.0, "%", 1), "si": (0.01, 0.0, "%", 1)},
    "percent": {"us": (0.01, 0.0, "%", 0), "si": (0.01, 0.0, "%", 0)},
    "ratio": {"us": (1.0, 0.0, "", 2), "si": (1.0, 0.0, "", 2)},
    "airflow per capacity": {
        "us": (units.CFM / units.TON, 0.0, "cfm/ton", 0),
        "si": (1e-6, 0.0, "L/s per kW", 0),
    },
    "capacity": {"us": (units.TON, 0.0, "ton", 2), "si": (1000.0, 0.0, "kW", 1)},
    "small pressure": {"us": (units.IN_H2O, 0.0, "inH2O", 2), "si": (1.0, 0.0, "Pa", 0)},
    "pressure": {"us": (units.PSI, 0.0, "psia", 1), "si": (1000.0, 0.0, "kPa absolute", 0)},
    "time": {"us": (60.0, 0.0, "minutes", 0), "si": (60.0, 0.0, "minutes", 0)},
    "current": {"us": (1.0, 0.0, "A", 1), "si": (1.0, 0.0, "A", 1)},
    "voltage": {"us": (1.0, 0.0, "V", 1), "si": (1.0, 0.0, "V", 1)},
    "capacitance": {"us": (1e-6, 0.0, "µF", 1), "si": (1e-6, 0.0, "µF", 1)},
    "airflow": {"us": (units.CFM, 0.0, "cfm", 0), "si": (0.001, 0.0, "L/s", 0)},
    "mass": {"us": (0.45359237, 0.0, "lb", 2), "si": (1.0, 0.0, "kg", 2)},
    "length": {"us": (units.INCH, 0.0, "in", 2), "si": (0.001, 0.0, "mm", 0)},
    "mass per length": {"us": (0.45359237 / 16 / units.FOOT, 0.0, "oz/ft", 2), "si": (0.001, 0.0, "g/m", 0)},
    "station pressure": {"us": (units.IN_HG, 0.0, "inHg", 2), "si": (100.0, 0.0, "hPa", 0)},
    "vacuum": {"us": (units.MICRON, 0.0, "microns", 0), "si": (1.0, 0.0, "Pa", 0)},
    "number": {"us": (1.0, 0.0, "", 1), "si": (1.0, 0.0, "", 1)},
    "humidity": {"us": (1 / 7000, 0.0, "gr/lb", 0), "si": (0.001, 0.0, "g/kg", 1)},
}


def number(value: float, kind: QuantityKind, system: System, unit: bool = True) -> str:
    """`61.0 °F`; without `unit` the bare number."""
    scale, zero, name, decimals = _SCALES[kind][system]
    shown = _round((value - zero) / scale, decimals)
    return f"{shown} {name}".strip() if unit else shown


def in_units(value: float, kind: QuantityKind, system: System) -> tuple[float, str, int]:
    """The bare number, its unit, and how many decimals it is shown with: for calculations written out."""
    scale, zero, name, decimals = _SCALES[kind][system]
    return (value - zero) / scale, name, decimals


def _round(value: float, decimals: int) -> str:
    text = f"{abs(value):,.{decimals}f}"
    return f"−{text}" if value < 0 and text.strip("0.,") else text


def plus_minus(value: float, sigma: float, kind: QuantityKind, system: System) -> str:
    """`23.0 ± 1.6 °F`; the ± holds 95 of 100."""
    scale, _, name, decimals = _SCALES[kind][system]
    margin = COVERAGE * sigma / scale
    if margin == 0:
        return number(value, kind, system)
    shown = number(value, kind, system, unit=False)
    return f"{shown} ± {_round(margin, decimals)} {name}".strip()


def estimate_text(estimate: Estimate, system: System) -> str:
    """Value and ± of one quantity."""
    return plus_minus(estimate.value, estimate.sigma, estimate.kind, system)


def finding_text(finding: Finding, system: System) -> str:
    """What stands in a sentence for a finding: the figure, and what it was judged against."""
    if finding.estimate is None:
        return finding.word
    text, against = estimate_text(finding.estimate, system), _judged_against(finding, system)
    return f"{text} ({against})" if against else text


def _judged_against(finding: Finding, system: System) -> str:
    """`target 13.5 °F`; empty where it was judged against nothing."""
    estimate, by = finding.estimate, finding.scale.by if finding.scale else "value"
    if estimate is None:
        return ""
    if by_good_day(finding):
        return own_text(estimate, system)
    if estimate.target is not None and by != "value":
        return target_text(estimate.target, estimate.kind, system)
    near = estimate.expected.nearest if isinstance(estimate.expected, NoTarget) else None
    if near is not None and by == "nearest":
        return f"at the table’s edge {number(near.value, estimate.kind, system)}"
    return ""


_KNOWN_BY_NAME = ("superheat", "subcooling", "liquid line approach", "pressure gap", "evaporating below outdoor air")


def figure_text(finding: Finding, system: System) -> str:
    """`superheat 23.0 ± 1.6 °F, target 13.5 °F`: a finding within brackets; empty for what was only seen."""
    if finding.estimate is None:
        return ""
    quantity = (
        finding.estimate.name
    )  # a finding may ask something else of it: "head pressure control −5.0 °F" is no figure
    name = quantity if finding.estimate.kind == "temperature" or quantity in _KNOWN_BY_NAME else finding.name
    against = _judged_against(finding, system)
    return f"{name} {estimate_text(finding.estimate, system)}{f', {against}' if against else ''}"


def own_text(estimate: Estimate, system: System) -> str:
    """`by its good day 12.0 °F, target 13.5 °F`: what this machine should read, and what such machines should in general."""
    parts = []
    if estimate.good_day is not None:
        parts.append(f"by its good day {number(estimate.good_day.expected.value, estimate.kind, system)}")
    if estimate.target is not None:
        parts.append(target_text(estimate.target, estimate.kind, system))
    return ", ".join(parts)


def target_text(target: Target, kind: QuantityKind, system: System) -> str:
    """`target 13.5 °F`, `plate 10.0 °F`, `typical 15.0 °F`: fits within brackets behind any figure."""
    words = {"maker": "plate", "protocol": "target", "typical": "typical", "assumed": "typical", "baseline": "good day"}
    word = "maker’s chart" if target.source == MAKERS_HEATING_CHART else words[target.origin]
    return f"{word} {number(target.value, kind, system)}"


def _judged_kind(finding: Finding) -> QuantityKind:
    """The kind of what the limits of a finding are compared with."""
    kind: QuantityKind = finding.estimate.kind if finding.estimate else "ratio"
    by = finding.scale.by if finding.scale else "value"
    if by == "share":
        return "ratio"
    return "difference" if by in ("difference", "nearest") and kind == "temperature" else kind


def limit_texts(finding: Finding, system: System) -> tuple[str, ...]:
    """The limits between the words of a finding, from low to high."""
    return tuple(number(limit, _judged_kind(finding), system) for limit in finding.limits)


def margin(finding: Finding, system: System) -> str:
    """`± 4.0 °F`: how far 95 of 100 healthy machines scatter, by the finding's spread."""
    kind = _judged_kind(finding)
    return f"± {number(COVERAGE * finding.spread, 'difference' if kind == 'temperature' else kind, system)}"


def span_text(span: Span, system: System) -> str:
    """`under 3.5 °F`, `3.5 to 6.0 °F`, `over 6.0 °F`."""
    if span.low is None:
        return "" if span.high is None else f"under {number(span.high, span.kind, system)}"
    if span.high is None:
        return f"over {number(span.low, span.kind, system)}"
    return f"{number(span.low, span.kind, system, unit=False)} to {number(span.high, span.kind, system)}"


def reading_text(reading: Reading, unit: str | None = None) -> str:
    """A reading with its limit of error: `130 psig ± 1.3`; as it was written, unless another unit is named."""
    kind, unit = reading.field.kind, unit or reading.unit
    shown = units.show(reading.value, kind, unit)
    error = units.from_si(reading.value + reading.error, unit, kind) - units.from_si(reading.value, unit, kind)
    return f"{shown} ± {two_digits(abs(error))}"


def two_digits(error: float) -> str:
    """A limit of error to two significant digits: `1.4`, `150`."""
    return f"{float(f'{error:.2g}'):,g}"


_US = {"F", "psi", "psig", "psia", "cfm", "inH2O", "inHg", "ton", "Btu/h", "lb", "oz", "ft", "in"}
_BOTH = {"micron", "torr"}  # a vacuum is told in these whatever else is


def system_of(reading: Reading) -> System:
    """The system of units that a reading was written in."""
    return "us" if reading.unit.split(" ")[0] in _US else "si"


def unit_in(reading: Reading, system: System) -> str:
    """The unit to show a reading in, in one system of units; its own where it was written in that."""
    kind = reading.field.kind
    if system_of(reading) == system or reading.unit in _BOTH or reading.field.instrument == "power meter":
        return reading.unit  # no power meter shows tons
    if kind == "pressure" and not reading.gauge:
        return "psia" if system == "us" else "kPa absolute"
    if kind == "pressure" and reading.value < 0 and system == "us":
        return "inHg vacuum"
    return units.unit_for(kind, system)


def findings_text(names: Sequence[str], findings: Mapping[str, Finding], system: System) -> str:
    """`superheat high, 23.0 ± 1.6 °F (target 13.5 °F); oil stains present`."""
    parts = []
    for name in names:
        finding = findings[name]
        figure = "" if finding.estimate is None else f", {finding_text(finding, system)}"
        parts.append(f"{name} {finding.word}{figure}")
    return "; ".join(parts)


def seen_text(seen: Iterable[tuple[str, str]]) -> str:
    """What was seen or told, each with its word."""
    return "; ".join(f"{name} {word}" for name, word in seen)


def listed(names: Sequence[str], last: str = "and") -> str:
    """`a, b and c`; empty where there is none."""
    return f" {last} ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def but_first(check: str | None) -> str:
    """What stands behind a charge that hangs on a check: `, but first clamp the drier`; empty where it hangs on none."""
    return f", but first {check.replace('-', ' ')}" if check else ""


def lower_first(text: str) -> str:
    """A name or a title in the middle of a sentence; abbreviations (TXV, R-410A) stay as they are."""
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2].isspace() else text


def signed(points: float) -> str:
    """Points as a rule has them: `+3`, `−2.5`."""
    return f"{points:+g}".replace("-", "−")


def upper_first(text: str) -> str:
    """The same at the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def counted(count: float, thing: str) -> str:
    """`1 minute`, `2.5 minutes`, `1,200 visits`, `3 stretches`."""
    shown = f"{count:,}" if isinstance(count, int) else f"{count:g}"
    return f"{shown} {thing}{'' if count == 1 else 'es' if thing.endswith('ch') else 's'}"


def how_to_get(finding: str, rules: Rulebook) -> str:
    """How to get a finding that was not measured: its own words, else those of a check that gives it."""
    entry = rules.findings[finding]
    if entry.ask:
        return entry.ask
    return next((c.ask for c in rules.checks.values() if finding in c.gives), f"Measure {entry.what}.")


_ON = {
    "TXV, EEV": "an expansion valve",
    "TXV": "a TXV",
    "EEV": "an EEV",
    "fixed orifice": "a fixed orifice",
    "orifice": "an orifice",
    "capillary tube": "a capillary tube",
    "heat pump": "a heat pump",
    "A2L": "a refrigerant of class A2L",
    "A2L, A3": "a flammable refrigerant",
    "A1": "a refrigerant that does not burn",
    "weight only": "a machine that is charged by weight only (capillary tube, class A3, less than 1 kg or 2.2 lb)",
    "weight and temperatures": "a larger machine",
    "microchannel": "a microchannel condenser",
    "yes": "a machine that was built for another refrigerant",
}
"""Machine facts that steps of a repair are narrowed by, in words."""


def step_text(step: RepairStep) -> str:
    """A step of a repair where no machine is given: for which machines it is, then what to do."""
    of = {name: ", ".join(words) for name, words in in_order(step.applies).items()}
    mode = f" in {of.pop('mode')}" if "mode" in of else ""
    listed = sorted((_ON.get(words, words) for words in of.values()), key=lambda on: "machine" not in on)
    return f"For {' with '.join(listed) or 'a machine'}{mode}: {step.do}" if step.applies else step.do


def name_of(fault: str, rules: Rulebook) -> str:
    """A fault's name in the middle of a sentence; of one that the book of this machine leaves out, its id in words."""
    return lower_first(rules.faults[fault].name) if fault in rules.faults else fault.replace("-", " ")


def points_nowhere(d: Diagnosis) -> bool:
    """Whether nothing that was read supports the leader: it leads only by how usual it is, and is not to be named."""
    return not d.faults[0].supporting


def likeliest(d: Diagnosis) -> str:
    """`Most likely: low refrigerant charge (strong evidence)`; beside a stop nobody reads that nothing is wrong."""
    first = d.faults[0]
    if points_nowhere(d):
        return "Too little to tell: nothing read so far points to one fault"
    apart = d.stop and d.rules.faults[first.fault].charge == "right"
    begin = "Apart from the danger, most likely" if apart else "Most likely"
    return f"{begin}: {name_of(first.fault, d.rules)} ({first.strength} evidence)"


def no_target_text(none: NoTarget, system: System) -> str:
    """Why there is no expected value, for the end of a sentence."""
    if none.reason == "missing":
        return f"no usable {' and no usable '.join(none.readings)}"
    if none.reason == "outside":
        parts = []
        for name, ends in none.outside.items():
            value, low, high = (number(each, "temperature", system) for each in ends)
            where = "at the end of" if value in (low, high) else "outside"
            parts.append(f"{name} {value} is {where} the table ({low} to {high})")
        return " and ".join(parts)
    dry, wet = (number(value, "temperature", system) for value in none.at)
    if none.of == "superheat":
        least = number(MINIMUM_TARGET_SUPERHEAT, "difference", system)
        return (
            f"at {dry} outdoors and {wet} return air wet bulb the target superheat is below {least}, where the test is not "
            "valid: raise the indoor load, or come back in other weather"
        )
    return f"the table has no temperature split for return air as dry as {dry} dry bulb with {wet} wet bulb"


_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


def fill(
    text: str,
    findings: Mapping[str, Finding],
    rules: Rulebook,
    system: System,
    states: Mapping[str, Mapping[str, float]],
) -> str:
    """A rule's `why` with the figures of this visit, its limits, and the likeliest words of its states, in its places."""

    def put(match: re.Match[str]) -> str:
        name = match[1]
        of, begins, word = name.partition(FROM)
        if begins and of in findings and word in rules.findings[of].words:
            limits = limit_texts(findings[of], system)
            at = rules.findings[of].words.index(word) - 1
            return limits[at].replace(".0 ", " ") if 0 <= at < len(limits) else f"(no {name})"
        if words := states.get(name):
            return max(words, key=lambda word: words[word])
        finding = findings.get(name.removesuffix(" target"))
        if finding is None:
            return f"(no {name})"
        if name.endswith(" target") and name not in findings:
            target = finding.estimate.target if finding.estimate else None
            if finding.estimate and finding.estimate.good_day and by_good_day(finding):
                target = finding.estimate.good_day.expected
            return number(target.value, finding.estimate.kind, system) if target and finding.estimate else "no target"
        return finding_text(finding, system)

    return _PLACEHOLDER.sub(put, text)


def plain_show(visit: Visit, system: System) -> Callable[[float, Any], str]:
    """For sentences about readings: (SI value, kind of quantity) -> text.

    Pressures are shown as gauge; one that was read, as it was written.
    """
    machine = visit.machine
    taken = [r for each in visit.rounds for r in each.readings.values() if "pressure" in r.name]
    read = {round(absolute(r, machine), 3): r for r in taken}  # Pa

    def show(value: float, kind: QuantityKind) -> str:
        if kind == "pressure" and (own := read.get(round(value, 3))) is not None:
            return units.show(own.value, "pressure", own.unit if system == visit.system else unit_in(own, system))
        if kind == "pressure":
            gauge = value - machine.station_pressure
            return units.show(gauge, "pressure", units.unit_for("pressure", system))
        return number(value, kind, system)

    return show


def change_text(own: str, change: BookChange, now: bool = True) -> str:
    """`points changed by harbour-cooling on 2026-05-01 from 2 to 3: the reason`; without `now` only who changed what."""
    own = f"{own} ({change.author})" if change.author and now else own
    if change.applies and now:
        on = (f"{name} {' or '.join(words)}" for name, words in in_order(change.applies).items())
        own = f"{own} for machines with {', '.join(on)}"
    if change.kind == "off":
        return f"switched off by {own}" if not now else f"switched off by {own} on {change.date}: {change.because}"
    what = f"{change.kind.replace('_', ' ')} changed by {own}"
    return (
        f"{what} on {change.date} from {_figures(change.was)} to {_figures(change.now)}: {change.because}"
        if now
        else what
    )


def _figures(written: object) -> str:
    if isinstance(written, tuple):
        return ", ".join(str(figure) for figure in written)
    return f"{written:g}" if isinstance(written, float | int) else str(written)


def spoken_by(rule: Rule, rules: Rulebook) -> str:
    """Where a reason is not the shipped book's alone: ` (rule of harbour-cooling)`; else an empty text."""
    parts = [f"rule of {rule.own}"] if rule.own else []
    parts += [change_text(own, change, now=False) for own, change in rules.changes_of(rule.id)]
    for name in rule.findings:
        parts += [f"{change.kind} of {name} changed by {own}" for own, change in rules.changes_of(name)]
    return f" ({'; '.join(parts)})" if parts else ""


def cite(source: list[str] | tuple[str, ...] | str, rules: Rulebook) -> str:
    """A source in words: its title and place, with how sure we are that it says so."""
    items = [source] if isinstance(source, str) else list(source)
    parts = []
    for item in items:
        entry = rules.sources.get(item)
        if entry is None:
            parts.append(item)
        else:
            parts.append(
                entry.title if entry.confidence in ("read", "no source") else f"{entry.title} ({entry.confidence})"
            )
    return ", ".join(parts)
