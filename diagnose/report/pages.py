"""The page of `examine`: the answer first, then why, then what next, then what can hurt."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose import units
from diagnose.diagnosis.costs import NoCosts
from diagnose.diagnosis.explanations import missing
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.sensitivity import TurningPoint, would_change
from diagnose.diagnosis.verdict import ChargeVerdict, NoVerdict
from diagnose.quantities import STEPS
from diagnose.quantities.uncertainty import Estimate
from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.charge import amount_text, headline, how_to_correct
from diagnose.report.costs import costs_text, size_text, unknown_text
from diagnose.report.dangers import danger_blocks, loosened_blocks, opening
from diagnose.report.evidence import EVEN, POINTS, evidence_block, looks_like, share_text, title_of
from diagnose.report.field import held_text, machine_words, remarks
from diagnose.report.repair import repair_of
from diagnose.report.sentences import charge_text, needless, problems, rule_text, said
from diagnose.report.start_up import start_up_blocks, summary
from diagnose.report.weighing import told_though_held, weighing
from diagnose.report.wording import (
    change_text,
    cite,
    counted,
    estimate_text,
    findings_text,
    likeliest,
    lower_first,
    name_of,
    number,
    reading_text,
    seen_text,
    two_digits,
    unit_in,
)

FULL = 0.10  # faults with at least this share are told with reasons
NAMED = 3  # unlikely faults told with their main reason
BRIEF = 2  # reasons told for and against a fault that is not the first
LISTED_MISSING = 8
TURNING = 3  # readings told that would change the answer


# -- the page of `examine` -----------------------------------------------------------------------------------------


def diagnosis_page(d: Diagnosis) -> list[Block]:
    """The answer first, then why, then what next, then what can hurt."""
    return [block for section in sections(d).values() for block in section]


def sections(d: Diagnosis) -> dict[str, list[Block]]:
    """The page in its parts, in order, so that another front end can put something between them."""
    if d.start_up is not None and not d.visit.last.readings:
        return {
            "answer": opening(d, summary(d)),
            "dangers": [*danger_blocks(d), *loosened_blocks(d)],
            "start-up": list(start_up_blocks(d)),
            "charge": [],
            "cautions": list(caution_section(d)),
            "machine": list(_machine(d)),
        }
    return {
        "answer": opening(d, answer(d) if d.start_up is None else f"{summary(d)} {answer(d)}"),
        "dangers": [*danger_blocks(d), *loosened_blocks(d)],
        "start-up": list(start_up_blocks(d)),
        "readings": list(_readings(d)),
        "doubts": list(doubts_section(d)),
        "charge": list(charge_section(d)),
        "settled": list(_settled(d)),
        "good day": list(_good_day(d)),
        "faults": list(_faults(d)),
        "would change": list(_would_change(d)),
        "costs": list(_costs(d)),
        "missing": list(_missing(d)),
        "next": list(next_section(d)),
        "cautions": list(caution_section(d)),
        "figures": list(figures_section(d)),
        "machine": list(_machine(d)),
    }


def answer(d: Diagnosis) -> str:
    """The first line: leading fault and how strong, and the charge verdict."""
    if d.held:
        return held_text(d)
    likely = f"{likeliest(d)}."
    charge = "No charge verdict yet." if isinstance(d.charge, NoVerdict) else f"The charge is {headline(d)}."
    unknown = "" if d.explained.known else " No known pattern: suspect the readings first."
    return f"{likely} {charge}{unknown}"


def _readings(d: Diagnosis) -> Iterator[Block]:
    """The readings as they were understood, so that a slip of the pen is seen."""
    taken = d.visit.last.readings
    if not taken:
        return
    yield heading("The readings, as understood")
    rows = [("reading", "value", "where it is taken")]
    for name, reading in taken.items():
        unit = None if d.system == d.visit.system else unit_in(reading, d.system)
        rows.append((name, reading_text(reading, unit), reading.field.where))
    yield Block("rows", rows=tuple(rows))
    if d.visit.seen:
        yield line(f"Seen or told: {seen_text(d.visit.seen.items())}.")


def doubts_section(d: Diagnosis) -> Iterator[Block]:
    """What speaks against the readings themselves."""
    for reason in d.held[1:]:
        yield item(said(d, reason))
    others = [reason for reason, _ in problems(d) if reason not in d.held and not needless(d, reason)]
    if others:
        yield heading("About the readings")
        for reason in others:
            yield item(said(d, reason), "!")


def charge_section(d: Diagnosis) -> Iterator[Block]:
    """The charge verdict, how much, and what it depends on."""
    c = d.charge
    if d.held and not told_though_held(d):
        return
    yield heading("The charge")
    if not d.held or isinstance(c, ChargeVerdict):
        doubted = [doubt.reason for doubt in d.doubts]
        named = any(reason in doubted for reason in c.reasons)
        yield line("Correct the readings named above first." if named else charge_text(d))
    if isinstance(c, ChargeVerdict):
        yield from _amount(c, d) if c.verdict != "right" else ()
    elif c.method == "weight" and c.by is None and not d.held:
        yield line("Here the charge can only be weighed.")
    yield from weighing(d)
    for caveat in c.caveats:
        yield line(said(d, caveat))


def _settled(d: Diagnosis) -> Iterator[Block]:
    """How far the readings still moved, where there were rounds to tell it by."""
    moved = [
        f"{name.removesuffix(' drift')} {estimate_text(e, d.system)}"
        for name, e in d.estimates.items()
        if name.endswith(" drift")
    ]
    if moved and d.status == "diagnosed":
        yield line(f"Settled: change in the last five minutes, {', '.join(moved)}.")


def _good_day(d: Diagnosis) -> Iterator[Block]:
    """What was judged by the machine's own good day, and what would have come out without it."""
    use = d.good_day
    if use is None or not use.used or d.status != "diagnosed":
        return
    yield heading("By this machine’s own good day")
    yield line(f"Judged by the baseline, moved to today’s weather: {', '.join(use.used)}.")
    first = use.plain.ranked[0]
    yield line(
        f"Without the baseline: {name_of(first.fault, d.rules)} first, share {share_text(first.share)}; charge verdict "
        f"{use.plain.charge.verdict}."
    )


