"""What is kept comes back, on SQLite and PostgreSQL: whole, once, in order; two writers, a killed one; forgotten is gone."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from forks import FORKS, begun
from kept import NAME, entry, told, visit_text
from sqlalchemy import create_engine, inspect, select, text

from diagnose.rulebook import Rulebook, digest_of
from diagnose.store import (
    Store,
    entry_of,
    export_folder,
    forget,
    import_folder,
    keep,
    keep_result,
    keeping,
    machine_named,
    machine_numbered,
    machines,
    meant,
    open_store,
    visits_of,
)
from diagnose.store import database as opening
from diagnose.store.database import REVISIONS, metadata, results, visits
from diagnose.yamlfile import InputProblems

HOSTILE = (
    "'; DROP TABLE visits; --", '" OR 1=1 --', "100 % of _ them", "../../etc/passwd", "CON", "-rf", "\\x00 $(true) `true`",
    "מזגן 空調 ❄\u202e", "a" * 5000, "{{ 7 * 7 }}<script>", "ﬁlter", "e\u0301tage",
)  # fmt: skip


def what_is_wrong(error: pytest.ExceptionInfo[InputProblems]) -> str:
    problem = error.value.problems[0]
    assert problem.fix
    return problem.what


def texts(store: Store, machine: str = NAME) -> list[str]:
    return [visit.text for visit in visits_of(store, machine_named(store, machine))]


def rows(store: Store) -> tuple[int, int]:
    with store.reading() as c:
        return len(c.execute(select(visits.c.id)).all()), len(c.execute(select(results.c.number)).all())


def test_one_machine_is_asked_for_without_reading_all_others(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    with open_store(place) as store:
        first, *_ = keep(store, [entry(name, machine=name) for name in ("net loft", "sail loft", "ice house")])
        number = machine_named(store, "sail loft").number
        counted = keeping.KeptMachine
        monkeypatch.setattr(keeping, "KeptMachine", lambda *row: read.append(row[2]) or counted(*row))
        assert machine_named(store, "Sail Loft").count == 1
        assert machine_numbered(store, number) == machine_named(store, "sail loft")
        assert meant(store, "sail loft")[0].number == number
        assert meant(store, first.id)[0].name == "net loft"
        assert machine_numbered(store, 99) is None
    assert set(read[:-1]) == {"sail loft"}


def test_whole_as_it_was_entered_once_and_in_order(place: str) -> None:
    odd = "\ufeff# r\u00e9sum\u00e9 \u2744\r\nmachine:\t{}\r\n\r\n"
    with open_store(place) as store:
        first, *_ = keep(
            store, [entry(odd, date="2026-05-01"), entry("b", date="2026-05-01"), entry("a", date="2026-04-03")]
        )
        assert (first.new, first.machine) == (True, NAME)
        assert not keep(store, [entry(odd, date="2026-05-01", share=0.1)])[0].new
        assert texts(store) == ["a", odd, "b"]
    with open_store(place, make=False) as store:
        machine = machine_named(store, "  BÄCKEREI,   Dach")
        assert (machine.name, machine.count, machine.first, machine.last) == (NAME, 3, "2026-04-03", "2026-05-01")
        assert [visit.story for visit in visits_of(store, machine)] == [told()] * 3


def test_hostile_names_are_names(new_place: Callable[[], str], tmp_path: Path) -> None:
    with open_store(new_place()) as store:
        keep(store, [entry(f"text of {name}", name) for name in HOSTILE])
        keep(
            store, [entry("again", "\u00e9tage"), entry("long", "a" * 5001)]
        )  # one machine with the accent apart; another one
        assert len(machines(store)) == len(HOSTILE) + 1
        for name in HOSTILE[:-1]:
            assert texts(store, name) == [f"text of {name}"]
        assert len(texts(store, HOSTILE[-1])) == 2
        done = export_folder(store, tmp_path / "out")
    inside = [path.relative_to(tmp_path) for path in tmp_path.rglob("*.yaml")]
    assert (done.visits, done.written, len(inside)) == (14, 14, 14)
    assert {path.parts[0] for path in inside} == {"out"}
    assert {path.parent for path in inside} == {path.parent for path in inside if path.parent.name.isascii()}
    assert len({path.parent for path in inside}) == 13


def test_the_round_trip_is_exact_and_twice_changes_nothing(
    new_place: Callable[[], str], tmp_path: Path, book: Rulebook
) -> None:
    written = [visit_text("2026-04-03 9:30"), visit_text("2026-05-02", liquid=97).replace("\n", "\r\n")]
    written.append(visit_text("2026-05-02", "bookshop 'n more") + "notes: é ❄\n")
    digest = digest_of(book)
    with open_store(new_place()) as store:
        keep(store, [entry_of(each.encode(), "visit.yaml", book, digest) for each in written])
        assert export_folder(store, tmp_path / "one").written == 3
        assert export_folder(store, tmp_path / "one").written == 0
    with open_store(new_place()) as store:
        assert [each.new for each in import_folder(store, tmp_path / "one", book)] == [True] * 3
        assert [each.new for each in import_folder(store, tmp_path / "one", book)] == [False] * 3
        assert export_folder(store, tmp_path / "two").written == 3
        assert sorted(texts(store) + texts(store, "bookshop 'n more")) == sorted(written)
    files = [
        {path.relative_to(root): path.read_bytes() for path in root.rglob("*.yaml")} for root in tmp_path.iterdir()
    ]
    assert files[0] == files[1]
    assert sorted(files[0].values()) == sorted(each.encode() for each in written)


def test_two_writers_lose_nothing_and_double_nothing(place: str) -> None:
    open_store(place).engine.dispose()
    new: list[bool] = []
    broken: list[BaseException] = []

    def write(own: str) -> None:
        try:
            with open_store(place) as store:
                for i in range(12):
                    shared, single = entry(f"shared {i}", f"shop {i % 3}"), entry(f"{own} {i}", f"shop {i % 2}")
                    new.extend(kept.new for kept in keep(store, [shared, single]))
        except BaseException as error:
            broken.append(error)

    writers = [threading.Thread(target=write, args=(own,)) for own in ("one", "two")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert not broken
    with open_store(place) as store:
        assert (sum(new), len(new), rows(store)) == (36, 48, (36, 36))


KILLED = """
from kept import entry
from diagnose.store import keeping, open_store

