"""A visit told from gauge to verdict, with its own figures: what a trainer puts before a class."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from diagnose import units
from diagnose.diagnosis.explanations import has_words, missing
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons import arithmetic, should_be, story
from diagnose.lessons.figures import BothSystems, add_up, worked
from diagnose.lessons.start_up_lesson import start_up
from diagnose.properties.targets import NoTarget
from diagnose.quantities.uncertainty import Estimate, absolute
from diagnose.report.blocks import Block, deeper, heading, item, line, subheading
from diagnose.report.dangers import danger_blocks, opening
from diagnose.report.evidence import evidence_block, evidence_text, looks_like, points_text, share_text, title_of
from diagnose.report.illustrated import of_visit
from diagnose.report.pages import caution_section, charge_section, next_section, second_section
from diagnose.report.sentences import needless, problems, said
from diagnose.report.start_up import summary
from diagnose.report.wording import (
    counted,
    fill,
    finding_text,
    how_to_get,
    limit_texts,
    lower_first,
    name_of,
    number,
    reading_text,
    seen_text,
    system_of,
    unit_in,
)
from diagnose.rulebook import Rule
from diagnose.visit import Reading, Visit

NAMED = 0.25  # an answer less certain than this is none
TOLD = 0.005  # certainties below half a hundredth are left out
_MODE = {"cooling": "cooling", "heating": "heating", None: "cooling (assumed)"}


def lesson_page(d: Diagnosis, both: bool = True) -> list[Block]:
    """The lesson of one visit. both: the other system of units stands beside that of the visit."""
    f = BothSystems(d.system, both)
    return [
        *opening(d, f"Lesson: {d.visit.machine.name}, from gauge to verdict"),
        *_opening(d),
        *_machine(d, f),
        *start_up(d, f),
        *of_visit(d, "circuit"),
        *arithmetic.pressures(d, f),
        *arithmetic.differences(d, f),
        *should_be.expected(d, f),
        *should_be.air(d, f),
        *of_visit(d, "cycle"),
        *(arithmetic.target(d, f) if _for_cooling(d) else ()),
        *of_visit(d, "target"),
        *arithmetic.doubt(d, f),
        *_words(d),
        *_questions_of_the_machine(d),
        *evidence(d),
        *second_section(d),
        *shares(d),
        *charge_section(d),
        *_story(d),
        *next_section(d),
        *caution_section(d),
        *_class(d, f),
        *_sources(d),
    ]


def _for_cooling(d: Diagnosis) -> bool:
    """Whether the targets and words of this book hold for what the machine is and does."""
    return not d.outside and d.visit.machine.mode != "heating"


def _opening(d: Diagnosis) -> Iterator[Block]:
    if dangers := list(danger_blocks(d)):
        yield from (*dangers, heading("How to read this page"))
    yield line(
        "How the readings of one visit become a verdict, step by step: what is read, what is worked out from it, which word it "
        "gets, which rules apply, and what to do. Every figure is the one that the program itself used."
    )
    if d.start_up is not None:
        yield line(summary(d))
    for reason in d.held if d.start_up is None or d.visit.last.readings else ():  # else it has not run yet
        yield item(f"{'Nothing is judged.' if d.outside else 'No verdict is given yet.'} {said(d, reason)}", "!")
    for reason in [reason for reason, _ in problems(d) if not needless(d, reason)]:
        if reason not in d.held:
            yield item(said(d, reason), "!")


# -- the machine and the day -------------------------------------------------------------------------------------------


def _machine(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    m, visit = d.visit.machine, d.visit
    yield heading("The machine and the day")
    gas = f"{m.refrigerant.name}, safety class {m.refrigerant.safety}" if m.refrigerant else "refrigerant not given"
    yield line(f"{m.name}: {gas}; {m.metering or 'metering device not given'}; {_MODE[m.mode]}.")
    if m.refrigerant and m.refrigerant.safety != "A1":
        yield item(f"{m.refrigerant.name} is flammable. Keep flames and sparks away, and use tools rated for it.", "!")
    minutes = visit.last.minutes
    if visit.last.readings:
        yield line(
            "How long the machine had been running was not noted. Before 15 minutes readings mean little."
            if minutes is None
            else f"It had been running for {counted(minutes, 'minute')}."
        )
        yield Block("rows", rows=(("reading", "value", "where it is taken"), *_readings(visit, f)))
    if visit.seen:
        yield line(f"Seen or told: {seen_text(visit.seen.items())}.")


def _readings(visit: Visit, f: BothSystems) -> Iterator[tuple[str, ...]]:
    for name, reading in visit.last.readings.items():
        yield name, reading_both(reading, f), reading.field.where


def reading_both(reading: Reading, f: BothSystems) -> str:
    """`114 psig (786 kPa gauge)`: as it was written, with the other system beside it."""
    kind = reading.field.kind
    own = units.show(reading.value, kind, reading.unit)
    if not f.both:
        return own
    for system in f.systems:
        other = units.show(reading.value, kind, unit_in(reading, system))
        if other.split()[-1] != own.split()[-1] and system != system_of(reading):
            return f"{own} ({other})"
    return own


# -- numbers become words ----------------------------------------------------------------------------------------------


def _words(d: Diagnosis) -> Iterator[Block]:
    if not _for_cooling(d):
        return
    read = {name for rule in d.applying.rules if rule.kind in ("evidence", "state") for name in rule.findings}
    judged = [finding for finding in d.findings.values() if finding.limits and finding.name in read]
    seen = [finding for finding in d.findings.values() if finding.estimate is None]
    if not judged and not seen:
        return
    yield heading("Figures become words")
    if judged:
        yield line(
            "Rules use words, not numbers. Each figure is compared with its limits. Its uncertainty and the scatter of "
            "healthy machines form a bell curve around it, and each word gets the share of the curve between its "
            "limits. So nothing flips on a tenth of a degree."
        )
        for finding in judged:
            yield item(f"{_judged(finding, d)}; {_chances(finding.words)}.", lead=f"{finding.name}:")
            yield deeper(_ladder(finding, d))
    if seen:
        yield line(f"Seen or told, and so certain: {seen_text((one.name, one.word) for one in seen)}.")


def _ladder(finding: Finding, d: Diagnosis) -> str:
    """The words with the limits between them: `low ‹ −5.0 °F ‹ normal ‹ 5.0 °F ‹ high`."""
    limits = limit_texts(finding, d.system)
    words = d.rules.findings[finding.name].words
    parts = [words[0]] + [f"‹ {limit} ‹ {word}" for limit, word in zip(limits, words[1:], strict=True)]
    return " ".join(parts)


def _judged(finding: Finding, d: Diagnosis) -> str:
    """The very figure that is laid against the limits."""
    e, by = finding.estimate, finding.scale.by if finding.scale else "value"
    assert e is not None
    if by == "share" and e.target is not None:
        return f"{e.value / e.target.value:.2f} of what it should be"
    if by == "difference" and e.difference is not None:
        return _apart(e.difference, e, d, "what it should be")
    near = e.expected.nearest if isinstance(e.expected, NoTarget) else None
    if by == "nearest" and near is not None:
        return _apart(e.value - near.value, e, d, "the nearest edge of its table")
    return finding_text(finding, d.system)


def _apart(by: float, e: Estimate, d: Diagnosis, what: str) -> str:
    kind = "difference" if e.kind == "temperature" else e.kind
    return f"{number(abs(by), kind, d.system)} {'above' if by > 0 else 'below'} {what}"


def _chances(words: Mapping[str, float]) -> str:
    """Words in the order of their chance."""
    ordered = sorted(words.items(), key=lambda pair: -pair[1])
    return ", ".join(f"{word} {chance:.2f}" for word, chance in ordered if chance >= TOLD)


# -- the five questions ------------------------------------------------------------------------------------------------


def _questions_of_the_machine(d: Diagnosis) -> Iterator[Block]:
    if not _for_cooling(d):
        return
    yield heading("The five questions, for this machine")
    for name, entry in d.rules.states.items():
        words = d.states.get(name)
        asked = [rule for rule in d.applying.rules if rule.concludes is not None and rule.concludes[0] == name]
        if not words:
            yield item(_unanswered(asked, d), lead=entry.question)
            continue
        none = max(words.values()) < NAMED
        fits = f"The findings fit none of its answers ({_chances(words)})" if none else _chances(words)
        yield item(f"{fits}.", lead=entry.question)
        for rule in asked:
            chance = max((firing.sure for firing in d.matched.firings if firing.rule == rule.id), default=0.0)
            if chance >= 0.5:
                yield deeper(f"{rule.entry.title}. {fill(rule.entry.why, d.findings, d.rules, d.system, d.states)}")
            elif chance >= NAMED:
                yield deeper(f"Perhaps ({chance:.2f} sure): {lower_first(rule.entry.title)}.")


def _unanswered(asked: Sequence[Rule], d: Diagnosis) -> str:
    wanted = list(dict.fromkeys(name for rule in asked for name in rule.findings))
    lacking = [n for n in wanted if n not in d.findings and has_words(n, d) and not d.rules.findings[n].seen]
    fits = "What was measured fits none of its answers. " if any(name in d.findings for name in wanted) else ""
    more = f"Not measured, and it would help: {', '.join(lacking)}." if lacking else ""
    return f"Not answered. {fits}{more}".strip()


# -- what happens inside ----------------------------------------------------------------------------------------------


def _story(d: Diagnosis) -> Iterator[Block]:
    """What happens inside the machine, if it is the leader."""
    if d.faults and d.faults[0].share >= 0.40:
        entry = d.rules.faults[d.faults[0].fault]
        yield heading(f"What happens inside the machine: {name_of(entry.fault, d.rules)}")
        other = entry.charge == "right" and d.rules.silent  # the story of a sound machine has the textbook's figures
        yield from (
            story.path(entry.lesson) if entry.lesson and entry.lesson.story and not other else (line(entry.what),)
        )


# -- for the class -----------------------------------------------------------------------------------------------------


def _class(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    asked = list(_asked(d, f))
    if d.faults and d.faults[0].share >= 0.40:
        lesson = d.rules.faults[d.faults[0].fault].lesson
        asked += [(q.ask, q.answer) for q in lesson.questions] if lesson is not None else []
    yield from story.questions(asked)


def _asked(d: Diagnosis, f: BothSystems) -> Iterator[tuple[str, str]]:
    """Questions with this visit's own figures."""
    gas = d.visit.machine.refrigerant
    for name, quantity, line_name in (
        ("suction pressure", "evaporating temperature", "dew"),
        ("liquid pressure", "condensing temperature", "bubble"),
    ):
        reading, e = d.visit.last.readings.get(name), d.estimates.get(quantity)
        if reading is not None and e is not None and gas is not None:
            whole = f.value(absolute(reading, d.visit.machine), "pressure")
            yield (
                f"The gauge shows a {name} of {reading_both(reading, f)}. What is the absolute pressure here, and what is the "
                f"{quantity} of {gas.name}?",
                f"{whole}, and {f.value(e.value, 'temperature')} on the {line_name} line.",
            )
    for name in ("superheat", "subcooling"):
        e = d.estimates.get(name)
        if e is not None:
            should = f" It should be {f.value(e.target.value, 'difference')} today." if e.target is not None else ""
            word = f" In a word: {d.findings[name].word}." if name in d.findings else ""
            answer = f"{f.plus_minus(e.value, e.sigma, 'difference')}.{should}{word}"
            yield f"Work out the {name}. Is it right for today?", answer
    yield from _margin(d, f)
    if len(d.faults) > 1:
        first, second = d.faults[:2]
        if second.opposing:
            yield (
                f"Somebody says: “{name_of(second.fault, d.rules)}”. Which reading is evidence against that?",
                evidence_text(second.opposing[0], d),
            )
        if lacking := missing(d, first.fault):
            yield (
                "Which reading that was not taken would you take next, and what could it show?",
                f"{how_to_get(lacking[0].finding, d.rules)} It could move the leader by up to {lacking[0].at_stake:g} points.",
            )


