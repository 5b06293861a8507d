"""What was written, as a figure in SI; or a sentence that says what to write."""

import math
import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from diagnose.units.spelling import BY_SPELLING, NoValue, UnitError, find, key_of, no_value, quoted
from diagnose.units.table import CALLED, UNITS, Kind, Unit

LARGEST = 1e9  # no reading of an air conditioner, in any unit, is written with a larger number
LONGEST = 100  # characters
HIGHEST_STATION = 110e3  # Pa, above every station pressure recorded: no gauge can show less than this below zero


_NEVER_NEGATIVE: frozenset[Kind] = frozenset(
    {"capacity", "airflow", "current", "voltage", "capacitance", "vacuum", "mass", "mass per length", "time"}
)
# Pairs written together ("6 lb 4 oz"): how many of the second make one of the first.
_TOGETHER: dict[tuple[str, str], int] = {("lb", "oz"): 16, ("ft", "in"): 12, ("h", "min"): 60}
# Only these are written as fractions in the trade; "75/63 F" is two temperatures.
_FRACTION_KINDS: frozenset[Kind] = frozenset({"length", "mass", "capacity"})
_DENOMINATORS = frozenset({2, 3, 4, 8, 16, 32, 64})


_FRACTION_SIGNS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
# One character for each thing people's keyboards and phones make of it. Superscripts are plain digits here.
_SAME: dict[int, str] = {
    **dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d"), "-"),
    **dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\t\r\n"), " "),
    **dict.fromkeys(map(ord, "\u00ba\u02da"), "°"),
    **dict.fromkeys(map(ord, "\u2019\u2032\u02b9"), "'"),
    **dict.fromkeys(map(ord, "\u201d\u2033\u02ba"), '"'),
    ord("\u2103"): "°C",
    ord("\u2109"): "°F",
    ord("\u00b2"): "2",
    ord("\u00b3"): "3",
    ord("\u2082"): "2",
    ord("\u2044"): "/",
    **{ord(sign): f" {text} " for sign, text in _FRACTION_SIGNS.items()},
}

_ONE = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<number>[0-9.,]*[0-9](?:\.(?![0-9a-z]))?(?:e[+-]?[0-9]+)?)\s*(?P<unit>.*)", re.I
)
_TWO = re.compile(r"([+-]?)\s*([0-9]+)\s*([a-z'#]+)\.?[\s,]*(?:and\s+)?([0-9]*\.?[0-9]+)\s*([a-z\"]+)\.?", re.I)
_FRACTION = re.compile(r"([+-]?)\s*(?:([0-9]+)(?:\s*-\s*|\s+))?([0-9]+)\s*/\s*([0-9]+)\s*(.*)")
_PLAIN = re.compile(r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]+)?", re.I)
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_GROUPED_BY_POINTS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+")  # with a decimal comma behind
_ONE_GROUP = re.compile(r"([1-9][0-9]{0,2})([.,])([0-9]{3})")  # a thousand, or three decimals
_HYPHEN = re.compile(r"-\s*(?=[a-z])", re.I)  # "3-ton"
_THOUSANDS = re.compile(r"k(?:\s*(?=\D)|$)", re.I)  # "1.2k cfm"

_USUAL: dict[Kind, tuple[float, float]] = {kind: called.usual for kind, called in CALLED.items() if called.usual}
# The same, of machines that hang on one wall or stand on one roof: what a number without a unit is proposed as.
_LIKELY: dict[Kind, tuple[float, float]] = {**_USUAL, "capacity": (1e3, 2.6e4), "mass": (0.05, 25.0)}
_SMALLER: dict[Kind, tuple[str, ...]] = {"capacity": ("kBtu/h", "Btu/h"), "mass": ("g",)}
_US_UNITS = frozenset(
    {"psi", "psig", "psia", "inHg", "ton", "Btu/h", "MBH", "cfm", "lb", "oz", "ft", "in", "inH2O", "oz/ft", "lb/ft"}
)


class Measured(NamedTuple):
    """A number in SI (K, Pa, W, m3/s, A, kg, m, s, or 1) and how it was written.

    A gauge pressure counts from the station pressure: add the station pressure to get the absolute one.
    """

    value: float
    unit: str
    gauge: bool = False
    note: str | None = None


