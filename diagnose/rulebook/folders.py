"""Which folders hold rules: a whole book, a company's own laid over one, or neither."""

from __future__ import annotations

import re
from pathlib import Path

from diagnose.rulebook.store import LARGEST_SOURCE
from diagnose.yamlfile import Problem

NAMES = (
    "findings.yaml",
    "states.yaml",
    "readiness.yaml",
    "cautions.yaml",
    "checks.yaml",
    "sources.yaml",
    "judgement.yaml",
)
"""The files of a whole book, beside the folder `faults`."""
OWN_NAMES = (*(name for name in NAMES if name != "judgement.yaml"), "rules.yaml", "own.yaml", "changes.yaml")
"""The files of a company's own folder."""
OWN_ROOMS = ("faults", "rules")
"""The folders in it that may hold several files of one kind."""


def is_whole(folder: Path) -> bool:
    """Whether a folder holds a whole rule book, not only what is to be laid over one."""
    # One file may be missing: that is then a mistake in a whole book, and told as one. But what no company's folder may hold
    # (the book's own figures, or when the charge is judged) must be there.
    there = [name for name in NAMES if (folder / name).is_file()]
    return (
        len(there) >= len(NAMES) - 1
        and (folder / "faults").is_dir()
        and ("judgement.yaml" in there or _judges_the_charge(folder / "readiness.yaml"))
    )


def _judges_the_charge(path: Path) -> bool:
    try:
        with open(path, "rb") as file:
            return re.search(rb"^charge\s*:", file.read(LARGEST_SOURCE), re.M) is not None
    except OSError:
        return False


def holds_rules(folder: Path) -> bool:
    """Whether there is a file in a folder from which rules of a company's own would be read."""
    rooms = (folder / room for room in OWN_ROOMS)
    return any((folder / name).exists() for name in OWN_NAMES) or any(
        path.suffix == ".yaml" for room in rooms if room.is_dir() for path in room.iterdir()
    )


def nothing_in(folder: Path) -> Problem:
    """A folder from which nothing would be read: said, because a rule in the wrong place is silent."""
    below = [each for each in sorted(folder.iterdir()) if each.is_dir() and (is_whole(each) or holds_rules(each))]
    fix = f"Its rules go into {', '.join(f'`{name}`' for name in OWN_NAMES)}, or files in `rules` and `faults`."
    if below:
        fix = f"There are some in the folder below it: give `{below[0]}`."
    return Problem(str(folder), 0, 0, "there are no rules in this folder", fix)


def parent_of_rules(folder: Path) -> list[Problem]:
    """Told of a folder whose `rules` is a whole book: as such it would be taken for rules of a company's own."""
    return [nothing_in(folder)] if is_whole(folder / "rules") else []
