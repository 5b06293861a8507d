"""What a newer rule book says otherwise, in words, for whoever is about to use it on a roof."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.wording import lower_first, name_of, signed, upper_first
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.data import as_written

LISTED = 12
"""Entries told under one heading; what is left is counted."""
_WORDS = ("title", "why", "source", "tests", "check", "what", "ask", "note")
"""Parts of an entry that tell, and decide nothing."""


def news_page(old: Rulebook, new: Rulebook) -> list[Block]:
    """Rules new, gone and weighing otherwise, faults, and limits; one sentence where nothing that decides differs."""
    parts = [(title, told) for title, told in _parts(old, new) if told]
    if not parts:
        return [Block("answer", "The rules decide as before; only the program or its texts are newer.")]
    counted = ", ".join(f"{lower_first(title)}: {len(told)}" for title, told in parts)
    blocks = [
        Block("answer", f"A newer rule book is here ({counted})."),
        line(f"Yours: {old.name}. The newer one: {new.name}."),
    ]
    for title, told in parts:
        blocks += [heading(title), *(item(one) for one in told[:LISTED])]
        if len(told) > LISTED:
            blocks.append(item(f"and {len(told) - LISTED} more", "…"))
    return blocks


def _parts(old: Rulebook, new: Rulebook) -> Iterator[tuple[str, list[str]]]:
    yield "Faults new", [new.faults[f].name for f in new.faults if f not in old.faults]
    yield "Faults gone", [old.faults[f].name for f in old.faults if f not in new.faults]
    yield "Rules new", [_rule(r, new) for r in new.rules if r.id not in old.by_id]
    yield "Rules gone", [_rule(r, old) for r in old.rules if r.id not in new.by_id]
    both = [(rule, new.by_id[rule.id]) for rule in old.rules if rule.id in new.by_id]
    yield (
        "Rules that weigh otherwise",
        [
            f"{now.entry.title}: {signed(was.points)} → {signed(now.points)} points for {name_of(now.fault, new)}"
            for was, now in both
            if _weighs(was) != _weighs(now)
        ],
    )
    yield (
        "Rules that ask otherwise",
        [_rule(now, new) for was, now in both if _weighs(was) == _weighs(now) and _deciding(was) != _deciding(now)],
    )
    yield "Limits changed", list(_limits(old, new))
    yield (
        "Figures of judgement changed",
        [
            f"{upper_first(name.replace('/', ': '))}: {_listed(was.written)} → {_listed(now.written)}"
            for name, was in old.figures.items()
            if (now := new.figures.get(name)) is not None and was.written != now.written
        ],
    )
    yield (
        "How usual a fault is",
        [
            f"{entry.name}: {entry.usual:g} → {new.faults[name].usual:g} points"
            for name, entry in old.faults.items()
            if name in new.faults and entry.usual != new.faults[name].usual
        ],
    )


def _rule(rule: Rule, book: Rulebook) -> str:
    """A rule by its title, with what it weighs."""
    if rule.kind != "evidence":
        return rule.entry.title
    return f"{rule.entry.title}: {signed(rule.points)} points for {name_of(rule.fault, book)}"


def _weighs(rule: Rule) -> tuple[str, float]:
    return (rule.fault, rule.points) if rule.kind == "evidence" else ("", 0.0)


def _deciding(rule: Rule) -> dict[str, object]:
    return {name: value for name, value in as_written(rule).items() if name not in _WORDS}


def _limits(old: Rulebook, new: Rulebook) -> Iterator[str]:
    for name, entry in old.findings.items():
        now = new.findings.get(name)
        if now is None:
            yield f"{upper_first(name)}: no longer judged"
            continue
        was, after = (
            [(s.applies, s.target, s.by, s.limits_written, s.spread_written) for s in e.scales] for e in (entry, now)
        )
        if len(was) != len(after):
            yield f"{upper_first(name)}: limits for {len(after)} kinds of machine instead of {len(was)}"
            continue
        for one, other in zip(was, after, strict=True):
            if one[3] != other[3]:
                yield f"{upper_first(name)}: {_listed(one[3])} → {_listed(other[3])}"
            elif one != other:
                yield f"{upper_first(name)}: judged another way, same limits"
    for name in new.findings:
        if name not in old.findings:
            yield f"{upper_first(name)}: now judged"
    low, high = (
        {} if book.pressure_limits is None else book.pressure_limits.limits for book in (old, new)
    )  # Pa above the air
    for refrigerant in [*low, *(r for r in high if r not in low)]:
        if low.get(refrigerant) != high.get(refrigerant):
            yield f"High side of {refrigerant}: {_bar(low.get(refrigerant))} → {_bar(high.get(refrigerant))}"


def _bar(pressure: float | None) -> str:
    return "none" if pressure is None else f"{pressure / 6894.757:.0f} psig ({pressure / 1e3:.0f} kPa)"


def _listed(written: Iterable[object]) -> str:
    return ", ".join(f"{one:g}" if isinstance(one, float) else str(one) for one in written) or "none"
