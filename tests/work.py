"""How much work something does, counted and not timed: the same on a slow machine, a busy one and a quick one."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from hypothesis import settings

THOROUGH = os.environ.get("HYPOTHESIS_PROFILE") == "thorough"


class Count:
    """Function calls on this thread so far, those of Python's own functions among them."""

    calls = 0

    def note(self, frame: FrameType, event: str, argument: object) -> None:
        if event in ("call", "c_call"):
            self.calls += 1


@contextmanager
def counting() -> Iterator[Count]:
    """Counts while the block runs, which then takes about twice as long."""
    count, before = Count(), sys.getprofile()
    sys.setprofile(count.note)
    try:
        yield count
    finally:
        sys.setprofile(before)


def calls(do: Callable[[], object]) -> int:
    """How many calls this takes."""
    with counting() as count:
        do()
    return count.calls


def examples(few: int) -> settings:
    """So many examples every day, and 33 times as many in the thorough profile, which a bare number would undo."""
    return settings(max_examples=few * 33 if THOROUGH else few)
