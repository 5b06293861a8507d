"""The first screen: what a technician must read before anything else, in at most 24 lines of 80 columns.

Stop the machine before all else, the answer, other dangers, what is doubted, the charge, the next step, the reasons that
weigh most, what was taken for granted, and how to see more. Where it would be too long, the reasons give way first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.charge import look_alikes
from diagnose.diagnosis.next_checks import NextCheck, next_checks
from diagnose.diagnosis.ranking import Evidence, strength
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.report.blocks import Block, brief, line
from diagnose.report.charge import amount_text, headline, verdict_text
from diagnose.report.dangers import danger_text, first_sentence, loosened_text, opening
from diagnose.report.field import held_short, odd_text
from diagnose.report.layout import WIDTH, as_text
from diagnose.report.repair import begin_of_repair, lacking, only_surer
from diagnose.report.sentences import charge_text, needless, said
from diagnose.report.start_up import start_up_screen
from diagnose.report.weighing import in_short
from diagnose.report.wording import counted, figure_text, likeliest, lower_first, name_of, points_nowhere
from diagnose.units import System

LINES = 24
REASONS = 3
# Longest text of one part, in characters; the whole stands in the full page.
LONG = 300
LONG_DOUBT = 220  # so that the next step stands on the first screen of a phone
LIKELY = 0.5  # how sure a reason must be: its title speaks as if it were true
ASSUMED = {
    "sea-level-assumed": "sea level",
    "cooling-assumed": "cooling",
    "taken-as-gauge": "pressures without a mark are gauge pressures",
    "humidity-assumed": "return air at 50 % relative humidity",
    "running-time-not-noted": "15 minutes running",
    "baseline-within-baseline": "no baseline of the baseline",
}
"""What a visit left open and was taken for granted, in a few words."""


def first_screen(
    d: Diagnosis,
    units: System | None = None,
    more: str = "--full shows everything.",
    last: Sequence[Block] = (),
    apart: bool = False,
) -> list[Block]:
    """The first screen. units: the system it is told in; more: how the rest is to be had; last: what stands before that;
    apart: why nothing is judged is no part of the headline."""
    d = d.told_in(units)
    if d.start_up is not None:
        return start_up_screen(d, more)
    checks = next_checks(d)
    reasons = list(_reasons(d))
    for count in range(len(reasons), -1, -1):
        *foot, end = _foot(d, more)
        blocks = [*_head(d, checks, apart and bool(d.held)), *reasons[:count], *foot, *last, end]
        if len(as_text(blocks, WIDTH).splitlines()) <= LINES:
            break
    return blocks


def _head(d: Diagnosis, checks: Sequence[NextCheck], apart: bool) -> Iterator[Block]:
    yield from opening(d, held_short(d) if apart else short_answer(d))
    if apart:
        yield line(_held_why(d))
    stops = [first_sentence(danger_text(d, danger)[1]) for danger in d.dangers if danger.level == "stop"]
    if len(stops) > 1:
        yield brief("Seen:", " ".join(stops))
    yield from (brief("Rules:", loosened_text(own, change)) for own, change in d.rules.loosened)
    told = [doubt.reason for doubt in d.doubts if doubt.told]
    for reason in sorted(told, key=lambda reason: reason not in d.charge.reasons)[
        :1
    ]:  # what holds the charge is told first
        if reason not in d.held:
            yield brief("Doubtful:", _cut(said(d, reason), LONG_DOUBT))
    yield from _charge(d)
    yield from next_step(d, checks)


def next_step(d: Diagnosis, checks: Sequence[NextCheck]) -> Iterator[Block]:
    """The one thing to do now: the first check, or where none is worth its time the first step of the repair."""
    for check in checks[:1]:
        minutes = counted(check.minutes, "minute")
        yield brief("Next:", f"{only_surer(d, check)}{_cut(check.ask)}{lacking(d, check)} ({minutes}.)")
    if not checks:
        yield from (brief("Next:", _cut(step)) for step in begin_of_repair(d))


def short_answer(d: Diagnosis) -> str:
    """One line: the leading fault and how strong its evidence is, or why nothing is ranked."""
    if d.held:
        return f"{held_short(d)} {_held_why(d)}"
    likely = f"{likeliest(d)}."
    if not d.explained.known:
        return f"{likely} No known pattern: suspect the readings first."
    if alike := _alike(d):
        likely = f"{likely} The same at the gauges: {alike}."
    if d.also:
        return f"{likely} Perhaps as well: {name_of(d.also[0], d.rules)}."
    near = [f for f in d.faults[1:2] if d.faults[0].share - f.share < d.rules.charge.leads_by]
    near = [] if alike or points_nowhere(d) else near
    return f"{likely} Also possible: {name_of(near[0].fault, d.rules)}." if near else likely


def _held_why(d: Diagnosis) -> str:
    return _cut(said(d, d.held[0]))


def _alike(d: Diagnosis) -> str:
    """What else is not unlikely, and looks like a leader that is named until what parts the two is looked at.

    Or shares its word: then it is said of them all.
    """
    if points_nowhere(d):
        return ""
    first, unlikely = d.faults[0], {one.fault for one in d.faults if one.strength == "unlikely"}
    leader = first.fault
    both = [group for group in look_alikes(d.findings, d.rules) if leader in group]
    if first.by_share != strength(first.share, d.rules.judgement.strengths):  # said of all that are one doubt
        both += [group for group in d.rules.charge.one_doubt if leader in group]
    alike = dict.fromkeys(fault for group in both for fault in group if fault not in {leader, *unlikely})
    return ", ".join(name_of(fault, d.rules) for fault in alike)


def _charge(d: Diagnosis) -> Iterator[Block]:
    c, whole = d.charge, in_short(d)
    if d.held:
        if isinstance(c, ChargeVerdict):
            yield brief("Charge:", f"{headline(d)}. {amount_text(c, d.system)}".rstrip())
        elif whole:
            yield brief("Charge:", f"no verdict. {whole}")
        return
    if not isinstance(c, ChargeVerdict):
        doubted = [doubt.reason for doubt in d.doubts]
        held = any(reason in doubted for reason in c.reasons)
        why = "correct the readings named above first." if held else lower_first(_cut(charge_text(d)))
        yield brief("Charge:", f"no verdict yet; {why} {whole}".rstrip())
        return
    yield brief("Charge:", verdict_text(d, c, "" if c.method == "weight" else whole))


def _reasons(d: Diagnosis) -> Iterator[Block]:
    """Those that may well be true, weightiest first; each figure stands once."""
    if not d.faults:
        return
    first, told = d.faults[0], set[str]()
    if first.supporting and first.strength != "weak" and not any(e.firing.sure >= LIKELY for e in first.supporting):
        yield brief("Perhaps because", _reason(first.supporting[0], d, told))
    for lead, evidence, most in (("Because", first.supporting, REASONS), ("But", first.opposing, 1)):
        for e in [e for e in evidence if e.firing.sure >= LIKELY][:most]:
            yield brief(lead, _reason(e, d, told))


def _reason(e: Evidence, d: Diagnosis, told: set[str]) -> str:
    """The title of a rule that fired, and the figures it rests on that were not told yet: two findings may share one."""
    names = {d.rules.findings[name].quantity or name: name for name in reversed(e.rule.findings) if name in d.findings}
    new = [name for what, name in reversed(names.items()) if what not in told]
    told.update(names)
    figures = [text for name in new if (text := figure_text(d.findings[name], d.system))]
    told_by = f" ({'; '.join(figures)})" if figures else ""
    return f"{lower_first(e.rule.entry.title)}{told_by}."


def _foot(d: Diagnosis, more: str) -> Iterator[Block]:
    words = list(
        dict.fromkeys(
            ASSUMED[reason.code] for reason in d.assumed if reason.code in ASSUMED and not needless(d, reason)
        )
    )
    if words:
        yield brief("Assumed:", f"{', '.join(words)}.")
    if d.good_day is not None and not d.good_day.used and d.good_day.reasons:
        yield brief("Good day:", _cut(first_sentence(said(d, d.good_day.reasons[0]))))
    if odd := odd_text(d):
        yield brief("Machine:", _cut(odd))
    if d.cautions:
        yield brief("Care:", f"{'; '.join(lower_first(rule.entry.title) for rule in d.cautions[:4])}.")
    yield brief("More:", more)


def _cut(text: str, most: int = LONG) -> str:
    """What is too long for one part of a screen ends with …, behind a sentence or a part of a list; a full page has it all."""
    if len(text) <= most:
        return text
    for end in (". ", "; "):
        begin, found, _ = text[:most].rpartition(end)
        if found:
            return f"{begin}{end}…"
    return f"{text[:most].rsplit(' ', 1)[0]} …"


# -- before one leaves ------------------------------------------------------------------------------------------------

CIRCUIT = ("valve caps with their seals back on and snug", "valve cores and new joints checked for leaks")
"""Where gauges were on, or the circuit was opened."""
CLOSING = (
    "panels and covers closed",
    "filter clean and in place",
    "thermostat back as the customer had it",
)
"""Common practice, no source."""
_KEEP = "these readings kept as the machine’s next good day (`baseline:`)"


def closing(d: Diagnosis) -> tuple[str, ...]:
    """The list for this visit: its readings are kept as a good day only where they are whole and nothing is wrong."""
    gauged = bool(d.visit.weighed) or any(r.field.instrument == "gauges" for r in d.visit.last.readings.values())
    begin = CIRCUIT if gauged else ()
    right = bool(d.faults) and d.rules.faults[d.faults[0].fault].charge == "right" and d.faults[0].strength != "weak"
    good = right and gauged and not d.stop
    return (*begin, *CLOSING, _KEEP) if good else (*begin, *CLOSING)


def closing_brief(d: Diagnosis) -> Iterator[Block]:
    """The list as one part of a first screen; a machine that must be stopped is not left like that."""
    if d.stop:
        return
    yield brief("Before you leave:", f"{'; '.join(closing(d))}.")
