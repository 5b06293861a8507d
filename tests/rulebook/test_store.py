"""The compiled book as data, and the folder where compiled books are kept: the same book, never an old one, never a crash."""

from __future__ import annotations

import dataclasses
import json
import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_book import written
from strategies import State, visit
from test_overlays import COMPANIES
from test_overlays import write as write_companies

from diagnose import Rulebook, RuleError, examine, load_rules
from diagnose.rulebook import NotABook, digest_of, from_data, load, reading, store, to_data
from diagnose.rulebook.reading import read_book
from diagnose.shipped import shipped


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache folder, and a process that has loaded nothing yet."""
    folder = tmp_path / "cache"
    monkeypatch.setenv("DIAGNOSE_CACHE", str(folder))
    monkeypatch.setattr(load, "_HELD", {})
    return folder


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The bases of the books that were read from YAML."""
    found: list[Path] = []

    def reading_it(base: Path, overlays: Any, drafts: bool) -> Rulebook:
        found.append(base)
        return read_book(base, overlays, drafts)

    monkeypatch.setattr(reading, "read_book", reading_it)
    return found


def afresh(*folders: Path) -> Rulebook:
    """As a new process would load it."""
    load._HELD.clear()
    return load_rules(*folders)


# -- data --------------------------------------------------------------------------------------------------------------


def test_the_book_goes_through_json_and_every_field_is_equal(book: Rulebook) -> None:
    back = from_data(json.loads(json.dumps(to_data(book))))
    for field in dataclasses.fields(book):
        assert getattr(back, field.name) == getattr(book, field.name), field.name
    assert list(back.by_id) == list(book.by_id)
    assert list(back.faults) == list(book.faults)  # the order of a mapping is no part of its equality
    assert to_data(back) == to_data(book)
    for state in (State(), State(superheat=22, metering="TXV"), State(superheat=2)):
        assert examine(visit(state), back).to_dict() == examine(visit(state), book).to_dict()


def test_a_book_read_from_its_files_has_the_digest_of_the_one_that_was_kept(book: Rulebook) -> None:
    fresh = read_book(shipped("rules"), [])
    data = to_data(fresh)
    kept = from_data(data)
    assert json.dumps(data) != json.dumps(to_data(kept))  # 5 as it is written, as data 5.0
    assert digest_of(fresh) == digest_of(kept) == digest_of(book)
    assert digest_of(dataclasses.replace(fresh, name="another")) != digest_of(fresh)


def test_so_does_a_book_with_changes_of_every_kind(tmp_path: Path) -> None:
    laid = read_book(shipped("rules"), write_companies(tmp_path, COMPANIES))
    assert laid.changes
    assert from_data(json.loads(json.dumps(to_data(laid)))) == laid


def test_limits_are_in_si_beside_what_is_written(book: Rulebook) -> None:
    scale = next(s for s in book.findings["charge by superheat"].scales if s.limits_written == ("-5 F", "5 F"))
    assert scale.limits == pytest.approx((-5 / 1.8, 5 / 1.8))
    assert scale.kind == "difference"
    for finding in book.findings.values():
        for each in finding.scales:
            assert all(type(limit) is float for limit in each.limits)
            assert all(type(words) is frozenset for _, words in each.applies)


