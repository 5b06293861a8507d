"""A set of practice visits on paper: the worksheet with lines to write on, and the answer key apart."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose import report
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons.arithmetic import difference
from diagnose.lessons.figures import BothSystems, term
from diagnose.practice.exercise import Exercise, fact, new, shown
from diagnose.practice.feedback import size_text, truth_text
from diagnose.practice.judging import quickest, true_charge
from diagnose.practice.scenario import SHOPS
from diagnose.properties.targets import NoTarget
from diagnose.report import Block, heading, html, item, line
from diagnose.report.evidence import evidence_text, share_text
from diagnose.report.sentences import said
from diagnose.report.webpage import web_page
from diagnose.report.wording import counted, estimate_text, name_of, no_target_text, upper_first
from diagnose.rulebook import Rulebook
from diagnose.simulator import Mode, faults_of
from diagnose.visit.fields import INSTRUMENTS, READINGS
from diagnose.yamlfile import InputProblems, Problem, did_you_mean

# What the class writes down, and how long the line for it is.
TO_WRITE: tuple[tuple[str, str], ...] = (
    ("Superheat", "short"),
    ("Subcooling", "short"),
    ("Target of superheat or subcooling", "short"),
    ("Charge (add, leave, remove, not yet)", "short"),
    ("What is wrong", "long"),
    ("Why", "two"),
    ("What to measure or look at next, and what that would settle", "long"),
)
TITLE = "What is wrong with these machines?"
INTRO = (
    "Each visit below is to a simulated machine on a harbor street that is on no map, read with the errors of real "
    "instruments. Each machine hides one fault, or none. Work out superheat and subcooling, find the target, and say what "
    "is wrong before you touch the charge. If the readings do not settle it, say what to measure next."
)
HARD_INTRO = "Some of these machines have two faults, and some readings may have been written down wrongly."
CARE = (
    "On a real machine: lock out the power before a panel is opened, wear eye protection and gloves at the valves, and "
    "leave refrigerant to those licensed to handle it."
)
ABOUT_KEY: Mapping[Mode, str] = {
    "cooling": "Target superheat depends on outdoor air and return wet bulb; target subcooling is on the rating plate.",
    "heating": "In heating no table gives a target, so the charge is weighed; the figures below are what sound machines read.",
}
REASONS = 2


@dataclass(frozen=True, slots=True)
class Set:
    """Some practice visits for a class; number: the seed by which the same set comes again."""

    number: int
    hard: bool
    exercises: tuple[Exercise, ...]


def chosen(faults: str | None, mode: Mode = "cooling") -> tuple[str, ...] | None:
    """The faults named, with commas between; None where nobody chose. Raises InputProblems."""
    if faults is None:
        return None
    known = faults_of(mode)
    names = [name.strip() for name in faults.split(",") if name.strip()]
    problems = [
        Problem(
            "",
            0,
            0,
            f"the simulator has no fault `{name}`",
            did_you_mean(name, known) or f"Known: {', '.join(known)}.",
        )
        for name in names
        if name not in known
    ]
    if not names:
        problems = [Problem("", 0, 0, "no fault is named", f"Known: {', '.join(known)}.")]
    if problems:
        raise InputProblems(problems)
    return tuple(names)


def make_set(
    number: int,
    count: int,
    rules: Rulebook,
    faults: Sequence[str] | None = None,
    hard: bool = False,
    mode: Mode = "cooling",
) -> Set:
    """`count` visits, every fault as often as the next, in random order; the same for the same arguments and rules.

    Hard ones where nobody chose the faults are drawn freely, for then there may be two faults, or a slip. Raises
    InputProblems.
    """
    chance = random.Random(f"set {number}")
    row: list[str] = []
    while len(row) < count:
        some = list(faults or faults_of(mode))
        chance.shuffle(some)
        row += some
    seeds = [chance.randrange(10**9) for _ in range(count)]
    free = hard and faults is None
    made: list[Exercise] = []
    for seed, fault in zip(seeds, row, strict=False):
        taken = {str(one.machine["name"]).partition(",")[0] for one in made[-(len(SHOPS) - 1) :]}
        made.append(new(seed, rules, None if free else fault, hard, elsewhere=taken, mode=mode))
    return Set(number, hard, tuple(made))


# -- the worksheet -------------------------------------------------------------------------------------------------


def sheet_page(
    made: Set, style: str, title: str = TITLE, intro: Sequence[str] = (), to_write: Sequence[tuple[str, str]] = TO_WRITE
) -> str:
    """The worksheet as text, markdown or html. Nothing in it tells an answer, nor the number of the set."""
    said = list(intro) or [INTRO, *([HARD_INTRO] if made.hard else []), CARE]
    if style == "html":
        return html.page("worksheet.html", _values(made, title, said, to_write))
    blocks = _blocks(made, title, said, to_write)
    return report.as_markdown(blocks) if style == "markdown" else report.as_text(blocks)


def _instruments() -> str:
    """What the instruments of these visits are good for, in both systems."""
    clamps, air = INSTRUMENTS["pipe clamps"].fixed, INSTRUMENTS["air thermometers"].fixed
    return (
        f"The instruments: gauges ±{100 * INSTRUMENTS['gauges'].share:g} % of the reading, pipe clamps ±{clamps * 1.8:.1f} °F "
        f"({clamps:.1f} K), air thermometers ±{air * 1.8:.1f} °F ({air:.1f} K). 95 of 100 readings lie within that."
    )


def _values(made: Set, title: str, intro: Sequence[str], to_write: Sequence[tuple[str, str]]) -> dict[str, Any]:
    return {
        "title": title,
        "intro": intro,
        "instruments": _instruments(),
        "to_write": to_write,
        "visits": [
            {
                "number": i + 1,
                "name": _name(one),
                "complaint": one.complaint,
                "facts": _facts(one),
                "readings": _readings(one),
            }
            for i, one in enumerate(made.exercises)
        ],
    }


def _name(one: Exercise) -> str:
    return upper_first(str(one.machine["name"]))


def _facts(one: Exercise) -> list[tuple[str, str]]:
    return [(name, fact(name, value)) for name, value in one.machine.items() if name != "name"]


def _readings(one: Exercise) -> list[tuple[str, str, str, str]]:
    """(reading, US, SI, where it is taken), as they were written down."""
    taken = one.visit()["readings"]
    return [
        (name, shown(name, text, "us"), shown(name, text, "si"), READINGS[name].where)
        for name, text in taken.items()
        if name in READINGS
    ]


def _blocks(made: Set, title: str, intro: Sequence[str], to_write: Sequence[tuple[str, str]]) -> list[Block]:
    blocks = [Block("answer", title), *map(line, intro), line(_instruments())]
    for i, one in enumerate(made.exercises):
        blocks += [
            heading(f"{i + 1}. {_name(one)}"),
            line(one.complaint),
            Block("rows", rows=(("the machine", ""), *_facts(one))),
            line("It had been running for 20 minutes."),
            Block("rows", rows=(("reading", "US", "SI"), *((name, us, si) for name, us, si, _ in _readings(one)))),
            *(item(f"{what}: {'_' * 30}") for what, _ in to_write),
        ]
    return blocks


# -- the answer key ------------------------------------------------------------------------------------------------


def key_page(made: Set, rules: Rulebook, style: str) -> str:
    """The answers as text, markdown or html."""
    blocks = key_blocks(made, rules)
    if style == "html":
        return web_page(blocks)
    return report.as_markdown(blocks) if style == "markdown" else report.as_text(blocks)


def key_blocks(made: Set, rules: Rulebook) -> list[Block]:
    """One heading a visit: the fault, the arithmetic, what the program makes of it, why, and what settles it."""
    blocks = [
        Block("answer", f"Answer key of set {made.number}"),
        line(f"{len(made.exercises)} visits. Keep it apart from the worksheet: it names the faults."),
        *map(line, dict.fromkeys(ABOUT_KEY[one.mode] for one in made.exercises)),
    ]
    for i, one in enumerate(made.exercises):
        blocks += [heading(f"{i + 1}. {_name(one)}: {truth_text(one, rules)}"), *_answer(one, rules)]
    blocks.append(Block("foot", f"Rule book: {rules.name}."))
    return blocks


def _answer(one: Exercise, rules: Rulebook) -> Iterator[Block]:
    d = examine(one.visit(), rules)
    if size := size_text(one):
        yield line(size)
    for name, wrong in one.slip.items():
        yield item(f"The {name} was written down wrongly: {wrong} instead of {one.readings[name]}. Take it again.", "!")
    yield from _sums(d)
    yield line(_what_to_do(one, rules))
    yield from _ranking(d, one, rules)
    yield from _why(d, one, rules)
    yield line(_next(one, rules))


def _sums(d: Diagnosis) -> Iterator[Block]:
    """Superheat and subcooling worked out, and their targets."""
    f = BothSystems()
    for name, warm, cool in (
        ("superheat", "suction line temperature", "evaporating temperature"),
        ("subcooling", "condensing temperature", "liquid line temperature"),
    ):
        e = d.estimates.get(name)
        first, second = term(warm, d), term(cool, d)
        if e is None or first is None or second is None:
            yield line(f"{upper_first(name)} cannot be worked out from these readings.")
            continue
        yield line(f"{upper_first(name)} {estimate_text(e, d.system)}: {warm} less {cool}.")
        yield from f.sums(
            "{0} − {1}", [(first, "temperature"), (second, "temperature")], (e.value, "difference"), difference
        )
        if isinstance(e.expected, NoTarget):
            yield line(f"No target: {no_target_text(e.expected, d.system)}.")
        elif e.target is not None:
            word = {"maker": "by the rating plate", "protocol": "by the table", "typical": "typical of such machines"}[
                e.target.origin
            ]
            yield line(f"Target {f.value(e.target.value, 'difference')}, {word}.")


def _what_to_do(one: Exercise, rules: Rulebook) -> str:
    return {
        "low": "The charge is low. Find the leak first, then add.",
        "high": "The charge is too high. Recover in small steps.",
        "right": "The charge is right: it stays as it is.",
    }[true_charge(one, rules)]


def _ranking(d: Diagnosis, one: Exercise, rules: Rulebook) -> Iterator[Block]:
    if not d.faults:
        yield line(f"The program gives no verdict on these readings. {said(d, d.held[0])}")
        return
    ranks = ", ".join(f"{name_of(fault.fault, rules)} {share_text(fault.share)}" for fault in d.faults[:3])
    yield line(f"The program, from the same readings (share of the odds): {ranks}.")


def _why(d: Diagnosis, one: Exercise, rules: Rulebook) -> Iterator[Block]:
    """Two reasons: of the readings on the sheet if they have any, else of all that could be read."""
    for which, says in ((d, ""), (examine(one.judged(one.everything), rules), "With every reading: ")):
        found = next((fault for fault in which.faults if fault.fault == one.truth), None)
        if found is not None and found.supporting:
            for e in found.supporting[:REASONS]:
                yield item(f"{says}{evidence_text(e, which)}")
            return


def _next(one: Exercise, rules: Rulebook) -> str:
    found = quickest(one, rules)
    if found.begun:
        return "The readings on the sheet settle it."
    if not found.steps:
        return "No single further reading settles it."
    parts = [
        f"{step.action.ask.rstrip('.') or f'Measure the {step.action.name}'} ({counted(step.minutes, 'minute')})"
        for step in found.steps
    ]
    after = f"The fault then has {share_text(found.steps[-1].share)} of the odds."
    doubt = "" if found.settled else " Some doubt remains."
    return f"To measure or look at next: {'; then: '.join(parts)}. {after}{doubt}"
