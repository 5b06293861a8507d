"""Dangers in words: a title that fits on one line, and what to do; and what a company's rules made less strict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from diagnose.diagnosis.dangers import Danger
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, brief, heading, item
from diagnose.report.doubts import filled
from diagnose.report.layout import as_text
from diagnose.report.wording import change_text, cite, counted, fill, lower_first, plain_show, spoken_by
from diagnose.rulebook.entries import BookChange, Level, Unfit

MARKS = {"stop": "STOP", "care": "Care"}
SWITCH_OFF = "Switch the machine off, and leave it off until the cause is fixed."
FIRST = 6  # lines within which every danger is told


def danger_text(d: Diagnosis, danger: Danger) -> tuple[str, str]:
    """Title, without a full stop, and what is seen and to be done, in the units the diagnosis is told in."""
    if danger.rule is not None:
        text = fill(danger.rule.entry.why, d.alarming, d.rules, d.system, d.states) + spoken_by(danger.rule, d.rules)
        return danger.rule.entry.title, text
    assert danger.reason is not None
    title, template = SENTENCES[danger.code]
    return title, filled(template, danger.reason.figures, plain_show(d.visit, d.system))


def danger_source(d: Diagnosis, danger: Danger) -> str:
    """Where the limit comes from, in words."""
    if danger.rule is not None:
        return cite(danger.rule.entry.source, d.rules)
    limits = d.rules.pressure_limits
    return cite(limits.source if limits and danger.code.startswith("high-side") else "common-practice", d.rules)


def alarm(d: Diagnosis, level: Level) -> list[Block]:
    """The dangers of a level in one part of a few lines: each by its title, a single stop with what it rests on as well."""
    told = [danger_text(d, danger) for danger in d.dangers if danger.level == level]
    titles = "; ".join(lower_first(title) for title, _ in told)
    if level == "care":
        return [brief("Danger:", f"{titles}.")] if told else []
    if len(told) == 1:
        ((title, text),) = told
        return [brief("STOP:", f"{SWITCH_OFF} {title}. {first_sentence(text)}")]
    return [brief("STOP:", f"{SWITCH_OFF} Why: {titles}.")] if told else []


def opening(d: Diagnosis, answer: str) -> list[Block]:
    """How every page begins: stop, the answer, other dangers; these go before an answer that would push them further down
    than the first lines."""
    stop, care, said = alarm(d, "stop"), alarm(d, "care"), Block("answer", answer)
    rules = [brief("Rules:", unfit_text(d.rules.unfit, d.visit.left_out))] if d.rules.unfit else []
    usual = [*stop, *rules, said, *care]
    return usual if len(as_text(usual).splitlines()) <= FIRST else [*stop, *care, *rules, said]


def unfit_text(unfit: Unfit, left_out: Sequence[str] = ()) -> str:
    """That other rules judge than those asked for, and which; left_out: what of the visit these do not know."""
    names = " and ".join(unfit.folders)
    count = counted(unfit.mistakes, "mistake")
    instead = {
        "last": "the last version without a mistake is used here",
        "shipped": "the shipped rules alone are used here",
    }[unfit.instead]
    lost = f" Left out of the visit: {', '.join(left_out)}." if left_out else ""
    return f"The rules of {names} cannot be used as they are ({count}; `diagnose rules check` lists them): {instead}.{lost}"


def first_sentence(text: str) -> str:
    """What is seen; what to do about it follows."""
    return f"{text.partition('. ')[0].removesuffix('.')}."


def danger_blocks(d: Diagnosis) -> Iterator[Block]:
    """The dangers with all that is known of them, below the opening of a page; nothing where there are none."""
    if d.dangers:
        yield heading("Danger: stop the machine" if d.stop else "Danger", "care")
        for danger in d.dangers:
            yield item(". ".join(danger_text(d, danger)), MARKS[danger.level])


def loosened_text(own: str, change: BookChange) -> str:
    """What a company's folder made less strict, and who answers for it."""
    what = {"off": "rule", "limits": "limits of", "pressure_limit": "high side limit of"}.get(change.kind, "")
    changed = f"{what} {change.target}, {change_text(own, change)}"
    return f"Less strict than the shipped rules: {changed.rstrip('.')}. Approved by: {change.approved_by}."


def loosened_blocks(d: Diagnosis) -> Iterator[Block]:
    """The same for every change of the book that does so."""
    for own, change in d.rules.loosened:
        yield item(loosened_text(own, change), "!")


SENTENCES: Mapping[str, tuple[str, str]] = {
    "high-side-pressure": (
        "The high side pressure is over its limit",
        f"The {{reading}} is {{pressure:pressure}}, over {{limit:pressure}}, {{of:whose limit}}. {SWITCH_OFF} Stay clear of "
        "the high side, and never close a high side valve while the machine runs.",
    ),
    "high-side-near-limit": (
        "The high side pressure is close to its limit",
        "The {reading} is {pressure:pressure}, close to {limit:pressure}, {of:whose limit}. Watch it while you work, and "
        "switch the machine off if it climbs. Stay clear of the high side.",
    ),
    "suction-in-vacuum": (
        "A gauge stands in vacuum",
        "The {reading} is {pressure:pressure}, below that of the air: through any leak and any loose hose air and moisture "
        f"are drawn in. {SWITCH_OFF} A closed valve, a blockage or an empty circuit does this. Open no hose meanwhile.",
    ),
    "live-parts": (
        "Live parts",
        "By its pressures or its current the compressor seems to stand. Before you look for the cause: switch off, lock out "
        "and verify zero voltage. Capacitors and drives stay charged for minutes, and a machine that stands may start by "
        "itself.",
    ),
    "test-gas-burns": (
        "The circuit was filled with a gas that makes oil explode",
        "The pressure test is said to have been done with {gas}: under pressure it makes oil burn and explode. "
        f"{SWITCH_OFF} Keep flames and sparks away, and let the pressure off slowly into the open. Then purge and evacuate, "
        "and test with dry nitrogen from a regulator with a relief valve.",
    ),
    "test-pressure-too-high": (
        "The test pressure was above what the plate allows",
        "The lines stood under {pressure:pressure}, and the plate allows {allowed:pressure}. Stand clear, let the nitrogen "
        "off slowly, and set the regulator and its relief valve below the plate. What was strained may fail later: look over "
        "coils, valves and joints.",
    ),
}
"""By code: the title, and the template of what is seen and to be done."""