def _places(data: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [at, *(place for key, one in inside for place in _places(one, (*at, key)))]


ODD: list[Any] = [
    None, True, 7, -1.5, float("nan"), float("inf"), 10**400, "", "superheat", [], ["x"], {}, {"a": 1}, [[]]
]  # fmt: skip


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    found = read_book(written(tmp_path_factory.mktemp("small") / "rules"), [])
    return to_data(found)


@given(st.data())
def test_data_of_another_shape_are_refused(small: dict[str, Any], data: st.DataObject) -> None:
    """Anything put anywhere: either NotABook, or a book that says it."""
    changed = json.loads(json.dumps(small))
    place = data.draw(st.sampled_from(_places(changed)[1:]))
    at = changed
    for key in place[:-1]:
        at = at[key]
    if isinstance(at, dict) and data.draw(st.booleans()):
        at["another"] = at.pop(place[-1])
    else:
        at[place[-1]] = data.draw(st.sampled_from(ODD))
    try:
        made = from_data(changed)
    except NotABook:
        return
    assert from_data(to_data(made)) == made
    assert made != from_data(small) or changed == small


def test_short_reprs(book: Rulebook) -> None:
    assert (
        repr(book)
        == f"<Rulebook {book.name}: {len(book.faults)} faults, {len(book.rules)} rules, {len(book.findings)} findings>"
    )
    assert repr(book.by_id["low-charge/starved-and-empty"]).startswith(
        "<Rule low-charge/starved-and-empty: evidence, +"
    )
    assert max(len(repr(rule)) for rule in book.rules) < 150
    assert repr(book.faults["low-charge"]) == "<Fault low-charge: Low refrigerant charge>"


def test_a_book_can_go_to_another_process(book: Rulebook) -> None:
    assert pickle.loads(pickle.dumps(book)) == book


# -- kept --------------------------------------------------------------------------------------------------------------


def test_a_second_process_reads_no_yaml(cache: Path, reads: list[Path]) -> None:
    first = load_rules()
    (kept,) = cache.iterdir()
    assert kept.suffix == ".book"
    assert kept.stat().st_mode & 0o077 == 0
    second = afresh()
    assert second == first
    assert second is not first
    assert len(reads) == 1


def test_neither_yaml_nor_pydantic_is_imported_where_a_book_is_kept(cache: Path) -> None:
    """Nor pydantic to examine a visit. What the command imports: test_illustrated.py."""
    load_rules()
    file = shipped("cases") / "demo" / "low-charge-orifice.yaml"
    program = (
        "import sys, diagnose; diagnose.load_rules(); print(*sorted({'yaml', 'pydantic'} & set(sys.modules)))\n"
        "diagnose.examine(sys.argv[1]).to_dict(); print('pydantic' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", program, str(file)], capture_output=True, text=True, check=True)
    assert (run.stdout, run.stderr) == ("\nFalse\n", "")


# -- never an old one --------------------------------------------------------------------------------------------------


def points(book: Rulebook) -> float:
    return book.by_id["overcharge/flooded"].points


@pytest.mark.parametrize("load_it", [load_rules, afresh], ids=["the same process", "another process"])
def test_an_edit_is_seen_and_so_is_taking_it_back(tmp_path: Path, cache: Path, load_it: Any) -> None:
    """Also edits of the same length within one tick of the clock of the file system."""
    folder = written(tmp_path / "rules")
    file = folder / "faults" / "overcharge.yaml"
    text = file.read_text(encoding="utf-8")
    for wanted in (2, 3, 1, 2, 4, 2):
        file.write_text(text.replace("points: 2", f"points: {wanted}"), encoding="utf-8")
        assert points(load_it(folder)) == wanted


