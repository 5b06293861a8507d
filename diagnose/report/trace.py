"""The page of `why`: reading → quantity → finding → state → rule → points, for one fault, also one that lost."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.explanations import near_misses
from diagnose.diagnosis.findings import Finding, by_good_day
from diagnose.diagnosis.ranking import Evidence
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, deeper, heading, item, line
from diagnose.report.dangers import danger_blocks, opening
from diagnose.report.evidence import evidence_text, points_text, share_text
from diagnose.report.field import held_text
from diagnose.report.sentences import said
from diagnose.report.wording import (
    change_text,
    cite,
    finding_text,
    limit_texts,
    margin,
    plus_minus,
    reading_text,
    spoken_by,
)

_BY = {
    "value": "on its value",
    "difference": "on its difference from what it should be",
    "nearest": "on its difference from the nearest edge of the table",
    "share": "on its share of what it should be",
    "target": "by whether there is a target",
}
TOLD = 0.005  # certainties below half a hundredth are left out


def why_page(d: Diagnosis, fault: str) -> list[Block]:
    """Everything for and against one fault of the rule book, down to the readings."""
    entry = d.rules.faults[fault]
    if d.outside:
        judged = opening(d, f"{entry.name}: not judged.")
        return [*judged, *danger_blocks(d), line(held_text(d)), line(entry.what)]
    place, ranked = next((i, r) for i, r in enumerate(d.ranked) if r.fault == fault)
    blocks = [
        *opening(d, f"{entry.name}: {ranked.strength}, place {place + 1} of {len(d.ranked)}."),
        *danger_blocks(d),
    ]
    if d.held:
        blocks.append(line(f"No verdict is given yet. {said(d, d.held[0])}"))
    rules = points_text(ranked.score - entry.usual)
    blocks += [
        line(entry.what),
        line(
            f"Score {points_text(ranked.score)}: {points_text(entry.usual)} for how usual it is "
            f"({cite(entry.usual_source, d.rules)}), {rules} from the rules. One point doubles the odds. "
            f"Its share of the odds of all faults is {share_text(ranked.share)}."
        ),
        *(line(f"How usual it is: {change_text(own, change)}") for own, change in d.rules.changes_of(fault)),
    ]
    told: set[str] = set()
    for title, evidence in (("For", ranked.supporting), ("Against", ranked.opposing)):
        if evidence:
            blocks.append(heading(title))
            for e in evidence:
                blocks += _rule(e, d, told)
    blocks += _near_misses(d, fault)
    if entry.looks_like:
        blocks.append(heading("Look-alikes"))
        blocks += [item(f"{d.rules.faults[other].name}: {text}") for other, text in entry.looks_like.items()]
    return blocks


def _rule(e: Evidence, d: Diagnosis, told: set[str]) -> Iterator[Block]:
    entry = e.rule.entry
    yield item(evidence_text(e, d), points_text(e.weight))
    left = "" if e.counted == e.firing.sure else f" (of {e.firing.sure:.2f}; a more specific rule takes the rest)"
    yield deeper(
        f"rule {entry.id}: {points_text(e.rule.points)} points × {e.counted:.2f} sure{left}; {cite(entry.source, d.rules)}"
    )
    if e.rule.own:
        yield deeper(f"a rule of {e.rule.own}")
    for own, change in d.rules.changes_of(entry.id):
        yield deeper(change_text(own, change))
    for name in e.rule.findings:
        yield from _finding(name, d, told, 2)


def _finding(name: str, d: Diagnosis, told: set[str], level: int) -> Iterator[Block]:
    if name in told:
        yield deeper(f"{name}: as above", level)
        return
    told.add(name)
    if name in d.states:
        yield deeper(f"state {name}: {_words(d.states[name])}", level)
        yield from _concluded(name, d, told, level + 1)
    elif name in d.findings:
        yield from _measured(d.findings[name], d, level)


def _concluded(state: str, d: Diagnosis, told: set[str], level: int) -> Iterator[Block]:
    fired = {firing.rule for firing in d.matched.firings if firing.sure >= TOLD}
    for rule in d.applying.rules:
        if rule.concludes is not None and rule.concludes[0] == state and rule.id in fired:
            yield deeper(f"by rule {rule.id}: {rule.entry.title}{spoken_by(rule, d.rules)}", level)
            for name in rule.findings:
                yield from _finding(name, d, told, level + 1)


def _measured(finding: Finding, d: Diagnosis, level: int) -> Iterator[Block]:
    estimate, scale = finding.estimate, finding.scale
    if estimate is None or scale is None:
        yield deeper(f"seen {finding.name}: {finding.word}", level)
        return
    yield deeper(f"finding {finding.name}: {_words(finding.words)}", level)
    if finding.limits:
        words = ", ".join(d.rules.findings[finding.name].words)
        of = "its good day is known to" if by_good_day(finding) else "healthy machines scatter"
        scatter = f"; {of} {margin(finding, d.system)}" if finding.spread else ""
        limits = ", ".join(limit_texts(finding, d.system))
        yield deeper(
            f"words {words}; limits {limits} {_BY[scale.by]}{scatter}; {cite(scale.source, d.rules)}", level + 1
        )
    for own, change in d.rules.changes_of(finding.name):
        yield deeper(change_text(own, change), level + 1)
    if estimate.good_day is not None and by_good_day(finding):
        day = estimate.good_day.expected
        shown = plus_minus(day.value, day.spread, estimate.kind, d.system)
        yield deeper(f"its good day, moved to today’s weather: {shown}", level + 1)
    yield deeper(f"quantity {estimate.name}: {finding_text(finding, d.system)} = {estimate.formula}", level + 1)
    for name in estimate.readings:
        yield deeper(f"reading {name}: {reading_text(d.visit.last.readings[name])}", level + 2)


def _words(words: object) -> str:
    assert isinstance(words, dict)
    return ", ".join(f"{word} {chance:.2f}" for word, chance in words.items() if chance >= TOLD)


def _near_misses(d: Diagnosis, fault: str) -> Iterator[Block]:
    found = near_misses(d, fault)
    if found:
        yield heading("One finding short of firing")
    for miss in found:
        has = f"it is {miss.has}" if miss.has else "it was not measured"
        yield item(
            f"{miss.rule.entry.title}: {miss.lacking} would have to be {' or '.join(miss.wants)}; {has}.",
            points_text(miss.rule.points),
        )
        yield deeper(f"rule {miss.rule.id}")
