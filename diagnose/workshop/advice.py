"""What `rules check` has to say of a book without mistakes: what is left to fill in or does nothing, what it tells later or
not at all, and whether a fault of a company's own has a chance among the others, and what it takes from them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from pathlib import Path

from diagnose.diagnosis.ranking import Ranked, rank
from diagnose.report.dangers import loosened_text
from diagnose.report.wording import counted
from diagnose.rulebook import Rule, Rulebook, load_rules
from diagnose.rulebook.entries import Moving
from diagnose.shipped import shipped
from diagnose.workshop.coverage import READ_BY_VERDICT, leaves
from diagnose.workshop.own_folder import own_files
from diagnose.workshop.trials import RuleTrial, case_paths, read_case, rule_trials, run_case
from diagnose.yamlfile import files

TAKES = 0.02  # of the shares of the shipped cases, together: what is told as much. Judgement


def begun_notes(folders: Iterable[Path]) -> Iterator[str]:
    """Folders in which something is still to be filled in, and where it begins; it speaks as it is."""
    for folder in folders:
        left = [
            f"{path.as_posix()}:{i}"
            for path in own_files(folder)
            for i, line in enumerate(files.text_of(folder / path).splitlines(), 1)
            if line.lstrip().startswith("# FILL IN")
        ]
        if left:
            yield (
                f"{folder.resolve().name}: {counted(len(left), 'line')} with FILL IN, from {left[0]} on. What stands below one "
                f"speaks as it is: change it or leave it, and take the line out; or mark the entry `status: draft`."
            )


def idle_notes(rules: Rulebook) -> Iterator[str]:
    """Findings that neither a rule nor the charge verdict reads, and own checks that are never advised."""
    read = {name for rule in rules.rules for name in rule.findings} | READ_BY_VERDICT
    read |= {name for name, signed in rules.signed.items() if signed.status == "retired"}
    for name in rules.findings:
        if name not in read:
            yield f"No rule reads {name}: it changes no answer."
    named = {rule.entry.check for rule in rules.rules}
    for name, check in rules.checks.items():
        if (
            name in rules.added
            and name not in named
            and not any(one.gives for one in check.instead)
            and not check.gives
        ):
            yield f"{name} gives no finding and no rule names it as its `check`: it is never advised."


def loosened_notes(rules: Rulebook) -> Iterator[str]:
    """Every danger, hold and limit that is told later than by the shipped book, or not at all; one sentence each."""
    for own, change in rules.loosened:
        yield loosened_text(own, change)
    if rules.base == "shipped":
        return
    for rule in load_rules(shipped("rules")).rules:
        if rule.kind in ("caution", "readiness") and rule.id not in rules.by_id:
            yield f"Less strict than the shipped rules: {rules.base} has no rule {rule.id}, “{rule.entry.title}”."


# -- evidence that counts twice, or the wrong way round -----------------------------------------------------------------


def left_over_notes(rules: Rulebook) -> Iterator[str]:
    """Texts that still write out a limit that a company has moved."""
    for own, change in rules.changes:
        if change.kind != "limits" or not isinstance(change.was, tuple) or not isinstance(change.now, tuple):
            continue
        gone = [_told(figure) for figure in change.was if figure not in change.now]
        for rule in rules.rules:
            if (
                change.target in rule.findings
                and (old := next((f for f in gone if f in rule.entry.why), None)) is not None
            ):
                yield (
                    f"{rule.id} still says “{old}”, a limit of {change.target} that {own} has moved. In a text of yours, write "
                    f"`{{{change.target} from …}}`."
                )


def _told(figure: object) -> str:
    """A limit as a text tells it: `225 °F` for `225 F`."""
    return re.sub(r"(?<=\d) ([FC])\b", r" °\1", str(figure))


def design_notes(rules: Rulebook) -> Iterator[str]:
    """Rules worth less than one that they contain, a finding beside its own state, a lesson against a rule's sign.

    Of a company's own rules, and of all where the base is another book.
    """
    whole = rules.base != "shipped"
    behind = leaves(rules)
    for fault, entry in rules.faults.items():
        evidence = rules.evidence(fault)
        for other in evidence:
            for one in (rules.by_id[name] for name in sorted(rules.more_special(other))):
                if abs(one.points) < abs(other.points) and _to_be_told(one, other, whole):
                    yield (
                        f"{one.id} ({one.points:+g}) asks for all that {other.id} ({other.points:+g}) asks for, and more, "
                        f"but is worth less. Its points replace the other's: right only where what it adds weakens the picture."
                    )
        plain = [rule for rule in evidence if len(rule.when) == 1 and not rule.either]
        for one, other in product((rule for rule in plain if rule.when[0][0] in behind), plain):
            if (state := _beside_its_state(one, other, behind)) is not None and _to_be_told(one, other, whole):
                yield (
                    f"{one.id} asks for {state}, and {other.id} for a finding that it is concluded from: the same evidence "
                    f"counts twice. Use findings in both."
                )
        for moving in entry.lesson.readings if entry.lesson is not None else ():
            for rule in evidence:
                if (whole or rule.own or fault in rules.added) and _against(moving, rule, rules):
                    yield (
                        f"The lesson of {fault} says that {moving.quantity} goes {moving.moves}, and {rule.id} "
                        f"({rule.points:+g}) takes the other way as a sign of it."
                    )


def _to_be_told(one: Rule, other: Rule, whole: bool) -> bool:
    """Whether one of them is a company's own (or any, of a whole book), and both speak the same way of some machine."""
    return (whole or bool(one.own or other.own)) and one.points * other.points > 0 and one.meets(other)


