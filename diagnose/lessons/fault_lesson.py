"""One fault as it is taught, from its file: the path, the readings, an example, look-alikes, proof, repair, questions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from diagnose.lessons import story
from diagnose.lessons.example import DEVICES, Example, example
from diagnose.lessons.figures import BothSystems
from diagnose.lessons.what_if import presets
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.report.blocks import Block, deeper, heading, item, line, subheading
from diagnose.report.evidence import points_text
from diagnose.report.wording import cite, counted, lower_first, name_of, spoken_by, step_text, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import FaultEntry, InHeating, Lesson, Moving
from diagnose.rulebook.facts import in_order
from diagnose.visit import COOLING, HEATING, System
from diagnose.workshop.showing import when_text

MARKS = {"up": "↑", "down": "↓", "stays": "=", "stays then up": "↗", "stays then down": "↘", "either": "?"}
_MOVES = {
    "up": "rises",
    "down": "falls",
    "stays": "stays",
    "stays then up": "stays at first, then rises",
    "stays then down": "stays at first, then falls",
    "either": "may rise or fall",
}
# What the example shows, in this order.
SHOWN = (
    "suction pressure", "liquid pressure", "evaporating temperature", "condensing temperature", "superheat", "subcooling",
    "condensing over ambient", "evaporator temperature difference", "air temperature split", "liquid line approach",
    "liquid line drop", "compression ratio", "discharge line temperature", "current ratio", "condenser air rise",
    "standing pressure excess", "cooling capacity",
)  # fmt: skip
_RATIOS = {"compressor current": "current ratio"}
SMALL = "At the size of the example below that is less than the instruments’ error."
A_LITTLE = 0.25  # of its error, from which a change is called a little up or down


def fault_page(fault: str, rules: Rulebook, system: System = "us", both: bool = True) -> list[Block]:
    """The lesson of one fault of the rule book. both: the other system of units stands beside the first."""
    entry, f = rules.faults[fault], BothSystems(system, both)
    lesson = entry.lesson
    examples = [found for device in DEVICES if (found := example(fault, device, rules, system)) is not None]
    return [
        Block("answer", f"Lesson: {entry.name}"),
        line(entry.what),
        *_unwritten(entry, rules),
        *_predict(fault),
        *(_story(lesson, " in cooling" if entry.in_heating else "") if lesson else ()),
        *_drawn(examples),
        *(_readings(lesson, entry, examples) if lesson else ()),
        *_example(fault, examples, f),
        *_alike(entry, rules),
        *(_heating(entry.in_heating, rules) if entry.in_heating else ()),
        *(_confirm(lesson, fault, rules) if lesson else ()),
        *_rules(fault, rules),
        *_repair(entry),
        *_dangers(rules),
        *(story.questions([(q.ask, q.answer) for q in lesson.questions]) if lesson else ()),
        *_sources(fault, entry, rules),
        Block("foot", f"Rule book: {rules.name}."),
    ]


def _unwritten(entry: FaultEntry, rules: Rulebook) -> Iterator[Block]:
    if entry.fault in rules.added:
        yield line(f"This fault is from the folder {rules.added[entry.fault]}.")
    if entry.lesson is None:
        yield line(
            f"Nobody has written its lesson yet. It belongs in faults/{entry.fault}.yaml, under `lesson:`; the shipped "
            "faults show how. What follows is put together from its rules."
        )


def _predict(fault: str) -> Iterator[Block]:
    """Where this lesson's own machine can be turned to the fault, before its figures are read."""
    if places := [f"#what-if/{fault}/{device.replace(' ', '%20')}" for device in presets().get(fault, ())]:
        yield line(
            "Predict before you read on: which way do superheat, subcooling and the two saturation temperatures go? Then try "
            f"it: the phone page turns the machine of this lesson if you add {' or '.join(places)} to its address."
        )


def _story(lesson: Lesson, mode: str) -> Iterator[Block]:
    yield heading("What happens inside the machine")
    yield line(f"Along the refrigerant’s path{mode}, from the place where the fault begins.")
    yield from story.path(lesson)