def _margin(d: Diagnosis, f: BothSystems) -> Iterator[tuple[str, str]]:
    """How far a thermometer would have to be off before the word changed."""
    for name, probe in (("superheat", "suction line temperature"), ("subcooling", "liquid line temperature")):
        finding, reading = d.findings.get(name), d.visit.last.readings.get(probe)
        if finding is None or reading is None or finding.estimate is None or not finding.limits:
            continue
        by = finding.scale.by if finding.scale else "value"
        e = finding.estimate
        if by not in ("value", "difference") or (by == "difference" and e.difference is None):
            continue
        judged = e.value if by == "value" else e.difference or 0.0
        words = d.rules.findings[name].words
        now = sum(judged >= limit for limit in finding.limits)
        edge = min(finding.limits, key=lambda limit: abs(limit - judged))
        other = words[now - 1] if edge <= judged else words[now + 1]
        apart, error = abs(edge - judged), reading.error
        often = (
            "That is within the error of the clamp" if apart <= error else "That is more than the error of the clamp"
        )
        yield (
            f"The {name} is called {words[now]}. How far off would the {probe} have to be for the word to be {other}?",
            f"By {f.value(apart, 'difference')}. {often} ({reading_text(reading)}).",
        )


def _sources(d: Diagnosis) -> Iterator[Block]:
    cited: list[str] = []
    for e in d.estimates.values():
        cited += [e.source] if e.source else []
    for finding in d.findings.values():
        cited += list(finding.scale.source) if finding.scale else []
    fired = {firing.rule for firing in d.matched.firings}
    for rule in d.applying.rules:
        cited += list(rule.entry.source) if rule.id in fired else []
    yield from story.sources(cited, d.rules)


