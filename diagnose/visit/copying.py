"""A visit from Python, copied into plain groups, lists, texts and numbers before anything else looks at it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from numbers import Integral, Real

from diagnose.yamlfile import DEEPEST, MOST_VALUES


class Hostile(Exception):  # noqa: N818 - a signal
    """What was given cannot be copied: what is wrong, and how to mend it."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def copied(data: object) -> object:
    """The same values, once more. Raises Hostile.

    They may be of any class, hold themselves, have no end, or raise when they are read; a file cannot, so the same limits hold.
    """
    return _Copy().of(data)


class _Copy:
    def __init__(self) -> None:
        self.values = 0

    def of(self, value: object, depth: int = 0) -> object:
        self.values += 1
        if self.values > 2 * MOST_VALUES:  # a file counts names and values alike
            what = f"the visit holds more than {MOST_VALUES:,} names and values"
            raise Hostile(what, "Check that this is the right one.")
        if depth > DEEPEST:
            raise Hostile(f"lists and groups are nested deeper than {DEEPEST}", "Check the brackets.")
        try:
            if value is None or type(value) in (str, int, float, bool):
                return value
            if isinstance(value, str):
                return str.__str__(value)
            if isinstance(value, Mapping):
                return {_key(key): self.of(item, depth + 1) for key, item in value.items()}
            if isinstance(value, (list, tuple)):
                return [self.of(item, depth + 1) for item in value]
            if isinstance(value, Integral):  # of an array library, too
                return int(value)
            return float(value) if isinstance(value, (Real, Decimal)) else value
        except Hostile:
            raise
        except Exception as error:
            fix = "Give plain groups, lists, texts and numbers."
            raise Hostile(f"a {type(value).__name__} cannot be read ({type(error).__name__})", fix) from None


def _key(key: object) -> object:
    return str.__str__(key) if isinstance(key, str) else key
