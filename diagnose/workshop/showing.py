"""One entry of the rule book in words, with everything that uses it: what `rules show` prints."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from diagnose.report import Block, deeper, heading, item, line
from diagnose.report.wording import change_text, cite, counted, name_of, spoken_by, upper_first
from diagnose.rulebook import Conditions, Rule, Rulebook
from diagnose.rulebook.data import as_written
from diagnose.rulebook.entries import CheckEntry
from diagnose.rulebook.facts import in_order, ordered
from diagnose.visit.fields import Field, Word
from diagnose.visit.own import OwnQuantity
from diagnose.yamlfile import InputProblems, did_you_mean, refusal

Shown = tuple[list[Block], dict[str, Any]]

WORDS = (
    ("visit", "one look at one machine: what the machine is, its readings, what was seen"),
    ("reading", "what was measured, with its unit and instrument error"),
    ("quantity", "a number worked out from readings, with its uncertainty (superheat, subcooling …)"),
    ("finding", "a quantity, or something seen, put into a word (low, normal, high …), with how sure that word is"),
    ("state", "a finding about the machine that rules conclude (evaporator starved …)"),
    ("rule", "when these findings hold, they are evidence for or against a fault, or they conclude a state"),
    ("fault", "what may be wrong; “nothing wrong” is one of them, with a file like any other"),
    ("check", "something to do next that would settle a doubt"),
    ("case", "a visit whose answer is known"),
)
"""The words of the trade of rules, each in a sentence."""


def show_entry(name: str, rules: Rulebook) -> Shown:
    """An entry of the rule book, or a figure of judgement.yaml, by its name. Raises InputProblems with a near name."""
    kinds: tuple[tuple[Mapping[str, Any], Callable[[str, Rulebook], list[Block]]], ...] = (
        (rules.by_id, _rule),
        (rules.faults, _fault),
        (rules.findings, _finding),
        (rules.states, _state),
        (rules.checks, _check),
        (rules.sources, _source),
        (rules.figures, _figure),
        ({one.name: one for one in rules.own}, _own),
    )
    for known, draw in kinds:
        if name in known:
            head, *rest = draw(name, rules)
            return [head, *_origin(name, rules), *rest], _data(known[name], name, rules)
    if rules.changes_of(name):  # a rule that is switched off is no more in the book
        off = [Block("answer", f"{name}: this rule is switched off."), *_origin(name, rules)]
        return off, {"id": name, "changes": _changes(name, rules)}
    every = [word for known, _ in kinds for word in known]
    kind = "rule, fault, finding, state, check, source or figure of judgement"
    raise not_there(name, rules, f"nothing in the rule book is called `{name}`", every, f"Name a {kind}.")


def not_there(name: str, rules: Rulebook, what: str, known: Sequence[str], fix: str) -> InputProblems:
    """Why nothing of this name is shown: it is signed as what does not speak, or it is not there (what, near names, fix)."""
    status = rules.signed[name].status if name in rules.signed else "in force"
    if status == "draft":
        what, fix = f"`{name}` is a draft", "Add `--drafts`."
    elif status == "retired":
        what, fix = f"`{name}` is retired", "It speaks no more, and stays in its file as a record."
    else:
        fix = did_you_mean(name, known) or fix
    return refusal(what, fix)


def _own(name: str, rules: Rulebook) -> list[Block]:
    """A machine fact, a reading or a quantity of a company's own."""
    one = next(one for one in rules.own if one.name == name)
    made = [q.name for q in rules.own if isinstance(q, OwnQuantity) and name in (q.first, q.second)]
    made += [finding for finding, entry in rules.findings.items() if entry.quantity == name]
    users = [line(f"Used by {', '.join(made)}.")] if made else []
    if isinstance(one, OwnQuantity):
        told = f"A quantity ({one.kind}): {one.formula}."
        return [Block("answer", f"{name}: {one.what.rstrip('.')}."), line(told), *users]
    told = (
        f"A reading, taken with {one.instrument}." if isinstance(one, Field) and one.instrument else "A machine fact."
    )
    words = (
        f"In words: {', '.join(one.choices)}." if isinstance(one, Word) else f"For example {' or '.join(one.examples)}."
    )
    return [Block("answer", f"{name}: {one.about}"), line(f"{told} {words}"), *users]


def _data(entry: Any, name: str, rules: Rulebook) -> dict[str, Any]:
    """The entry as it counts in this book, who added it, and what was changed."""
    return as_written(entry) | {"book": _folder(name, rules) or rules.base, "changes": _changes(name, rules)}


