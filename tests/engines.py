"""Empty stores on both engines. PostgreSQL is Debian's, on a socket in a folder of its own, which goes when the tests end."""

from __future__ import annotations

import glob
import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

OWNER = "postgres"
_COUNT = itertools.count(1)


def programs() -> Path | None:
    """The folder of `initdb` and `pg_ctl`."""
    beside = [shutil.which("initdb"), *sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"))]
    found = next((Path(path).resolve().parent for path in beside if path), None)
    return found if found is not None and (found / "pg_ctl").exists() else None


def as_owner(*words: str) -> None:
    """The server refuses to run as root."""
    before = ["runuser", "-u", OWNER, "--"] if os.getuid() == 0 else []
    done = subprocess.run(
        [*before, *words], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd="/"
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The socket's folder."""
    found = programs()
    if found is None:
        pytest.skip("PostgreSQL is not installed: no initdb found (apt-get install postgresql)")
    folder = tempfile.mkdtemp(prefix="pg", dir="/tmp")  # the path of a socket may have 107 characters
    try:
        if os.getuid() == 0:
            shutil.chown(folder, OWNER)
        data, log = f"{folder}/data", f"{folder}/log"
        as_owner(f"{found}/initdb", "-D", data, "-U", OWNER, "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        as_owner(f"{found}/pg_ctl", "-D", data, "-l", log, "-o", options, "-w", "start")
        try:
            yield folder
        finally:
            as_owner(f"{found}/pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def new_place(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], str]:
    """Makes the place of an empty store, as `--store` takes it."""
    if request.param == "sqlite":
        return lambda: str(tmp_path / f"store{next(_COUNT)}.db")
    folder = request.getfixturevalue("server")

    def database() -> str:
        import psycopg

        name = f"kept{next(_COUNT)}"
        with psycopg.connect(host=folder, user=OWNER, dbname="postgres", autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql://{OWNER}@/{name}?host={folder}"

    return database


@pytest.fixture
def place(new_place: Callable[[], str]) -> str:
    """Where an empty store is to be."""
    return new_place()