def _beside_its_state(one: Rule, other: Rule, behind: Mapping[str, tuple[str, ...]]) -> str | None:
    """The state that one rule asks for alone, where another asks alone for a finding behind it, on the same machines."""
    state, finding = one.when[0][0], other.when[0][0]
    return state if one.applies == other.applies and finding in behind[state] else None


def _against(moving: Moving, rule: Rule, rules: Rulebook) -> bool:
    """Whether a rule for a fault asks alone for a word on the side to which its lesson says that a quantity does not move."""
    way = {"up": 1, "down": -1}.get(moving.moves)
    if way is None or rule.points < 1 or len(rule.when) != 1 or rule.either:
        return False
    if any(name in dict(rule.applies) and not words & dict(rule.applies)[name] for name, words in moving.applies):
        return False
    name, words = rule.when[0]
    entry = rules.findings.get(name)
    if entry is None or entry.quantity != moving.quantity or "normal" not in entry.words:
        return False
    middle = entry.words.index("normal")
    return all((entry.words.index(word) - middle) * way < 0 for word in words)


# -- a fault of a company's own among the others ------------------------------------------------------------------------


def own_faults(rules: Rulebook) -> list[str]:
    """The faults that companies have added."""
    return [name for name in rules.faults if name in rules.added]


def rival_notes(rules: Rulebook) -> Iterator[str]:
    """Own faults that never come first, and pairs that no check parts; one sentence or two each."""
    for fault in own_faults(rules):
        order = _at_its_best(fault, rules)
        if order and order[0].fault != fault:
            mine = next(place for place in order if place.fault == fault)
            rival = order[0]
            signs = ", ".join(e.rule.id for e in rival.supporting[:3])
            yield (
                f"{fault} never comes first: even where all its own examples hold at once, {rival.fault} stays ahead by "
                f"{rival.score - mine.score:.1f} points{f' ({signs})' if signs else ''}. Say what tells the two apart: a "
                f"rule for {fault}, one against {rival.fault}, and a check that gives the finding."
            )
        for other in rules.faults:
            if other != fault and not (other in own_faults(rules) and other < fault):
                parting = parted_by(fault, other, rules)
                if not parting:
                    yield f"Nothing tells {fault} from {other}: every sign of one is a sign of the other, with like points."
                elif not any(_can_be_checked(name, rules) for name in parting):
                    yield (
                        f"No check tells {fault} from {other}: only {', '.join(sorted(parting))} would, and no check gives "
                        f"{'it' if len(parting) == 1 else 'them'}. Add one to checks.yaml."
                    )


