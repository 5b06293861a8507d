"""Checked entries of the files become the plain entries of a compiled book; what the checks would refuse raises here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from types import NoneType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from diagnose import units
from diagnose.quantities import QuantityKind
from diagnose.rulebook.change_model import WrittenChange
from diagnose.rulebook.entries import (
    BookChange,
    Conditions,
    FigureAsWritten,
    FindingEntry,
    PressureLimits,
    WordScale,
    fields_of,
)
from diagnose.rulebook.fields import WordOrWords
from diagnose.rulebook.limits import kind_of, limits_of, spread_of
from diagnose.rulebook.models import WrittenFindingEntry, WrittenPressureLimits, WrittenScale

T = TypeVar("T")


def conditions(written: Mapping[str, WordOrWords]) -> Conditions:
    """`{metering: [TXV, EEV]}` as the matcher and `applies` want it."""
    return tuple((name, frozenset([words] if isinstance(words, str) else words)) for name, words in written.items())


def entry(kind: type[T], written: Any, /, **worked_out: Any) -> T:
    """An entry of a compiled book: its fields as they are written, lists as tuples; those that are worked out are given."""
    shape: Any = kind
    made = {name: make(getattr(written, name)) for name, make in _makers(shape) if name not in worked_out}
    return kind(**made, **worked_out)


Make = Callable[[Any], Any]


@cache
def _makers(kind: type) -> tuple[tuple[str, Make], ...]:
    """What makes each field of such an entry out of what is written."""
    hints = get_type_hints(kind)
    return tuple((name, _maker(hints[name])) for name in fields_of(kind))


@cache
def _maker(hint: Any) -> Make:
    inside, origin = get_args(hint), get_origin(hint)
    if NoneType in inside:
        make = _maker(next(one for one in inside if one is not NoneType))
        return make if make is _as_it_is else lambda written: None if written is None else make(written)
    if hint == Conditions:
        return conditions
    if hasattr(hint, "_fields"):  # a step of a repair may be a text alone
        kind: Any = hint
        return lambda written: kind(written) if isinstance(written, str) else entry(kind, written)
    if origin is tuple:
        each = _maker(inside[0])
        return lambda written: tuple(map(each, [written] if isinstance(written, str) else written))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        value = _maker(inside[1])
        return lambda written: {name: value(one) for name, one in written.items()}
    return _as_it_is


def _as_it_is(written: Any) -> Any:
    return written


def finding(w: WrittenFindingEntry, kinds: Mapping[str, QuantityKind]) -> FindingEntry:
    """Its limits and spreads in SI. kinds: of all quantities."""
    return entry(FindingEntry, w, scales=tuple(_scale(kinds[w.quantity or ""], scale) for scale in w.scales))


def retired(w: WrittenFindingEntry) -> FindingEntry:
    """A finding that is asked for no more; visits that name it can still be read."""
    return finding(w, {})._replace(ask=None)


def _scale(kind: QuantityKind, w: WrittenScale) -> WordScale:
    limited = w.by != "target"
    return entry(
        WordScale,
        w,
        kind=kind_of(kind, w),
        limits=limits_of(kind, w) if limited else (),
        spread=spread_of(kind, w),
        limits_written=tuple(w.limits) if limited else (),
        spread_written=w.spread,
    )


def pressure_limits(w: WrittenPressureLimits) -> PressureLimits:
    """The limits in Pa above the air."""
    limits = {name: units.parse(limit, "pressure").value for name, limit in w.limits.items()}
    return entry(PressureLimits, w, limits=limits, written=dict(w.limits))


def change(w: WrittenChange, loosens: bool) -> BookChange:
    """What it changes is named once, not in one of five fields."""
    approved_by = w.approved_by if loosens else None
    return entry(BookChange, w, was=_changed(w.was), now=_changed(w.now), loosens=loosens, approved_by=approved_by)


def _changed(figure: FigureAsWritten | list[FigureAsWritten] | None) -> float | tuple[FigureAsWritten, ...] | None:
    return (figure,) if isinstance(figure, str) else tuple(figure) if isinstance(figure, list) else figure
