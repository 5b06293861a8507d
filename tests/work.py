"""How much work something does, counted and not timed: the same on a slow machine, a busy one and a quick one."""

from __future__ import annotations

import cProfile
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from hypothesis import settings

THOROUGH = os.environ.get("HYPOTHESIS_PROFILE") == "thorough"


class Count:
    """Function calls that were made, those of Python's own functions among them; known once the block has ended."""

    calls = 0


@contextmanager
def counting() -> Iterator[Count]:
    """Counts while the block runs."""
    count, profile, before = Count(), cProfile.Profile(), sys.getprofile()
    profile.enable()
    try:
        yield count
    finally:
        profile.disable()
        sys.setprofile(before)
        count.calls = sum(entry.callcount for entry in profile.getstats())


def calls(do: Callable[[], object]) -> int:
    """How many calls this takes."""
    with counting() as count:
        do()
    return count.calls


def examples(few: int) -> settings:
    """So many examples every day, and 80 times as many in the thorough profile, which a bare number would undo."""
    return settings(max_examples=few * 80 if THOROUGH else few)
