"""A log of a data logger or a controller, examined; whole, or while it grows."""

from __future__ import annotations

import select
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose import yamlfile
from diagnose.cli.shared import As, Units, book_of, columns, form, put, put_blocks, refuse_to_write
from diagnose.cli.standard import Interrupted
from diagnose.visit.reason import Reason
from diagnose.yamlfile import printable, refusal

if TYPE_CHECKING:
    from diagnose.batch.logs.model import ExaminedLog
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook

PAUSE = 1.0  # s between two looks at a growing file
AT_WORK = 0.05  # share of the time that is spent on looking, so that a long log does not keep a machine busy


def is_log(path: str) -> bool:
    """Whether a path names a log, not a visit."""
    return Path(path).suffix.lower() in yamlfile.CSV_ENDINGS


def examine_log(
    path: str,
    beside: str | None,
    how: As | None,
    units: Units | None,
    rules: Sequence[Path] | None,
    output: Path | None,
    full: bool,
) -> None:
    """Reads the log, examines its stretches, and prints or writes the page. Raises InputProblems."""
    from diagnose.batch.logs.page import log_data, log_page, system_of_log

    refuse_to_write(output, visit=path)
    examined, _ = _examined(path, beside, rules)
    log = examined()

    def blocks() -> list[Block]:
        drawn: list[Block] = []
        if form(how, output) == "html":
            from diagnose.batch.logs.chart import day_charts
            from diagnose.report.illustrated import figure

            drawn = [figure(chart) for chart in day_charts(log, units or system_of_log(log))]
        more = f"`diagnose examine {path} --full` shows every run, and the first screen of every stretch."
        return log_page(log, units, full, drawn, more)

    put_blocks(blocks, how, lambda: log_data(log), output)


def _examined(
    path: str, beside: str | None, rules: Sequence[Path] | None, grows: bool = False
) -> tuple[Callable[[], ExaminedLog], Rulebook]:
    """What reads and examines the log anew each time; and by which book. Raises InputProblems."""
    from diagnose.batch.logs.examining import examine_log as run
    from diagnose.batch.logs.heads import content_of, machine_beside
    from diagnose.batch.logs.reading import read_log

    found = beside or machine_beside(path)
    machine = yamlfile.read(found) if found is not None else None
    book = book_of(rules, told=True)

    def examined() -> ExaminedLog:
        content, name = content_of(path)
        log = read_log(
            content[: content.rfind(b"\n") + 1] if grows else content, name, book
        )  # no row that is half written
        if found != beside:
            log = replace(log, notes=(*log.notes, Reason("log-beside", {"file": printable(str(found), 200)})))
        return run(log, book, machine)

    return examined, book


def refuse_with_follow(how: As | None, output: Path | None, full: bool) -> None:
    """Raises InputProblems where something is asked for that a growing log has no end for."""
    if how not in (None, "text") or output is not None or full:
        what = "--follow tells what is new line by line, and makes no page"
        raise refusal(what, "Leave out --as, -o and --full, or leave out --follow.")


def follow_log(path: str, beside: str | None, units: Units | None, rules: Sequence[Path] | None) -> None:
    """Looks at a growing log until Ctrl-C, or until nobody reads what is told. Raises InputProblems where it cannot be used."""
    from diagnose.batch.logs.page import Follower
    from diagnose.batch.logs.reading import NotBegun
    from diagnose.report import as_text
    from diagnose.report.blocks import Block

    if path == yamlfile.STANDARD_INPUT or path == "-":
        raise refusal("--follow needs a file that grows", "Name the log's file.")
    examined, book = _examined(path, beside, rules, grows=True)
    stays = book.judgement.logs.stays
    follower = Follower(stays, units)
    size, waiting = -1, False
    try:
        while not unread():
            begun = time.perf_counter()
            now = Path(path).stat().st_size if Path(path).exists() else -1
            if 0 <= now < size:
                put(as_text([Block("line", "The log is shorter than before: it is read from its beginning again.")]))
                follower = Follower(stays, units)
            if now != size and (now >= 0 or size < 0):  # one that is gone for a while may come back
                try:
                    told = list(follower.look(examined()))
                    size = now
                except NotBegun:
                    told = [] if waiting else ["Waiting for the first records."]
                    waiting = True
                for text in told:
                    put(as_text([Block("brief", text)], columns()))
            time.sleep(max(PAUSE, (time.perf_counter() - begun) / AT_WORK))
    except Interrupted:
        sys.stdout.flush()


def unread() -> bool:
    """Whether standard output is a pipe whose reader has left."""
    if not hasattr(select, "poll"):
        return False
    looking = select.poll()
    looking.register(1, 0)  # what is wrong is told unasked
    return any(said & select.POLLERR for _, said in looking.poll(0))