def parse(value: object, kind: Kind, example: str = "", most: float | None = None) -> Measured:
    """Read what was written for a field of this kind: "118 psig", "6 lb 4 oz", `3/8"`, or a bare 14 for a plain number.

    Returns SI. Raises UnitError, and nothing else, for whatever cannot be read with certainty. `example` is what such a field
    may hold, for the message; `most` the largest value it can have, SI, which tells `10.500 m` of a line from 10 km.
    """
    try:
        return _parsed(value, kind, most)
    except NoValue as error:
        fix = error.fix.replace(f"`{CALLED[kind].example}`", f"`{example}`") if example else error.fix
        raise UnitError(error.what, fix, error.of) from None
    except _NoUnit as error:
        raise UnitError(error.what, _with_a_unit(error.fix, kind, example, most)) from None


def _parsed(value: object, kind: Kind, most: float | None) -> Measured:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise no_value(f"{_a_thing(value)} is written where {CALLED[kind].name} is expected", kind)
    if isinstance(value, str):
        return _from_text(value, kind, most)
    if value != value:
        raise no_value("this is not a number", kind)
    if abs(value) > LARGEST:  # before anything is printed: Python refuses to print very long whole numbers
        raise _absurd(kind)
    bare = _bare_unit(kind)
    if bare is None:
        raise _no_unit(_plain(value), kind)
    return _measured(float(value), bare, kind, _plain(value))


@lru_cache(4096)  # a book and its visits write the same few figures again and again
def _from_text(written: str, kind: Kind, most: float | None) -> Measured:
    if len(written) > LONGEST:
        raise no_value(f"{quoted(written)} is too long for {CALLED[kind].name}", kind)
    text = written.translate(_SAME).replace("''", '"').strip()
    if not text:
        raise no_value(f"nothing is written where {CALLED[kind].name} is expected", kind)
    if any(sign.isdecimal() and not sign.isascii() for sign in text):
        raise UnitError(f"{quoted(written)} has digits of another script", "Write the number with the digits 0 to 9.")
    if kind == "time" and re.fullmatch(r"[0-9]+:[0-9:]+", text):
        raise UnitError(f"{quoted(written)} can mean hours or minutes", "Write how long it ran, for example `15 min`.")
    if match := _FRACTION.fullmatch(text):
        return _from_fraction(match, kind, text)
    if (match := _TWO.fullmatch(text)) and (pair := _from_pair(match, kind, text)):
        return pair
    match = _ONE.fullmatch(text)
    if match is None:
        raise no_value(f"{quoted(text)} does not begin with a number", kind)
    sign, number, unit = match["sign"], match["number"], _HYPHEN.sub("", match["unit"].strip())
    if key_of(unit) not in BY_SPELLING[kind] and (times := _THOUSANDS.match(unit)):
        thousands = unit[times.end() :]
        if key_of(thousands) in BY_SPELLING[kind] if thousands else _bare_unit(kind) is None:
            amount = _number(sign, number, unit, kind, None) * 1000
            if not abs(amount) <= LARGEST:
                raise _absurd(kind)
            if not thousands:
                raise _no_unit(f"{sign}{number}{unit}", kind)
            return _measured(amount, find(thousands, kind, ""), kind, text)
    amount = _number(sign, number, unit, kind, most)
    if not unit:
        bare = _bare_unit(kind)
        if bare is None:
            raise _no_unit(sign + number, kind)
        return _measured(amount, bare, kind, text)
    if key_of(unit) not in BY_SPELLING[kind] and re.search(r"(?:^|[\s+±~/-])[+-]?[0-9]", unit):
        raise _several(text, kind)
    return _measured(amount, find(unit, kind, sign + number), kind, text)


def _several(text: str, kind: Kind) -> NoValue:
    return NoValue(
        f"{quoted(text)} holds more than one number", f"Write one value, for example `{CALLED[kind].example}`."
    )


