"""What is done of an output, beside it, until all is: one file a chunk, so that a run which was ended goes on where it was.

Each part is written whole or not at all. At the end they are put together in their order, the output takes its name in one
step, and the folder goes. What the output holds does not depend on which run made which part.
"""

from __future__ import annotations

import json
import os
import shutil
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from diagnose.batch import output
from diagnose.batch.chunk import Chunk, Done, Setup, done_from
from diagnose.report.history import Changed
from diagnose.yamlfile import InputProblems, Problem, printable, reason_of, refusal

ENDING = ".unfinished"
_RUN = "run.json"
_WHOLE = "whole"
SENTENCES = 10
"""Sentences about rows that are told at the end; the codes stand in the output."""


@dataclass(frozen=True, slots=True)
class Sum:
    """What the whole run came to. statuses: rows of each. row_notes, file_notes: the first sentences about rows of
    tables, and about visit files. mixed: (file, column, a row with a decimal point, one with a comma). changed: kept visits
    that are answered otherwise.
    """

    statuses: Counter[str] = field(default_factory=Counter)
    row_notes: tuple[Problem, ...] = ()
    file_notes: tuple[Problem, ...] = ()
    mixed: tuple[tuple[str, str, int, int], ...] = ()
    changed: tuple[Changed, ...] = ()

    @property
    def rows(self) -> int:
        """All."""
        return self.statuses.total()


class Parts:
    """The folder of one output."""

    def __init__(self, folder: Path, out: Path, kept: frozenset[int]) -> None:
        self.folder, self.out, self.kept = folder, out, kept

    def put(self, number: int, done: Done) -> None:
        """Keeps what came of a chunk. Raises InputProblems."""
        content = done.head().encode("utf-8") + b"\n" + done.payload
        name = self.folder / f"{number:08}.new"
        try:
            with name.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(name, self._part(number))
        except OSError as error:
            raise _unwritable(self.folder, error) from None

    def _part(self, number: int) -> Path:
        return self.folder / f"{number:08}.part"

    def _read(self, number: int) -> Done | None:
        try:
            head, _, payload = self._part(number).read_bytes().partition(b"\n")
            return done_from(head.decode("utf-8"), payload)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def finish(self, chunks: Iterator[Chunk], setup: Setup) -> Sum:
        """Puts all parts together. Raises InputProblems."""
        found = _Adding()
        whole = self.folder / _WHOLE
        try:
            with output.Writer(whole, setup.schema, setup.form) as writer:
                for chunk in chunks:
                    done = self._read(chunk.number)
                    if done is None:
                        what = "a part of this unfinished run is damaged"
                        raise refusal(
                            what,
                            "Delete this one file, and give the command again with --resume.",
                            self._part(chunk.number),
                        )
                    writer.add(done.payload)
                    found.add(chunk, done)
            with whole.open("rb") as file:
                os.fsync(file.fileno())
            os.replace(whole, self.out)
            for part in self.folder.glob("*.part"):  # first: whose run it was is known as long as any is left
                part.unlink()
            shutil.rmtree(self.folder)
        except OSError as error:
            raise _unwritable(self.out, error) from None
        return found.sum()


class _Adding:
    """Sums up parts in their order; rows of a CSV are counted on from part to part."""

    def __init__(self) -> None:
        self.statuses: Counter[str] = Counter()
        self.notes: dict[bool, list[Problem]] = {True: [], False: []}  # of tables, of visit files
        self.marks: dict[tuple[str, str], dict[str, int]] = {}
        self.before: Counter[str] = Counter()
        self.changed: list[Changed] = []

    def add(self, chunk: Chunk, done: Done) -> None:
        source = chunk.source
        base = self.before[source.shown] + source.head if source.kind == "csv" else 0
        self.before[source.shown] += done.numbered
        self.statuses.update(done.statuses)
        self.changed += done.changed
        told = self.notes[source.kind in ("csv", "parquet")]
        told += [note._replace(line=note.line + base) for note in done.notes[: SENTENCES - len(told)]]
        for column, rows in done.marks.items():
            for mark, row in rows.items():
                self.marks.setdefault((source.shown, column), {}).setdefault(mark, row + base)

    def sum(self) -> Sum:
        mixed = tuple(
            (shown, column, rows["."], rows[","]) for (shown, column), rows in self.marks.items() if len(rows) > 1
        )
        return Sum(self.statuses, tuple(self.notes[True]), tuple(self.notes[False]), mixed, tuple(self.changed))


@contextmanager
def parts_of(out: Path, mark: str, resume: bool) -> Iterator[Parts]:
    """The parts that are there already, or none. mark: by which a run knows itself. Raises InputProblems; whatever happens,
    parts that were finished stay. A link is written through, as by `yamlfile/files.py`.
    """
    out = Path(os.path.realpath(out)) if out.is_symlink() else out
    if out.exists() and not out.is_file():
        raise refusal("this is no ordinary file, and would be replaced by one", "Name another.", out)
    folder = out.with_name(out.name + ENDING)
    shown = printable(str(folder), 200)
    if not resume and any(folder.glob("*.part")):
        fix = "Add --resume to go on with it, or delete that folder to begin anew."
        raise refusal("an unfinished run of this output lies here", fix, folder)
    try:
        folder.mkdir(exist_ok=True)
        with (folder / _RUN).open("a+", encoding="utf-8") as file:
            if not _alone(file):
                raise refusal("another run is at work on this output", "Wait until it is done.", folder)
            file.seek(0)
            before = file.read()
            kept = frozenset(int(each.stem) for each in folder.glob("*.part") if each.stem.isdigit())
            if kept and before != json.dumps({"mark": mark}):
                what = "the unfinished run was another one: the input, the rules, the options or the program have changed since"
                raise refusal(what, f"Delete {shown} to begin anew.", folder)
            if not kept:
                file.truncate(0)
                file.write(json.dumps({"mark": mark}))
                file.flush()
            try:
                yield Parts(folder, out, kept)
            finally:
                if folder.exists() and not any(folder.glob("*.part")):
                    shutil.rmtree(folder)
    except OSError as error:
        raise _unwritable(folder, error) from None


def _alone(file: IO[str]) -> bool:
    """Takes the lock of this run, which goes with the process; where the system has none, nobody is kept out."""
    try:
        import fcntl
    except ModuleNotFoundError:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _unwritable(path: Path, error: OSError) -> InputProblems:
    fix = (
        "Make room, and give the command again with --resume."
        if error.errno == 28
        else "Check the name and the folder."
    )
    return refusal(f"this cannot be written ({reason_of(error, 'the name cannot be used')})", fix, path)
