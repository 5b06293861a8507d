"""The folder of a page: made whole, begun anew where it was ended, and never another's."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from diagnose.page import build as building
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems


@pytest.fixture
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A browser's Python that holds nothing."""
    empty = io.BytesIO()
    zipfile.ZipFile(empty, "w").close()
    content = {"pyodide-lock.json": b"{}", "python_stdlib.zip": empty.getvalue()}
    monkeypatch.setattr(building, "_checked", lambda path, _: content.get(path.name, b""))
    return tmp_path


@pytest.mark.parametrize("written", range(4))
def test_a_build_that_was_ended_is_begun_anew(
    tmp_path: Path, runtime: Path, monkeypatch: pytest.MonkeyPatch, book: Rulebook, written: int
) -> None:
    folder, put, left = tmp_path / "page", building.files.put, [written]

    def ended(path: Path, content: bytes) -> None:
        if not left[0]:
            raise KeyboardInterrupt
        left[0] -= 1
        put(path, content)

    with monkeypatch.context() as patch:
        patch.setattr(building.files, "put", ended)
        with pytest.raises(KeyboardInterrupt):
            building.build(folder, book, runtime)
    made = building.build(folder, book, runtime)
    assert sorted(path.name for path in folder.iterdir()) == sorted(made.files)


def test_a_folder_of_somebody_else_is_left_alone(tmp_path: Path, runtime: Path, book: Rulebook) -> None:
    (tmp_path / "index.html").write_text("mine")
    with pytest.raises(InputProblems, match="holds other files"):
        building.build(tmp_path, book, runtime)
    assert [path.name for path in tmp_path.iterdir()] == ["index.html"]