def _number(sign: str, number: str, unit: str, kind: Kind, most: float | None) -> float:
    """The number alone. A comma or a point that may part thousands as well as decimals is asked about."""
    if match := _ONE_GROUP.fullmatch(number):
        number = _one_group(match, sign, unit, kind, most)
    elif _GROUPED.fullmatch(number):
        number = number.replace(",", "")
    elif _GROUPED_BY_POINTS.fullmatch(number):
        number = number.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"[0-9]+,[0-9]+", number):
        number = number.replace(",", ".")
    elif not _PLAIN.fullmatch(number):
        raise UnitError(
            f"`{sign}{number}` is not a number", "Write digits with one decimal point at most, such as `1180` or `1.5`."
        )
    amount = float(sign + number)
    if not abs(amount) <= LARGEST:
        raise _absurd(kind)
    return amount


def _one_group(match: re.Match[str], sign: str, unit: str, kind: Kind, most: float | None) -> str:
    """`1,180` or `2.000` as a plain number. Raises UnitError where either reading may be meant."""
    whole, mark, rest = match.groups()
    thousands, decimals = f"{whole}{rest}", f"{whole}.{rest}"
    usually, otherwise = (thousands, decimals) if mark == "," else (decimals, thousands)
    known = BY_SPELLING[kind].get(key_of(unit))
    if known is None or kind not in _USUAL:
        return usually
    # Who writes in these units writes commas between thousands, and a point before decimals where they are usual.
    if known.name in _US_UNITS and (mark == "," or known.decimals):
        return usually
    least, largest = _USUAL[kind]
    fits = {text: least <= float(text) * abs(known.scale) <= (most or largest) for text in (usually, otherwise)}
    if mark == "." and not fits[otherwise]:
        return usually
    if mark == "," and fits[usually] != fits[otherwise]:
        return usually if fits[usually] else otherwise
    small, large = (quoted(f"{sign}{_plain(float(text))} {unit}") for text in (decimals, thousands))
    raise UnitError(
        f"{quoted(f'{sign}{match[0]} {unit}')} can be read in two ways", f"Write {small}, or {large} if that is meant."
    )


def _from_fraction(match: re.Match[str], kind: Kind, text: str) -> Measured:
    """`3/8 in`, `1-1/8"`, `2 1/2 ton`."""
    sign, whole, above, below, unit = match.groups()
    top, bottom = int(above), int(below)
    if kind not in _FRACTION_KINDS and bottom not in _DENOMINATORS:  # `208/230 V` of a plate
        raise _several(text, kind)
    if kind not in _FRACTION_KINDS or bottom not in _DENOMINATORS or not 0 < top < bottom:
        raise UnitError(
            f"{quoted(text)} is not a fraction that can be read here", "Write the number with a decimal point."
        )
    if not unit:
        if kind == "length":  # only inches are written so
            raise UnitError(f"{quoted(text)} has no unit", f"Write the unit, for example {quoted(f'{text} in')}.")
        raise _no_unit(text, kind)
    amount = int(whole or 0) + top / bottom
    if amount > LARGEST:
        raise _absurd(kind)
    return _measured(-amount if sign == "-" else amount, find(unit, kind, text.removesuffix(unit).strip()), kind, text)


def _from_pair(match: re.Match[str], kind: Kind, text: str) -> Measured | None:
    """`6 lb 4 oz`, `12 ft 6 in`, `1 h 15 min`; None where the two units are not such a pair."""
    sign, first, unit, second, small_unit = match.groups()
    known = BY_SPELLING[kind]
    large, small = known.get(key_of(unit)), known.get(key_of(small_unit))
    if large is None or small is None or (large.name, small.name) not in _TOGETHER:
        return None
    count = _TOGETHER[large.name, small.name]
    if float(second) >= count:
        raise UnitError(
            f"{quoted(text)} has {second} {small.name}, and {count} make one {large.name}", "Check the two numbers."
        )
    amount = int(first) + float(second) / count
    if amount > LARGEST:
        raise _absurd(kind)
    return _measured(-amount if sign == "-" else amount, large, kind, text)