def _drawn(examples: Sequence[Example]) -> Iterator[Block]:
    drawn = [(one, list(story.side_by_side(one.faulty, one.right))) for one in examples]
    if any(blocks for _, blocks in drawn):
        yield heading("The cycle with the fault and without it")
    for one, blocks in drawn:
        if blocks:
            yield subheading(f"{_device(one.metering)}: {one.what}")
            yield from blocks


def _device(metering: str) -> str:
    return "Fixed orifice" if metering == "fixed orifice" else "Expansion valve"


# -- the readings ------------------------------------------------------------------------------------------------------


def _readings(lesson: Lesson, entry: FaultEntry, examples: Sequence[Example]) -> Iterator[Block]:
    yield heading("Which readings move, and why")
    only = dict(entry.applies).get("mode") == frozenset({HEATING})
    does = ", while it heats" if only else ", while it cools" if entry.in_heating else ""
    yield line(f"Compared with the same machine without the fault, in the same weather{does}.")
    for moving in lesson.readings:
        small = f" {SMALL}" if any(_unread(moving, one) for one in examples) else ""
        yield item(f"{moving.why}{small}", MARKS[moving.moves], f"{_said(moving, entry)}.")


def _unread(moving: Moving, one: Example) -> bool:
    """Whether the example moves it, but by less than its instruments show."""
    known = _RATIOS.get(moving.quantity, moving.quantity)
    before, after = one.right.estimates.get(known), one.faulty.estimates.get(known)
    on = dict(moving.applies)
    if moving.moves not in ("up", "down") or before is None or after is None:
        return False
    if one.metering not in on.get("metering", {one.metering}) or COOLING not in on.get("mode", {COOLING}):
        return False
    return way(before, after) not in ("rises", "falls")


def _said(moving: Moving, entry: FaultEntry) -> str:
    """`Superheat rises (fixed orifice)`; without what the fault itself is only met on."""
    own = tuple(fact for fact in moving.applies if fact not in entry.applies)
    on = "; ".join(_only(name, words) for name, words in in_order(own).items())
    name = upper_first(moving.quantity)
    return f"{name} {_MOVES[moving.moves]}{f' ({on})' if on else ''}"


def _only(name: str, words: Sequence[str]) -> str:
    if name == "metering" and set(words) == {"TXV", "EEV"}:
        return "expansion valve"
    return " or ".join(words)


def _example(fault: str, examples: Sequence[Example], f: BothSystems) -> Iterator[Block]:
    if not examples:
        return
    yield heading("An example in figures")
    yield line(
        "One machine, 3 ton (10.6 kW) of R-410A, SEER 14, worked out by this program’s simulator of a split system: 82 °F "
        "(27.8 °C) outdoors, return air 76 °F (24.4 °C) with a wet bulb of 63 °F (17.2 °C), perfect instruments. A model, not "
        "a measurement: it teaches directions and rough sizes. “A little” is less than what such instruments usually err by: "
        "no technician would read it."
    )
    for one in examples:
        yield subheading(f"{_device(one.metering)}: {one.what}")
        rows = [row for name in SHOWN if (row := _row(name, one, f)) is not None]
        yield Block("rows", rows=(("reading", "without the fault", "with the fault", "change"), *rows))
        yield from _told(one, fault)


def _told(one: Example, fault: str) -> Iterator[Block]:
    """What the program makes of the example, and honestly so where it is mistaken."""
    faults = one.faulty.faults
    if not faults:
        return
    place = next(i for i, found in enumerate(faults) if found.fault == fault)
    said = f"From these readings the program says: {name_of(faults[0].fault, one.faulty.rules)}, {faults[0].strength}."
    if place:
        said += f" This fault comes in place {place + 1}, so these readings alone do not settle it."
    yield line(f"{said} Charge verdict: {one.faulty.charge.verdict}.")


def _row(name: str, one: Example, f: BothSystems) -> tuple[str, ...] | None:
    before, after = one.right.estimates.get(name), one.faulty.estimates.get(name)
    if before is None or after is None:
        return None
    return name, _figure(before, one, f), _figure(after, one, f), way(before, after)


