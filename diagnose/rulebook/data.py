"""A compiled book as plain data and back: for the store of compiled books, and for a browser that has no YAML; and an entry
as its file writes it, for `rules show --as json` and `rules compare`.

Only names, numbers and texts, an entry as the list of its fields in their order: data that was tampered with can be
refused, and can run nothing. Every value is held against the type of its field on the way in; that every name names something
is known of each book that is written, for it was compiled from checked files.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from diagnose.rulebook.book import Rule, Rulebook
from diagnose.rulebook.entries import BookChange, Conditions, JudgedFigure, Trial, WordScale, fields_of
from diagnose.rulebook.facts import in_order

FORMAT = 6
"""Raised whenever the shape of the data changes."""


class NotABook(ValueError):  # noqa: N818 - it says what the data is not
    """The data are not a compiled book of this format."""


def to_text(book: Rulebook) -> bytes:
    """The whole book as JSON."""
    data = {"format": FORMAT, "book": book}
    return json.dumps(data, separators=(",", ":"), default=_plain, check_circular=False).encode("ascii")


def to_data(book: Rulebook) -> dict[str, Any]:
    """The same, ready for JSON: mappings, lists, texts, numbers, truth values and None."""
    data: dict[str, Any] = json.loads(to_text(book))
    return data


def from_data(data: object) -> Rulebook:
    """The book that `to_data` was given: equal in every field. Raises NotABook for data of another shape."""
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        raise NotABook("this is not a compiled rule book of this version")
    try:
        book: Rulebook = _reader(Rulebook)(data.get("book"))
        return book
    except (KeyError, RecursionError, OverflowError):
        raise NotABook("this is not a compiled rule book") from None


def digest_of(book: Rulebook) -> str:
    """What a book says, in 64 characters: two books with one digest judge alike."""
    known = vars(book)  # where what is worked out of a book stays with it
    if "digest" not in known:
        # Keys and numbers as JSON has them: a book that was compiled once has no others, and is the same book.
        plain = json.loads(to_text(book), parse_int=float)
        known["digest"] = hashlib.sha256(json.dumps(plain, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
    return str(known["digest"])


def _plain(value: Any) -> Any:
    """What JSON has no form for, one level deep."""
    if isinstance(value, frozenset):
        return sorted(value)
    return dict(value) if isinstance(value, Mapping) else [getattr(value, name) for name in fields_of(type(value))]


# -- shapes ------------------------------------------------------------------------------------------------------------

Read = Callable[[Any], Any]


@cache
def _reader(kind: Any) -> Read:
    """What makes a value of this type out of plain data, or raises NotABook."""
    origin, inside = get_origin(kind), get_args(kind)
    if is_dataclass(kind) or hasattr(kind, "_fields"):
        return _entry(kind)
    if origin is Literal:
        return _one_of(inside)
    if origin in (Union, UnionType):
        return _either(tuple(_reader(one) for one in inside if one is not NoneType), NoneType in inside)
    if origin is frozenset:
        return _words
    if origin is tuple:
        return _row(tuple(map(_reader, inside))) if inside[-1] is not Ellipsis else _list(_reader(inside[0]))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return _group(_reader(inside[1]))
    return _number if kind is float else _exactly(kind)


def _entry(kind: Any) -> Read:
    hints = get_type_hints(kind)
    readers = tuple(_reader(hints[name]) for name in fields_of(kind))

    def read(data: Any) -> Any:
        if type(data) is not list or len(data) != len(readers):
            raise NotABook(f"not a {kind.__name__}")
        return kind(*[reader(one) for reader, one in zip(readers, data, strict=True)])

    return read


def _exactly(kind: type) -> Read:
    def read(data: Any) -> Any:
        if type(data) is not kind:
            raise NotABook(f"not a {kind.__name__}")
        return data

    return read


def _number(data: Any) -> float:
    if type(data) not in (float, int) or not math.isfinite(data):
        raise NotABook("not a number")
    return float(data)


def _one_of(words: tuple[Any, ...]) -> Read:
    def read(data: Any) -> Any:
        if type(data) is not str or data not in words:
            raise NotABook(f"not one of {words}")
        return data

    return read


def _either(readers: tuple[Read, ...], none: bool) -> Read:
    def read(data: Any) -> Any:
        if data is None and none:
            return None
        for reader in readers[:-1]:
            try:
                return reader(data)
            except (NotABook, KeyError):
                continue
        return readers[-1](data)

    return read


def _words(data: Any) -> frozenset[str]:
    if type(data) is not list or not all(type(word) is str for word in data):
        raise NotABook("not words")
    return frozenset(data)


def _row(readers: tuple[Read, ...]) -> Read:
    def read(data: Any) -> Any:
        if type(data) is not list or len(data) != len(readers):
            raise NotABook("not a row")
        return tuple(reader(one) for reader, one in zip(readers, data, strict=True))

    return read


def _list(reader: Read) -> Read:
    def read(data: Any) -> Any:
        if type(data) is not list:
            raise NotABook("not a list")
        return tuple(map(reader, data))

    return read


def _group(reader: Read) -> Read:
    def read(data: Any) -> Any:
        if type(data) is not dict:
            raise NotABook("not a group")
        return {name: reader(one) for name, one in data.items()}

    return read


# -- under the names of its file ---------------------------------------------------------------------------------------

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