def _measured(amount: float, unit: Unit, kind: Kind, text: str) -> Measured:
    """To SI, with what physics forbids refused."""
    if unit.ask and amount < 0:  # below zero only a gauge goes
        unit = find(f"{unit.name} gauge", kind, "")
    if unit.ask:
        one, other = unit.ask.split(",")
        raise UnitError(
            f"`{unit.name}` can mean two pressures",
            f"Write `{_plain(amount)} {one}` if a gauge showed it, "
            f"or `{_plain(amount)} {other}` if it counts from a perfect vacuum.",
        )
    value = (amount + unit.offset) * unit.scale
    if kind == "temperature" and value < 0:
        raise UnitError(f"{quoted(text)} is below absolute zero", "Check the number and the unit.")
    if kind in _NEVER_NEGATIVE and value < 0:
        raise UnitError(f"{quoted(text)} is negative, and {CALLED[kind].name} cannot be", "Leave out the minus sign.")
    if (kind == "station pressure" and value <= 0) or (kind == "pressure" and not unit.gauge and value < 0):
        raise UnitError(f"{quoted(text)} is below a perfect vacuum", "Check the number, or write it as gauge pressure.")
    if unit.name.endswith(" vacuum") and amount < 0:
        raise UnitError(
            f"{quoted(text)} is a negative vacuum", f"Leave out the minus sign: `{_plain(-amount)} {unit.name}`."
        )
    if kind == "pressure" and unit.gauge and value < -HIGHEST_STATION:
        raise UnitError(f"{quoted(text)} is below a perfect vacuum", "Check the number and the unit.")
    if not unit.note:
        return Measured(value, unit.name, unit.gauge)
    marked, absolute = ("psig", "psia") if unit.name == "psi" else (f"{unit.name} gauge", f"{unit.name} absolute")
    note = (
        f"`{_plain(amount)} {unit.name}` is read as gauge pressure, as service gauges are marked; "
        f"if it counts from a perfect vacuum write `{_plain(amount)} {absolute}`"
    )
    return Measured(value, marked, True, note)


def _bare_unit(kind: Kind) -> Unit | None:
    """What a number without a unit means: minutes for a time, itself for a plain number, otherwise nothing."""
    return UNITS[kind][0] if kind in ("number", "time") else None


class _NoUnit(UnitError):  # noqa: N818 - told as a UnitError
    """`fix` is the number alone: which unit it may have, `parse` says."""


def _no_unit(number: str, kind: Kind) -> UnitError:
    return _NoUnit(f"{quoted(number)} has no unit", number)


def _with_a_unit(number: str, kind: Kind, example: str, most: float | None) -> str:
    """The number with a unit in which it is of a possible size; else an example."""
    completed = example or CALLED[kind].example
    if kind != "percent":  # 0.5 may stand for 50 %
        least, largest = _LIKELY.get(kind, (-math.inf, math.inf))
        ours = completed.split(" ", 1)[-1]
        for unit in dict.fromkeys((ours, CALLED[kind].us, *_SMALLER.get(kind, ()), CALLED[kind].si)):
            known = BY_SPELLING[kind].get(key_of(unit))
            try:
                amount = _written(number)
            except (ValueError, ZeroDivisionError):
                amount = math.nan
            if known is not None and least <= amount * known.scale <= min(most or largest, largest):
                completed = f"{number} {unit}"
                break
            if known is not None and kind not in _USUAL:
                completed = f"{number} {unit}"
                break
    return f"Write the unit, for example {quoted(completed)}."


def _written(number: str) -> float:
    """What a number without a unit says: `2 1/2`, `36,000`, `36k`. Raises ValueError, ZeroDivisionError."""
    text = number.lower().removesuffix("k")
    text = text.replace(",", "" if _GROUPED.fullmatch(text) else ".")
    return float(sum(map(Fraction, re.sub(r"(?<=[0-9])-", " ", text).split()))) * (1000 if "k" in number.lower() else 1)


def _absurd(kind: Kind) -> UnitError:
    return no_value(f"this number is too large for {CALLED[kind].name}", kind)


def _a_thing(value: object) -> str:
    """What a value is, in words of the file's writer."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple | set | frozenset):
        return "a list"
    if isinstance(value, Mapping):
        return "a group of fields"
    return "something that is neither number nor text"


def _plain(number: float) -> str:
    """Digits enough for any reading, without an exponent."""
    return f"{number:.10g}"
