"""The five questions that every diagnosis works through: what each asks, what answers it, and which faults fit which answer."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.lessons import side_by_side, story
from diagnose.lessons.figures import BothSystems
from diagnose.report.blocks import Block, deeper, heading, item, line
from diagnose.report.wording import name_of
from diagnose.rulebook import Conditions, Rule, Rulebook
from diagnose.rulebook.entries import FindingEntry, WordScale
from diagnose.rulebook.facts import in_order
from diagnose.visit import COOLING, System
from diagnose.workshop.showing import or_words, when_text

_BY = {
    "value": "itself",
    "difference": "minus what it should be",
    "nearest": "minus the nearest value in its table",
    "share": "divided by what it should be",
    "target": "",
}
_TARGET = {
    "baseline": "if the machine’s own good day is known",
    "maker": "if the maker states what it should be",
    "protocol": "if a table gives what it should be",
    "typical": "if only a typical value is known",
    "assumed": "if not even what the typical value follows from is known",
    "none": "if nothing says what it should be",
}


def five_questions_page(rules: Rulebook, system: System = "us", both: bool = True) -> list[Block]:
    """The states of the rule book, as questions to ask of any machine."""
    f, rules = BothSystems(system, both), rules.in_mode(COOLING)
    asked = [state.question for state in rules.states.values()]
    blocks = [
        Block("answer", f"{_count(len(asked))} questions to ask of any machine"),
        line(
            "Whatever the complaint, the same questions tell the faults apart. A few readings answer each question in one "
            "word, and each fault has its own set of answers."
        ),
        heading("The order"),
        line(
            "Begin with the air: is heat getting in, and is heat getting out? Every refrigerant reading depends on both. Then "
            "compare the evaporator with the condenser. Neither superheat nor subcooling says much alone; together "
            "they distinguish liquid that is missing, liquid that is held back, and liquid in the wrong place. "
            "The compressor comes last."
        ),
        *side_by_side.table(rules),
    ]
    for name, state in rules.states.items():
        answering = [rule for rule in rules.rules if rule.concludes is not None and rule.concludes[0] == name]
        blocks.append(heading(state.question))
        if state.means:
            blocks.append(line(state.means))
        for word in state.words:
            blocks += _word(name, word, answering, rules)
        blocks += _limits(answering, rules, f)
    cited = [key for rule in rules.rules if rule.concludes is not None for key in rule.entry.source]
    blocks += story.sources(cited, rules)
    blocks.append(Block("foot", f"Rule book: {rules.name}."))
    return blocks


def _count(number: int) -> str:
    names = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine")
    return names[number] if number < len(names) else str(number)


def _word(state: str, word: str, answering: list[Rule], rules: Rulebook) -> Iterator[Block]:
    concluding = [rule for rule in answering if rule.concludes == (state, word)]
    if not concluding:
        yield item("no rule concludes this.", lead=f"{word}:")
        return
    yield item(f"{'; or '.join(when_text(rule, rules) for rule in concluding)}.", lead=f"{word}:")
    alone = {sign: _faults(concluding, rules, sign, alone=True) for sign in (1, -1)}
    for side, sign in (("for", 1), ("against", -1)):
        other = alone[-sign]
        clear = [name for name, points in alone[sign].items() if (points, sign) > (other.get(name, 0.0), 0)]
        if clear:  # where words of one answer pull both ways, the stronger side is told
            yield deeper(f"evidence {side} {'; '.join(clear)}")
        more = [name for name in _faults(concluding, rules, sign, alone=False) if name not in alone[sign]]
        if more and sign > 0:
            yield deeper(f"together with other findings, evidence for {'; '.join(more)}")


def _faults(concluding: list[Rule], rules: Rulebook, sign: int, alone: bool) -> dict[str, float]:
    """Faults with a rule, for or against, that asks for what one of these rules concludes from, and its points; the strongest
    first.

    alone: only rules that ask for nothing else.
    """
    found: list[tuple[float, str]] = []
    for fault in rules.faults:
        fitting = [
            rule
            for rule in rules.evidence(fault)
            if rule.points * sign > 0 and any(_asks(rule, other, alone) for other in concluding)
        ]
        if not fitting:
            continue
        devices = {_device(rule) for rule in fitting}
        only = "" if "" in devices or len(devices) > 1 else f" ({devices.pop()})"
        found.append((max(abs(r.points) for r in fitting), f"{name_of(fault, rules)}{only}"))
    return {name: points for points, name in sorted(found, key=lambda pair: -pair[0])}


def _asks(evidence: Rule, concluding: Rule, alone: bool) -> bool:
    """Whether the evidence rule holds only where the state's rule does."""
    when = dict(evidence.when)
    ways = [(*concluding.when, *branch) for branch in concluding.either or ((),)]
    return any(_holds(when, way) and ((len(when) == len(way) and not evidence.either) or not alone) for way in ways)


def _holds(when: dict[str, frozenset[str]], way: Conditions) -> bool:
    return all(name in when and when[name] <= words for name, words in way)


def _device(rule: Rule) -> str:
    words = dict(rule.applies).get("metering", frozenset())
    return "" if not words else "expansion valve" if words <= {"TXV", "EEV"} else or_words(sorted(words))


def _limits(answering: list[Rule], rules: Rulebook, f: BothSystems) -> Iterator[Block]:
    names = dict.fromkeys(name for rule in answering for name in rule.findings)
    measured = [rules.findings[name] for name in names if name in rules.findings and not rules.findings[name].seen]
    if measured:
        yield line("The words and the limits between them:")
    for entry in measured:
        yield item(f"{entry.what}.", lead=f"{entry.finding}:")
        for scale in entry.scales:
            if scale.limits:
                yield deeper(ladder(entry, scale, f))
    seen = [rules.findings[name] for name in names if name in rules.findings and rules.findings[name].seen]
    if seen:
        yield line(f"And what is seen on site: {'; '.join(f'{e.finding} ({or_words(e.words)})' for e in seen)}.")


def ladder(entry: FindingEntry, scale: WordScale, f: BothSystems) -> str:
    """`low ‹ −5.0 °F (−2.8 K) ‹ normal …`, with what is judged and on which machines."""
    limits = [f.value(limit, scale.kind) for limit in scale.limits]
    words = [entry.words[0], *(f"‹ {limit} ‹ {word}" for limit, word in zip(limits, entry.words[1:], strict=True))]
    on = [or_words(words) for words in in_order(scale.applies).values()]
    on += [_TARGET[scale.target]] if scale.target else []
    head = f"{', '.join(on)}, " if on else ""
    return f"{head}{entry.quantity} {_BY[scale.by]}: {' '.join(words)}"
