"""A start-up in words: a sentence for every item, what to do where it failed, the list on one screen, and with all figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from diagnose import units
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.start_up import Item, ItemName
from diagnose.report.blocks import Block, brief, deeper, heading, item, line
from diagnose.report.charge import headline
from diagnose.report.dangers import opening
from diagnose.report.layout import WIDTH, as_text
from diagnose.report.sentences import said
from diagnose.report.wording import cite, lower_first, name_of, number, plain_show, upper_first


LINES = 24
NITROGEN = (
    "nitrogen only through a regulator with a relief valve, never oxygen or air, never above the plate’s test pressure; "
    "lock out and verify zero voltage before a panel is opened"
)
_MARKS = {"failed": "FAILED", "cannot be told": "?", "done": "ok", "left out": "-"}
_LEADS = {"failed": "Failed,", "cannot be told": "Cannot be told,", "done": "Done,"}
TITLES: Mapping[ItemName, str] = {"charge by weight": "charge by weight", "customer": "the customer"}
Figures = Mapping[str, Any]
Told = Callable[["_Show", Figures], str]


def title(name: ItemName) -> str:
    """What an item is called."""
    return TITLES.get(name, name)


class _Show:
    """Figures in the units that the diagnosis is told in."""

    def __init__(self, d: Diagnosis) -> None:
        self.d, self.system = d, d.system
        self.gauge = plain_show(d.visit.machine, d.system)

    def pressure(self, value: float) -> str:
        """Pa absolute, as a gauge shows it."""
        return self.gauge(value, "pressure")

    def difference(self, value: float) -> str:
        """Of two pressures, Pa."""
        return f"{value / units.PSI:.1f} psi" if self.system == "us" else f"{value / 1e3:.0f} kPa"

    def gap(self, value: float, error: float) -> str:
        """A difference of pressures and its limit of error."""
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
        minutes = value / 60
        return f"{minutes:.3g} minute{'s' if minutes != 1 else ''}"

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
        return units.show(value, "length", "ft" if self.system == "us" else "m", decimals=0 if self.system == "us" else 1)

    def size(self, value: float) -> str:
        """m: a tube."""
        sixteenths = round(value / units.INCH * 16)
        fraction = units.show(sixteenths / 16 * units.INCH, "length", "in")
        return fraction if self.system == "us" else f"{value * 1e3:.1f} mm"

    def mass(self, value: float) -> str:
        """kg."""
        return units.show(abs(value), "mass", "lb" if self.system == "us" else "kg")


# -- what every code says: a sentence, and what to do ------------------------------------------------------------------


def _lines(s: _Show, f: Figures) -> str:
    has, parts = f["has"], []
    if "length" in has:
        parts.append(f"{s.length(has['length'])} long")
    if "lift" in has:
        parts.append(f"{s.length(has['lift'])} of lift")
    parts += [f"{name} {s.size(has[name])}" for name in ("liquid line", "suction line") if name in has]
    parts += [f"{name} {look}" for name, look in f["looks"].items()]
    return f"{upper_first(', '.join(parts))}." if parts else ""


def _column(s: _Show, f: Figures) -> str:
    if not f.get("column", 0.0):
        return ""
    lost = f", {s.warmer(f['column_subcooling'])} of subcooling" if "column_subcooling" in f else ""
    return f" Where the indoor unit is the higher one the column of liquid takes {s.difference(f['column'])}{lost}."


def _lines_wrong(s: _Show, f: Figures) -> str:
    has, allowed, told = f["has"], f["allowed"], []
    for name in f["wrong"]:
        if name in ("length", "lift"):
            told.append(f"{name} {s.length(has[name])}, and the maker allows {s.length(allowed[name])}")
        elif name in has:
            told.append(f"{name} {s.size(has[name])}, and the maker asks for {s.size(allowed[name])}")
        else:
            told.append(f"{name} {f['looks'][name]}")
    return f"{upper_first('; '.join(told))}."


def _holds(s: _Show, f: Figures) -> str:
    return (
        f"Holds: {s.pressure(f['end pressure'])} after {s.time(f['held'])}, {s.pressure(f['expected'])} expected"
        f"{_at(s, f)}; lost {s.gap(f['lost'], f['error'])}."
    )


def _at(s: _Show, f: Figures) -> str:
    return f" at {s.temperature(f['end temperature'])}" if f.get("temperatures") else ""


def _leaks(s: _Show, f: Figures) -> str:
    rate = f", {s.difference(f['lost'] / f['held'] * 3600)} an hour" if f.get("held") else ""
    unread = "" if f["temperatures"] else f", more than {s.warmer(f['unknown'])} of cooling would explain"
    return (
        f"Leaks: {s.pressure(f['end pressure'])} where {s.pressure(f['expected'])} is expected{_at(s, f)}; lost "
        f"{s.gap(f['lost'], f['error'])}{rate}{unread}."
    )


def _no_heat_data(s: _Show, f: Figures) -> str:
    return "Airflow by heat needs the power (or volts and amps) and the air before and behind the heater."


def _flow(s: _Show, f: Figures) -> str:
    way = {"heat": "by electric heat", "table": "by the blower table", "meter": "by the meter"}[f["best"]]
    text = f"{s.flow(f['flow'])} ± {s.flow_error(f['error'])} {way}"
    if "wanted" in f:
        of = "the maker states" if f["rated"] else "the usual for this capacity is"
        text += f"; {of} {s.flow(f['wanted'])}, within {100 * f['share']:.0f} %"
    return f"{text}."


def _static(s: _Show, f: Figures) -> str:
    text = f"{s.duct(f['judged'])}{'' if f['measured'] is not None else ' in all its parts'}"
    return f"{text} of {s.duct(f['allowed'])} allowed." if "allowed" in f else f"{text}."


def _static_parts(s: _Show, f: Figures) -> str:
    if not f["parts"]:
        return ""
    told = ", ".join(f"{name} {s.duct(value)}" for name, value in sorted(f["parts"].items(), key=lambda part: -part[1]))
    gap = f"; {s.duct(abs(f['unexplained']))} {'more' if f['unexplained'] > 0 else 'less'} was measured" if "unexplained" in f else ""
    return f"Of it {told}; together {s.duct(f['sum'])}{gap}."


def _most_used(s: _Show, f: Figures) -> str:
    if not f["parts"]:
        return "Measure filter, coil, supply and return side one by one, and free what takes most; or slow the blower only as far as the airflow allows."
    name = max(f["parts"], key=lambda part: f["parts"][part])
    return f"Most goes into the {name}: begin there (a larger filter, open grilles, more return air), then measure the airflow again."


def _charge(s: _Show, f: Figures) -> str:
    sign = "less" if f["lines"] < 0 else "more"
    return (
        f"Holds {s.mass(f['held'])}; worked out {s.mass(f['wanted'])}, of which the line set takes {s.mass(f['lines'])} {sign} "
        "than the factory charge covers."
    )


def _off(s: _Show, f: Figures) -> str:
    return f"{s.mass(f['off'])} {'too much' if f['off'] > 0 else 'too little'}, beyond ± {s.mass(f['within'] + f['error'])}. {_charge(s, f)}"


def _charge_lacks(s: _Show, f: Figures) -> str:
    return f"{s.mass(f['put'])} {'in all' if f['whole'] else 'added' if f['put'] >= 0 else 'taken out'}; not known: {' and '.join(f['lacks'])}."


def _running(s: _Show, f: Figures) -> str:
    d = s.d
    return f"Most likely {name_of(f['fault'], d.rules)} ({f['strength']} evidence); charge {headline(d)}."


def _running_unsure(s: _Show, f: Figures) -> str:
    return f"Most likely {name_of(f['fault'], s.d.rules)} ({f['strength']} evidence); charge verdict {f['verdict']}."


def _next(s: _Show, f: Figures) -> str:
    return next((f"Next: {check.ask}" for check in next_checks(s.d)), "")


_LEAK = (
    "Bubble solution on every joint, flare, valve core and coil end; let the nitrogen off before a joint is touched, then "
    "test again."
)
_WATER = "Break the vacuum with dry nitrogen, let it stand, evacuate again with fresh pump oil; warm cold parts. Then watch it again."
_OFF = "Valve the pump off at the machine, gauge on the machine’s side, hoses short and cores out, and watch again."

SENTENCES: Mapping[str, tuple[Told | str, Told | str]] = {
    "left-out": ("", ""),
    "line-set-right": (lambda s, f: _lines(s, f) + _column(s, f), ""),
    "line-set-wrong": (_lines_wrong, "Lay it as the maker asks, or ask the maker before the machine runs."),
    "line-set-not-all-known": (
        lambda s, f: f"{_lines(s, f)}{_column(s, f)} Not known: {', '.join(_lacking(f['lacks']))}.".strip(),
        "Copy the maker’s limits for these lines: they are the maker’s business.",
    ),
    "test-gas-wrong": (
        lambda s, f: f"Done with {f['gas']}.",
        lambda s, f: "Let it off, and test with dry nitrogen."
        if f["gas"] != "refrigerant"
        else "Recover it: refrigerant is no test gas and may not be let off. Test with dry nitrogen.",
    ),
    "test-pressure-above-plate": (
        lambda s, f: f"{s.pressure(f['pressure'])}, and the plate allows {s.pressure(f['allowed'])}.",
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
        "The temperatures or pressures lie outside what is worked out here (−28 to 152 °F or −33 to 67 °C, 870 psia or 60 bar).",
        "Look at the figures and their units.",
    ),
    "test-leaks": (_leaks, _LEAK),
    "test-rises": (
        lambda s, f: f"{s.pressure(f['end pressure'])} is more than the {s.pressure(f['expected'])} expected{_at(s, f)}, by "
        f"{s.gap(-f['lost'], f['error'])}.",
        "A cylinder left open, a gauge off its zero or a thermometer in the sun does this: close the cylinder, and test again.",
    ),
    "test-too-coarse": (
        lambda s, f: f"Lost {s.gap(f['lost'], f['error'])}: with these instruments a loss of {s.difference(f['shows'])} would not "
        f"show{'' if f['temperatures'] else ', for nobody read the temperatures'}.",
        lambda s, f: "Read the temperature of the lines at the start and at the end."
        if not f["temperatures"]
        else "Use a finer gauge, and read both ends at the same temperature, out of the sun.",
    ),
    "test-time-unknown": (
        lambda s, f: f"Nothing lost ({s.gap(f['lost'], f['error'])}), but how long it stood is not noted.",
        "Write `held:` with it.",
    ),
    "test-too-short": (
        lambda s, f: f"Nothing lost ({s.gap(f['lost'], f['error'])}) in {s.time(f['held'])}: too short to tell.",
        lambda s, f: f"Let it stand {s.time(f['least'])} at the least, and as long as the maker asks.",
    ),
    "test-holds": (_holds, ""),
    "vacuum-deep": (lambda s, f: f"{s.vacuum(f['reached'])} (at most {s.vacuum(f['depth'])}).", ""),
    "vacuum-shallow": (
        lambda s, f: f"{s.vacuum(f['reached'])}; it should be {s.vacuum(f['depth'])} or less when the pump is valved off.",
        "Go on pumping: fresh oil, short wide hoses, valve cores out. If it stays there, look for a leak or water.",
    ),
    "vacuum-holds": (lambda s, f: f"Holds: {s.vacuum(f['end'])} after {s.time(f['time'])} (at most {s.vacuum(f['stays'])}).", ""),
    "vacuum-levels-off": (
        lambda s, f: f"Moisture: it rose to {s.vacuum(f['end'])} and levels off ({s.rate(f['early'])} first, {s.rate(f['late'])} "
        "at the end).",
        _WATER,
    ),
    "vacuum-climbs": (
        lambda s, f: f"Leak: it climbs without slowing down, to {s.vacuum(f['end'])} in {s.time(f['time'])} "
        f"({s.rate(f['late'])} at the end).",
        "Let in dry nitrogen, and find the leak under pressure: hoses and valve cores first.",
    ),
    "vacuum-rises": (
        lambda s, f: f"It rose to {s.vacuum(f['end'])} in {s.time(f['time'])}, over {s.vacuum(f['stays'])}; whether moisture or a "
        "leak, these points do not show.",
        "Watch on, a reading every few minutes: moisture levels off, a leak climbs on.",
    ),
    "vacuum-still-rising": (
        lambda s, f: f"{s.vacuum(f['end'])} after {s.time(f['time'])}, and still rising by {s.rate(f['late'])}.",
        "Watch on, a reading every few minutes, until it stands or passes the limit.",
    ),
    "vacuum-falls": ("It fell with the pump off, and a closed circuit’s cannot: the pump was not valved off, or the gauge wanders.", _OFF),
    "vacuum-one-point": (
        lambda s, f: f"One point alone, {s.vacuum(f['start'])}, shows how deep it is and not whether it holds.",
        lambda s, f: f"Valve the pump off, and write a reading every few minutes for {s.time(f['least'])} or more.",
    ),
    "vacuum-too-short": (
        lambda s, f: f"{s.vacuum(f['end'])} after {s.time(f['time'])}: too short to tell.",
        lambda s, f: f"Watch it for {s.time(f['least'])} or more.",
    ),
    "vacuum-not-deep": ("It was not deep enough to be watched.", lambda s, f: f"Pump down to {s.vacuum(f['depth'])} first."),
    "airflow-heat-incomplete": (_no_heat_data, "Read what is missing with the blower at cooling speed and the compressor off."),
    "airflow-no-rise": (
        "The air does not get warmer, or by no more than the thermometers err.",
        "See that the elements are on and that the two temperatures did not change places.",
    ),
    "airflow-static-missing": ("The blower table needs the external static pressure.", "Measure it, and write `static: {measured: …}`."),
    "airflow-off-table": (
        lambda s, f: f"{s.duct(f['static'])} lies outside the table ({s.duct(f['table'][0])} to {s.duct(f['table'][1])}), and "
        "nothing is guessed beyond it.",
        "Type in the rows on both sides, or measure the airflow by heat.",
    ),
    "airflow-contradicts": (
        lambda s, f: "By "
        + ", by ".join(f"{_WAYS[name]} {s.flow(value)} ± {s.flow_error(error)}" for name, (value, error) in f["by"].items())
        + ": they contradict each other.",
        "Check the speed tap against the table’s column, and take the temperatures again.",
    ),
    "airflow-no-target": (_flow, "Write `rated airflow` or `nominal capacity` under `machine:` to compare it with."),
    "airflow-right": (_flow, ""),
    "airflow-low": (
        lambda s, f: f"Low: {_flow(s, f)}",
        "Filter, grilles, coil and blower wheel first, then a faster tap; the charge is judged after that.",
    ),
    "airflow-high": (lambda s, f: f"High: {_flow(s, f)}", "Set a slower tap: too much air carries water off the coil and dries little."),
    "airflow-near-limit": (
        lambda s, f: f"Near the limit: {_flow(s, f)}",
        "Measure again with finer instruments or in another way.",
    ),
    "static-within": (lambda s, f: f"{_static(s, f)} {_static_parts(s, f)}".strip(), ""),
    "static-over": (lambda s, f: f"Over: {_static(s, f)} {_static_parts(s, f)}".strip(), _most_used),
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
}  # fmt: skip
"""By code: what was found, and what to do about it."""
_WAYS = {"heat": "heat", "table": "the table", "meter": "the meter"}

# Where each item's limits stand: figures of judgement.yaml, and sources beside them.
_LIMITS: Mapping[ItemName, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "line set": ((), ("common-practice",)),
    "pressure test": (("least held", "shows", "gas temperature"), ("virial-nitrogen",)),
    "evacuation": (("depth",), ()),
    "decay test": (("decay", "stays", "levels"), ()),
    "airflow": (("airflow",), ("ashrae-fundamentals-2017",)),
    "static pressure": ((), ("rating-plate",)),
    "charge by weight": (("weighed",), ("rating-plate", "astm-b280", "coolprop-8")),
    "running readings": ((), ("ra3-2008",)),
    "customer": ((), ("common-practice",)),
}


def _lacking(names: tuple[str, ...]) -> Iterator[str]:
    for name in names:
        yield f"{name} or its limit" if name in ("length", "lift") else name


def found_text(d: Diagnosis, one: Item) -> str:
    """What was found, in a sentence or two; empty where it was left out."""
    return _of(SENTENCES[one.code][0], d, one)


def to_do(d: Diagnosis, one: Item) -> str:
    """What to do about it; empty where nothing is."""
    return _of(SENTENCES[one.code][1], d, one)


def _of(text: Told | str, d: Diagnosis, one: Item) -> str:
    return text if isinstance(text, str) else text(_Show(d), one.figures)


def source_of(d: Diagnosis, one: Item) -> str:
    """Where the limits of an item come from, in words."""
    figures, sources = _LIMITS[one.item]
    own = [d.rules.figures[f"start up/{each}"].source for each in figures]
    return "; ".join(dict.fromkeys(cite(each, d.rules) for each in (*own, *sources)))


# -- pages -------------------------------------------------------------------------------------------------------------


def summary(d: Diagnosis) -> str:
    """`Start-up: 6 of 9 done, 1 failed, 2 left out.`"""
    assert d.start_up is not None
    counts = [f"{len(d.start_up.having('done'))} of {len(d.start_up.items)} done"]
    counts += [f"{len(those)} {word}" for word in ("failed", "cannot be told", "left out") if (those := d.start_up.having(word))]  # type: ignore[arg-type]
    return f"Start-up: {', '.join(counts)}."


def baseline_text(d: Diagnosis) -> str:
    """Whether the readings of this day are worth keeping as the machine's good day."""
    assert d.start_up is not None
    if d.start_up.keeps:
        return "found right: keep this file, and name it as `baseline:` in later visits to this machine."
    failed = [title(one.item) for one in d.start_up.having("failed")]
    if failed:
        return f"not yet: {', '.join(failed)} must come right first."
    return "not yet: no running readings were found right."