def _amount(c: ChargeVerdict, d: Diagnosis) -> Iterator[Block]:
    if c.method == "weight":
        yield line(f"{amount_text(c, d.system)} {how_to_correct(d, c)}")
    elif c.percent is None:
        yield line(f"How much cannot be told from these readings. {how_to_correct(d, c)}")
    else:
        good = "an estimate from temperatures is good to about 10 % of the charge"
        if c.at_least:
            left = "subcooling" if c.verdict == "low" else "superheat"
            good = f"with no {left} left, temperatures do not show how much more"
        amount = amount_text(c, d.system, " of this machine’s charge").removesuffix(".")
        yield line(f"{amount} ({good}). {how_to_correct(d, c)}")
    if c.expect_after:
        parts = [
            f"{name} from {number(max(e.value - e.tolerance, 0.0), 'difference', d.system, unit=False)} to "
            f"{number(e.value + e.tolerance, 'difference', d.system)}"
            for name, e in c.expect_after.items()
        ]
        yield line(f"Afterwards expect {' and '.join(parts)}.")


def _would_change(d: Diagnosis) -> Iterator[Block]:
    """The readings that, a little off, would put another fault first."""
    if found := would_change(d):
        yield heading("Not firm: one reading, a little off, would change the answer")
        yield from (item(turning_point_text(t, d)) for t in found[:TURNING])


