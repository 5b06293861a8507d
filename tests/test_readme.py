"""The README is run: what it shows is what the commands print, up to the line of dots."""

import os
import re
import shlex
import subprocess
import sys
from contextlib import chdir
from pathlib import Path

import pytest
from commands import run

from diagnose.shipped import shipped

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
WALK = (ROOT / "cases" / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"```console\n\$ (.*?)\n(.*?)```", README + WALK, re.S)


def printed(command: str) -> str:
    """Run in this process, unless it needs a shell."""
    if command.startswith("diagnose "):
        with chdir(ROOT):
            done = run(*shlex.split(command)[1:], COLUMNS="80")
        return done.stdout + done.stderr
    path = f"{Path(sys.executable).parent}:/usr/bin:/bin"
    more = {"PATH": path, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8", "COLUMNS": "80"}
    shell = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, check=False, env={**os.environ, **more}
    )
    return (shell.stdout + shell.stderr).decode("utf-8")


@pytest.mark.parametrize(("command", "shown"), CONSOLE, ids=[command for command, _ in CONSOLE])
def test_console_block(command: str, shown: str) -> None:
    said = printed(command)
    beginning, dots, _ = shown.partition("\n...\n")
    if dots:
        assert said.startswith(beginning)
    else:
        assert said == shown


def test_python_block() -> None:
    block = re.search(r"```python\n(.*?)```", README, re.S)
    code, _, wanted = block[1].rpartition("# ")
    *before, last = code.strip().splitlines()
    scope: dict[str, object] = {}
    exec("\n".join(before).replace("cases/", f"{shipped('cases')}/"), scope)
    assert str(eval(last, scope)) == wanted.strip()


def test_the_visit_shown_is_the_one_in_the_case() -> None:
    block = re.search(r"```yaml\n(.*?)```", README, re.S)
    case = (ROOT / "cases/demo/low-charge-orifice.yaml").read_text(encoding="utf-8")
    indented = "".join(f"  {line}\n" for line in block[1].splitlines())
    assert indented in case


def test_ci_runs_the_test_command() -> None:
    marked = re.search(r"<!-- the test command -->\n```sh\n(.*?)\n```", README, re.S)
    assert marked[1].endswith("pytest")
    assert "the test command" in (ROOT / ".ci/run").read_text(encoding="utf-8")