# -- how the points add up --------------------------------------------------------------------------------------------

FAINT = 0.25  # points; what counts for less is not told, for its words hardly hold


def evidence(d: Diagnosis) -> Iterator[Block]:
    """The rules for and against the leading fault that count for a quarter of a point or more, and how they add up."""
    if not d.faults:
        return
    first = d.faults[0]
    yield heading(f"The rules about the leading fault: {name_of(first.fault, d.rules)}")
    yield line(
        "Each rule has points. It counts as far as it is sure: its points times the chance that its words hold. A rule that "
        "contains another one takes that one’s share, so nothing counts twice."
    )
    for title, told in (("For it", first.supporting), ("Against it", first.opposing)):
        large = [e for e in told if abs(e.weight) >= FAINT]
        yield subheading(title)
        if not large:
            yield line("None was found that counts for a quarter of a point or more." if told else "None was found.")
        for e in large:
            yield evidence_block(e, d)
            if e.counted > 0.995:
                continue
            terms = [(e.rule.points, 1), (e.counted, 2)]
            yield worked("{0} points × {1} sure = {total}", terms, (e.weight, 1), lambda t: t[0] * t[1])
    yield from _score(first, d)


def _score(first: Ranked, d: Diagnosis) -> Iterator[Block]:
    usual = d.rules.faults[first.fault].usual
    weights = [e.weight for e in first.evidence if abs(e.weight) >= FAINT]
    small = [e.weight for e in first.evidence if abs(e.weight) < FAINT]
    last = [sum(small)] if abs(sum(small)) >= 5e-4 else []
    yield subheading("The score")
    shown, total = add_up(
        [(usual, 1), *((weight, 1) for weight in (*weights, *last))], (first.score, 1), lambda t: sum(t, Decimal(0))
    )
    parts = "".join(f" − {one[1:]}" if one.startswith("−") else f" + {one}" for one in shown[1:])
    rest = (
        f"; last, {_count(len(small))} less than a quarter of a point{' each' if len(small) > 1 else ''}"
        if last
        else ""
    )
    yield line(f"How usual the fault is before anything is measured, plus the rules above{rest}:")
    yield Block("sum", f"{shown[0]}{parts} = {total}")


