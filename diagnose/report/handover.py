"""`diagnose report`: one or two sheets to hand over, as the customer's copy or the office's; dangers before all else.

The customer's copy tells in plain words what was found, how sure that is, what was done and what should be done
(`householder.py` has the words). The office's has all that the conclusion rests on, in short.
"""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import shorten
from typing import Literal

from diagnose.diagnosis.after_repair import Comparison, weighed_on
from diagnose.diagnosis.costs import Costs
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.after_repair import LAW, shown_shifts
from diagnose.report.blocks import Block, brief, heading, item, line
from diagnose.report.costs import costs_text
from diagnose.report.dangers import danger_blocks, loosened_blocks, opening
from diagnose.report.evidence import evidence_block, share_text
from diagnose.report.field import held_short, machine_words, weighed_text
from diagnose.report.first_screen import short_answer
from diagnose.report.householder import (
    AFTER,
    CARE,
    STOP,
    plain_answer,
    plain_danger,
    plain_findings,
    plain_next,
    plain_start_up,
)
from diagnose.report.layout import as_text
from diagnose.report.pages import charge_section, doubts_section, figures_section
from diagnose.report.repair import repair_of
from diagnose.report.sentences import said
from diagnose.report.start_up import start_up_in_short, summary
from diagnose.report.wording import counted, lower_first, name_of, number, reading_text, seen_text, unit_in, upper_first
from diagnose.shipped import VERSION

Whose = Literal["customer", "office"]
TableRows = list[tuple[str, ...]]
TEMPLATES: dict[Whose, str] = {"customer": "customer.html", "office": "handover.html"}
TITLES: dict[Whose, str] = {"customer": "for the customer", "office": "for the office"}
CONDITIONS = {
    "outdoor air temperature": "outdoors",
    "return air dry bulb": "air in the house",
    "supply air dry bulb": "air from the machine",
}
"""Readings that a householder can picture, and what they are called on the customer's copy."""
LONG, MOST = 240, 10  # characters of a remark and things done that stand on a sheet; the visit has the rest
REASONS = 6  # for the leading fault; half as many against it
OTHERS, NAMED = 5, 0.02  # faults named beside it, and the share from which they are
TOLD = 0.2  # points from which a reason is told
WIDE, LINES, DRAWING, SIGNING = 105, 112, 16, 4
"""Characters of a printed line; lines that two sheets hold, that a drawing takes, and that signatures take beside theirs."""
READ, FIGURE = "what was read", "figure"  # the two tables side by side, by the first word of their heads
_WAYS = (
    (REASONS, True, True), (REASONS, False, True), (4, False, True), (4, False, False), (2, False, False), (1, False, False),
)  # fmt: skip
"""What gives way on a full sheet, in order: later sentences of the repair’s steps, reasons, cautions of the repair, and at
last what is said of the charge besides verdict and amount."""


def handover_page(d: Diagnosis, whose: Whose, before: Comparison | None = None, drawn: bool = False) -> list[Block]:
    """The report. before: the comparison with an earlier visit; drawn: with a drawing, where the readings allow one."""
    if whose == "customer":
        return [*_customer(d, before), *_end(d, whose)]
    figure = list(_drawing(d)) if drawn else []
    for reasons, steps, cautions in _WAYS:
        blocks = [*_office(d, before, figure, reasons, steps, cautions), *_end(d, whose)]
        if lines_of(blocks) <= LINES:
            break
    return blocks


def lines_of(blocks: list[Block]) -> int:
    """About how many printed lines they fill. Beside the figures stand the readings, and the drawing below these."""
    rows = {block.rows[0][0]: len(block.rows) for block in blocks if block.kind == "rows"}
    drawing = DRAWING if any(block.kind == "figure" for block in blocks) else 0
    beside = max(rows.get(READ, 0) + drawing, rows.get(FIGURE, 0))
    others = [b for b in blocks if b.kind != "figure" and not (b.kind == "rows" and b.rows[0][0] in (READ, FIGURE))]
    headings = sum(block.kind == "heading" for block in blocks)  # each with some room above it
    return len([text for text in as_text(others, WIDE).splitlines() if text]) + headings + beside + SIGNING


# -- both ------------------------------------------------------------------------------------------------------------------


def _written(d: Diagnosis, name: str) -> str:
    return shorten("; ".join(d.visit.remarks.get(name, ())), LONG, placeholder=" …")


