"""Lint, format, types and import layers are part of the one test command."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=" ".join,
)
def test_clean(command: tuple[str, ...]) -> None:
    done = subprocess.run([str(BIN / command[0]), *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_top_level_is_the_fixed_one() -> None:
    """DEVELOPERS.md: nothing else at the top but dot files."""
    fixed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "diagnose", "rules", "tests", "cases"}
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    tops = {line.split("/")[0] for line in listed.splitlines() if not line.startswith(".")}
    assert tops <= fixed


def test_no_two_public_types_share_a_name() -> None:
    """Classes, and names given to types (`Mode = Literal[...]`)."""
    found: dict[str, list[str]] = {}
    for path in (ROOT / "diagnose").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for name in re.findall(r"^class ([^\W_]\w*)|^([A-Z]\w*[a-z]\w*) = ", text, re.MULTILINE):
            found.setdefault("".join(name), []).append(str(path.relative_to(ROOT)))
    assert {name: places for name, places in found.items() if len(places) > 1} == {}
