"""The one writer: in one step, and never over what a person wrote."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from commands import run

from diagnose.yamlfile import InputProblems, files

VISIT = "machine: {refrigerant: R-410A}\nreadings: {suction pressure: 118 psig}\n"


def refusal(path: Path, over: bool = True, visit: str | Path = "", text: str = "page") -> str:
    """What is said, and that nothing was touched."""
    before = (
        sorted((p.name, p.read_bytes()) for p in path.parent.glob("*") if p.is_file()) if path.parent.is_dir() else []
    )
    with pytest.raises(InputProblems) as caught:
        files.write(path, text, over, visit)
    after = (
        sorted((p.name, p.read_bytes()) for p in path.parent.glob("*") if p.is_file()) if path.parent.is_dir() else []
    )
    assert before == after
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.fix.endswith(".")
    return problem.what


def test_a_page_replaces_an_older_page_in_one_step(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    files.write(path, "one\n")
    with path.open() as old:
        files.write(path, "two °\n")
        assert old.read() == "one\n"  # whoever had it open still reads the old text
    assert path.read_bytes() == "two °\n".encode()
    assert list(tmp_path.iterdir()) == [path]


def test_rights_are_those_of_new_files_and_those_of_the_old_one_stay(tmp_path: Path) -> None:
    path, plain = tmp_path / "page.html", tmp_path / "plain"
    plain.write_text("", encoding="utf-8")
    files.write(path, "one")
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)
    path.chmod(0o640)
    files.write(path, "two")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_never_replaces_another(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    files.write(path, "one", over=False)
    assert refusal(path, over=False) == "there is a file of this name already"
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    assert refusal(tmp_path / "link", over=False) == "there is a file of this name already"


def test_a_file_that_appears_meanwhile_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("theirs", encoding="utf-8")
    monkeypatch.setattr(files, "refuse", lambda *_: None)  # it was not there yet when this was asked
    assert refusal(path, over=False) == "there is a file of this name already"

    def no_links(*_: object) -> None:
        raise PermissionError(1, "not here")

    monkeypatch.setattr(os, "link", no_links)
    assert refusal(path, over=False) == "there is a file of this name already"
    files.write(tmp_path / "new.yaml", "mine", over=False)
    assert (tmp_path / "new.yaml").read_text(encoding="utf-8") == "mine"
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("name", ["a.yaml", "a.yml", "A.YAML", "rules.Yml"])
def test_yaml_that_it_did_not_write_is_never_replaced_by_a_page(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text("shopping: list\n", encoding="utf-8")
    assert refusal(path) == "this file is YAML that somebody wrote, and would be replaced by a page"
    (tmp_path / "page.html").symlink_to(path)
    assert "YAML that somebody wrote" in refusal(tmp_path / "page.html")


@pytest.mark.parametrize("text", [
    VISIT, "readings: [{minutes running: 5}]\n", '{"machine": {"SEER": 14}}', f"case: a/b\nvisit:\n  {VISIT.splitlines()[0]}\n",
])  # fmt: skip
@pytest.mark.parametrize("name", ["visit.txt", "visit", "visit.json", "visit.html"])
def test_a_visit_is_never_replaced_whatever_its_name(name: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    assert refusal(path) == "this file is a visit, and would be replaced by a page"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# Page\n\nMost likely: low charge\n",
        "<html>",
        '{"format": 2, "readings": {}}',
        "readings: none\n",
        "\xff\x00",
    ],
)
def test_what_is_no_visit_is_replaced(text: str, tmp_path: Path) -> None:
    path = tmp_path / "page.md"
    path.write_bytes(text.encode("latin-1"))
    files.write(path, "new")
    assert path.read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("layout", ["visit", "case"])
def test_the_visit_and_the_baseline_that_it_names_are_never_replaced(layout: str, tmp_path: Path) -> None:
    good = tmp_path / "good day.log"
    good.write_text("not even : readable: [", encoding="utf-8")
    visit = tmp_path / "today"
    text = VISIT + "baseline: good day.log\n"
    if layout == "case":
        text = "case: a/b\nvisit:\n" + "".join(f"  {line}\n" for line in text.splitlines())
    visit.write_text(text, encoding="utf-8")
    assert refusal(visit, visit=visit) == "this is the visit itself"
    assert refusal(good, visit=visit) == "this is the baseline that the visit names"
    (tmp_path / "link").symlink_to(good)
    os.link(good, tmp_path / "hard")
    for name in ("link", "hard"):
        assert refusal(tmp_path / name, visit=visit) == "this is the baseline that the visit names"
    files.write(tmp_path / "page.html", "page", visit=visit)


def test_every_command_about_a_visit_leaves_its_baseline(tmp_path: Path) -> None:
    good, visit = tmp_path / "good.txt", tmp_path / "today.yaml"
    good.write_text("readings: {suction pressure: 130 psig}\n", encoding="utf-8")
    visit.write_text(VISIT + "baseline: good.txt\n", encoding="utf-8")
    for words in (["examine"], ["next"], ["lesson"], ["draw"], ["why"]):
        more = ["low-charge"] if words[0] == "why" else []
        for target in (good, visit):
            err = run(*words[:1], visit, *more, *words[1:], "-o", target).refused()
            assert "Name another file: it would be lost." in err
    assert good.read_text(encoding="utf-8") == "readings: {suction pressure: 130 psig}\n"


def test_nothing_is_written_under_a_name_that_promises_what_it_is_not(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=r"no \.PDF file is written here[\s\S]*`report\.html`"):
        files.write(tmp_path / "report.PDF", "text")
    assert not list(tmp_path.iterdir())


def test_a_dash_is_standard_output(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "visit.yaml").write_text(VISIT, encoding="utf-8")
    for words in (
        ["examine", "visit.yaml"],
        ["draw", "visit.yaml", "--what", "circuit"],
        ["rules", "table"],
        ["practice", "new", "--seed", "1"],
    ):
        plain, dashed = (run(*words, *more) for more in ([], ["-o", "-"]))
        assert dashed.exit_code == 0, dashed.stderr
        assert dashed.stdout == plain.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["visit.yaml"]


def test_a_link_is_written_through_and_stays(tmp_path: Path) -> None:
    (tmp_path / "web").mkdir()
    real, link = tmp_path / "web" / "page.html", tmp_path / "page.html"
    link.symlink_to("web/page.html")
    files.write(link, "new")
    assert (link.is_symlink(), real.read_text(encoding="utf-8")) == (True, "new")
    files.write(link, "newer")
    assert (link.is_symlink(), real.read_text(encoding="utf-8")) == (True, "newer")
    (tmp_path / "away").symlink_to("none/page.html")
    assert refusal(tmp_path / "away") == "this file cannot be written: there is no such folder"
    (tmp_path / "loop").symlink_to("loop")
    assert "this file cannot be written" in refusal(tmp_path / "loop")


def test_what_cannot_be_written_is_told_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert refusal(tmp_path) == "this file cannot be written: there is a folder of this name"
    assert refusal(tmp_path / "none" / "page.html") == "this file cannot be written: there is no such folder"
    assert "no such folder" in refusal(tmp_path / "file" / "page.html")
    assert "file name too long" in refusal(tmp_path / ("x" * 300))
    with pytest.raises(InputProblems, match="the name cannot be used"):
        files.write(Path("a\0b"), "page")
    with pytest.raises(InputProblems, match="the folder cannot be made"):
        files.make_folder(tmp_path / "file" / "folder")


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputProblems, match=r"no space left on device\)\n +Make room"):
        files.write(Path("/dev/full"), "page")
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "no space left" in refusal(path)
    files.write(Path("/dev/null"), "page")
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


def test_a_file_that_may_not_be_written_is_not_replaced_though_its_folder_allows_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked of os.access, which says yes to the superuser: here it answers as it would anybody else."""
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")
    path.chmod(0o444)
    monkeypatch.setattr(os, "access", lambda place, _: Path(place) != path and Path(place) != tmp_path)
    assert refusal(path) == "this file cannot be written (permission denied)"
    with pytest.raises(InputProblems, match="permission denied"):
        files.update(path, "new", "old")
    assert "permission denied" in refusal(tmp_path / "new.html")
    assert path.read_text(encoding="utf-8") == "old"


def test_an_edit_replaces_only_what_it_began_from(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_bytes(b"a: 1\r\n")
    files.update(path, "a: 2\r\n", files.text_of(path))
    assert path.read_bytes() == b"a: 2\r\n"
    with pytest.raises(InputProblems, match="changed while the program worked"):
        files.update(path, "a: 3\r\n", "a: 1\r\n")
    assert path.read_bytes() == b"a: 2\r\n"
    with pytest.raises(InputProblems, match="no such file"):
        files.update(tmp_path / "none.yaml", "a: 3\n", "a: 1\n")


def test_a_file_of_our_own_folder_is_replaced_whole_or_refused(tmp_path: Path) -> None:
    path = tmp_path / "app.zip"
    files.put(path, b"PK old")
    files.put(path, b"PK new")
    assert path.read_bytes() == b"PK new"
    (tmp_path / "sw.js").mkdir()
    with pytest.raises(InputProblems, match="this file cannot be written"):
        files.put(tmp_path / "sw.js", b"new")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["app.zip", "sw.js"]