def start_up_screen(d: Diagnosis, more: str) -> list[Block]:
    """The whole start-up in 24 lines: dangers, what failed, what cannot be told, what is done, what was left out.

    Where it would be too long, what is done gives way first, and then what to do, which stands on the full page.
    """
    for done, doing, cut in ((150, True, 0), (72, True, 0), (0, True, 0), (0, True, 160), (0, False, 110), (0, False, 74)):
        blocks = list(_screen(d, more, done, doing, cut))
        if len(as_text(blocks, WIDTH).splitlines()) <= LINES:
            break
    return blocks


def _screen(d: Diagnosis, more: str, done: int, doing: bool, cut: int) -> Iterator[Block]:
    """done, cut: characters of what is done, and of the rest; 0: it is only named, and all of it."""
    assert d.start_up is not None
    yield from opening(d, summary(d))
    for status in ("failed", "cannot be told"):
        for one in d.start_up.having(status):  # type: ignore[arg-type]
            text = f"{found_text(d, one)} {to_do(d, one) if doing else ''}".strip()
            yield brief(f"{_LEADS[status]} {title(one.item)}:", _cut(text, cut))
    right = d.start_up.having("done")
    if done:
        yield from (_brief_of(f"Done, {title(one.item)}:", found_text(d, one), done) for one in right)
    elif right:
        yield brief("Done:", f"{'; '.join(title(one.item) for one in right)}.")
    if out := d.start_up.having("left out"):
        yield brief("Left out:", f"{'; '.join(title(one.item) for one in out)}.")
    yield brief("As a baseline:", baseline_text(d))
    burns = any("flammable" in danger.code for danger in d.dangers)
    yield brief("Care:", f"{NITROGEN}{'; no flame or spark, ventilate' if burns else ''}.")
    yield brief("More:", more)