def _remarks(d: Diagnosis, complaint: str) -> Iterator[tuple[str, str]]:
    """Date and technician, to be filled in by hand where the visit does not say; the complaint where there is one."""
    yield "date", _written(d, "date")
    yield "technician", _written(d, "technician")
    if text := _written(d, "complaint"):
        yield complaint, text


def _reading(d: Diagnosis, name: str) -> str:
    reading = d.visit.last.readings[name]
    return reading_text(reading, None if d.system == d.visit.system else unit_in(reading, d.system))


def _done(d: Diagnosis) -> Iterator[Block]:
    """What was done, line by line, as it was written."""
    done = d.visit.remarks.get("done", ())
    for text in done[:MOST]:
        yield item(upper_first(shorten(text, LONG, placeholder=" …")))
    if len(done) > MOST:
        yield item(f"And {len(done) - MOST} more, which the visit has.")


def _end(d: Diagnosis, whose: Whose) -> Iterator[Block]:
    """By which book, and the place to sign."""
    yield Block(
        "foot", f"Rule book: {d.rules.name}; diagnose {VERSION}{f'; {d.matcher}' if whose == 'office' else ''}."
    )
    yield heading("Signatures")
    yield Block(
        "rows", rows=(("signed by", "name and signature", "date"), ("technician", "", ""), ("customer", "", ""))
    )


# -- the customer's copy ---------------------------------------------------------------------------------------------------


def _customer(d: Diagnosis, before: Comparison | None) -> Iterator[Block]:
    stops = [plain_danger(d, danger) for danger in d.dangers if danger.level == "stop"]
    cares = [plain_danger(d, danger) for danger in d.dangers if danger.level == "care"]
    if stops:
        yield brief("STOP:", f"{STOP} {' '.join(stops)}")
    if cares:
        yield brief("Danger:", " ".join(cares))
    yield Block("answer", plain_answer(d))
    rows: TableRows = [
        ("service report", TITLES["customer"]),
        ("machine", shorten(d.visit.machine.name, LONG, placeholder=" …")),
    ]
    rows += _remarks(d, "what you told us")
    rows += [(word, _reading(d, name)) for name, word in CONDITIONS.items() if name in d.visit.last.readings]
    yield Block("rows", rows=tuple(rows))
    if found := plain_findings(d):
        yield heading("What was found")
        yield from map(item, found)
        if isinstance(d.costs, Costs):
            yield item(costs_text(d.costs))
    yield heading("What was done")
    done = list(_done(d))
    weighed = weighed_text(weighed_on(d.visit), d.visit.machine._replace(facts={}), d.system)
    yield from done or ([] if weighed else [line("Measured and examined; no repair is noted.")])
    yield from map(item, plain_start_up(d))
    if weighed:
        yield item(f"Refrigerant: {weighed.replace('recovered', 'taken out')}")
    if before is not None:
        yield item(f"Compared with the visit before: {lower_first(AFTER[before.outcome])}")
    elif d.good_day is not None and d.good_day.used and not d.held:
        yield item("The readings were compared with those of a day on which this machine was known to be right.")
    yield heading("What should be done")
    yield from map(item, plain_next(d))
    yield heading("For your safety", "care")
    yield from map(item, CARE)


# -- the office's copy -----------------------------------------------------------------------------------------------------


def _office(
    d: Diagnosis, before: Comparison | None, figure: list[Block], reasons: int, steps: bool, cautions: bool
) -> list[Block]:
    """The whole, so long as is asked for."""
    held = [line(said(d, d.held[0]))] if d.held and not _bare(d) else []
    found = "" if _bare(d) else held_short(d) if d.held else short_answer(d)
    return [
        *opening(d, f"{summary(d) if d.start_up else ''} {found}".strip()),
        *held,
        Block("rows", rows=tuple(_facts(d))),
        *danger_blocks(d),
        *loosened_blocks(d),
        *_measured(d),
        *figure,
        *start_up_in_short(d),
        *(block._replace(mark="care") if block.kind == "heading" else block for block in doubts_section(d)),
        *list(charge_section(d))[: None if reasons > 1 else 3],
        *_reasons(d, reasons),
        *_work(d),
        *_before(d, before),
        *_next(d, steps, cautions),
    ]


def _bare(d: Diagnosis) -> bool:
    return d.start_up is not None and not d.visit.last.readings


