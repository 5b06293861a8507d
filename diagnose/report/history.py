"""A machine over its visits, in words: each visit in a line, what drifts, the good day; and what was kept or forgotten."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from diagnose.diagnosis.story import FOLLOWED, Drift, Look, Story, as_data, drifts, good_day
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.blocks import Block, brief, heading, item, line
from diagnose.report.dangers import SWITCH_OFF
from diagnose.report.layout import WIDTH, as_text
from diagnose.report.wording import counted, in_units, lower_first, number, upper_first
from diagnose.rulebook.judgement import DriftFigures
from diagnose.units import System
from diagnose.yamlfile import printable

FORMAT = 1
MONTH = 365.25 / 12  # days
LONGEST_NAME = 40  # characters that are repeated in a command
SHOWN = 8  # characters of a visit's id
LISTED = 20  # visits that are told of all machines
FAILED = "the program makes a mistake on it. Please report it with its file."
_HEAD = ("date", "visit", "answer", "charge", "SH", "SC", "CTOA", "split")
_NONE = "do not judge"
_MEANS: Mapping[tuple[str, bool], str] = {
    ("superheat", True): "a small leak would do that, or a drier that slowly clogs",
    ("superheat", False): "less and less air over the indoor coil would do that, or a device that feeds too much",
    ("subcooling", False): "a small leak would do that",
    ("subcooling", True): "a drier or metering device that slowly clogs would do that",
    ("condensing over ambient", True): "an outdoor coil that gets dirty would do that",
    ("condensing over ambient", False): "a small leak would do that, or a compressor that wears",
    ("air temperature split", True): "less and less air over the indoor coil would do that: filter, coil, blower",
    (
        "air temperature split",
        False,
    ): "a machine that loses capacity would do that: a small leak, a compressor that wears",
}


@dataclass(frozen=True, slots=True)
class Changed:
    """A visit that was examined again: what was said of it, and what is said now (None: it can no longer be read; why).
    machine: where visits of several are told together.
    """

    before: Look | None
    now: Look | None
    id: str
    date: str
    why: str = ""
    machine: str = ""

    @property
    def differs(self) -> bool:
        """Whether anything of the answer is another."""
        if self.before is None or self.now is None:
            return True
        return _answer(self.before.story) != _answer(self.now.story)


def history_page(
    machine: str, looks: Sequence[Look], drift: DriftFigures, units: System | None = None,
    again: Sequence[Changed] | None = None, untold: Sequence[Changed] = (), drawn: Sequence[Block] = (), commands: bool = True,
) -> list[Block]:  # fmt: skip
    """The page of one machine. units: those of its last visit unless said. again: visits examined with today's book; untold:
    those that could not be; drawn: the chart, where it can be seen. commands: with those that take the good day further.
    """
    system = units or (looks[-1].story.system if looks else "us")
    count = len(looks) + len(untold)
    dates = f"{looks[0].date[:10]} to {looks[-1].date[:10]}" if len(looks) > 1 else looks[0].date[:10] if looks else ""
    stops = looks[-1:] if looks and looks[-1].story.stop else ()
    left = "the machine was to be switched off, and left off until the cause is fixed."
    blocks = [brief("STOP:", f"On the last visit, {look.date[:10]}, {left}") for look in stops]
    blocks += [Block("answer", f"{printable(machine)}: {counted(count, 'visit')}{f', {dates}' if dates else ''}.")]
    blocks += [line(text) for text in _gas_lines(looks)]
    blocks += _drift_lines(drifts(looks, drift), system)
    if looks:
        blocks.append(Block("rows", rows=(_HEAD, *(_row(look, system) for look in looks))))
        degree = "°F" if system == "us" else "K"
        text = "SH superheat, SC subcooling, CTOA condensing over ambient, split between return and supply air"
        blocks.append(line(f"{text}, in {degree}."))
    blocks += drawn
    blocks += [line(f"{each.date[:10]}, visit {each.id[:SHOWN]}, cannot be told: {each.why}") for each in untold]
    if again is not None:
        blocks += _again(again)
    blocks += _good_day(machine, looks, commands)
    return blocks


def _gas_lines(looks: Sequence[Look]) -> Iterator[str]:
    """Where the refrigerant is another than on the visit before."""
    for was, now in pairwise(look for look in looks if look.story.refrigerant):
        if not now.story.of_one_gas(was.story):
            then = f"{was.story.refrigerant} before {now.date[:10]}, {now.story.refrigerant} since"
            why = "Find out whether a plate was misread, or the refrigerant or the machine changed."
            yield f"{then}: the two are not compared. {why}"


def _row(look: Look, system: System) -> tuple[str, ...]:
    story = look.story
    cells = (_cell(story, name, system) for name in FOLLOWED)
    return (
        look.date[:10],
        look.id[:SHOWN],
        answer_text(story),
        "none" if story.verdict == _NONE else story.verdict,
        *cells,
    )


def _cell(story: Story, name: str, system: System) -> str:
    figure = story.figures.get(name)
    if figure is None:
        return "–"
    return number(figure.value, "difference", system, unit=False)


def answer_text(story: Story) -> str:
    """`low refrigerant charge, strong`; after `STOP;` where the machine was to be stopped."""
    if story.stop:
        return f"STOP; {answer_text(replace(story, stop=False))}"
    if story.name is None:
        return "outside its field" if story.status == "outside" else "not ready to judge"
    return f"{lower_first(story.name)}, {story.strength}"


def _answer(story: Story) -> tuple[object, ...]:
    return story.status, story.fault, story.strength, story.verdict


# -- what drifts -------------------------------------------------------------------------------------------------------


def _drift_lines(tried: Sequence[Drift], system: System) -> Iterator[Block]:
    sure = [drift for drift in tried if drift.sure]
    for drift in sure:
        yield line(drift_text(drift, system))
    if tried and not sure:
        yield line("No slow drift beyond what instruments and days scatter.")


def drift_text(drift: Drift, system: System, as_read: bool = False) -> str:
    """`Subcooling falls by 1.2 ± 0.4 °F a month over 5 visits in like weather: a small leak would do that.`

    as_read: it was not compared with what it should be.
    """
    a_month, unit, _ = in_units(abs(drift.slope) * MONTH, "difference", system)
    margin, _, _ = in_units(COVERAGE * drift.sigma * MONTH, "difference", system)
    places = 1 if margin >= 0.1 else 2
    rises = drift.slope > 0
    against = "" if as_read else " against what it should be"
    what = f"{upper_first(drift.name)} {'rises' if rises else 'falls'}{against} by"
    return (
        f"{what} {a_month:.{places}f} ± {margin:.{places}f} {unit} a month, over {drift.visits} visits in like weather: "
        f"{_MEANS[drift.name, rises]}."
    )


def _good_day(machine: str, looks: Sequence[Look], commands: bool) -> Iterator[Block]:
    best = good_day(looks)
    if best is None:
        if looks:
            yield line("No visit with this refrigerant yet on which all was right: none can be the good day.")
        return
    found = f"Good day: {best.date[:10]}, visit {best.id[:SHOWN]}."
    if not commands:
        yield line(found)
        return
    name = shlex.quote(machine) if len(machine) <= LONGEST_NAME and machine.isprintable() else "MACHINE"
    yield line(
        f"{found} `diagnose history {name} --good-day -o good-day.yaml` writes it; `baseline: good-day.yaml` in the next "
        "visit's file then judges by it."
    )


# -- examined again ----------------------------------------------------------------------------------------------------


def again_text(count: int, changed: Sequence[Changed]) -> list[Block]:
    """Visits of all machines examined again: how many there were, and those that are answered otherwise."""
    blocks = list(_again(changed, count))
    return blocks if len(changed) <= LISTED else [*blocks[: LISTED + 2], item(f"{len(changed) - LISTED:,} more.")]


def _again(again: Sequence[Changed], count: int | None = None) -> Iterator[Block]:
    changed = [each for each in again if each.differs]
    count = len(again) if count is None else count
    yield heading("Examined again with today's book")
    if not changed:
        yield line(f"{counted(count, 'visit')}, every answer as it was.")
        return
    yield line(
        f"{len(changed)} of {counted(count, 'visit')} {'is' if len(changed) == 1 else 'are'} answered otherwise."
    )
    for each in changed:
        named = f"{printable(each.machine)}, " if each.machine else ""
        yield item(_changed_text(each), lead=f"{named}{each.date[:10]}, visit {each.id[:SHOWN]}:")


def _changed_text(each: Changed) -> str:
    was = f"was {_whole(each.before)}" if each.before else "nothing was told of it"
    if each.now is None:
        return f"{was}; now it cannot be read: {each.why}"
    return f"{was}; now {_whole(each.now)}."


def _whole(look: Look) -> str:
    verdict = look.story.verdict
    return f"{answer_text(look.story)}, {'no charge verdict' if verdict == _NONE else f'charge {verdict}'}"


# -- for a program, and short answers ----------------------------------------------------------------------------------


def history_data(
    machine: str, looks: Sequence[Look], drift: DriftFigures, again: Sequence[Changed] | None, untold: Sequence[Changed]
) -> dict[str, Any]:
    """The same for JSON, K and K a day."""
    best = good_day(looks)
    found: dict[str, Any] = {
        "format": FORMAT,
        "machine": machine,
        "visits": [{"visit": look.id, "date": look.date, **as_data(look.story)} for look in looks],
        "untold": [{"visit": each.id, "date": each.date, "why": each.why} for each in untold],
        "drifts": [
            {"quantity": d.name, "slope": d.slope, "sigma": d.sigma, "unit": "K a day", "visits": d.visits, "days": d.days,
             "told": d.sure}
            for d in drifts(looks, drift)
        ],
        "good_day": best.id if best else None,
    }  # fmt: skip
    if again is not None:
        found["again"] = [
            {
                "visit": each.id,
                "date": each.date,
                "before": as_data(each.before.story) if each.before else None,
                "differs": each.differs,
            }
            for each in again
        ]
    return found


def kept_text(machine: str, date: str, id: str, new: bool, count: int, result: Mapping[str, Any]) -> str:
    """After `keep`; first whether what was kept is a machine that must be stopped. result: of the visit, as JSON has it."""
    titles = "; ".join(lower_first(each["title"]) for each in result["dangers"] if each["level"] == "stop")
    stop = as_text([brief("STOP:", f"{SWITCH_OFF} Why: {titles}.")], WIDTH) if titles else ""
    done = "Kept" if new else "Kept already, nothing was changed"
    return f"{stop}{done}: {printable(machine)}, {date[:10]}, visit {id[:SHOWN]}; {counted(count, 'visit')} of this machine.\n"


def exported_text(folder: str, visits: int, written: int) -> str:
    """After `export`."""
    return f"{printable(folder, 200)}: {counted(visits, 'visit')}, {written} of them newly written.\n"


def imported_text(visits: int, new: int) -> str:
    """After `import`."""
    return f"{counted(visits, 'visit')} read, {new} of them new.\n"


def would_forget_text(machine: str, visits: int, whole: bool) -> str:
    """Before `forget`."""
    more = ", and the machine" if whole else ""
    return f"this would forget {counted(visits, 'visit')} of {printable(machine)} for good{more}"


def forgotten_text(machine: str, visits: int) -> str:
    """After `forget`."""
    return (
        f"Forgotten: {counted(visits, 'visit')} of {printable(machine)}. Visit files, exported folders and backups are not the "
        "store's: delete them yourself.\n"
    )


def machines_page(listed: Sequence[tuple[str, int, str]]) -> list[Block]:
    """Every machine with its visits and the date of the last."""
    rows = [(printable(name), f"{count}", last[:10]) for name, count, last in listed]
    head = Block("answer", f"{counted(len(rows), 'machine')}.")
    return [head, Block("rows", rows=(("machine", "visits", "last"), *rows))] if rows else [head]
