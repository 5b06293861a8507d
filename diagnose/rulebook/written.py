"""A compiled entry told back under the names of its file, as `rules show --as json` and `rules compare` tell it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnose.rulebook.book import Rule
from diagnose.rulebook.entries import BookChange, Conditions, JudgedFigure, Trial, WordScale, fields_of
from diagnose.rulebook.facts import in_order

_CONDITIONS = ("applies", "findings")  # fields that hold conditions


def as_written(entry: Any) -> dict[str, Any]:
    """A rule or any other entry, ready for JSON; a fault without its rules; what is None is left out."""
    if isinstance(entry, Rule):
        told = _rule(entry)
    elif isinstance(entry, BookChange):
        told = {
            entry.kind: entry.target,
            "was": entry.was,
            "now": entry.now,
            "because": entry.because,
            "date": entry.date,
            "author": entry.author,
            "applies": entry.applies or None,
        }
    elif isinstance(entry, Trial):
        alone = {name: words[0] if len(words) == 1 else words for name, words in entry.findings.items()}
        told = {"quiet" if entry.fires is None else "fires": alone, "machine": entry.machine, "because": entry.because}
    elif isinstance(entry, WordScale):
        told = {"applies": entry.applies, "target": entry.target, "by": entry.by, "limits": entry.limits_written}
        told |= {"spread": entry.spread_written, "source": entry.source, "why": entry.why}
    elif isinstance(entry, JudgedFigure):
        one = entry.written[0] if len(entry.written) == 1 else entry.written
        told = {"figure": entry.figure, "value": one, "why": entry.why, "source": entry.source}
    else:
        told = {name: getattr(entry, name) for name in fields_of(type(entry))}
    return {name: _value(value, name) for name, value in told.items() if value is not None}


def _rule(rule: Rule) -> dict[str, Any]:
    entry, when = rule.entry, _conditions(rule.when)
    if rule.either:
        when["any"] = [_conditions(branch) for branch in rule.either]
    told: dict[str, Any] = {
        "id": rule.id,
        "title": entry.title,
        "applies": rule.applies,
        "when": when,
        "why": entry.why,
    }
    told |= {"source": entry.source, "check": entry.check, "tests": entry.tests}
    if rule.kind == "evidence":
        return told | {"fault": rule.fault, "points": rule.points}
    if rule.concludes is not None:
        return told | {"concludes": dict([rule.concludes])}
    return told | (
        {"holds": rule.holds, "silent": rule.silent or None} if rule.kind == "readiness" else {"rank": rule.rank}
    )


def _conditions(conditions: Conditions) -> dict[str, Any]:
    listed = in_order(conditions)
    return {name: words[0] if len(words) == 1 else words for name, words in listed.items()}


def _value(value: Any, name: str) -> Any:
    if name == "not_on":
        return [_conditions(machines) for machines in value]
    if hasattr(value, "_fields"):
        return as_written(value)
    if isinstance(value, tuple):
        return _conditions(value) if name in _CONDITIONS else [_value(one, "") for one in value]
    if isinstance(value, Mapping):
        return {key: _value(one, "") for key, one in value.items()}
    return value
