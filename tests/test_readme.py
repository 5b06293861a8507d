"""The README is run: what it shows is what the commands print, up to the line of dots."""

import re
import shlex
import subprocess
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
    """Run in this process; what stands before it, by a shell, which pipes what it prints or says where it has gone."""
    before, _, ours = command.rpartition("diagnose ")
    piped = before.endswith("| ")
    if before:
        before = before.removesuffix("| ") if piped else f"{before}pwd"
        before = subprocess.run(["bash", "-c", before], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    with chdir(ROOT if piped or not before else before.strip()):
        done = run(*shlex.split(ours), stdin=before if piped else None, COLUMNS="80")
    return done.stdout + done.stderr


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
