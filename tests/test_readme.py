"""The README is run: what it shows is what the commands print, up to the line of dots."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.shipped import shipped

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
BIN = Path(sys.executable).parent
WALK = (ROOT / "cases" / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"```console\n\$ (.*?)\n(.*?)```", README + WALK, re.S)


@pytest.mark.parametrize(("command", "shown"), CONSOLE, ids=[command for command, _ in CONSOLE])
def test_console_block(command: str, shown: str) -> None:
    done = subprocess.run(
        ["bash", "-c", command],
        cwd=ROOT,
        capture_output=True,
        check=False,
        env={
            "PATH": f"{BIN}:/usr/bin:/bin",
            "PYTHONPATH": str(ROOT),
            "DIAGNOSE_CACHE": os.environ["DIAGNOSE_CACHE"],
            "PYTHONIOENCODING": "utf-8",
            "COLUMNS": "80",
        },
    )
    printed = (done.stdout + done.stderr).decode("utf-8")
    beginning, dots, _ = shown.partition("\n...\n")
    if dots:
        assert printed.startswith(beginning)
    else:
        assert printed == shown


def test_python_block() -> None:
    block = re.search(r"```python\n(.*?)```", README, re.S)
    assert block is not None
    code, _, wanted = block[1].rpartition("# ")
    *before, last = code.strip().splitlines()
    scope: dict[str, object] = {}
    exec("\n".join(before).replace("cases/", f"{shipped('cases')}/"), scope)
    assert str(eval(last, scope)) == wanted.strip()


def test_the_visit_shown_is_the_one_in_the_case() -> None:
    block = re.search(r"```yaml\n(.*?)```", README, re.S)
    assert block is not None
    case = (ROOT / "cases/demo/low-charge-orifice.yaml").read_text(encoding="utf-8")
    indented = "".join(f"  {line}\n" for line in block[1].splitlines())
    assert indented in case


def test_ci_runs_the_test_command() -> None:
    marked = re.search(r"<!-- the test command -->\n```sh\n(.*?)\n```", README, re.S)
    assert marked is not None
    assert marked[1].endswith("pytest")
    assert "the test command" in (ROOT / ".ci/run").read_text(encoding="utf-8")
