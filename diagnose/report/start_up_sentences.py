"""What every code of a start-up says: a sentence, and what to do about it.

Most are templates; a place in one is `{figure:kind}`, where the kind is a method of `Show`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from diagnose import units
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities.start_up import WATER_AT_MOST
from diagnose.quantities.weighing import weigh_in
from diagnose.report.charge import headline
from diagnose.report.doubts import filled
from diagnose.report.sentences import WAYS_TO_MEASURE, said
from diagnose.report.weighing import lacks_text
from diagnose.report.wording import name_of, number, plain_show, upper_first
from diagnose.visit.reason import Figures


class Show:
    """The figures of an item in the units that the diagnosis is told in."""

    def __init__(self, d: Diagnosis, figures: Figures) -> None:
        self.d, self.system, self.figures = d, d.system, figures
        self.gauge = plain_show(d.visit, d.system)

    def filled(self, template: str) -> str:
        """A template with the figures in its places, each by the method behind its colon."""
        return filled(template, self.figures, lambda value, kind: str(getattr(self, kind)(value)))

    def pressure(self, value: float) -> str:
        """Pa absolute, as a gauge shows it."""
        return self.gauge(value, "pressure")

    def difference(self, value: float) -> str:
        """Of two pressures, Pa."""
        return f"{value / units.PSI:.1f} psi" if self.system == "us" else f"{value / 1e3:.0f} kPa"

    def gap(self, value: float) -> str:
        """A difference of pressures and its limit of error."""
        error = self.figures["error"]
        scale, unit, places = (units.PSI, "psi", 1) if self.system == "us" else (1e3, "kPa", 0)
        shown = f"{value / scale:.{places}f}".replace("-", "−")
        return f"{shown.removeprefix('−') if not shown.strip('−0.') else shown} ± {error / scale:.{places}f} {unit}"

    def vacuum(self, value: float) -> str:
        """Pa absolute."""
        microns = f"{value / units.MICRON:,.0f} microns"
        return microns if self.system == "us" else f"{value:,.0f} Pa ({microns})"

    def rate(self, value: float) -> str:
        """Of a vacuum, Pa/s."""
        microns = f"{value / units.MICRON * 60:,.0f} microns"
        return f"{microns} a minute" if self.system == "us" else f"{value * 60:,.1f} Pa ({microns}) a minute"

    def climbing(self, value: float) -> str:
        """How a vacuum climbs that came to this, Pa."""
        return "without slowing down" if value <= WATER_AT_MOST else "higher than water could"

    def temperature(self, value: float) -> str:
        """K."""
        return number(value, "temperature", self.system)

    def warmer(self, value: float) -> str:
        """A difference of temperatures, K."""
        return number(value, "difference", self.system)

    def time(self, value: float) -> str:
        """s; hours where it is long."""
        if value >= 7200:
            return f"{value / 3600:.3g} hours"
        return f"{value / 60:.3g} minute{'s' if value != 60 else ''}"

    def flow(self, value: float) -> str:
        """m³/s."""
        return units.show(value, "airflow", units.unit_for("airflow", self.system))

    def flow_error(self, value: float) -> str:
        """A bare limit of error in the same unit."""
        return f"{units.from_si(value, units.unit_for('airflow', self.system), 'airflow'):,.0f}"

    def duct(self, value: float) -> str:
        """Pa."""
        return number(value, "small pressure", self.system)

    def length(self, value: float) -> str:
        """m: a distance."""
        return units.show(
            value, "length", "ft" if self.system == "us" else "m", decimals=0 if self.system == "us" else 1
        )

    def size(self, value: float) -> str:
        """m: a tube."""
        sixteenths = round(value / units.INCH * 16)
        fraction = units.show(sixteenths / 16 * units.INCH, "length", "in")
        return fraction if self.system == "us" else f"{value * 1e3:.1f} mm"

    def mass(self, value: float) -> str:
        """kg."""
        return units.show(abs(value), "mass", "lb" if self.system == "us" else "kg")


ItemSentence = Callable[[Show, Figures], str]


def item_text(text: ItemSentence | str, d: Diagnosis, figures: Figures) -> str:
    """What a sentence or an instruction says with these figures."""
    show = Show(d, figures)
    return show.filled(text) if isinstance(text, str) else text(show, figures)


def _lines(s: Show, f: Figures) -> str:
    has, parts = f["has"], []
    if "length" in has:
        parts.append(f"{s.length(has['length'])} long")
    if "lift" in has:
        parts.append(f"{s.length(has['lift'])} of lift")
    parts += [f"{name} {s.size(has[name])}" for name in ("liquid line", "suction line") if name in has]
    parts += [f"{name} {look}" for name, look in f["looks"].items()]
    return f"{upper_first(', '.join(parts))}." if parts else ""


def _column(s: Show, f: Figures) -> str:
    if not f.get("column", 0.0):
        return ""
    lost = f", {s.warmer(f['column_subcooling'])} of subcooling" if "column_subcooling" in f else ""
    return f" The rise costs the liquid {s.difference(f['column'])}{lost}."


def _lines_wrong(s: Show, f: Figures) -> str:
    has, allowed, told = f["has"], f["allowed"], []
    for name in f["wrong"]:
        if name in ("length", "lift"):
            told.append(f"{name} {s.length(has[name])}, and the maker allows {s.length(allowed[name])}")
        elif name in has:
            told.append(f"{name} {s.size(has[name])}, and the maker asks for {s.size(allowed[name])}")
        else:
            told.append(f"{name} {f['looks'][name]}")
    return f"{upper_first('; '.join(told))}."


def _holds(s: Show, f: Figures) -> str:
    return (
        f"Holds: {s.pressure(f['end pressure'])} after {s.time(f['held'])}, {s.pressure(f['expected'])} expected"
        f"{_at(s, f)}; lost {s.gap(f['lost'])}."
    )


def _at(s: Show, f: Figures) -> str:
    return f" at {s.temperature(f['end temperature'])}" if f.get("temperatures") else ""


def _leaks(s: Show, f: Figures) -> str:
    rate = f", {s.difference(f['lost'] / f['held'] * 3600)} an hour" if f.get("held") else ""
    unread = "" if f["temperatures"] else f", more than {s.warmer(f['unknown'])} of cooling would explain"
    return (
        f"Leaks: {s.pressure(f['end pressure'])} where {s.pressure(f['expected'])} is expected{_at(s, f)}; lost "
        f"{s.gap(f['lost'])}{rate}{unread}."
    )


def _flow(s: Show, f: Figures) -> str:
    text = f"{s.flow(f['flow'])} ± {s.flow_error(f['error'])} {WAYS_TO_MEASURE[f['best']]}"
    if "wanted" in f:
        of = "the maker states" if f["rated"] else "the usual for this capacity is"
        text += f"; {of} {s.flow(f['wanted'])}, within {100 * f['share']:.0f} %"
    return f"{text}."


def _static(s: Show, f: Figures) -> str:
    text = f"{s.duct(f['judged'])}{'' if f['measured'] is not None else ' in all its parts'}"
    return f"{text} of {s.duct(f['allowed'])} allowed." if "allowed" in f else f"{text}."


def _static_parts(s: Show, f: Figures) -> str:
    if not f["parts"]:
        return ""
    told = ", ".join(f"{name} {s.duct(value)}" for name, value in sorted(f["parts"].items(), key=lambda part: -part[1]))
    gap = (
        f"; {s.duct(abs(f['unexplained']))} {'more' if f['unexplained'] > 0 else 'less'} was measured"
        if "unexplained" in f
        else ""
    )
    return f"Of it {told}; together {s.duct(f['sum'])}{gap}."


def _most_used(s: Show, f: Figures) -> str:
    if not f["parts"]:
        return "Measure filter, coil, supply and return side one by one, and free what takes most."
    name = max(f["parts"], key=lambda part: f["parts"][part])
    return (
        f"Most goes into the {name}: begin there (a larger filter, open grilles, more return air), then measure the airflow "
        "again."
    )


def _charge(s: Show, f: Figures) -> str:
    sign = "less" if f["lines"] < 0 else "more"
    return (
        f"Holds {s.mass(f['held'])}; worked out {s.mass(f['wanted'])}, of which the line set takes {s.mass(f['lines'])} {sign} "
        "than the factory charge covers."
    )


def _off(s: Show, f: Figures) -> str:
    side = "too much" if f["off"] > 0 else "too little"
    return f"{s.mass(f['off'])} {side}, where {s.mass(f['least'])} to {s.mass(f['most'])} would do. {_charge(s, f)}"


def _charge_lacks(s: Show, f: Figures) -> str:
    way = "in all" if f["whole"] else "added" if f["put"] >= 0 else "taken out"
    return f"{s.mass(f['put'])} {way}; not known: {lacks_text(weigh_in(s.d.visit.machine))}."


def _running(s: Show, f: Figures) -> str:
    d = s.d
    charge = "no charge verdict" if d.charge.verdict == "do not judge" else f"charge {headline(d)}"
    return f"Most likely {name_of(f['fault'], d.rules)} ({f['strength']} evidence); {charge}."


def _running_unsure(s: Show, f: Figures) -> str:
    return f"Most likely {name_of(f['fault'], s.d.rules)} ({f['strength']} evidence); charge verdict {f['verdict']}."


def _next(s: Show, f: Figures) -> str:
    return next((f"Next: {check.ask}" for check in next_checks(s.d)), "")


_LEAK = (
    "Bubble solution on every joint, flare, valve core and coil end; let the nitrogen off before a joint is touched, then "
    "test again."
)
_WATER = (
    "Break the vacuum with dry nitrogen, let it stand, and evacuate again with fresh pump oil; warm cold parts. Then watch it "
    "again."
)
_OFF = "Valve the pump off at the machine, gauge on the machine’s side, hoses short and cores out, and watch again."

SENTENCES: Mapping[str, tuple[ItemSentence | str, ItemSentence | str]] = {
    "left-out": ("", ""),
    "line-set-right": (lambda s, f: _lines(s, f) + _column(s, f), ""),
    "line-set-wrong": (_lines_wrong, "Lay it as the maker asks, or ask the maker before the machine runs."),
    "line-set-not-all-known": (
        lambda s, f: f"{_lines(s, f)}{_column(s, f)} Not known: {', '.join(_lacking(f['lacks']))}.".strip(),
        "Copy the maker’s limits for these lines: they are the maker’s business.",
    ),
    "test-gas-wrong": (
        "Done with {gas}.",
        lambda s, f: (
            "Let it off, and test with dry nitrogen."
            if f["gas"] != "refrigerant"
            else "Recover it: refrigerant is no test gas and may not be let off. Test with dry nitrogen."
        ),
    ),
    "test-pressure-above-plate": (
        "{pressure:pressure}, and the plate allows {allowed:pressure}.",
        "Let it off slowly, set the regulator lower, look over what was strained, and test again.",
    ),
    "test-bubbles": ("Bubbles at a joint: it leaks, whatever the gauge shows.", _LEAK),
    "test-one-pressure": (
        lambda s, f: f"Not written down: {' and '.join(f['lacks'])}.",
        "Write the pressure and the temperature of the lines at the start and at the end, and how long it stood.",
    ),
    "test-gas-unknown": (
        "The gas is not nitrogen: how it follows the temperature is not worked out here.",
        "Test with dry nitrogen.",
    ),
    "test-out-of-range": (
        "Outside what is worked out here (−28 to 152 °F or −33 to 67 °C, up to 870 psia or 60 bar).",
        "Look at the figures and their units.",
    ),
    "test-leaks": (_leaks, _LEAK),
    "test-rises": (
        lambda s, f: (
            f"{s.pressure(f['end pressure'])} is more than the {s.pressure(f['expected'])} expected{_at(s, f)}, by "
            f"{s.gap(-f['lost'])}."
        ),
        "A cylinder left open, a gauge off its zero or a thermometer in the sun does this: close the cylinder, and test again.",
    ),
    "test-too-coarse": (
        lambda s, f: (
            f"{'Lost' if f['lost'] >= 0 else 'Gained'} {s.gap(abs(f['lost']))}: with these instruments a loss of "
            f"{s.difference(f['shows'])} would not show{'' if f['temperatures'] else ', because nobody read the temperatures'}."
        ),
        lambda s, f: (
            "Read the temperature of the lines at the start and at the end."
            if not f["temperatures"]
            else "Use a finer gauge, and read both ends at the same temperature, out of the sun."
        ),
    ),
    "test-pressure-low": (
        "Nothing lost at {start pressure:pressure}, and that is too little to press a leak open.",
        lambda s, f: (
            f"Test at {s.pressure(f['enough'])} or more, as the maker asks, step by step, and never above the plate."
        ),
    ),
    "test-time-unknown": (
        "Nothing lost ({lost:gap}), but how long it stood is not noted.",
        "Write `held:` with it.",
    ),
    "test-too-short": (
        "Nothing lost ({lost:gap}) in {held:time}: too short to tell.",
        "Let it stand {least:time} at the least, and as long as the maker asks.",
    ),
    "test-holds": (_holds, ""),
    "vacuum-deep": ("{reached:vacuum} (at most {depth:vacuum}).", ""),
    "vacuum-shallow": (
        "{reached:vacuum}; it should be {depth:vacuum} or less when the pump is valved off.",
        "Go on pumping: fresh oil, short wide hoses, valve cores out. If it stays there, look for a leak or water.",
    ),
    "vacuum-holds": (
        "Holds: {end:vacuum} after {time:time} (at most {stays:vacuum}).",
        "",
    ),
    "vacuum-levels-off": (
        "Moisture: it rose to {end:vacuum} and levels off ({early:rate} first, {late:rate} at the end).",
        _WATER,
    ),
    "vacuum-climbs": (
        "Leak: it climbs {end:climbing}, to {end:vacuum} in {time:time} ({late:rate} at the end).",
        "Let in dry nitrogen, and find the leak under pressure: hoses and valve cores first.",
    ),
    "vacuum-rises": (
        "It rose to {end:vacuum} in {time:time}, over {stays:vacuum}; whether moisture or a leak, these points do not show.",
        "Keep watching, with a reading every few minutes: moisture levels off, a leak keeps climbing.",
    ),
    "vacuum-still-rising": (
        "{end:vacuum} after {time:time}, and still rising by {late:rate}.",
        "Keep watching, with a reading every few minutes, until it stands still or passes the limit.",
    ),
    "vacuum-falls": (
        "It fell, which no closed circuit’s can: the pump was not valved off, or the gauge wanders.",
        _OFF,
    ),
    "vacuum-one-point": (
        "One point alone, {start:vacuum}, shows how deep it is and not whether it holds.",
        "Valve the pump off, and write a reading every few minutes for {least:time} or more.",
    ),
    "vacuum-too-short": (
        "{end:vacuum} after {time:time}: too short to tell.",
        "Watch it for {least:time} or more.",
    ),
    "vacuum-not-deep": (
        "It was not deep enough to be watched.",
        "Pump down to {depth:vacuum} first.",
    ),
    "airflow-heat-incomplete": (
        lambda s, f: f"Airflow by heat lacks: {'; '.join(f['lacks'])}.",
        "Read it with the blower at cooling speed and the compressor off.",
    ),
    "airflow-no-rise": (
        "The air does not get warmer, or by no more than the thermometers err.",
        "Check that the elements are on and that the two temperatures did not change places.",
    ),
    "airflow-static-missing": (
        "The blower table needs the external static pressure.",
        "Measure it, and write `static: {{measured: …}}`.",
    ),
    "airflow-off-table": (
        "{static:duct} lies outside the table ({table[0]:duct} to {table[1]:duct}), and nothing is guessed beyond it.",
        "Type in the rows on both sides, or measure the airflow by heat.",
    ),
    "airflow-contradicts": (
        lambda s, f: (
            "; ".join(
                f"{s.flow(value)} ± {s.flow_error(error)} {WAYS_TO_MEASURE[name]}"
                for name, (value, error) in f["by"].items()
            )
            + ": they contradict each other."
        ),
        "Check the speed tap against the table’s column, and take the temperatures again.",
    ),
    "airflow-no-target": (_flow, "Write `rated airflow` or `nominal capacity` under `machine:` to compare it with."),
    "airflow-right": (_flow, ""),
    "airflow-low": (
        lambda s, f: f"Low: {_flow(s, f)}",
        "Filter, grilles, coil and blower wheel first, then a faster tap; the charge is judged after that.",
    ),
    "airflow-high": (
        lambda s, f: f"High: {_flow(s, f)}",
        "Set a slower tap: too much air carries water off the coil and dries little.",
    ),
    "airflow-near-limit": (
        lambda s, f: f"Near the limit: {_flow(s, f)}",
        "Measure again with finer instruments or in another way.",
    ),
    "static-within": (lambda s, f: f"{_static(s, f)} {_static_parts(s, f)}".strip(), ""),
    "static-over": (lambda s, f: f"Over: {_static(s, f)} {_static_parts(s, f)}".strip(), _most_used),
    "static-contradicts": (
        lambda s, f: f"The parts make {s.duct(f['sum'])}, more than what was measured in all: {_static(s, f)}",
        "One of them is wrong. Zero the manometer, and measure them again.",
    ),
    "static-near-limit": (
        lambda s, f: f"Just over, within the error of the manometer: {_static(s, f)}",
        "Zero the manometer and measure again.",
    ),
    "static-no-limit": (
        lambda s, f: f"{_static(s, f)} {_static_parts(s, f)} What the plate allows is not given.".replace("  ", " "),
        "Copy it from the plate; 0.5 inH2O (125 Pa) is usual.",
    ),
    "static-parts-missing": (
        lambda s, f: f"{_static(s, f)} {_static_parts(s, f)} Not measured: {', '.join(f['missing'])}.",
        "Measure the whole, supply plus return side, and write `measured`.",
    ),
    "charge-as-worked-out": (_charge, ""),
    "charge-otherwise": (_off, "Correct it by the scale, then let the running readings decide."),
    "charge-unknown": (_charge_lacks, "Write the factory charge, the refrigerant and the line set under `machine:`."),
    "running-right": (_running, ""),
    "running-wrong": (_running, _next),
    "running-unsure": (_running_unsure, _next),
    "running-held": (lambda s, f: said(s.d, f["because"]), ""),
    "customer-told": (lambda s, f: f"{'; '.join(f['told']).rstrip('.')}.", ""),
}
"""By code: what was found, and what to do about it; a template, or a function where the figures decide what is said."""


def _lacking(names: tuple[str, ...]) -> Iterator[str]:
    for name in names:
        yield f"{name} or its limit" if name in ("length", "lift") else name