def shares(d: Diagnosis) -> Iterator[Block]:
    """Every fault's score, its odds against the leader's, and its share; and what the leader is confused with."""
    if not d.faults:
        return
    yield heading("From scores to shares")
    best = d.faults[0].score
    yield line(
        "One point doubles the odds, so a fault that is one point behind has half the odds of the leader. Odds are given here "
        "relative to the leader’s, and a share is the odds of one fault over those of all faults together. On simulated "
        "machines the share is about the chance of being right; it has not been measured on real ones."
    )
    rows = [("fault", "score", "odds", "share")]
    for fault in d.faults:
        odds = 2.0 ** (fault.score - best)
        shown = f"{odds:.3f}" if odds >= 0.001 else "under 0.001"
        rows.append((title_of(fault, d), points_text(fault.score), shown, share_text(fault.share)))
    yield Block("rows", rows=tuple(rows))
    for other in d.faults[1:4]:
        if alike := looks_like(d.faults[0].fault, other.fault, d):
            against = f" Here: {lower_first(other.opposing[0].rule.entry.title)}." if other.opposing else ""
            yield item(f"Not to be confused with {name_of(other.fault, d.rules)}. {alike}{against}")


def _count(number: int) -> str:
    return "one rule that counts for" if number == 1 else f"{number} rules that count for"
