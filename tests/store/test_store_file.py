"""A store that cannot be used says why and how to mend it, and stays as it was."""

from __future__ import annotations

import sqlite3
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from kept import NAME, entry
from sqlalchemy import event

from diagnose.store import Store, database, forget, keep, machine_named, machines, meant, open_store, visits_of
from diagnose.yamlfile import InputProblems


def problem(do: Callable[[], object]) -> str:
    with pytest.raises(InputProblems) as error:
        do()
    [only] = error.value.problems
    assert only.fix
    return f"{only.what}. {only.fix}"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "visits.db"
    with open_store(str(path)) as store:
        keep(store, [entry("a" * 20_000), entry("b")])
    return path


def test_for_its_owner_alone_and_in_the_users_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(database.VARIABLE, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert problem(lambda: open_store(make=False)).startswith("no visits are kept here yet. Keep one")
    assert not (tmp_path / "data").exists()
    with open_store() as store:
        path = tmp_path / "data" / "diagnose" / "visits.db"
        assert store.name == str(path)
        assert [stat.S_IMODE(each.stat().st_mode) for each in (path, path.parent)] == [0o600, 0o700]
    monkeypatch.setenv(database.VARIABLE, str(tmp_path / "firm.db"))
    with open_store() as store:
        assert store.name == str(tmp_path / "firm.db")
    monkeypatch.setenv("XDG_DATA_HOME", "not/absolute")
    assert database.default_file() == Path.home() / ".local/share/diagnose/visits.db"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert database.default_file() == Path.home() / "Library/Application Support/diagnose/visits.db"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    assert database.default_file() == tmp_path / "diagnose/visits.db"


def small(store: Store, spare: int) -> None:
    """No page more than these, as if the disk were full."""

    @event.listens_for(store.engine, "connect")
    def set_up(connection: sqlite3.Connection, _: object) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + spare}")

    store.engine.dispose()


def test_a_full_disk_loses_nothing(file: Path) -> None:
    with open_store(str(file)) as store:
        small(store, 4)
        said = problem(lambda: keep(store, [entry("fits", "another shop"), entry("c" * 200_000)]))
        assert said == (
            "there is no room left, and nothing was written. Make room on the disk, then give the command again."
        )
        assert [machine.count for machine in machines(store)] == [2]
    with open_store(str(file)) as store:
        assert keep(store, [entry("c" * 200_000)])[0].new
        assert len(visits_of(store, machine_named(store, NAME))) == 3


def test_forgotten_though_the_room_cannot_be_made_anew(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules["diagnose.store.keeping"]._AFTERWARDS, "sqlite", ("VACUUM INTO '/'",))
    with open_store(str(file)) as store:
        with pytest.raises(InputProblems) as error:
            forget(store, *meant(store, NAME))
        first, reason = error.value.problems
        assert first.what == "it is forgotten, but its room in the store could not be made anew"
        assert reason.what == "this store may not be written"
        assert machines(store) == []


@pytest.mark.parametrize("damage", ["no database", "cut", "scrambled", "empty tables", "no text", "names"])
def test_a_damaged_file_is_told_and_left_alone(file: Path, damage: str) -> None:
    whole = file.read_bytes()
    half = len(whole) // 2
    file.write_bytes({
        "no database": b"machine: {refrigerant: R-410A}\n" * 400,
        "cut": whole[: half - 100],
        "scrambled": whole[:4096] + b"\xa5" * (len(whole) - 4096),
        "empty tables": whole[:100] + bytes(4096 - 100) + whole[4096:],
        "no text": whole.replace("ä".encode(), b"\xff\xff"),
        "names": whole.replace(b"tablemachines", b"table\xffachines").replace(b"TABLE machines", b"TABLX machines"),
    }[damage])  # fmt: skip
    for beside in file.parent.glob("visits.db-*"):
        beside.unlink()
    spoiled = file.read_bytes()

    def read() -> None:
        with open_store(str(file)) as store:
            visits_of(store, machine_named(store, NAME))

    assert problem(read) == (
        "this store is damaged or is no store; nothing was changed. "
        "Move it away, make a new store and `diagnose import` your last export."
    )
    assert file.read_bytes() == spoiled


def test_a_writer_that_does_not_end_is_not_waited_for_for_ever(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "PATIENCE", 0.0)
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_store(str(file)) as store:
        assert len(machines(store)) == 1  # who only reads waits for nobody
        assert problem(lambda: keep(store, [entry("c")])).startswith(
            "another program holds this store. Wait until it is done"
        )
        other.execute("ROLLBACK")
        other.close()
        assert keep(store, [entry("c")])[0].new


def test_places_that_are_none(tmp_path: Path) -> None:
    for place, said in (
        (str(tmp_path), "this is a folder"),
        (str(tmp_path / "none" / "visits.db"), "the store cannot be opened (no such file or directory)"),
        ("mysql://shop/visits", "`mysql` is not a kind of store known here"),
        ("sqlite://", "`sqlite` is not a kind of store known here"),
        ("://", "the store cannot be understood as a URL"),
        ("oracle+nothing://x/y", "`oracle` is not a kind of store known here"),
    ):
        assert problem(lambda place=place: open_store(place)).startswith(said), place
    with open_store(f"sqlite:///{tmp_path}/by-url.db") as store:
        assert store.name == f"{tmp_path}/by-url.db"


def test_a_server_that_does_not_answer_is_told_without_the_password(tmp_path: Path) -> None:
    with pytest.raises(InputProblems) as error:
        open_store(f"postgresql://shop:s3cret@/visits?host={tmp_path}")
    assert "the store does not answer (" in str(error.value)
    assert "Check that the database runs" in str(error.value)
    assert "s3cret" not in str(error.value)


def test_without_psycopg_one_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    said = problem(lambda: open_store("postgresql://shop@/visits"))
    assert said == "a PostgreSQL store needs psycopg. Install it: `pip install 'psycopg[binary]'`."