def _at_its_best(fault: str, rules: Rulebook) -> tuple[Ranked, ...]:
    """The ranking that is kindest to a fault, among its examples: each by itself, and all that go together."""
    examples = [t for t in rule_trials(rules, fault) if t.expected and rules.by_id[t.rule].points > 0]
    examples.sort(key=lambda t: -rules.by_id[t.rule].points)
    best: tuple[float, tuple[Ranked, ...]] | None = None
    for first in examples:
        words, machine = dict(first.words), dict(first.machine)
        for picture in (dict(words), _together(words, machine, examples)):
            order = _ranked(picture, machine, rules)
            mine = next((place.score for place in order if place.fault == fault), None)
            if mine is None:
                continue
            ahead = mine - max((place.score for place in order if place.fault != fault), default=mine)
            if best is None or ahead > best[0]:
                best = ahead, order
    return best[1] if best is not None else ()


def _together(words: dict[str, str], machine: dict[str, str], examples: list[RuleTrial]) -> dict[str, str]:
    """These words, and those of every other example that says nothing else of the same finding or machine."""
    for one in examples:
        if all(words.get(n, w) == w for n, w in one.words.items()) and one.machine.items() <= machine.items():
            words |= one.words
    return words


def _ranked(words: Mapping[str, str], machine: Mapping[str, str], rules: Rulebook) -> tuple[Ranked, ...]:
    facts = {"mode": "cooling"} | dict(machine)
    book = rules.about(facts)
    matched = book.applying(facts).matcher().run({name: {word: 1.0} for name, word in words.items()})
    return rank(book, matched.firings)


def parted_by(one: str, other: str, rules: Rulebook) -> set[str]:
    """The findings of rules that speak otherwise of two faults: for one alone, or a point or more apart."""
    first, second = ({_asks(rule): rule for rule in rules.evidence(fault)} for fault in (one, other))
    found: set[str] = set()
    for asks in first.keys() | second.keys():
        points = [book[asks].points if asks in book else 0.0 for book in (first, second)]
        if abs(points[0] - points[1]) >= 1 or points[0] * points[1] < 0:
            found |= set((first.get(asks) or second[asks]).findings)
    return found


def _asks(rule: Rule) -> tuple[object, ...]:
    return frozenset(rule.when), frozenset(map(frozenset, rule.either)), frozenset(rule.applies)


def _can_be_checked(name: str, rules: Rulebook) -> bool:
    """Whether a check gives a finding, or it is looked at by an instruction of its own, or read on any visit."""
    entry = rules.findings.get(name)
    if entry is None:  # a state: by what it is concluded from
        return True
    return any(name in check.gives for check in rules.checks.values()) or (bool(entry.ask) if entry.seen else True)


def share_notes(rules: Rulebook, where: Path | None = None) -> Iterator[str]:
    """What each own fault takes of the odds in the shipped cases, or those in `where`, and where it takes most."""
    faults = own_faults(rules)
    if not faults:
        return
    taken: dict[str, list[tuple[float, str]]] = {fault: [] for fault in faults}
    for path in case_paths(where):
        case = read_case(path)
        d = run_case(case, rules).diagnosis
        for place in d.faults if d is not None else ():
            if place.fault in taken:
                taken[place.fault].append((place.share, case.name))
    for fault, shares in taken.items():
        if not shares:
            continue
        whole, (most, at) = sum(share for share, _ in shares) / len(shares), max(shares)
        much = " That is much: give it a lower `usual`, or rules against it." if whole > TAKES else ""
        told = (
            f"{fault} takes {100 * whole:.1f} % of the odds in {len(shares)} {'shipped ' if where is None else ''}cases"
        )
        yield f"{told}; most in {at}: {100 * most:.0f} %.{much}"
