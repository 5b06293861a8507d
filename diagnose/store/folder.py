"""A folder of visit files: every kept visit as it was entered, byte for byte, one file each, a folder a machine."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from diagnose import yamlfile
from diagnose.rulebook import Rulebook, digest_of
from diagnose.store.database import Store
from diagnose.store.entry import entry_of
from diagnose.store.keeping import Kept, KeptMachine, KeptVisit, keep, key_of, machines, visits_of
from diagnose.yamlfile import each, files, refusal

SHOWN = 16  # characters of an id in the name of a file


@dataclass(frozen=True, slots=True)
class Exported:
    """How many visits lie in the folder now, and how many of them were written by this."""

    visits: int
    written: int


def folder_of(machine: KeptMachine) -> str:
    """A name for its folder on any disk: letters and digits of the machine's, and a digest that tells it from others."""
    plain = unicodedata.normalize("NFKD", machine.key).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or "machine"
    return f"{words}-{hashlib.sha256(key_of(machine.name).encode()).hexdigest()[:8]}"


def export_folder(store: Store, folder: Path) -> Exported:
    """Writes each visit that does not lie there yet; replaces nothing. Raises InputProblems."""
    count = written = 0
    files.make_folder(folder)
    for machine in machines(store):
        own = folder / folder_of(machine)
        files.make_folder(own)
        days: dict[str, int] = {}
        for visit in visits_of(store, machine):
            count += 1
            days[visit.date] = days.get(visit.date, 0) + 1
            written += _put(own, visit, days[visit.date])
    return Exported(count, written)


def _put(folder: Path, visit: KeptVisit, place: int) -> bool:
    """place: among the visits of that day, so that they are imported in their order."""
    ending = f"{visit.id[:SHOWN]}.yaml"
    for path in folder.glob(f"*-{ending}"):
        if path.is_file() and path.read_bytes() == visit.text.encode("utf-8"):
            return False
    path = folder / f"{visit.date.replace(':', '.')}-{place:02}-{ending}"
    files.write(path, visit.text, over=False)
    return True


def import_folder(store: Store, folder: Path, book: Rulebook) -> list[Kept]:
    """Keeps every visit file of a folder and those in it, or none where one of them cannot be kept. Raises InputProblems."""
    if not folder.is_dir():
        raise refusal("there is no such folder", "Give a folder of visit files.", folder)
    inside = folder.resolve()
    paths = sorted(path for path in folder.rglob("*") if path.suffix.lower() in files.YAML_ENDINGS and path.is_file())
    paths = [
        path for path in paths if path.resolve().is_relative_to(inside)
    ]  # a link out of the folder is not followed
    digest = digest_of(book)
    found = each(lambda path: entry_of(yamlfile.content_of(path), str(path), book, digest), paths)
    if not found:
        fix = "Visit files end in .yaml; `diagnose export` writes such a folder."
        raise refusal("no visit file lies here", fix, folder)
    return keep(store, found)
