"""Codes by row: one of some words, or several in their order, as a table holds them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Coded:
    """One word, or none, in each row: its number among `words`, -1 for none."""

    codes: NDArray[np.int16]
    words: tuple[str, ...]

    def of(self, row: int) -> str | None:
        """The word of a row."""
        code = int(self.codes[row])
        return None if code < 0 else self.words[code]


@dataclass(frozen=True, slots=True)
class Listed:
    """Some words in each row, in their order: those of row i stand from offsets[i] to offsets[i + 1]."""

    offsets: NDArray[np.int64]
    codes: NDArray[np.int16]
    words: tuple[str, ...]

    def of(self, row: int) -> tuple[str, ...]:
        """The words of a row."""
        return tuple([self.words[code] for code in self.codes[self.offsets[row] : self.offsets[row + 1]].tolist()])


class Lexicon:
    """Words and their numbers, as they come."""

    def __init__(self, words: Iterable[str] = ()) -> None:
        self._numbers: dict[str, int] = {}
        for word in words:
            self.number(word)

    def number(self, word: str) -> int:
        """The number of a word, a new one for a new word."""
        return self._numbers.setdefault(word, len(self._numbers))

    @property
    def words(self) -> tuple[str, ...]:
        """All words, by number."""
        return tuple(self._numbers)


class First:
    """The first reason of each row, as reasons are looked at one after another. codes: -1 where there is none yet."""

    def __init__(self, n: int, lexicon: Lexicon):
        self.codes: NDArray[np.int16] = np.full(n, -1, dtype=np.int16)
        self._lexicon = lexicon

    @property
    def none(self) -> Any:
        """The rows without one."""
        return self.codes < 0

    def add(self, code: str, rows: Any) -> None:
        """A reason that holds in some rows."""
        where = _numbers(rows)
        self.codes[where[self.codes[where] < 0]] = self._lexicon.number(code)


def _numbers(rows: Any) -> Any:
    """Rows by number, where they are told by number or by truth."""
    rows = np.asarray(rows)
    return np.flatnonzero(rows) if rows.dtype.kind == "b" else rows


@dataclass(slots=True)
class Pile:
    """Codes of rows in the making: (row, place in the row, code) in three columns."""

    rows: list[Any]
    codes: list[Any]

    @classmethod
    def empty(cls) -> Pile:
        """With nothing in it."""
        return cls([], [])

    def add(self, rows: Any, code: int) -> None:
        """The code in those rows (numbers, or truth by row), after all that were added before."""
        where = _numbers(rows)
        if where.size:
            self.rows.append(where)
            self.codes.append(np.full(where.size, code, dtype=np.int16))

    def without(self, rows: Any, n: int) -> None:
        """Forget what was said of those rows."""
        gone = np.zeros(n, dtype=bool)
        gone[rows] = True
        for i, where in enumerate(self.rows):
            kept = ~gone[where]
            self.rows[i], self.codes[i] = where[kept], self.codes[i][kept]

    def listed(self, n: int, words: Sequence[str]) -> Listed:
        """All of it, by row."""
        rows = np.concatenate([np.zeros(0, dtype=np.int64), *self.rows]).astype(np.int64)
        codes = np.concatenate([np.zeros(0, dtype=np.int16), *self.codes]).astype(np.int16)
        order = np.argsort(rows, kind="stable")
        offsets = np.zeros(n + 1, dtype=np.int64)
        np.cumsum(np.bincount(rows, minlength=n), out=offsets[1:])
        return Listed(offsets, codes[order], tuple(words))


def joined(parts: Iterator[tuple[Any, Listed]] | Sequence[tuple[Any, Listed]], n: int) -> Listed:
    """Lists of some rows each, put together: (the rows they are of, the lists)."""
    lexicon, pile = Lexicon(), Pile.empty()
    for rows, listed in parts:
        numbers = np.array([lexicon.number(word) for word in listed.words], dtype=np.int16)
        counts = np.diff(listed.offsets)
        pile.rows.append(np.repeat(np.asarray(rows), counts))
        pile.codes.append(numbers[listed.codes] if listed.codes.size else listed.codes)
    return pile.listed(n, lexicon.words)