def _changes(name: str, rules: Rulebook) -> list[dict[str, Any]]:
    return [{"book": own, **as_written(change)} for own, change in rules.changes_of(name)]


def _folder(name: str, rules: Rulebook) -> str:
    """The company's folder that an entry is from; empty for the base."""
    return rules.by_id[name].own if name in rules.by_id else rules.added.get(name, "")


def _origin(name: str, rules: Rulebook) -> list[Block]:
    """Where an entry is from if not from the base, and who changed it, when and why."""
    own = _folder(name, rules)
    added = [line(f"{added_text(name, own, rules)}.")] if own else []
    return added + [
        line(f"{upper_first(change_text(by, change)).rstrip('.')}.") for by, change in rules.changes_of(name)
    ]


def added_text(name: str, own: str, rules: Rulebook) -> str:
    """`Added by harbour-cooling (the head of service), in force since 2026-03-01`."""
    signed = rules.signed.get(name)
    if signed is None:
        return f"Added by {own}"
    author = f" ({signed.author})" if signed.author else ""
    since = f" since {signed.since}" if signed.since else ""
    status = (
        f", {'a draft' if signed.status == 'draft' else signed.status}" if since or signed.status != "in force" else ""
    )
    return f"Added by {own}{author}{status}{since}"


def condition_text(conditions: Conditions, vocabulary: Mapping[str, Any]) -> str:
    """`superheat high or very high, subcooling low`, words in the order of the finding."""
    parts = []
    for name, words in conditions:
        order = list(vocabulary[name].words) if name in vocabulary else sorted(words)
        parts.append(f"{name} {' or '.join(word for word in order if word in words)}")
    return ", ".join(parts)


def when_text(rule: Rule, rules: Rulebook) -> str:
    """All conditions of a rule in words."""
    vocabulary: dict[str, Any] = {**rules.findings, **rules.states}
    text = condition_text(rule.when, vocabulary)
    if rule.either:
        either = "; or ".join(condition_text(branch, vocabulary) for branch in rule.either)
        text = f"{text}, and one of: {either}" if text else f"one of: {either}"
    fault = rules.faults.get(rule.fault or "")
    facts = in_order(tuple(fact for fact in rule.applies if fault is None or fact not in fault.applies))
    mode = [f"in {' or '.join(facts.pop('mode'))}"] if "mode" in facts else []
    others = (
        [f"on machines with {', '.join(f'{name} {or_words(words)}' for name, words in facts.items())}"] if facts else []
    )
    if mode or others:
        text += f" ({', '.join([*mode, *others])})"
    return text or "always"


def speaks_text(rule: Rule, rules: Rulebook) -> str:
    """What a rule does when it fires, in words."""
    if rule.kind == "evidence":
        side = "for" if rule.points > 0 else "against"
        return f"{counted(abs(rule.points), 'point')} {side} {name_of(rule.fault, rules)}"
    if rule.concludes:
        return f"concludes {rule.concludes[0]}: {rule.concludes[1]}"
    if rule.kind != "readiness":
        return f"caution of rank {rule.rank}"
    silent = f"; {', '.join(rule.silent)} say nothing" if rule.silent else ""
    return (f"holds {rule.holds}" if rule.holds in ("nothing", "outside") else f"holds the {rule.holds}") + silent


def _rule(name: str, rules: Rulebook) -> list[Block]:
    rule = rules.by_id[name]
    entry = rule.entry
    blocks = [
        Block("answer", f"{name}: {entry.title}."),
        line(f"When {when_text(rule, rules)}: {speaks_text(rule, rules)}."),
        line(entry.why),
        line(f"Source: {cite(entry.source, rules)}. File: {rule.file}."),
    ]
    if entry.check:
        blocks.append(line(f"Check: {rules.checks[entry.check].ask}"))
    if entry.tests:
        blocks.append(heading("Tests"))
        for trial in entry.tests:
            verb = "fires" if trial.fires is not None else "quiet"
            because = f", because {trial.because}" if trial.because else ""
            blocks.append(
                item(f"{verb} on {', '.join(f'{n} {or_words(w)}' for n, w in trial.findings.items())}{because}")
            )
    evidence = [other for other in rules.evidence(rule.fault) if rule.meets(other)]
    for title, others in (
        ("Contains, and its points replace theirs", [other for other in evidence if rule.contains(other)]),
        ("Contained in, and their points replace its own", [other for other in evidence if other.contains(rule)]),
    ):
        blocks += [heading(title), *_listed(others, rules)] if others else []
    return blocks


