"""A visit written without its headings: each line goes under the part it belongs to, where only one part can have it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from diagnose import units
from diagnose.visit.fields import CHOICES, MACHINE_WORDS, SAME_AS, SECTIONS, Section
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.sheet import NOT_TAKEN, At
from diagnose.visit.trade_words import HEADED, instead, meant, misspelt, named_with_unit
from diagnose.yamlfile import Document


def in_parts(document: Document, at: At = (), own: Own = NOTHING_OWN) -> Document:
    """The document with each line of the visit at `at` under its heading; where it is written stays with it.

    A line that no part has, two parts can have, or its part holds already stays, to be told of there. Of a visit that has lines
    without a heading, a word that no part knows was looked at: only the rule book knows what can be.
    """
    top = value_at(document.data, at)
    if not isinstance(top, Mapping):
        return document
    named = {field.name: field.section for field in own.fields}
    goes: dict[object, str] = {}
    looked_at: list[object] = []
    for word, item in top.items():
        if not isinstance(word, str) or (word in SECTIONS and not (word == "refrigerant" and _no_amount(item))):
            continue
        parts = {part for part in HEADED if _can_hold(part, word, item) or named.get(word) == part}
        if len(parts) == 1:
            goes[word] = parts.pop()
        elif not parts and isinstance(item, str | bool) and not instead(word) and not misspelt(word, SECTIONS):
            looked_at.append(word)
    goes |= dict.fromkeys(looked_at, "seen") if goes else {}
    named_so = {"name": top["machine"]} if isinstance(top.get("machine"), str) else top.get("machine")
    there: dict[str, Any] = {part: (named_so if part == "machine" else top.get(part)) or {} for part in goes.values()}
    moved = {w: part for w, part in goes.items() if isinstance(found := there[part], Mapping) and w not in found}
    if not moved:
        return document
    arranged = {word: item for word, item in top.items() if word not in moved}
    for word, part in moved.items():
        arranged[part] = there[part] = {**there[part], word: top[word]}

    def place(old: At) -> At:
        word = old[len(at)] if old[: len(at)] == at and len(old) > len(at) else None
        return (*at, moved[word], *old[len(at) :]) if word in moved else old

    data: object = arranged
    for depth in reversed(range(len(at))):
        data = {**value_at(document.data, at[:depth]), at[depth]: data}  # type: ignore[dict-item]
    marks, keys = ({place(old): mark for old, mark in each.items()} for each in (document.marks, document.keys))
    return replace(document, data=data, marks=marks, keys=keys)


def _can_hold(part: Section, word: str, value: object) -> bool:
    """Whether a part has a line that this can be: `outdoor coil: dirty` is no kind of coil, `power: off` no figure."""
    names = meant(part, word) or named_with_unit(part, word)
    if not isinstance(value, str | bool):
        return bool(names)
    text = " ".join(str(value).lower().split())
    choices = [{*map(str.lower, CHOICES[name]), *SAME_AS[name]} for name in names if name in CHOICES and name != word]
    figures = not any(name in MACHINE_WORDS for name in names)
    return bool(names) and (
        any(map(str.isdigit, text)) or text in NOT_TAKEN if figures else not choices or text in choices[0]
    )


def value_at(data: object, at: At) -> object:
    """What stands there; None where nothing does."""
    for step in at:
        data = data[step] if isinstance(data, (Mapping, list)) else None  # type: ignore[index]
    return data


def _no_amount(value: object) -> bool:
    """Which refrigerant it is, and not how much of it: `R-410A`, not `12 oz`."""
    try:
        units.parse(value, "mass")
    except units.UnitError:
        return isinstance(value, str | int | float) and not isinstance(value, bool)
    return False