def test_an_edit_of_an_old_folder_is_seen(tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where times are trusted: the folder has long been as it is."""
    monkeypatch.setattr(store, "FRESH", 0)
    folder = written(tmp_path / "rules")
    first = load_rules(folder)
    assert load_rules(folder) is first
    file = folder / "faults" / "overcharge.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("points: 2", "points: 2.5"), encoding="utf-8")
    assert points(load_rules(folder)) == 2.5


def test_an_untouched_folder_is_not_even_opened(tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "FRESH", 0)
    folder = written(tmp_path / "rules")
    first = load_rules(folder)
    monkeypatch.setattr(store, "digest", lambda places: pytest.fail("opened"))
    assert load_rules(folder) is first


def test_of_too_many_books_the_one_asked_for_longest_ago_goes(
    tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "FRESH", 0)
    monkeypatch.setattr(load, "HELD", 2)
    first, *others = (written(tmp_path / name) for name in "abc")
    book = load_rules(first)
    for other in others:
        load_rules(other)
        assert load_rules(first) is book


def test_a_file_that_changed_a_moment_ago_is_not_trusted_by_its_time(tmp_path: Path) -> None:
    assert store.stamp([written(tmp_path / "rules")]) is None


def test_touching_a_file_makes_no_new_book(tmp_path: Path, cache: Path, reads: list[Path]) -> None:
    folder = written(tmp_path / "rules")
    first = load_rules(folder)
    os.utime(folder / "findings.yaml")
    assert load_rules(folder) is first
    assert len(reads) == 1


@pytest.mark.parametrize("load_it", [load_rules, afresh], ids=["the same process", "another process"])
def test_a_folder_that_broke_is_refused_and_once_mended_it_loads(tmp_path: Path, cache: Path, load_it: Any) -> None:
    folder = written(tmp_path / "rules")
    sound = load_it(folder)
    file = folder / "checks.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text("checks: [", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(RuleError):
            load_it(folder)
    file.write_text(text, encoding="utf-8")
    assert load_it(folder) == sound
    (folder / "chekcs.yaml").write_text("", encoding="utf-8")  # a file that nobody reads is told as well
    with pytest.raises(RuleError, match="no rules are read from a file of this name"):
        load_it(folder)
    (folder / "chekcs.yaml").unlink()
    (folder / "checks.yaml").unlink()
    with pytest.raises(RuleError, match=r"checks\.yaml"):
        load_it(folder)


def test_what_lies_over_the_book_is_part_of_it(tmp_path: Path, cache: Path, reads: list[Path]) -> None:
    base = written(tmp_path / "rules")
    quay = {"sources.yaml": COMPANIES["quay"]["sources.yaml"]}
    ferry = "changes:\n  - {off: overcharge/flooded, because: It never is., date: 2026-03-01}\n"
    folders = write_companies(tmp_path, {"quay": quay, "ferry": {"changes.yaml": ferry}})
    books = [afresh(base), afresh(base, folders[0]), afresh(base, folders[1]), afresh(base, *folders)]
    assert len({book.name for book in books}) == 4
    assert len(reads) == 4
    again = [afresh(base), afresh(base, folders[0]), afresh(base, folders[1]), afresh(base, *reversed(folders))]
    assert again == books
    assert len(reads) == 4
    (moved,) = write_companies(tmp_path / "elsewhere", {"quay": quay})
    assert afresh(base, moved) == books[1]  # the same files in a folder of the same name
    assert len(reads) == 4
    changes = folders[1] / "changes.yaml"
    changes.write_text(changes.read_text(encoding="utf-8") + "\n# read anew\n", encoding="utf-8")
    afresh(base, folders[1])
    assert len(reads) == 5


def test_a_copy_of_the_shipped_book_is_not_called_shipped(tmp_path: Path, cache: Path) -> None:
    import shutil

    copy = shutil.copytree(shipped("rules"), tmp_path / "rules")
    assert [afresh().base, afresh(copy).base] == ["shipped", "rules"]


@pytest.mark.parametrize("what", ["VERSION", "_program"])
def test_another_program_reads_the_files_anew(
    cache: Path, reads: list[Path], monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    load_rules()
    monkeypatch.setattr(store, what, "0.0.9" if what == "VERSION" else lambda: "edited")
    afresh()
    assert len(reads) == 2


# -- never a crash -----------------------------------------------------------------------------------------------------


def kept(cache: Path) -> Path:
    (file,) = cache.glob("book-*")
    return file


DAMAGE: dict[str, Any] = {
    "empty": lambda file: file.write_bytes(b""),
    "half": lambda file: file.write_bytes(file.read_bytes()[: file.stat().st_size // 2]),
    "no text": lambda file: file.write_bytes(b"\xff\xfe\x00" * 100),
    "other JSON": lambda file: file.write_text("[1, 2]"),
    "deep": lambda file: file.write_text("[" * 200_000),
    "another digest": lambda file: file.write_text(file.read_text().replace(file.read_text()[:9], "0" * 9)),
    "a figure changed": lambda file: file.write_text(file.read_text().replace("2.0", "3.0", 1)),
    "a folder": lambda file: (file.unlink(), file.mkdir()),
    "a pipe": lambda file: (file.unlink(), os.mkfifo(file)),
    "a link to itself": lambda file: (file.unlink(), file.symlink_to(file)),
    "too large": lambda file: os.truncate(file, store.LARGEST + 1),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_file_is_rebuilt_in_silence(
    cache: Path, tmp_path: Path, reads: list[Path], capsys: pytest.CaptureFixture[str], damage: str
) -> None:
    folder = written(tmp_path / "rules")
    first = load_rules(folder)
    DAMAGE[damage](kept(cache))
    assert afresh(folder) == first
    assert len(reads) == 2
    afresh(folder)
    assert len(reads) == (3 if damage == "a folder" else 2)  # written anew, unless something stands in its way
    assert capsys.readouterr() == ("", "")
    assert not list(cache.glob(".book-*"))


def test_a_file_of_somebody_else_is_not_believed(
    cache: Path, tmp_path: Path, reads: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = written(tmp_path / "rules")
    load_rules(folder)
    uid = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: uid + 1)
    afresh(folder)
    assert len(reads) == 2


@pytest.mark.parametrize("place", ["a file", "below a file", "no such device", "off", "OFF"])
def test_a_folder_that_cannot_be_written_is_no_mistake(
    tmp_path: Path, cache: Path, reads: list[Path], monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    file = tmp_path / "file"
    file.write_text("mine")
    places = {"a file": str(file), "below a file": str(file / "cache"), "no such device": "/proc/none/of/it"}
    monkeypatch.setenv("DIAGNOSE_CACHE", places.get(place, place))
    folder = written(tmp_path / "rules")
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    assert afresh(folder) == afresh(folder)
    assert len(reads) == 2
    assert file.read_text() == "mine"
    assert sorted(tmp_path.iterdir()) == before


def test_where_it_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("HOME", "/home/user")
    monkeypatch.setenv("DIAGNOSE_CACHE", "/somewhere/else")
    assert store.folder() == Path("/somewhere/else")
    monkeypatch.setenv("DIAGNOSE_CACHE", "")
    monkeypatch.setenv("XDG_CACHE_HOME", "/xdg")
    assert store.folder() == Path("/xdg/diagnose")
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    assert store.folder() == Path("/home/user/.cache/diagnose")
    monkeypatch.setattr(sys, "platform", "darwin")
    assert store.folder() == Path("/home/user/Library/Caches/diagnose")
    monkeypatch.setenv("DIAGNOSE_CACHE", "off")
    assert store.folder() is None


def test_old_books_go(cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "KEPT", 2)
    folder = written(tmp_path / "rules")
    file = folder / "faults" / "overcharge.yaml"
    text = file.read_text(encoding="utf-8")
    cache.mkdir()
    (cache / "mine.txt").write_text("left alone")
    for wanted in (2, 3, 1):
        file.write_text(text.replace("points: 2", f"points: {wanted}"), encoding="utf-8")
        load_rules(folder)
    assert len(list(cache.glob("book-*"))) == 2
    assert (cache / "mine.txt").exists()


def test_a_file_that_changes_while_it_is_read_is_not_kept(
    cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = written(tmp_path / "rules")
    file = folder / "faults" / "overcharge.yaml"

    def meanwhile(base: Path, overlays: Any, drafts: bool) -> Rulebook:
        found = read_book(base, overlays, drafts)
        file.write_text(file.read_text(encoding="utf-8").replace("points: 2", "points: 3"), encoding="utf-8")
        return found

    monkeypatch.setattr(reading, "read_book", meanwhile)
    assert points(load_rules(folder)) == 2
    assert not cache.exists()
    monkeypatch.undo()
    assert points(load_rules(folder)) == 3