def _figure(e: Estimate, one: Example, f: BothSystems) -> str:
    if e.kind == "pressure":
        station = one.right.visit.machine.station_pressure
        return f.gauge(e.value - station)
    return f.value(e.value, e.kind)


def way(before: Estimate, after: Estimate) -> str:
    """rises or falls by more than its instruments’ error; a little up or down within it; or stays."""
    by, error = after.value - before.value, COVERAGE * max(before.sigma, after.sigma)
    if abs(by) > error:
        return "rises" if by > 0 else "falls"
    if abs(by) > A_LITTLE * error:
        return "a little up" if by > 0 else "a little down"
    return "stays"


# -- look-alikes, proof, rules, repair ---------------------------------------------------------------------------------


def _alike(entry: FaultEntry, rules: Rulebook) -> Iterator[Block]:
    if entry.looks_like:
        yield heading("What looks like it, and how to tell them apart")
        for other, text in entry.looks_like.items():
            yield item(text, lead=f"{rules.faults[other].name}.")


def _heating(told: InHeating, rules: Rulebook) -> Iterator[Block]:
    """What of it is otherwise where the coils have changed places."""
    yield heading("The same fault in heating")
    yield line(told.what)
    for other, text in told.looks_like.items():
        yield item(text, lead=f"{rules.faults[other].name}.")
    yield line(f"After the repair: {lower_first(told.expect)}")


def _confirm(lesson: Lesson, fault: str, rules: Rulebook) -> Iterator[Block]:
    yield heading("How to confirm it")
    for i, text in enumerate(lesson.confirm):
        yield item(text, f"{i + 1}.")
    named = [r.entry.check for r in rules.evidence(fault) if r.points > 0 and r.entry.check]
    checks = [rules.checks[name] for name in dict.fromkeys(named)]
    if checks:
        yield line("What the program suggests next:")
        for check in checks:
            needs = f", needs {check.needs}" if check.needs else ""
            yield item(f"{check.ask} ({counted(check.minutes, 'minute')}{needs}.)")


def _rules(fault: str, rules: Rulebook) -> Iterator[Block]:
    yield heading("What the rules say", "reference")
    yield line("One point doubles the odds, minus one halves them. A rule counts only when its words were found.")
    for title, sign in (("For it", 1), ("Against it", -1)):
        told = sorted((r for r in rules.evidence(fault) if r.points * sign > 0), key=lambda r: -abs(r.points))
        if told:
            yield subheading(title)
        for rule in told:
            yield item(f"{rule.entry.title}{spoken_by(rule, rules)}.", points_text(rule.points))
            yield deeper(f"when {when_text(rule, rules)}")


def _repair(entry: FaultEntry) -> Iterator[Block]:
    repair = entry.repair
    if repair is None:
        return
    yield heading("The repair, and what can hurt")
    for i, step in enumerate(repair.do):
        yield item(step_text(step), f"{i + 1}.")
    for caution in repair.cautions:
        yield item(step_text(caution), "!")
    yield line(f"Afterwards: {repair.expect}")


def _dangers(rules: Rulebook) -> Iterator[Block]:
    """What can hurt at every machine: the cautions without conditions."""
    always = [r for r in rules.rules if r.kind == "caution" and not (r.when or r.either or r.applies)]
    if always:
        yield line("And on every machine:")
        for rule in sorted(always, key=lambda r: r.rank):
            yield item(f"{rule.entry.title}. {rule.entry.why}", "!")


def _sources(fault: str, entry: FaultEntry, rules: Rulebook) -> Iterator[Block]:
    cited = Counter(rule.entry.source[0] for rule in rules.evidence(fault))
    own = entry.lesson.source if entry.lesson else ()
    yield from story.sources([*own, *(key for key, _ in cited.most_common()), *entry.usual_source], rules)
    if entry.usual:
        yield line(
            f"How usual it is ({points_text(entry.usual)} points before any reading): {cite(entry.usual_source, rules)}."
        )