def turning_point_text(t: TurningPoint, d: Diagnosis) -> str:
    """`If the liquid line temperature were 97.0 °F instead of 89.0 °F, low refrigerant charge would come first.`"""
    kind = t.reading.field.kind
    unit = t.reading.unit if d.system == d.visit.system else unit_in(t.reading, d.system)
    there, here = (units.show(value, kind, unit) for value in (t.value, t.reading.value))
    limit = abs(
        units.from_si(t.reading.value + t.reading.error, unit, kind) - units.from_si(t.reading.value, unit, kind)
    )
    sign = here.partition(" ")[2].removesuffix(" gauge").removesuffix(" absolute")
    sign = {"psig": "psi", "psia": "psi", "°C": "K"}.get(sign, sign)  # a limit of error is a difference
    return (
        f"If the {t.reading.name} were {there} instead of {here}, {name_of(t.fault, d.rules)} would come first. "
        f"The reading is good to ± {two_digits(limit)} {sign}."
    )


def _faults(d: Diagnosis) -> Iterator[Block]:
    if not d.faults:
        return
    first, *others = d.faults
    yield heading(f"Evidence for: {name_of(first.fault, d.rules)} ({first.strength})")
    if first.supporting:
        yield line(POINTS)
    yield from (evidence_block(e, d) for e in first.supporting)
    if not first.supporting:
        yield line("None was found. It leads only because the others are even less likely.")
    yield heading("Evidence against it")
    yield from (evidence_block(e, d) for e in first.opposing)
    if not first.opposing:
        yield line("None was found.")
    yield from second_section(d)
    close = [f for f in others if f.share >= FULL and f.fault not in d.also]
    silent = [f for f in close if not f.supporting and not f.opposing]
    for fault in close:
        if fault in silent:
            continue
        yield heading(f"Or: {name_of(fault.fault, d.rules)} ({fault.strength})")
        yield from (evidence_block(e, d) for e in fault.supporting[:BRIEF])
        yield from (evidence_block(e, d) for e in fault.opposing[:BRIEF])
        if alike := looks_like(first.fault, fault.fault, d):
            yield line(f"How to tell them apart: {alike}")
    if silent:
        yield heading("Or, with no evidence for or against")
        for fault in silent:
            alike = looks_like(first.fault, fault.fault, d)
            yield item(f"{title_of(fault, d)} ({fault.strength}). {alike}".strip())
    rest = [f for f in others if f.share < FULL and f.fault not in d.also]
    if rest:
        yield heading("Unlikely")
        for fault in rest[:NAMED]:
            yield item(f"{title_of(fault, d)}: {_why_not(fault)}")
        if rest[NAMED:]:
            yield item(f"Less likely still: {'; '.join(name_of(f.fault, d.rules) for f in rest[NAMED:])}.")


def second_section(d: Diagnosis) -> Iterator[Block]:
    """The second fault: which findings are the first one's, which are its own, and what neither makes."""
    second = d.explained.second
    if second is None:
        return
    fault = next(f for f in d.faults if f.fault == second.fault)
    name, one = name_of(fault.fault, d.rules), name_of(d.faults[0].fault, d.rules)
    yield heading(f"Perhaps as well: {name}")
    if d.explained.first:
        yield line(f"These findings belong to the first fault, {one}: {_told(d.explained.first, d)}.")
    yield line(f"It does not explain these, but {name} does: {_told(second.findings, d)}.")
    if d.explained.left:
        yield line(f"Neither explains these, so read them again: {_told(d.explained.left, d)}.")
    own = [e for e in fault.supporting if set(e.rule.findings) & set(second.findings)]
    yield from (evidence_block(e, d) for e in own[:BRIEF])


def _told(names: tuple[str, ...], d: Diagnosis) -> str:
    return findings_text(names, d.findings, d.system)


def _why_not(fault: Ranked) -> str:
    sure = next(
        (e for e in fault.opposing if round(e.firing.sure, 2) >= EVEN), None
    )  # a title speaks as if it were true
    if sure is not None:
        return f"{lower_first(sure.rule.entry.title)}."
    return "no evidence for it." if not fault.supporting else "less evidence for it."


def _costs(d: Diagnosis) -> Iterator[Block]:
    """What the leading fault costs, in words a customer understands."""
    if d.costs is None:
        return
    yield heading("What it costs")
    if isinstance(d.costs, NoCosts):
        yield line(unknown_text(d.costs))
    else:
        yield line(costs_text(d.costs))
        source = cite(d.costs.source, d.rules)
        yield line(f"For {size_text(d.costs.size)}. Source: {source}. A range, because machines differ.")