def put(connection, number, one):
    line.send("in the middle")
    line.recv()

keeping._put_result = put
keeping.keep(open_store(place), [entry("half", "another shop")])
"""


def test_a_writer_killed_in_the_middle_leaves_nothing_and_holds_nobody_up(place: str) -> None:
    with open_store(place) as store:
        keep(store, [entry("before")])
    here, there = FORKS.Pipe()
    writer = begun(KILLED, place=place, line=there)
    there.close()
    assert here.recv() == "in the middle"
    writer.kill()
    writer.join()
    with open_store(place) as store:
        assert ([machine.name for machine in machines(store)], rows(store)) == ([NAME], (1, 1))
        assert keep(store, [entry("half", "another shop"), entry("after")])[1].new
        assert texts(store) == ["before", "after"]


def test_an_import_with_one_bad_file_keeps_none(place: str, tmp_path: Path, book: Rulebook) -> None:
    folder = tmp_path / "visits"
    folder.mkdir()
    (folder / "a.yaml").write_text(visit_text(), encoding="utf-8")
    (folder / "b.yaml").write_text("machine: {name: shop}\nreadings: {suction presure: 118 psig}\n", encoding="utf-8")
    (folder / "link.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    (tmp_path / "elsewhere.yaml").write_text("secret: 1\n", encoding="utf-8")
    with open_store(place) as store:
        with pytest.raises(InputProblems) as error:
            import_folder(store, folder, book)
        assert "b.yaml:2:" in str(error.value)
        assert "secret" not in str(error.value)
        assert rows(store) == (0, 0)
        (folder / "b.yaml").unlink()
        assert len(import_folder(store, folder, book)) == 1
        for wrong in (tmp_path / "none", tmp_path / "empty"):
            (tmp_path / "empty").mkdir(exist_ok=True)
            with pytest.raises(InputProblems, match=r"no such folder|no visit file lies here"):
                import_folder(store, wrong, book)


def test_each_books_result_stays_and_the_last_is_told(place: str) -> None:
    with open_store(place) as store:
        keep(store, [entry("a")])
        machine = machine_named(store, NAME)
        [visit] = visits_of(store, machine)
        for book, share in (("c", 0.5), ("b", 0.7), ("b", 0.8)):
            keep_result(store, visit.number, entry("a", book=book * 64, share=share))
        keep_result(store, visit.number + 1, entry("a"))  # forgotten meanwhile
        assert visits_of(store, machine)[0].story == told(share=0.8)
        assert rows(store) == (1, 2)
        with store.writing() as c:
            c.execute(results.update().values(story='{"of": "a later version"}'))
        assert visits_of(store, machine)[0].story is None


# -- forgotten ---------------------------------------------------------------------------------------------------------


def test_what_is_forgotten_is_gone(place: str) -> None:
    marks = [f"telephone {i} of the customer " * 40 for i in range(3)]
    with open_store(place) as store:
        keep(store, [entry(marks[0]), entry(marks[1]), entry(marks[2], "bookshop")])
        machine, [one] = meant(store, entry(marks[0]).id[:9].upper())
        forget(store, machine, [one])
        assert (texts(store), rows(store)) == ([marks[1]], (2, 2))
        forget(store, *meant(store, f" {NAME.upper()} "))
        assert [each.name for each in machines(store)] == ["bookshop"]
        if store.is_file:  # and nothing of it stands in the file or beside it
            stored = b"".join(path.read_bytes() for path in Path(place).parent.iterdir())
            assert [mark.encode() in stored for mark in ("telephone 0", "telephone 1", "telephone 2")] == [
                False,
                False,
                True,
            ]


def test_what_is_meant_is_clear_or_asked(place: str) -> None:
    first = entry("a")
    twin = replace(entry("b"), id=first.id[:10] + "0" * 22)
    with open_store(place) as store:
        keep(store, [first, twin, entry("c", first.id[:10])])
        assert len(meant(store, first.id)[1]) == 1
        with pytest.raises(InputProblems, match="can mean 3 things"):
            meant(store, first.id[:10])
        for name in (first.id[:5], "%", "bakery", ""):
            with pytest.raises(InputProblems, match="is neither a machine nor a visit here"):
                meant(store, name)
        with pytest.raises(InputProblems, match="Did you mean `Bäckerei, dach`"):
            machine_named(store, "Backerei, dach")


# -- the schema --------------------------------------------------------------------------------------------------------


def test_the_migrations_end_where_the_tables_are(place: str) -> None:
    folder = ScriptDirectory(str(Path(opening.__file__).parent / "migrations"))
    assert tuple(step.revision for step in reversed(list(folder.walk_revisions()))) == REVISIONS
    with open_store(place) as store, store.reading() as c:
        found = inspect(c)
        for table in metadata.sorted_tables:
            columns = {column["name"]: column["nullable"] for column in found.get_columns(table.name)}
            assert columns == {column.name: column.nullable for column in table.columns}
            assert len(found.get_unique_constraints(table.name)) == 1
            assert len(found.get_foreign_keys(table.name)) == (table.name not in ("machines", "people"))


def test_an_older_store_is_brought_up_to_date_and_loses_nothing(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(opening, "_upgrade", lambda connection, upgrade=opening._upgrade: upgrade(connection, "0001"))
        with open_store(place) as store, store.writing() as c:
            c.execute(text("INSERT INTO machines (number, key, name) VALUES (1, 'shop', 'Shop')"))
            c.execute(text("INSERT INTO visits (id, machine, date, text) VALUES ('a1', 1, '2026-04-03', 'old')"))
            assert "results" not in inspect(c).get_table_names()
    with open_store(place, make=False) as store:
        [visit] = visits_of(store, machine_named(store, "shop"))
        assert (visit.id, visit.text, visit.story) == ("a1", "old", None)


def test_an_upgrade_that_breaks_off_leaves_the_older_store(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_off(connection: object, upgrade: object = opening._upgrade) -> None:
        upgrade(connection)  # type: ignore[operator]
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(opening, "_upgrade", break_off)
        with pytest.raises(KeyboardInterrupt):
            open_store(place)
    with open_store(place) as store:
        assert rows(store) == (0, 0)


def test_a_newer_store_is_refused_and_stays_as_it_is(place: str) -> None:
    with open_store(place) as store:
        keep(store, [entry("a")])
        with store.writing() as c:
            c.execute(text("UPDATE alembic_version SET version_num = '0099'"))
    with pytest.raises(InputProblems, match="written by a newer version of the program; nothing was changed"):
        open_store(place)
    with pytest.raises(InputProblems) as error:
        open_store(place)
    assert "Update the program" in str(error.value)


def test_a_database_that_does_not_hold_every_character_is_refused(server: str) -> None:
    own = f"postgresql://postgres@/{{}}?host={server}"
    with Store(create_engine(opening._url(own.format("postgres"))), "") as store, store.alone() as c:
        c.execute(text("CREATE DATABASE narrow ENCODING 'LATIN1' LOCALE 'C' TEMPLATE template0"))
    with pytest.raises(InputProblems) as error:
        open_store(own.format("narrow"))
    assert what_is_wrong(error) == "this database does not hold every character that a visit may"


def test_a_database_of_something_else_is_refused(place: str) -> None:
    with open_store(place) as store, store.writing() as c:
        c.execute(text("DROP TABLE alembic_version"))
    with pytest.raises(InputProblems) as error:
        open_store(place)
    assert what_is_wrong(error).startswith("this database holds tables of our names")
    bare = Store(create_engine(opening._url(place)), place)
    with bare, bare.writing() as c:
        for table in ("sent", "sessions", "people", "results", "visits", "machines"):
            c.execute(text(f"DROP TABLE {table}"))
        c.execute(text("CREATE TABLE invoices (number INTEGER)"))
    with pytest.raises(InputProblems) as error:
        open_store(place)
    assert what_is_wrong(error).startswith("this is a database of something else")


def test_all_that_keeps_a_visit_out_is_said_at_once(book: Rulebook) -> None:
    text = (
        b"machine: {refrigerant: R-410A}\nreadings: {suction pressure: 130 psgi}\ndate: soon\nseen: {air filter: odd}\n"
    )
    with pytest.raises(InputProblems) as told:
        entry_of(text, "visit.yaml", book, "")
    assert sorted(problem.line for problem in told.value.problems) == [1, 2, 3, 4]
