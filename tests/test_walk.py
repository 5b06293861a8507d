"""The walk in rules/README.md is walked: its files are written into an empty folder, its commands run, its answers compared.

A block of YAML below a line that begins with a file's name is that file, or what stands instead of those of its entries
(`, its last line`). A block without a name is a slip in the rules file: it stands there for the one command below it. A line
of dots stands for whatever else is printed. The mark and the counts of the shipped book change with every rule, so they are not
compared. `python tests/test_walk.py` writes what is printed today into the README, as many lines as are shown.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from contextlib import chdir
from dataclasses import dataclass
from pathlib import Path

import pytest
from commands import run

from diagnose.rulebook import load_rules
from diagnose.workshop import comparing

README = Path(__file__).parent.parent / "rules" / "README.md"
RULES = "harbour-cooling/rules.yaml"
DOTS = "...\n"
BLOCK = re.compile(r"(?:^`([\w/.-]+\.yaml)`(, its last line)?\n)?^```(yaml|console)\n(.*?)^```$", re.M | re.S)

COMMAND = re.compile(r"\$ ((?:.*\\\n)*.*)\n")  # a command goes on after a backslash


@dataclass(frozen=True)
class Step:
    """One command, the slip that is in the rules file meanwhile, and what the README shows."""

    command: str
    shown: str
    slip: str


def walk() -> str:
    text = README.read_text(encoding="utf-8")
    start = text.index("## From an empty folder\n")
    return text[start : text.find("\n## ", start) if "\n## " in text[start:] else len(text)]


def steps(folder: Path, text: str) -> Iterator[Step]:
    """Writes files as they come, and gives the commands between them."""
    slip = ""
    for name, line_only, kind, content in BLOCK.findall(text):
        if kind == "console":
            command = COMMAND.match(content)
            assert command is not None, content
            yield Step(command[1], content[command.end() :], slip)
            slip = ""
        elif not name:
            slip = content
        else:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            written = instead(path.read_text(encoding="utf-8"), content) if line_only else content
            path.write_text(written, encoding="utf-8")


def instead(text: str, slip: str) -> str:
    """The text with this entry in the place of the one of the same name."""
    name = slip[: slip.index(":") + 1]
    indent = len(name) - len(name.lstrip(" -"))
    lines = text.splitlines(keepends=True)
    start = next(i for i, line in enumerate(lines) if line.startswith(name))
    stop = start + 1
    while stop < len(lines) and len(lines[stop]) - len(lines[stop].lstrip()) > indent:
        stop += 1
    return "".join([*lines[:start], slip, *lines[stop:]])


def printed(step: Step, folder: Path) -> str:
    """What the command says, standard output and then errors, as on a screen."""
    rules = folder / RULES
    sound = rules.read_text(encoding="utf-8") if rules.exists() else ""
    if step.slip:
        rules.write_text(instead(sound, step.slip), encoding="utf-8")
    program, *words = shlex.split(step.command.replace("\\\n", ""))
    assert program == "diagnose"
    with chdir(folder):
        done = run(*words, COLUMNS="80")
    if step.slip:
        rules.write_text(sound, encoding="utf-8")
    return done.stdout + done.stderr


def alike(text: str) -> str:
    """Without what changes with every change of the shipped book."""
    text = re.sub(r"\([0-9a-f]{8}\)", "(mark)", text)
    text = re.sub(r"\d+ (rules|findings|states|faults|checks|sources)\b", r"n \1", text)
    text = re.sub(r"\b(of|has) \d+ cases", r"\1 n cases", text)
    text = re.sub(r"^(lab|textbook|simulated|demo) .*\n", r"\1\n", text, flags=re.M)
    return re.sub(r"^\d+ passed, 0 failed$", "n passed, 0 failed", text, flags=re.M)


def same(shown: str, has: str) -> bool:
    parts = [re.escape(part) for part in alike(shown).split(DOTS)]
    return re.fullmatch(r"(?:.*\n)*".join(parts), alike(has)) is not None


def test_the_walk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`rules compare` looks at every thirtieth case: what no case has seen changes none (test_overlays.py)."""
    every = comparing.case_paths
    monkeypatch.setattr(comparing, "case_paths", lambda *given: every(*given)[::30])
    commands = 0
    for step in steps(tmp_path, walk()):
        has = printed(step, tmp_path)
        assert same(step.shown, has), f"$ {step.command}\n{has}"
        commands += 1
    assert commands >= 12


def test_the_walk_breaks_the_rule_in_five_ways() -> None:
    assert len([1 for name, _, kind, _ in BLOCK.findall(walk()) if kind == "yaml" and not name]) == 5


def test_the_changes_shown_fit_the_shipped_book(tmp_path: Path) -> None:
    """They may be copied: every `was` is what the shipped book says."""
    block = re.search(r"```yaml\n(changes:\n.*?)```", README.read_text(encoding="utf-8"), re.S)
    folder = tmp_path / "harbour-cooling"
    folder.mkdir()
    (folder / "changes.yaml").write_text(block[1], encoding="utf-8")
    assert {change.kind for _, change in load_rules(folder).changes} == {
        "points",
        "limits",
        "usual",
        "off",
        "judgement",
    }


@pytest.mark.parametrize(
    ("shown", "has", "alike_"),
    [
        ("a\nb\n", "a\nb\n", True),
        ("a\n", "a\nb\n", False),
        ("a\n...\n", "a\nb\nc\n", True),
        ("a\n...\nd\n", "a\nb\nc\nd\n", True),
        ("a\n...\nd\n", "a\nb\nc\n", False),
        ("...\n", "", True),
        ("Rule book shipped (0123abcd): 3 rules.\n", "Rule book shipped (ffffffff): 40 rules.\n", True),
    ],
)
def test_dots_stand_for_the_rest(shown: str, has: str, alike_: bool) -> None:
    assert same(shown, has) is alike_


def fresh(shown: str, has: str) -> str:
    """As many lines as were shown, and dots if those were not all."""
    first = shown.split(DOTS)[0].count("\n") if DOTS in shown else 0
    lines = has.splitlines(keepends=True)
    last = shown.split(DOTS)[-1].count("\n") if DOTS in shown else 0
    if DOTS not in shown or first + last == 0 or first + last >= len(lines):
        return has
    return "".join([*lines[:first], DOTS, *lines[len(lines) - last :]])


if __name__ == "__main__":
    import tempfile

    before = README.read_text(encoding="utf-8")
    after, rest = before[: before.index(walk())], before[before.index(walk()) :]
    with tempfile.TemporaryDirectory() as place:
        for one in steps(Path(place), walk()):
            block = f"$ {one.command}\n{one.shown}```"
            head, rest = rest.split(block, 1)
            after += f"{head}$ {one.command}\n{fresh(one.shown, printed(one, Path(place)))}```"
    README.write_text(after + rest, encoding="utf-8")
