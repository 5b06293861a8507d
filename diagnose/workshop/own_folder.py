"""A company's own folder of rules: its files, the schemas in it, the book as it would be with other texts, and the folder
brought to another version of the book: what was renamed, which changes fit no longer, what clashes."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from diagnose.rulebook import Rulebook, RuleError, is_whole, load_rules
from diagnose.rulebook.entries import ChangeKind
from diagnose.rulebook.folders import holds_rules
from diagnose.shipped import shipped
from diagnose.workshop import yamledit
from diagnose.yamlfile import Problem, files, refusal

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


# -- brought to another version of the book ----------------------------------------------------------------------------

# Where entries are named: by the key of a group, in a list or alone behind a key, and in changes.yaml.
_KEYED = {"when": ("finding", "state"), "fires": ("finding",), "quiet": ("finding",), "findings": ("finding",)}
_KEYED |= {"looks_like": ("fault",)}
_LISTED = {"gives": "finding", "after": "finding", "source": "source", "usual_source": "source"}
_ALONE = {"check": "check", "fault": "fault"}  # of a rule; elsewhere the entry itself
_CHANGED = {"points": "rule", "off": "rule", "limits": "finding", "usual": "fault"}
Names = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True)
class Upgrade:
    """What is proposed. texts: file -> before and after; notes: file -> a sentence each; left: mistakes to mend by hand."""

    folder: Path
    book: str
    texts: Mapping[Path, tuple[str, str]]
    notes: Mapping[Path, Sequence[str]]
    left: Sequence[Problem]

    def write(self) -> None:
        """Raises InputProblems where a file cannot be written, or was changed meanwhile."""
        for path, (before, after) in self.texts.items():
            files.update(self.folder / path, after, before)
        if (self.folder / ROOM).is_dir():
            keep_schemas(self.folder, (path.as_posix() for path in own_files(self.folder)))


def upgrade(folder: Path, to: Path | None = None, others: Sequence[Path] = ()) -> Upgrade:
    """Proposals for a company's folder over the book in `to` (the shipped one unless given), with other folders below it.

    Nothing is written. Raises InputProblems where the folder or the book is none, or a file is no YAML.
    """
    base = to if to is not None else shipped("rules")
    if not is_whole(base):
        fix = "Give the folder of a whole book after `--to`; other folders of your own after `--rules`."
        raise refusal("this is not a whole rule book", fix, base)
    if not folder.is_dir() or not holds_rules(folder) or is_whole(folder):
        fix = "Give the folder of your own rules."
        raise refusal("there are no rules of a company's own in this folder", fix, folder)
    book = load_rules(base, *others)
    texts: dict[Path, tuple[str, str]] = {}
    notes: dict[Path, list[str]] = {}
    for path in own_files(folder):
        before = files.text_of(folder / path)
        after, told = _proposed(before, book, str(folder / path))
        if after != before:
            texts[path] = before, after
        if after != before or told:
            notes[path] = told or ["Figures in braces are renamed."]
    left: Sequence[Problem] = ()
    try:
        edited = {path.as_posix(): after for path, (_, after) in texts.items()}
        try_out(folder, folder.resolve().name, edited, base, *others)
    except RuleError as error:
        left = error.problems
    return Upgrade(folder, book.name, texts, notes, left)


def _proposed(text: str, book: Rulebook, name: str) -> tuple[str, list[str]]:
    """A file as it should be, and what is to be said of it."""
    told: list[str] = []
    with_figures = _figures_renamed(text, book.renamed)
    after = yamledit.edited(with_figures, lambda data: _edit(data, book, told), name)
    return after if told else with_figures, list(dict.fromkeys(told))


def _figures_renamed(text: str, renamed: Names) -> str:
    """`{old name}` in the reasons of rules; outside of them nothing stands in braces alone."""
    for old, new in {**renamed.get("finding", {}), **renamed.get("state", {})}.items():
        text = text.replace(f"{{{old}}}", f"{{{new}}}").replace(f"{{{old} target}}", f"{{{new} target}}")
    return text


def _edit(data: Any, book: Rulebook, told: list[str]) -> None:
    _rename(data, book.renamed, told)
    changes = data.get("changes")
    for change in changes if isinstance(changes, list) else ():
        if isinstance(change, dict) and change.get("status", "in force") != "retired":
            _look_again(change, book, told)


# -- names -------------------------------------------------------------------------------------------------------------


def _rename(data: Any, renamed: Names, told: list[str]) -> None:
    """Everywhere in what a file says."""
    if isinstance(data, list):
        for one in data:
            _rename(one, renamed, told)
        return
    if not isinstance(data, dict):
        return
    for key, value in list(data.items()):
        if key in _KEYED and isinstance(value, dict):
            for group in (value, *(value.get("any") or () if key == "when" else ())):
                _keys_renamed(group, _KEYED[key], renamed, told)
        elif key in _LISTED:
            names = renamed.get(_LISTED[key], {})
            for i, one in enumerate(value if isinstance(value, list) else ()):
                if one in names:
                    value[i] = _said(_LISTED[key], one, names, told)
            if isinstance(value, str) and value in names:
                data[key] = _said(_LISTED[key], value, names, told)
        elif (key in _ALONE and "id" in data) or (key in _CHANGED and "because" in data):
            kind = _ALONE.get(key) or _CHANGED[key]
            if (names := renamed.get(kind, {})) and value in names:
                data[key] = _said(kind, value, names, told)
        _rename(data[key], renamed, told)


def _keys_renamed(group: Any, kinds: Sequence[str], renamed: Names, told: list[str]) -> None:
    if not isinstance(group, dict):
        return
    for kind in kinds:
        names = renamed.get(kind, {})
        for at, old in enumerate(list(group)):
            if old in names and names[old] not in group:
                new = _said(kind, old, names, told)
                yamledit.rename(group, at, old, new)


def _said(kind: str, old: str, names: Mapping[str, str], told: list[str]) -> str:
    told.append(f"The {kind} `{old}` is called `{names[old]}` now.")
    return names[old]


# -- changes -----------------------------------------------------------------------------------------------------------


def _look_again(change: Any, book: Rulebook, told: list[str]) -> None:
    """One change against the figure that the book has now; what the book says by itself is retired, and kept as a record."""
    kind = next((k for k in get_args(ChangeKind) if k in change), None)
    if kind is None:
        return
    target, was = str(change[kind]), _written(change.get("was"))
    name = f"`{kind}: {target}`"
    has = list(_in_book(kind, target, book))
    if not has:
        change["status"] = "retired"
        told.append(f"{name} is retired: the book has nothing of this name any more.")
    elif kind == "off" or was in has:
        return
    elif (now := _written(change.get("now"))) in has:
        change["status"] = "retired"
        told.append(f"{name} is retired: the book says {_listed(now)} by itself now.")
    elif len(has) == 1:
        single = not isinstance(change.get("was"), list)
        change["was"] = has[0][0] if single else yamledit.flow(list(has[0]))
        told.append(
            f"Decide again: {name} was made for {_listed(was)}, and the book says {_listed(has[0])} now. "
            f"Yours stays {_listed(now)}."
        )
    else:
        every = "; ".join(map(_listed, has))
        told.append(f"Decide by hand: {name} was made for {_listed(was)}, and the book has {every} now.")


def _in_book(kind: str, target: str, book: Rulebook) -> Iterator[tuple[str, ...]]:
    """Every figure of this kind and name that the book has, as it would be written; once, and empty, for what has none."""
    if kind in ("points", "off"):
        if (rule := book.by_id.get(target)) is not None:
            yield _written(rule.points)
    elif kind == "usual":
        if (fault := book.faults.get(target)) is not None:
            yield _written(fault.usual)
    elif kind == "limits":
        if (finding := book.findings.get(target)) is not None:
            yield from (_written(scale.limits_written) for scale in finding.scales if scale.limits_written)
    elif kind == "judgement":
        if (figure := book.figures.get(target)) is not None:
            yield _written(figure.written)
    elif (limits := book.pressure_limits) is not None and target in limits.written:
        yield _written(limits.written[target])


def _written(figure: object) -> tuple[str, ...]:
    """Numbers in one spelling, so that 2 and 2.0 are the same."""
    return tuple(_one(f) for f in (figure if isinstance(figure, list | tuple) else [figure]))


def _one(figure: object) -> str:
    text = str(figure)
    try:
        return f"{float(text):g}"
    except ValueError:
        return text


def _listed(figures: Sequence[str]) -> str:
    return figures[0] if len(figures) == 1 else f"[{', '.join(figures)}]"