def _listed(found: list[Rule], rules: Rulebook) -> Iterator[Block]:
    for rule in found:
        yield item(f"{rule.id}: {speaks_text(rule, rules)}{spoken_by(rule, rules)}")
        yield deeper(f"when {when_text(rule, rules)}")


def _fault(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.faults[name]
    blocks = [
        Block("answer", f"{name}: {entry.name}."),
        line(entry.what),
        line(
            f"How usual: {entry.usual:+g} point{'' if abs(entry.usual) == 1 else 's'} ({cite(entry.usual_source, rules)})."
        ),
        heading("Rules"),
        *_listed(list(rules.evidence(name)), rules),
    ]
    if entry.brings:
        blocks.append(heading("What it makes by itself, so that no second fault is asked for"))
        for made in entry.brings:
            on = f" ({machines(made.applies)})" if made.applies else ""
            said = "; ".join(
                f"{name} {or_words(ordered(words, rules.findings[name].words))}" for name, words in made.findings
            )
            blocks.append(item(f"{said}{on}. Source: {cite(made.source, rules)}."))
    if entry.looks_like:
        blocks.append(heading("Looks like"))
        blocks += [item(f"{rules.faults[other].name}: {text}") for other, text in entry.looks_like.items()]
    return blocks


def _finding(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.findings[name]
    blocks = [Block("answer", f"{name}: {entry.what}."), line(f"Words: {', '.join(entry.words)}.")]
    if entry.quantity:
        blocks.append(line(f"From the quantity {entry.quantity}."))
    for scale in entry.scales:
        on = f" on machines with {machines(scale.applies)}" if scale.applies else ""
        target = f", target {scale.target}" if scale.target else ""
        limits = (
            f"limits {', '.join(str(x) for x in scale.limits_written)}" if scale.limits else "whether there is a target"
        )
        blocks.append(item(f"by {scale.by}{target}{on}: {limits}. {scale.why} Source: {cite(scale.source, rules)}."))
    return [*blocks, *_users(name, rules)]


def machines(conditions: Conditions) -> str:
    """`kind window or packaged, mode cooling`."""
    return ", ".join(f"{name} {or_words(words)}" for name, words in in_order(conditions).items())


def other_machines(check: CheckEntry) -> list[str]:
    """On which machines a check cannot be done, and how it is told on others."""
    cannot = [f"Not on: {'; '.join(map(machines, check.not_on))}."] if check.not_on else []
    return [*cannot, *(f"On {machines(one.applies)}: {one.ask}" for one in check.instead)]


def or_words(words: str | Sequence[str]) -> str:
    """`TXV or EEV`."""
    return words if isinstance(words, str) else " or ".join(words)


def _users(name: str, rules: Rulebook) -> list[Block]:
    found = [rule for rule in rules.rules if name in rule.findings]
    checks = [check.check for check in rules.checks.values() if name in check.gives]
    blocks = [heading("Used by"), *_listed(found, rules)] if found else [heading("Used by no rule")]
    if checks:
        blocks += [heading("Given by"), *(item(f"{check}: {rules.checks[check].ask}") for check in checks)]
    return blocks


def _state(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.states[name]
    concluding = [rule for rule in rules.rules if rule.concludes and rule.concludes[0] == name]
    return [
        Block("answer", f"{name}: {entry.question}"),
        line(f"Words: {', '.join(entry.words)}."),
        heading("Concluded by"),
        *_listed(concluding, rules),
        *_users(name, rules),
    ]


def _check(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.checks[name]
    gives = f" Gives: {', '.join(entry.gives)}." if entry.gives else ""
    found = [rule for rule in rules.rules if rule.entry.check == name]
    return [
        Block("answer", f"{name}: {entry.ask}"),
        line(f"{entry.why} ({counted(entry.minutes, 'minute')}.){gives}"),
        *map(line, other_machines(entry)),
        heading("Named by"),
        *_listed(found, rules),
    ]


def _source(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.sources[name]
    found = [rule for rule in rules.rules if name in rule.entry.source]
    return [
        Block("answer", f"{name}: {entry.title}."),
        line(f"Confidence: {entry.confidence}.{f' {entry.note}.' if entry.note else ''}"),
        heading("Cited by"),
        *_listed(found, rules),
    ]


def _figure(name: str, rules: Rulebook) -> list[Block]:
    entry = rules.figures[name]
    return [
        Block("answer", f"{name}: {', '.join(map(str, entry.written))}"),
        line(f"{entry.why} Source: {cite(entry.source, rules)}."),
    ]