def _missing(d: Diagnosis) -> Iterator[Block]:
    if not d.faults:
        return
    likely = [f for f in d.faults if f.share >= 0.03] or list(d.faults[:1])
    wanted = [m.finding for fault in likely for m in missing(d, fault.fault) if m.at_stake >= 2]
    if wanted:
        yield heading("Not known, but would help")
        names = list(dict.fromkeys(wanted))
        yield line(", ".join(names[:LISTED_MISSING]) + ("." if len(names) <= LISTED_MISSING else " …"))


def next_section(d: Diagnosis) -> Iterator[Block]:
    """The checks, the likeliest to change the answer first; then the repair."""
    if checks := next_checks(d):
        yield heading("Next")
        for i, check in enumerate(checks):
            minutes = counted(check.minutes, "minute")
            needs = f", needs {check.needs}" if check.needs else ""
            yield item(f"{check.ask} ({minutes}{needs}.) {check.why}", f"{i + 1}.")
    if repair := repair_of(d):
        yield heading(f"If confirmed: {name_of(d.faults[0].fault, d.rules)}")
        yield from (item(step) for step in repair.do)
        yield from (item(caution, "!") for caution in repair.cautions)
        yield line(f"Afterwards: {repair.expect}")


def caution_section(d: Diagnosis) -> Iterator[Block]:
    """What could hurt."""
    if d.cautions:
        yield heading("Take care", "care")
        for rule in d.cautions:
            yield item(f"{rule.entry.title}. {rule_text(d, rule, alarming=True)}", "!")


def figures_section(d: Diagnosis) -> Iterator[Block]:
    """Every figure that was worked out, beside what it should be."""
    shown = {step.name for step in STEPS if step.shown} | {q.name for q in d.rules.own.quantities}
    by_quantity: dict[str, Finding] = {}
    for entry in d.rules.findings.values():
        if entry.quantity and entry.finding in d.findings:
            by_quantity.setdefault(entry.quantity, d.findings[entry.finding])
    rows = [("figure", "value", "should be", "in a word")]
    for name, e in d.estimates.items():
        if name in shown:
            finding = by_quantity.get(name)
            rows.append((name, estimate_text(e, d.system), _should_be(e, d), _so(finding)))
    if len(rows) > 1:
        both = "; in brackets: in general" if d.good_day is not None and d.good_day.used else ""
        yield heading(f"The figures (± holds 95 of 100{both})")
        yield Block("rows", rows=tuple(rows))


def _should_be(e: Estimate, d: Diagnosis) -> str:
    general = number(e.target.value, e.kind, d.system) if e.target else ""
    if e.good_day is None:
        return general
    own = number(e.good_day.expected.value, e.kind, d.system)
    return f"{own} ({number(e.target.value, e.kind, d.system, unit=False)})" if e.target else own


def _so(finding: Finding | None) -> str:
    """The likeliest word, and the next one where it is nearly as likely."""
    if finding is None:
        return ""
    ordered = sorted(finding.words, key=lambda w: -finding.words[w])
    if len(ordered) > 1 and finding.words[ordered[1]] >= 0.25:
        return f"{ordered[0]} or {ordered[1]}"
    return ordered[0]


def _machine(d: Diagnosis) -> Iterator[Block]:
    m = d.visit.machine
    facts = [m.name]
    if m.refrigerant:
        facts.append(f"{m.refrigerant.name} (class {m.refrigerant.safety})")
    facts += [word for word in (m.metering, m.mode, *machine_words(m)) if word]
    yield Block("foot", f"Machine: {', '.join(facts)}. Rule book: {d.rules.name}; matched by {d.matcher}.")
    yield from remarks(d)
    if d.rules.changes:
        changed = "; ".join(
            f"{change.target}: {change_text(own, change, now=False)}" for own, change in d.rules.changes
        )
        yield Block("foot", f"Changes to the {d.rules.base} book: {changed}.")
