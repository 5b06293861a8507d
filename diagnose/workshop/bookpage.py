"""The rule book as one HTML page: a section a fault, then findings, states, cautions, sources, words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from diagnose.report import html
from diagnose.report.html import slug
from diagnose.report.wording import change_text, counted, number, signed, step_text, upper_first
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.entries import FindingEntry, Repair, WordScale
from diagnose.rulebook.facts import in_order
from diagnose.workshop.matrix import Matrix, explanation, title
from diagnose.workshop.showing import WORDS, added_text, or_words, other_machines, speaks_text, when_text

# As rules/README.md and DESIGN fix them.
_BY = {
    "value": "Judged by its value",
    "difference": "Judged by its difference from what it should be",
    "nearest": "Judged by its difference from the nearest edge of the table",
    "share": "Judged by its share of what it should be",
    "target": "Judged by whether there is a target",
}
_PLACE = re.compile(r"\{([^{}]*)\}")
_FIGURE = re.compile(r"(?<=[\d.]) F\b")


def book_page(rules: Rulebook) -> str:
    """The whole page."""
    return html.page(
        "book.html",
        {
            "name": rules.name,
            "index": _index(rules),
            "base": rules.base,
            "faults": [_fault(name, rules) for name in rules.faults],
            "findings": [_finding(entry, rules) for entry in rules.findings.values()],
            "states": [
                {
                    "slug": slug(name),
                    "name": name,
                    "question": entry.question,
                    "words": ", ".join(entry.words),
                    "rules": [_rule(r, rules) for r in rules.rules if r.concludes and r.concludes[0] == name],
                }
                for name, entry in rules.states.items()
            ],
            "readiness": [_rule(rule, rules) for rule in rules.rules if rule.kind == "readiness"],
            "cautions": [
                _rule(rule, rules) for rule in sorted(rules.rules, key=lambda rule: rule.rank) if rule.kind == "caution"
            ],
            "checks": [
                {
                    "slug": slug(name),
                    "ask": entry.ask,
                    "why": entry.why,
                    "about": _about(entry.minutes, entry.gives),
                    "others": other_machines(entry),
                }
                for name, entry in rules.checks.items()
            ],
            "sources": [
                {"slug": name, "title": entry.title, "confidence": entry.confidence, "note": entry.note}
                for name, entry in rules.sources.items()
            ],
            "words": WORDS,
            "changes": [f"{change.target}: {change_text(own, change)}" for own, change in rules.changes],
        },
    )


def _index(rules: Rulebook) -> list[tuple[str, list[tuple[str, str]]]]:
    """Each first letter with its entries, text and place: faults, findings, states, checks. It needs no script."""
    named = [(entry.name, f"fault-{slug(name)}") for name, entry in rules.faults.items()]
    for kind, names in (("finding", rules.findings), ("state", rules.states), ("check", rules.checks)):
        named += [(name.replace("-", " ") if kind == "check" else name, f"{kind}-{slug(name)}") for name in names]
    ordered = sorted(((upper_first(text), at) for text, at in named), key=lambda each: (each[0].lower(), each[1]))
    return [(letter, list(entries)) for letter, entries in groupby(ordered, key=lambda each: each[0][:1])]


def _about(minutes: float, gives: Sequence[str]) -> str:
    return f"{counted(minutes, 'minute')}{f'; gives {_list(gives)}' if gives else ''}."


def _list(names: Sequence[str]) -> str:
    return ", ".join(names)


def _fault(name: str, rules: Rulebook) -> dict[str, Any]:
    entry, evidence = rules.faults[name], rules.evidence(name)
    speaking = [_rule(rule, rules) for rule in evidence if rule.points > 0]
    against = [_rule(rule, rules) for rule in evidence if rule.points < 0]
    cited = Counter(rule.entry.source[0] for rule in evidence)
    cited[entry.usual_source[0]] += 1
    return {
        "slug": name,
        "name": entry.name,
        "what": entry.what,
        "usual": f"{signed(entry.usual)} points" if entry.usual else "no points",
        "usual_source": _cited(entry.usual_source, rules),
        "notes": _notes(name, rules),
        "sides": [("Evidence for it", speaking), ("Evidence against it", against)],
        "alike": [
            {"slug": other, "name": rules.faults[other].name, "text": text} for other, text in entry.looks_like.items()
        ],
        "repair": _repair(entry.repair) if entry.repair else None,
        "sources": [{"slug": key, "title": rules.sources[key].title} for key, _ in cited.most_common()],
    }


def _repair(repair: Repair) -> dict[str, Any]:
    return {
        "do": [step_text(step) for step in repair.do],
        "cautions": [step_text(step) for step in repair.cautions],
        "expect": repair.expect,
    }


def _rule(rule: Rule, rules: Rulebook) -> dict[str, Any]:
    entry = rule.entry
    check = rules.checks[entry.check] if entry.check else None
    return {
        "id": rule.id,
        "slug": slug(rule.id),
        "title": entry.title,
        "points": signed(rule.points) if rule.kind == "evidence" else "",
        "when": when_text(rule, rules),
        "does": "" if rule.kind in ("evidence", "caution") else speaks_text(rule, rules),
        "why": list(_why(entry.why)),
        "source": _cited(entry.source, rules),
        "related": _related(rule, rules) if rule.kind == "evidence" else [],
        "check": {"slug": slug(check.check), "ask": check.ask} if check else None,
        "notes": _notes(rule.id, rules, rule.own),
        "tests": [
            {
                "said": "It fires on" if trial.fires is not None else "It stays quiet on",
                "words": _list([f"{name} {or_words(words)}" for name, words in trial.findings.items()]),
                "because": (trial.because or "").rstrip("."),
            }
            for trial in entry.tests
        ],
    }


def _related(rule: Rule, rules: Rulebook) -> list[tuple[str, list[dict[str, str]]]]:
    """The rules that it contains, and those that contain it."""
    evidence = rules.evidence(rule.fault)
    general = [other for other in evidence if rule.id in rules.more_special(other)]
    special = [other for other in evidence if other.id in rules.more_special(rule)]
    return [
        ("Contains, and its points replace theirs:", [{"slug": slug(other.id), "id": other.id} for other in general]),
        (
            "Contained in, where their points replace its:",
            [{"slug": slug(other.id), "id": other.id} for other in special],
        ),
    ]


def _cited(source: Sequence[str], rules: Rulebook) -> list[dict[str, Any]]:
    """The names of sources, which lead to their section, and the places in them."""
    return [{"text": part, "known": part in rules.sources} for part in source]


def _why(text: str) -> Iterator[tuple[str, str]]:
    """The sentences, with the places where a visit puts its figures."""
    for i, part in enumerate(_PLACE.split(text)):
        yield ("figure" if i % 2 else "text", part)


def _notes(name: str, rules: Rulebook, own: str = "") -> list[str]:
    folder = own or rules.added.get(name, "")
    notes = [f"{added_text(name, folder, rules)}."] if folder else []
    changes = [change_text(by, change).rstrip(".") for by, change in rules.changes_of(name)]
    return notes + [f"{upper_first(text)}." for text in changes]


def _finding(entry: FindingEntry, rules: Rulebook) -> dict[str, Any]:
    name = entry.finding
    return {
        "slug": slug(name),
        "name": upper_first(name),
        "what": upper_first(entry.what),
        "words": _list(entry.words),
        "seen": entry.seen,
        "ask": entry.ask,
        "minutes": f"{entry.minutes:g}",
        "notes": _notes(name, rules),
        "scales": [_scale(entry, scale, rules) for scale in entry.scales],
        "users": [{"slug": slug(rule.id), "id": rule.id} for rule in rules.rules if name in rule.findings],
    }


def _scale(entry: FindingEntry, scale: WordScale, rules: Rulebook) -> dict[str, Any]:
    on = " and ".join(f"{name} {or_words(words)}" for name, words in in_order(scale.applies).items())
    target = {
        None: "", "maker": ", where the maker gives it", "protocol": ", where the protocol gives it",
        "typical": ", typical of such machines", "assumed": ", where what that follows from is not known either",
        "none": ", where nothing says what it should be",
        "baseline": ", where the machine’s own good day is known",
    }[scale.target]  # fmt: skip
    return {
        "head": f"{_BY[scale.by]}{target}{f' ({on})' if on else ''}",
        "rows": list(_ranges(entry, scale)),
        "why": scale.why,
        "source": _cited(scale.source, rules),
    }


def _ranges(entry: FindingEntry, scale: WordScale) -> Iterator[tuple[str, str]]:
    """Each word and what lies between its limits, as the file writes them, with SI where they are temperatures."""
    limits = [_limit(scale, i) for i in range(len(scale.limits))]
    for i, word in enumerate(entry.words if limits else ()):
        if i == 0:
            yield word, f"below {limits[0]}"
        elif i == len(limits):
            yield word, f"{limits[-1]} and above"
        else:
            yield word, f"{limits[i - 1]} to {limits[i]}"


def _limit(scale: WordScale, i: int) -> str:
    written = _FIGURE.sub(" °F", str(scale.limits_written[i])).replace("-", "−")
    if scale.kind not in ("temperature", "difference", "drift") or "°F" not in written:
        return written
    return f"{written} ({number(scale.limits[i], scale.kind, 'si')})"


def table_page(m: Matrix, rules: Rulebook) -> str:
    """The fault × finding matrix as a page."""
    groups = [(name, list(rows)) for name, rows in groupby(m.rows, key=lambda row: row.name)]
    several: Mapping[str, list[tuple[str, str, str]]] = {name: [] for name in m.faults}
    for rule, when in m.several:
        several[rule.fault].append((signed(rule.points), when, rule.id))
    return html.page(
        "table.html",
        {
            "title": title(m),
            "explained": explanation(m)[0].text,
            "faults": m.names,
            "groups": groups,
            "several": [(rules.faults[fault].name, found) for fault, found in several.items() if found],
        },
    )
