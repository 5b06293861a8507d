"""`diagnose compare`: one sentence, each reading before and after, what is left, the refrigerant log, the closing list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from diagnose.diagnosis.after_repair import Comparison, Shift
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.blocks import Block, brief, heading, item, line
from diagnose.report.charge import verdict_text
from diagnose.report.dangers import opening
from diagnose.report.drawings import Drawing, pressure_enthalpy_of
from diagnose.report.drawings.cycle import Cycle, measured_cycle
from diagnose.report.field import held_text, weighed_text
from diagnose.report.first_screen import LINES, closing, closing_brief, next_step, short_answer
from diagnose.report.layout import WIDTH, as_text
from diagnose.report.result import charge_dict, dangers_list, fault_dict
from diagnose.report.sentences import said
from diagnose.report.wording import in_units, likeliest, listed, name_of, number, upper_first
from diagnose.units import System

FORMAT = 1
SHOWN = 8  # rows of the first screen; `--full` has all
LEAST = 3
_HEAD = ("reading", "before", "now", "unrepaired", "target", "it moved")
_PUT = {
    "as it should": "as it should",
    "short of it": "not far enough",
    "too far": "too far",
    "did not move": "not at all",
    "wrong way": "the wrong way",
    "was right and still is": "(right twice)",
    "cannot be told": "cannot be told",
}
LAW = "Log it: many places ask for it by law (for example 40 CFR 82, subpart F, in the United States)."
LOG = "The log also needs the date, who did it, where the leak was, how it was sealed, and the cylinder."


def compare_page(c: Comparison, units: System | None = None, full: bool = False, more: str = "") -> list[Block]:
    """The first screen of at most 24 lines, or with every row and what was left out."""
    c = _told_in(c, units)
    if full:
        log = [line(LOG)] if c.weighed else []
        return [*_head(c), *_now(c), *_table(c.shifts, c), *_explained(), *_foot(c, ""), *log, *_closing_list(c)]
    told = [shift for shift in c.shifts if shift.judged != "cannot be told"] or list(c.shifts)
    for count in range(min(len(told), SHOWN), min(len(told), LEAST) - 1, -1):
        blocks = [*_head(c), *_now(c), *_table(told[:count], c), *_foot(c, more), *closing_brief(c.after)]
        if len(as_text(blocks, WIDTH).splitlines()) <= LINES:
            return blocks
    return [*_head(c), *_now(c), *_table(told[:LEAST], c), *_foot(c, more)]


def shown_shifts(c: Comparison, units: System | None = None) -> list[Block]:
    """The sentence, and the rows of the first screen: for a report."""
    c = _told_in(c, units)
    told = [shift for shift in c.shifts if shift.judged != "cannot be told"] or list(c.shifts)
    return [line(outcome_text(c)), *_table(told[:SHOWN], c)]


def illustrated_comparison(c: Comparison, units: System | None = None) -> list[Block]:
    """The full page with both cycles in one drawing, for HTML."""
    c = _told_in(c, units)
    drawn = both_cycles(c)
    figure = [heading("Before and after"), Block("figure", drawn.words, drawn.title, svg=drawn.svg)] if drawn else []
    return [*compare_page(c, full=True), *figure]


def both_cycles(c: Comparison) -> Drawing | None:
    """The cycle after the repair and, dashed, the one before it; None where the readings allow none."""
    machine = c.after.visit.machine
    now, was = measured_cycle(c.after), measured_cycle(c.before)
    if machine.refrigerant is None or not isinstance(now, Cycle) or not isinstance(was, Cycle):
        return None
    drawn = pressure_enthalpy_of(
        machine.refrigerant, now, was, c.after.system, station_pressure=machine.station_pressure,
        names=("after the repair", "before it"), verb="was",
    )  # fmt: skip
    return drawn if isinstance(drawn, Drawing) else None


def _told_in(c: Comparison, system: System | None) -> Comparison:

    return replace(
        c, after=c.after.told_in(system or c.after.system), before=c.before.told_in(system or c.after.system)
    )


# -- the sentence ------------------------------------------------------------------------------------------------------


def outcome_text(c: Comparison) -> str:
    """What the repair did, in one sentence."""
    rules, faults = c.after.rules, c.after.faults
    was = name_of(c.fault, rules) if c.fault else ""
    first = name_of(faults[0].fault, rules) if faults else ""
    strength = f"({faults[0].strength} evidence)" if faults else ""
    went = _listed(c.judged("as it should") or c.judged("short of it"))
    wrong = _listed(c.judged("wrong way", "too far"))
    past = f"; {wrong} went past it" if wrong else ""
    several = " and " in went
    still = _listed(c.judged("did not move", "short of it"))
    match c.outcome:
        case "not comparable":
            held = c.after if c.after.held else c.before
            return f"The repair cannot be judged yet. {'After' if held is c.after else 'Before'} it: {held_text(held)}"
        case "too little read":
            return f"Too little was read after the repair to judge it; {first} comes first {strength}."
        case "dangerous":
            return "Not done: after it the machine must be stopped. Fix the danger first, then take all readings again."
        case "nothing to repair":
            return "Nothing clear was wrong before, and nothing is now."
        case "repaired":
            sure = "" if faults[0].strength == "strong" else f" {strength}"
            left = _listed(c.judged("did not move"))
            clear = f"but {left} did not move" if left else f"and nothing else stands out{sure}"
            them = "them" if several else "it"
            return f"Repaired ({was}): {went} went where the repair should send {them}, {clear}{past}."
        case "right now":
            but = f"; but {wrong} went the other way" if wrong else ""
            return f"Nothing stands out any more, but the readings do not show that the repair of {was} did it{but}."
        case "on its way":
            rest = f"; {still} not all the way" if still else ""
            they = "they" if several else "it"
            return f"Better, not done: {went} went as {they} should{rest}, and {was} still comes first {strength}."
        case "not reached":
            rest = f"{still} did not move" if still else "no reading moved beyond its error"
            comes = "still comes" if faults[0].fault == c.fault else "comes"
            return f"The repair of {was} does not show: {rest}, and {first} {comes} first {strength}."
        case "worse":
            return f"Worse: {wrong} went the wrong way, and {first} comes first {strength}."
        case "too far":
            return f"Too far: instead of {was} the readings now show {first} {strength}."
        case "second fault":
            return f"The repair of {was} took hold: what is left is the second fault, {first} {strength}."
        case "other fault" if c.fault is None:
            return f"Before it nothing clear was found; now {first} comes first {strength}."
        case "other fault":
            return f"{upper_first(was)} no longer comes first; {first} does {strength}."


def _listed(names: Sequence[str], most: int = 3) -> str:
    told = list(names[:most]) + ([f"{len(names) - most} more"] if len(names) > most else [])
    return listed(told)


# -- the parts ---------------------------------------------------------------------------------------------------------


def _head(c: Comparison) -> Iterator[Block]:
    yield from opening(c.after, outcome_text(c))
    for reason in c.notes:
        if reason not in c.after.held:
            yield brief("But", SENTENCES[reason.code].format(name_of(str(reason.figures["fault"]), c.after.rules)))


SENTENCES = {
    "added-without-need": "refrigerant was added and none recovered, although {} does not ask for any.",
    "nothing-added": "by the log no refrigerant was added, although {} asks for some.",
}


def _table(shifts: Sequence[Shift], c: Comparison) -> Iterator[Block]:
    if not shifts:
        yield line("The two visits share no figure that could be compared.")
        return
    yield Block("rows", rows=(_HEAD, *(_row(shift, c.after.system) for shift in shifts)))


def _row(s: Shift, system: System) -> tuple[str, ...]:
    _, unit, _ = in_units(s.after.value, s.after.kind, system)

    def bare(value: float | None) -> str:
        return "" if value is None else number(value, s.after.kind, system, unit=False)

    name = f"{s.name}, {unit}" if unit else s.name
    return name, bare(s.before.value), bare(s.after.value), bare(s.untouched), bare(s.target), _PUT[s.judged]


def _explained() -> Iterator[Block]:
    yield line(
        "“Unrepaired” is what the earlier figure would be in today’s air if nothing had been done. What is off it by more than "
        "the errors of both visits (95 of 100) has moved, and is judged by which way the fault moves it; a smaller change "
        "cannot be told from error."
    )


def _now(c: Comparison) -> Iterator[Block]:
    """What the sentence leaves open of the answer, the charge, and what to do now."""
    d = c.after
    if not d.held:
        told = short_answer(d)
        if c.outcome == "dangerous" or told != f"{likeliest(d)}.":
            yield brief("Now:", told.removeprefix("Most likely: "))
        if isinstance(d.charge, ChargeVerdict):
            yield brief("Charge:", verdict_text(d, d.charge))
    if c.outcome not in ("repaired", "nothing to repair", "right now"):
        yield from next_step(d, next_checks(d))


def _foot(c: Comparison, more: str) -> Iterator[Block]:
    yield from _log(c)
    if more:
        yield brief("More:", more)


def _log(c: Comparison) -> Iterator[Block]:
    if text := weighed_text(c.weighed, c.after.visit.machine, c.after.system):
        yield brief("Refrigerant:", f"{text} {LAW}")


def _closing_list(c: Comparison) -> Iterator[Block]:
    yield heading("Before you leave")
    for each in closing(c.after):
        yield item(f"{upper_first(each)}.")


# -- for a program -----------------------------------------------------------------------------------------------------


def comparison(c: Comparison) -> dict[str, Any]:
    """The result, ready for JSON: SI values; the rows in the order of the page."""
    return {
        "format": FORMAT,
        "outcome": c.outcome,
        "sentence": outcome_text(c),
        "fault": c.fault,
        "dangers": dangers_list(c.after),
        "readings": [
            {
                "quantity": s.name,
                "before": s.before.value,
                "after": s.after.value,
                "untouched": s.untouched,
                "expected": s.target,
                "change": s.change if s.untouched is not None else None,
                "limit_of_error": COVERAGE * s.sigma if s.untouched is not None else None,
                "should": {1: "rise", -1: "fall", 0: "either"}[s.should],
                "judged": s.judged,
            }
            for s in c.shifts
        ],
        "now": {
            "status": c.after.status,
            "faults": [fault_dict(c.after, fault) for fault in c.after.faults[:2]],
            "also": list(c.after.also),
            "charge": charge_dict(c.after),
        },
        "not_ready": [said(c.after, reason) for reason in c.after.held],
        "refrigerant": dict(c.weighed),
        "notes": [reason.code for reason in c.notes],
        "closing": list(closing(c.after)),
    }
