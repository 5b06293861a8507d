"""Processes that a test ends or kills: each is forked off one that has imported what they need, once a run."""

from __future__ import annotations

import multiprocessing
from multiprocessing import forkserver
from multiprocessing.process import BaseProcess

FORKS = multiprocessing.get_context("forkserver")
FORKS.set_forkserver_preload(
    [
        "distributed.cli.dask_scheduler", "distributed.cli.dask_worker", "diagnose.batch.cluster", "pandas",
        "diagnose.cli.batch", "kept", "alembic.command", "sqlalchemy.dialects.postgresql.psycopg",
    ]
)  # fmt: skip


def begun(program: str, **given: object) -> BaseProcess:
    """A process that runs this text, in which these names are known."""
    process = FORKS.Process(target=exec, args=(program, given))
    process.start()
    return process


def end() -> None:
    """What they are forked off; the next would begin it again."""
    forkserver._forkserver._stop()
