"""A baseline's path: nothing above the visit's folder is opened, and of a file that is no visit no line is told."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from diagnose.visit import VisitError, read_visit, visit_from

SECRET = "keeper:x:0:0:the hidden words"
GOOD = "readings: {suction pressure: 118 psig}\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    below = tmp_path / "visits"
    (below / "old").mkdir(parents=True)
    (tmp_path / "secret").write_text(f"{SECRET}\n", encoding="utf-8")
    (tmp_path / "outside.yaml").write_text(GOOD, encoding="utf-8")
    (below / "old" / "spring.yaml").write_text(GOOD, encoding="utf-8")
    (below / "old" / "secret.txt").write_text(f"{SECRET}\n", encoding="utf-8")
    (below / "old" / "broken.yaml").write_text(f"readings: [\n{SECRET}\n", encoding="utf-8")
    (below / "old" / "list.yaml").write_text(f"- {SECRET}\n", encoding="utf-8")
    (below / "old" / "latin.yaml").write_bytes(f"a: {SECRET} é\n".encode("latin-1"))
    (below / "old" / "wrong.yaml").write_text("readings: {airflow: fast}\n", encoding="utf-8")
    (below / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    (below / "up").symlink_to(tmp_path)
    (below / "round").symlink_to(below / "round")
    return below


def told(folder: Path, path: str) -> VisitError:
    visit = folder / "visit.yaml"
    visit.write_text(f"readings: {{airflow: 900 cfm}}\nbaseline: {json.dumps(path)}\n", encoding="utf-8")
    with pytest.raises(VisitError) as caught:
        read_visit(visit)
    return caught.value


@pytest.mark.parametrize("path", ["old/spring.yaml", " old/spring.yaml ", "./old/spring.yaml"])
def test_a_file_below_the_folder_is_followed(folder: Path, path: str) -> None:
    (folder / "visit.yaml").write_text(f"readings: {{airflow: 900 cfm}}\nbaseline: {path}\n", encoding="utf-8")
    found = read_visit(folder / "visit.yaml")
    assert "suction pressure" in found.baseline.last.readings


@pytest.mark.parametrize(
    "path",
    ["../secret", "../outside.yaml", "/etc/passwd", "old/../../secret", "old/../visit.yaml", "..", "link.yaml", "up/secret",
     "up/outside.yaml", "C:\\secret", "\\\\host\\secret", "..\\secret", "C:secret", "/dev/stdin"],
)  # fmt: skip
def test_nothing_outside_the_folder_is_opened(folder: Path, path: str) -> None:
    (problem,) = told(folder, path).problems
    assert (Path(problem.file).name, problem.line) == ("visit.yaml", 2)
    assert problem.what == f"`baseline`: `{path}` leads out of the folder of this visit"
    assert "write its name" in problem.fix


@pytest.mark.parametrize(
    "path", ["old/secret.txt", "old/broken.yaml", "old/list.yaml", "old/latin.yaml", "../secret", "up/secret"]
)
def test_no_line_of_a_file_that_is_no_visit_is_told(folder: Path, path: str) -> None:
    error = told(folder, path)
    (problem,) = error.problems
    assert Path(problem.file).name == "visit.yaml"
    assert path in problem.what
    for part in ("keeper", "hidden words"):
        assert part not in str(error)
        assert part not in json.dumps([one.to_dict() for one in error.problems])


def test_a_visit_below_the_folder_is_told_by_its_line(folder: Path) -> None:
    (problem,) = told(folder, "old/wrong.yaml").problems
    assert (Path(problem.file).parts[-2:], problem.line, problem.text) == (
        ("old", "wrong.yaml"), 1, "readings: {airflow: fast}",
    )  # fmt: skip


@pytest.mark.parametrize("path", ["none.yaml", "old", "round", "a\0b", "x" * 5000, "~/secret"])
def test_a_path_that_leads_nowhere_is_told(folder: Path, path: str) -> None:
    (problem,) = told(folder, path).problems if "\0" not in path else (_in_mapping(folder, path),)
    assert problem.what.startswith("`baseline`")
    assert len(str(problem)) < 700
    assert problem.fix


def test_a_visit_is_no_good_day_of_its_own(folder: Path) -> None:
    (folder / "today.yaml").write_text("readings: {airflow: 900 cfm}\nbaseline: today.yaml\n")
    with pytest.raises(VisitError, match="is this visit itself"):
        read_visit(folder / "today.yaml")


def _in_mapping(folder: Path, path: str):
    with pytest.raises(VisitError) as caught:
        visit_from({"readings": {}, "baseline": path}, str(folder / "visit.yaml"))
    return caught.value.problems[0]


@pytest.mark.parametrize("path", ["old/spring.yaml", "visits/old/spring.yaml", "../secret"])
def test_standard_input_names_no_file(folder: Path, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("sys.stdin", io.StringIO(f"readings: {{airflow: 900 cfm}}\nbaseline: {path}\n"))
    with pytest.raises(VisitError, match="can be followed from a visit file only"):
        read_visit("-")
