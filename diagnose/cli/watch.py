"""Runs a command again whenever a file of the rules is saved, until Ctrl-C or until nobody reads it any more."""

from __future__ import annotations

import select
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

import typer

from diagnose.cli.standard import Interrupted

PAUSE = 0.5  # seconds between two looks at the files

Stamps = dict[Path, tuple[int, int]]


def stamps(folders: Iterable[Path]) -> Stamps:
    """When each file below the folders was written, and how long it is; a file that is just being replaced is left out."""
    found: Stamps = {}
    for folder in folders:
        for path in (*folder.glob("*.yaml"), *folder.glob("faults/*.yaml"), *folder.glob("rules/*.yaml")):
            try:
                stat = path.stat()
            except OSError:
                continue
            found[path] = (stat.st_mtime_ns, stat.st_size)
    return found


def rerun(arguments: Sequence[str], folders: Sequence[Path]) -> None:
    """Runs the command now and after each save. A process of its own each time, so that nothing is left of the last run."""
    try:
        while True:
            seen = stamps(folders)
            subprocess.run([sys.executable, "-m", "diagnose", *arguments], check=False)
            typer.echo("Waiting for a file to be saved; Ctrl-C ends.", err=True)
            while stamps(folders) == seen:
                if unread():
                    return
                time.sleep(PAUSE)
            typer.echo("", err=True)
    except Interrupted:
        return


def unread() -> bool:
    """Whether standard output is a pipe whose reader has left."""
    if not hasattr(select, "poll"):
        return False
    looking = select.poll()
    looking.register(1, 0)  # what is wrong is told unasked
    return any(said & select.POLLERR for _, said in looking.poll(0))
