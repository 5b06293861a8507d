"""Which unit is meant by what was written, and what is said where none is, or two are."""

import re
from collections.abc import Mapping
from typing import get_args

from diagnose.units.table import CALLED, UNITS, Kind, Unit


class UnitError(ValueError):
    """A value that cannot be read: `what` is wrong, and one sentence how to mend it, `fix`.

    of: the other kind that its unit belongs to, where that is what is wrong.
    """

    def __init__(self, what: str, fix: str, of: Kind | None = None) -> None:
        super().__init__(what, fix, of)  # all, so that it can be sent between processes
        self.what = what
        self.fix = fix
        self.of = of

    def __str__(self) -> str:
        return f"{self.what}. {self.fix}"


class NoValue(UnitError):  # noqa: N818 - told as a UnitError
    """What an example mends: that of the kind, unless `parse` was given one."""


def key_of(unit: str) -> str:
    """The spelling without what people leave out or add at will: case, spaces, dots, brackets, the degree sign."""
    return re.sub(r"[\s.()\[\]_^°]", "", unit.lower())


def _spellings(units: tuple[Unit, ...]) -> dict[str, Unit]:
    return {
        key_of(word): unit
        for unit in units
        for word in (unit.name, *unit.spellings.split(","))
        if word or not unit.name
    }


BY_SPELLING: Mapping[Kind, Mapping[str, Unit]] = {kind: _spellings(units) for kind, units in UNITS.items()}

_SELDOM = ("mbar", "mmHg", "cmHg", "torr")  # of pressures: understood, but not named in a list
_NO_UNITS_HERE = frozenset({"kwh", "wh", "hp", "rpm", "hz", "db", "ohm", "ohms"})


def is_unit(text: str, kind: Kind) -> bool:
    """Whether this is a spelling of a unit of this kind."""
    return bool(text) and key_of(text) in BY_SPELLING[kind]


def find(written: str, kind: Kind, number: str) -> Unit:
    """The unit with this spelling; `number` is what stood before it, for the example in the message."""
    key, called = key_of(written), CALLED[kind].name
    if kind == "pressure" and written.strip().startswith("mPa"):
        raise UnitError("`mPa` is a thousandth of a pascal", f"Write `{number or '0.8'} MPa` with a capital M.")
    if found := BY_SPELLING[kind].get(key):
        return found
    if kind == "number":
        raise UnitError(
            f"{quoted(written)} is not expected after the number here",
            f"Write the number alone, for example `{number or 14}`.",
        )
    if key in ("", "deg", "degree", "degrees") and kind in ("temperature", "difference"):
        raise UnitError(
            f"{quoted(written)} does not say which degrees", f"Write `{number or 61} F` or `{number or 61} C`."
        )
    if kind == "station pressure" and (other := BY_SPELLING["pressure"].get(key)) and (other.gauge or other.ask):
        raise no_value(f"{quoted(written)} is not an absolute pressure, and a station pressure is", kind)
    others: list[Kind] = [other_kind for other_kind in get_args(Kind) if key in BY_SPELLING[other_kind]]
    if others:
        weight = " or a weight" if "mass" in others[1:] else ""  # pounds are both
        what = f"{quoted(written)} is {CALLED[others[0]].name}{weight}; {called} is expected here"
        raise NoValue(what, for_example(kind), others[0])
    meant = None if key in _NO_UNITS_HERE else _misspelt(key, kind)
    if meant is not None:
        raise UnitError(
            f"{quoted(written)} is not a unit known here", f"Did you mean `{f'{number} {meant.name}'.strip()}`?"
        )
    plain, bracket, _ = written.partition("(")  # other words may say something of the value: `F wb`, `psi vac`
    first = BY_SPELLING[kind].get(key_of(plain)) if bracket else None
    if first is not None and first.name:
        raise UnitError(
            f"{quoted(written)} is more than a unit",
            f"Write `{f'{number} {first.name}'.strip()}`; a remark goes under `notes:`.",
        )
    names = [
        unit.name
        for unit in UNITS[kind]
        if not unit.ask
        and (unit.scale > 0 or unit.name == "inHg vacuum")
        and (kind != "pressure" or not unit.name.startswith(_SELDOM))
    ]
    raise UnitError(f"{quoted(written)} is not a unit of {called}", f"Known here: {', '.join(names)}.")


def _misspelt(key: str, kind: Kind) -> Unit | None:
    """The one unit that this is a slip of the pen for; None where units of two sizes are as near."""
    near = [unit for word, unit in BY_SPELLING[kind].items() if _one_slip(key, word)]
    if len({(unit.scale, unit.gauge) for unit in near}) != 1 or any(unit.ask for unit in near):
        return None
    return near[0] if not near[0].note else next((unit for unit in near if not unit.note), near[0])


def _one_slip(written: str, word: str) -> bool:
    """Two letters changed places, one is missing or doubled, or, in a long word, one is too many or another.

    The first letter holds: there stand the marks for thousands and thousandths, with which a unit has another size.
    """
    if len(word) < 3 or written[:1] != word[:1]:
        return False
    at = next((i for i, (a, b) in enumerate(zip(written, word, strict=False)) if a != b), min(len(written), len(word)))
    mine, theirs = written[at:], word[at:]
    if len(written) == len(word):
        swapped = mine[1::-1] == theirs[:2] and mine[2:] == theirs[2:]
        return swapped or (len(word) > 4 and word.isalpha() and at > 1 and mine[1:] == theirs[1:])
    if len(written) < len(word):
        a_millimeter = at == 1 and word.startswith("mm")  # with one m it is a thousand times as long
        return mine == theirs[1:] and len(written) > 2 and not a_millimeter
    doubled = len(set(written[:at])) > 1 and mine[:1] == written[at - 1]
    another = mine[0] in "kmhcdf"  # marks of size, elsewhere, and the other degree
    return mine[1:] == theirs and len(written) > 3 and (doubled or (len(word) > 3 and not another))


def no_value(what: str, kind: Kind) -> UnitError:
    """Nothing that could be a value of this kind: what is wrong, with an example."""
    return NoValue(what, for_example(kind))


def for_example(kind: Kind) -> str:
    """The sentence that says how such a value is written."""
    what = "a number" if kind == "number" else "a number and its unit"
    return f"Write {what}, for example `{CALLED[kind].example}`."


def quoted(text: str) -> str:
    """Between backquotes, cut to a length that fits a line, and safe to print on any terminal."""
    clean = "".join(sign if sign.isprintable() and sign != "`" else "?" for sign in text)
    return f"`{clean if len(clean) <= 40 else clean[:37] + '...'}`"
