"""A firm's kept visits by a new book: a row each, the new results kept beside the old ones, the differences told."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands import run
from kept import visit_text
from sqlalchemy import select, text
from tables import read

from diagnose import load_rules
from diagnose.rulebook import digest_of
from diagnose.store import Version, entered, entry_of, keep, machines, open_store, take, visits_of
from diagnose.store.database import visits as visit_table
from diagnose.yamlfile import parse


def batch(*words: object) -> str:
    return run("batch", *words, "--workers", "1").fine()


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """Three visits of two machines, by the shipped book."""
    book = load_rules()
    place = tmp_path / "visits.db"
    texts = [visit_text("2026-04-03"), visit_text("2026-06-03", liquid=101), visit_text("2026-05-02", "bookshop")]
    with open_store(str(place)) as store:
        keep(store, [entry_of(each.encode(), "visit.yaml", book, digest_of(book)) for each in texts])
    return place


def test_by_the_same_book_every_answer_is_as_it_was(tmp_path: Path, kept: Path) -> None:
    told = batch("--from-store", kept, tmp_path / "out.csv")
    assert "3 visits, every answer as it was." in told
    rows = read(tmp_path / "out.csv")
    assert [one["date"] for one in rows] == ["2026-05-02", "2026-04-03", "2026-06-03"]
    assert [one["machine"] for one in rows] == ["bookshop", "Bäckerei, dach", "Bäckerei, dach"]
    assert [one["fault"] for one in rows] == [one["fault before"] for one in rows]
    assert [one["charge verdict"] for one in rows] == [one["charge verdict before"] for one in rows]
    assert len({one["visit"] for one in rows}) == 3


def test_by_another_book_what_differs_is_told_and_kept(tmp_path: Path, kept: Path) -> None:
    rules = tmp_path / "harbour"
    rules.mkdir()
    (rules / "changes.yaml").write_text(
        "changes:\n"
        + "".join(
            f"  - judgement: strengths/{word}\n"
            f"    was: {getattr(load_rules().judgement.strengths, word)}\n"
            f"    now: {now}\n"
            "    because: nothing is ever that sure on our street\n"
            "    date: 2026-11-01\n"
            for word, now in (("strong", 0.99), ("fair", 0.98))
        )
    )
    told = batch("--from-store", kept, tmp_path / "out.csv", "--rules", rules)
    assert "answered otherwise" in told
    assert "bookshop, 2026-05-02" in told
    again = batch("--from-store", kept, tmp_path / "again.csv", "--rules", rules)
    assert "every answer as it was" in again  # what was last said is now by this book
    with open_store(str(kept)) as store, store.reading() as connection:
        counts = connection.execute(text("SELECT visit, count(*) FROM results GROUP BY visit")).all()
    assert sorted(count for _, count in counts) == [2, 2, 2]


def test_a_visit_that_can_no_longer_be_read_is_a_row_that_says_so(tmp_path: Path, kept: Path) -> None:
    with open_store(str(kept)) as store:
        with store.writing() as connection:
            (number,) = connection.execute(select(visit_table.c.number).where(visit_table.c.date == "2026-05-02")).one()
            broken = visit_text("2026-05-02", "bookshop").replace("R-410A", "R-999")
            connection.execute(visit_table.update().where(visit_table.c.number == number).values(text=broken))
        before = [visit.story for machine in machines(store) for visit in visits_of(store, machine)]
    told = batch("--from-store", kept, tmp_path / "out.csv")
    assert "now it cannot be read" in told
    rows = read(tmp_path / "out.csv")
    assert [one["status"] == "not read" for one in rows] == [True, False, False]
    assert (rows[0]["machine"], rows[0]["fault before"]) == ("bookshop", before[0].fault if before[0] else None)


def test_an_empty_store_is_told(tmp_path: Path) -> None:
    with open_store(str(tmp_path / "visits.db")):
        pass
    err = run("batch", "--from-store", str(tmp_path / "visits.db"), str(tmp_path / "out.csv")).refused()
    assert "no visits are kept here" in err


def test_a_version_that_a_later_one_replaced_is_not_examined_again(tmp_path: Path, kept: Path) -> None:
    """One that a phone sent and sent again, mended; what was kept otherwise stays, whatever was made of it."""
    texts = [visit_text("2026-07-01", liquid=liquid) for liquid in (93.5, 101, 97)]
    with open_store(str(kept)) as store:
        for digest, based_on, each in zip("abc", ("", "a", "b"), texts, strict=True):
            version = Version(
                "00000000-0000-0000-0000-000000000001", digest, based_on, "mara", "2026-07-01T10:00:00+00:00"
            )
            _, new = take(store, version, entered(parse(each, "").data))
            assert new
    told = batch("--from-store", kept, tmp_path / "out.csv")
    assert "4 visits" in told
    rows = read(tmp_path / "out.csv")
    assert [one["date"] for one in rows] == ["2026-05-02", "2026-04-03", "2026-06-03", "2026-07-01"]
    with open_store(str(kept)) as store:
        visits = [visit for machine in machines(store) for visit in visits_of(store, machine)]
    assert [visit.replaced for visit in visits if visit.date == "2026-07-01"] == [True, True, False]
    assert rows[-1]["visit"] == next(v.id for v in visits if v.date == "2026-07-01" and not v.replaced)
    assert {visit.id: visit.story is None for visit in visits if visit.date == "2026-07-01"} == {
        visit.id: visit.replaced for visit in visits if visit.date == "2026-07-01"
    }
