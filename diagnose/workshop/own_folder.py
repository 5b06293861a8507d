"""A company's own folder of rules: its files, the schemas in it, and the book as it would be with other texts."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.yamlfile import files

ROOM = "schema"  # in a company's folder: what its editors complete and check by


def schema_line(path: str) -> str:
    """The line by which an editor finds the schema: in the folder itself, so that it holds on every machine it is copied to."""
    name = _schema_of(path)
    if name is None:
        return ""
    return f"# yaml-language-server: $schema={'../' * path.count('/')}{ROOM}/{name}\n"


def _schema_of(path: str) -> str | None:
    """The shipped schema of a file in a company's folder; None where there is none."""
    name = "fault.json" if path.startswith("faults/") else Path(path).name.replace(".yaml", ".json")
    return name if (shipped("rules") / "schema" / name).is_file() else None


def keep_schemas(folder: Path, paths: Iterable[str]) -> bool:
    """Puts the schemas of these files into a company's folder, as this version of the program has them; whether any changed."""
    changed = False
    for name in dict.fromkeys(filter(None, map(_schema_of, paths))):
        text = (shipped("rules") / "schema" / name).read_text(encoding="utf-8")
        there = folder / ROOM / name
        if not there.is_file() or there.read_text(encoding="utf-8") != text:
            files.make_folder(there.parent)
            files.write(there, text, over=True)
            changed = True
    return changed


def own_files(folder: Path) -> list[Path]:
    """The rule files in a company's folder, relative to it."""
    found = [path for place in ("*.yaml", "faults/*.yaml", "rules/*.yaml") for path in sorted(folder.glob(place))]
    return [path.relative_to(folder) for path in found]


def try_out(folder: Path, own: str, texts: Mapping[str, str], *others: Path) -> Rulebook:
    """Reads the book as it will be, somewhere else, before anything is written. Raises InputProblems.

    others: more folders of rules, or a whole book instead of the shipped one.
    """
    with tempfile.TemporaryDirectory() as elsewhere:
        copy = Path(elsewhere).resolve() / own
        for path in own_files(folder):
            if path.as_posix() not in texts:
                files.make_folder((copy / path).parent)
                shutil.copyfile(folder / path, copy / path)
        for name, text in texts.items():
            files.make_folder((copy / name).parent)
            files.write(copy / name, text, over=False)
        return load_rules(copy, *others)
