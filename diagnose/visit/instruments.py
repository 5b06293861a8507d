"""How far each instrument may be off, as a visit says it or as is usual."""

from __future__ import annotations

import re
from collections.abc import Mapping

from diagnose import units
from diagnose.units import UnitError
from diagnose.visit.fields import INSTRUMENT_FIELDS, INSTRUMENTS, NO_TRUE_ZERO, Field, Instrument
from diagnose.visit.sheet import At, Sheet, quoted, share_of

_PLUS_MINUS = re.compile(r"^\s*(?:±|\+\s*/?\s*-)\s*")


def read_instruments(sheet: Sheet, value: object, inherited: Mapping[str, Instrument]) -> dict[str, Instrument]:
    """Those that the visit names, laid over the others."""
    limits = dict(inherited)
    for word, at, item in sheet.lines(value, ("instruments",), "instruments", INSTRUMENTS, "an instrument"):
        if item is None:
            continue
        own = _limit_of_error(sheet, item, INSTRUMENT_FIELDS[word], at)
        if own is not None:
            limits[word] = own
    return limits


def _limit_of_error(sheet: Sheet, value: object, field: Field, at: At) -> Instrument | None:
    """`1 %` is a share of the reading, anything else an amount; a humidity meter's percent is an amount."""
    assert field.default is not None
    assert field.believable is not None
    most, example = field.believable, f"For example `{at[-1]}: {field.examples[0]}`."
    written = _PLUS_MINUS.sub("", value) if isinstance(value, str) else value
    share = None if field.kind == "percent" else share_of(written)
    if share is None:
        amount = _amount_of_error(sheet, written, field, at)
        if amount is None:
            return None
        found, largest = Instrument(0.0, amount, field.kind, "the visit"), most.amount
    elif most.share is None:
        sheet.bad(at, f"`{at[-1]}`: {quoted(value)} is no limit of error: {NO_TRUE_ZERO}", example)
        return None
    else:
        found = Instrument(share, 0.0, field.kind, "the visit", least=field.default.least)
        largest = most.share
    size = found.share + found.fixed
    if size <= 0:
        what = "no instrument is without error" if size == 0 else "it must be above zero"
        sheet.bad(at, f"`{at[-1]}`: {quoted(value)} is no limit of error: {what}", example)
    elif size > largest * (1 + 1e-9):
        at_most = _most(field, found.share > 0)
        sheet.bad(
            at, f"`{at[-1]}`: {quoted(value)} is more than the {at_most} that can be believed: {most.why}", example
        )
    else:
        return found
    return None


def unit_error(written: str, field: Field) -> UnitError | None:
    """Why a limit of error cannot have the unit it is written with; whether it can be so large is not asked."""
    if field.kind != "percent" and share_of(written) is not None:
        return None
    try:
        units.parse(f"{written} absolute" if field.kind == "pressure" else written, field.kind, field.examples[0])
    except UnitError:
        try:  # as it is written, where it has a mark already
            units.parse(written, field.kind, field.examples[0])
        except UnitError as error:
            return error
    return None


def _amount_of_error(sheet: Sheet, value: object, field: Field, at: At) -> float | None:
    """SI. An error of a pressure is a difference: gauge or absolute is all the same."""
    if field.kind == "pressure" and isinstance(value, str):
        try:
            return units.parse(f"{value} absolute", field.kind).value
        except UnitError:
            pass  # it has a mark already, or something else is wrong, which is told as it is written
    found = sheet.measured(value, field, at)
    return None if found is None else found.value


def _most(field: Field, share: bool) -> str:
    """The largest limit of error that is believed, as its example is written."""
    assert field.believable is not None
    if share:
        return f"{100 * (field.believable.share or 0.0):g} %"
    one, *others = [
        _amount(field, text.split(" ", 1)[1]) for text in field.examples if text.split(" ", 1)[1] != "%"
    ] or [_amount(field, "%")]
    return f"{one} ({others[0]})" if others else one


def _amount(field: Field, unit: str) -> str:
    assert field.believable is not None
    mark = " absolute" if field.kind == "pressure" else ""
    return f"{units.from_si(field.believable.amount, unit + mark, field.kind):.2g} {unit}"