def _brief_of(lead: str, text: str, most: int) -> Block:
    """Its first sentence where all of it would be too long."""
    first = text.partition(". ")[0].removesuffix(".") + "."
    return brief(lead, text if len(text) <= most else _cut(first, max(most - len(lead), 20)))


def _cut(text: str, most: int) -> str:
    if not most or len(text) <= most:
        return text
    return f"{text[:most].rsplit(' ', 1)[0]} …"


def start_up_blocks(d: Diagnosis) -> Iterator[Block]:
    """Every item with what was found, what to do and where its limits come from; nothing where the visit is no start-up."""
    if d.start_up is None:
        return
    yield heading("The start-up, step by step")
    for one in d.start_up.items:
        found = found_text(d, one)
        yield item(f"{upper_first(title(one.item))}: {one.status}. {found}".strip(), _MARKS[one.status])
        if one.status == "left out":
            continue
        if (doing := to_do(d, one)) and one.status != "done":
            yield deeper(doing)
        yield deeper(f"Source: {source_of(d, one)}.")
    yield line(f"As a baseline: {baseline_text(d)}")
    yield line(f"Take care: {lower_first(NITROGEN)}.")


def start_up_list(d: Diagnosis) -> list[dict[str, Any]] | None:
    """The items for JSON, figures in SI; None where the visit is no start-up."""
    if d.start_up is None:
        return None
    return [
        {
            "item": one.item,
            "status": one.status,
            "code": one.code,
            "figures": {name: _plain(value) for name, value in one.figures.items()},
            "text": f"{found_text(d, one)} {to_do(d, one) if one.status != 'done' else ''}".strip(),
            "source": source_of(d, one),
        }
        for one in d.start_up.items
    ]


def _plain(value: Any) -> Any:
    """Ready for JSON: six significant digits, names as lists."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, Mapping):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return getattr(value, "code", value)


