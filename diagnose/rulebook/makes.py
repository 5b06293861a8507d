"""What each fault makes on one kind of machine, and what a rule asks for when its states are spelled out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.rulebook.facts import in_its_mode

if TYPE_CHECKING:
    from diagnose.rulebook.book import Rule, Rulebook

Made = Mapping[str, frozenset[str]]  # finding -> words


@dataclass(frozen=True, slots=True, repr=False)
class Makes:
    """What the faults make; worked out once a kind of machine.

    of: fault -> the findings it makes by itself, `brings` in its file. off: every word that any fault makes. of_charge: the
    part of it that too little or too much charge makes and is known by; what it makes besides, a high compression ratio say,
    comes of these, and of much else.
    """

    of: Mapping[str, Made]
    off: Made
    of_charge: Made


def makes(rules: Rulebook, facts: Mapping[str, str]) -> Makes:
    """What the faults of this book make on a machine with these facts."""
    of = {fault: _brings(fault, rules, facts) for fault in rules.faults}
    charge = [fault for fault in of if rules.faults[fault].charge in ("low", "high")]
    known_by = {test for fault in charge for test in _asked(fault, rules, facts)}
    made = _together(of[fault] for fault in charge)
    signs = {name: frozenset(word for word in words if (name, word) in known_by) for name, words in made.items()}
    return Makes(of, _together(of.values()), {name: words for name, words in signs.items() if words})


def asked_findings(rule: Rule, rules: Rulebook) -> tuple[tuple[str, frozenset[str]], ...]:
    """What a rule asks for, in findings and their words: a state stands for the findings it is concluded from."""
    found = []
    for name, words in rule.conditions:
        if name in rules.states:
            found += [
                asked
                for other in rules.rules
                if other.concludes is not None and other.concludes[0] == name and other.concludes[1] in words
                for asked in asked_findings(other, rules)
            ]
        else:
            found.append((name, words))
    return tuple(found)


def _brings(fault: str, rules: Rulebook, facts: Mapping[str, str]) -> Made:
    """A fault whose file does not say it is taken to make whatever its own rules ask for and "nothing wrong" does not."""
    entry = rules.faults[fault]
    found: dict[str, frozenset[str]] = {}
    if entry.charge == "right":
        return found
    for each in entry.brings:
        if in_its_mode(each.applies, facts):
            for name, words in each.findings:
                found[name] = found.get(name, frozenset()) | words
    if not entry.brings:
        right = {test for f, e in rules.faults.items() if e.charge == "right" for test in _asked(f, rules, facts)}
        for name, word in _asked(fault, rules, facts):
            if (name, word) not in right:
                found[name] = found.get(name, frozenset()) | {word}
    return found


def _asked(fault: str, rules: Rulebook, facts: Mapping[str, str]) -> list[tuple[str, str]]:
    """Every finding with every word that the rules in favor of a fault ask for."""
    speaking = (r for r in rules.evidence(fault) if r.points > 0 and r.speaks_of(facts))
    return [(name, word) for rule in speaking for name, words in rules.spelled_out(rule) for word in words]


def _together(made: Iterable[Made]) -> dict[str, frozenset[str]]:
    """The findings that any of these makes: finding -> words."""
    found: dict[str, frozenset[str]] = {}
    for its in made:
        for name, words in its.items():
            found[name] = found.get(name, frozenset()) | words
    return found