def _facts(d: Diagnosis) -> Iterator[tuple[str, ...]]:
    m, last = d.visit.machine, d.visit.last
    yield "service report", TITLES["office"]
    gas = [f"{m.refrigerant.name} (class {m.refrigerant.safety})"] if m.refrigerant else []
    size = m.fact("nominal capacity")
    told = [*gas, *([number(size, "capacity", d.system)] if size else []), m.metering, m.mode, *machine_words(m)]
    yield "machine", ", ".join([shorten(m.name, LONG, placeholder=" …"), *(word for word in told if word)])
    yield from _remarks(d, "complaint")
    weather = [f"{name} {_reading(d, name)}" for name in _WEATHER if name in last.readings]
    ran = [f"{counted(last.minutes, 'minute')} running"] if last.minutes is not None else []
    if weather or ran:
        yield "conditions", "; ".join([*weather, *ran])
    if d.visit.seen:
        yield "seen or told", seen_text(d.visit.seen.items())
    if text := _written(d, "notes"):
        yield "notes", text


_WEATHER = ("outdoor air temperature", "return air dry bulb", "return air wet bulb")


def _reasons(d: Diagnosis, most: int) -> Iterator[Block]:
    if not d.faults:
        return
    first, *others = d.faults
    yield heading(f"Evidence for {name_of(first.fault, d.rules)}, in points, and against it")
    heavy = [e for e in (*first.supporting[:most], *first.opposing[: max(1, most // 2)]) if abs(e.weight) >= TOLD]
    for evidence in heavy:
        yield evidence_block(evidence, d)
    if not first.supporting:
        yield line("None was found for it. It leads only because the others are even less likely.")
    also = [fault for fault in others if fault.share >= NAMED or fault.fault in d.also][:OTHERS]
    yield brief("Share of the odds:", f"{'; '.join(_share(fault, d) for fault in (first, *also))}.")


def _share(fault: Ranked, d: Diagnosis) -> str:
    return f"{name_of(fault.fault, d.rules)} {share_text(fault.share)} ({fault.strength})"


def _measured(d: Diagnosis) -> Iterator[Block]:
    """Readings and figures, each with its ±."""
    readings: TableRows = [(name, _reading(d, name)) for name in d.visit.last.readings]
    figures = [block for block in figures_section(d) if block.kind == "rows"]
    if readings or figures:
        yield heading("Readings and figures (± holds 95 of 100)")
    if readings:
        yield Block("rows", rows=((READ, "as understood"), *readings))
    yield from figures


def _drawing(d: Diagnosis) -> Iterator[Block]:
    """The cycle, else the circuit with what was read on it; loaded only where it can be seen."""
    from diagnose.report.illustrated import of_visit

    for what in ("cycle", "circuit"):
        if found := list(of_visit(d, what)):
            yield from found
            return


def _work(d: Diagnosis) -> Iterator[Block]:
    yield heading("What was done")
    yield from list(_done(d)) or [line("Nothing is noted.")]
    if text := weighed_text(weighed_on(d.visit), d.visit.machine, d.system):
        yield brief("Refrigerant:", f"{text} {LAW}")


def _before(d: Diagnosis, before: Comparison | None) -> Iterator[Block]:
    if before is not None:
        yield heading("Before and after")
        yield from shown_shifts(before, d.system)
    elif d.good_day is not None and d.good_day.used and not d.held:
        yield heading("By this machine’s own good day")
        yield line(f"Judged by the baseline, moved to today’s weather: {', '.join(d.good_day.used)}.")


def _next(d: Diagnosis, steps: bool, cautions: bool) -> Iterator[Block]:
    if checks := () if _bare(d) else next_checks(d):
        yield heading("Next")
        yield from (item(f"{check.ask} ({check.minutes:g} min)", f"{i}.") for i, check in enumerate(checks, 1))
    if repair := repair_of(d):
        yield heading(f"If confirmed: {name_of(d.faults[0].fault, d.rules)}")
        yield from (item(step if steps else _begin(step), f"{i}.") for i, step in enumerate(repair.do, 1))
        yield from (item(caution, "!") for caution in (repair.cautions if cautions else ()))
        yield line(f"Afterwards: {repair.expect}")
    if d.cautions:
        yield brief("Take care:", f"{'; '.join(lower_first(rule.entry.title) for rule in d.cautions)}.")


def _begin(step: str) -> str:
    """The first sentence of a step."""
    first, more, _ = step.partition(". ")
    return f"{first}." if more else step
