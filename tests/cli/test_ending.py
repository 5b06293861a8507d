"""Ctrl-C at many moments, and standard streams that are closed or full: a quiet end, never a trace."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.shipped import shipped

LOW = str(shipped("cases") / "demo" / "low-charge-orifice.yaml")
COMMAND = [sys.executable, "-m", "diagnose"]

# Loaded by the interpreter itself before anything of ours: sends Ctrl-C to the process and all it has started, once,
# at the import of a module or at the call of a function (`name@end of its file@module`), which is looked for once that module
# is being imported: every call from then on takes longer.
HOOK = """
import os, signal, sys
moment = os.environ.pop("INTERRUPT_AT", "")
name, file, module = [*moment.split("@"), "", ""][:3]
def strike():
    sys.setprofile(None)
    os.killpg(0, signal.SIGINT)
def watch(frame, event, argument):
    if event == "call" and frame.f_code.co_name == name and frame.f_code.co_filename.endswith(file):
        strike()
heard = []
def hear(event, arguments):
    if event == "import" and arguments[0] == (module or name) and not heard:
        heard.append(name)
        sys.setprofile(watch) if file else strike()
if name:
    sys.addaudithook(hear)
"""
MOMENTS = {
    "importing the commands": "typer",
    "writing": "write@standard.py@diagnose.report.first_screen",
    "all written": "end@standard.py@diagnose.report.first_screen",
}


@pytest.fixture
def hooked(tmp_path: Path) -> dict[str, str]:
    folder = tmp_path / "hook"
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(HOOK, encoding="utf-8")
    path = os.pathsep.join([str(folder), str(shipped("rules").parent)])
    return {**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "utf-8"}


def interrupted(moment: str, hooked: dict[str, str], *words: str) -> tuple[int, bytes]:
    done = subprocess.run(
        [*COMMAND, *words], capture_output=True, check=False, stdin=subprocess.DEVNULL, start_new_session=True,
        env={**hooked, "INTERRUPT_AT": moment},
    )  # fmt: skip
    return done.returncode, done.stderr


@pytest.mark.parametrize("moment", MOMENTS.values(), ids=MOMENTS)
def test_ctrl_c_ends_quietly(moment: str, hooked: dict[str, str]) -> None:
    assert interrupted(moment, hooked, "examine", LOW) == (130, b"")


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        ("result@_base.py", ("cases", "run", "--simulated", "60", "--readings", "basic", "--train", "0")),
        ("start@multiprocessing/process.py", ("batch", str(Path(LOW).parent), "{}/out.csv", "--workers", "2")),
    ],
)
def test_ctrl_c_ends_all_processes_of_a_run(
    moment: str, words: tuple[str, ...], hooked: dict[str, str], tmp_path: Path
) -> None:
    """communicate() returns only when every process has let go of the pipes, so none is left behind."""
    words = tuple(word.format(tmp_path) for word in words)
    assert interrupted(f"{moment}@concurrent.futures.process", hooked, *words) == (130, b"")


def test_ctrl_c_while_a_machine_is_made_up(hooked: dict[str, str]) -> None:
    assert interrupted(
        "draw@population.py@diagnose.simulator.population", hooked, "practice", "set", "--count", "2"
    ) == (130, b"")


def test_ctrl_c_at_a_question() -> None:
    with subprocess.Popen(
        [*COMMAND, "ask"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as asking:
        assert asking.stderr is not None
        said = b""
        while not said.endswith((b"): ", b"? ", b": ")):
            more = os.read(asking.stderr.fileno(), 1000)
            assert more, said
            said += more
        asking.send_signal(signal.SIGINT)
        out, err = asking.communicate()
    assert (asking.returncode, out, err) == (130, b"", b"")


def test_ctrl_c_that_the_caller_ignores_is_ignored(hooked: dict[str, str]) -> None:
    """As for a command started with nohup, or in the background of a script."""
    ignoring = ["sh", "-c", 'trap "" INT; exec "$@"', "sh", *COMMAND, "examine", LOW]
    done = subprocess.run(
        ignoring, capture_output=True, check=False, start_new_session=True,
        env={**hooked, "INTERRUPT_AT": "diagnose.diagnosis.pipeline"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout


def shell(line: str) -> tuple[int, str, str]:
    done = subprocess.run(
        ["bash", "-c", line, "bash", *COMMAND], capture_output=True, check=False, text=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize("words", ["--help", f"examine {LOW} --as html"])
def test_a_full_disk_is_said_in_a_sentence(words: str) -> None:
    said = (
        "The answer cannot be written to standard output (no space left on device). Make room, or write it elsewhere.\n"
    )
    assert shell(f'"$@" {words} >/dev/full') == (1, "", said)


@pytest.mark.parametrize(
    ("words", "reader"),
    [(f"examine {LOW} --as json", "head -1"), ("rules test low-charge/starved-and-empty --watch", "true")],
)
def test_a_reader_who_leaves_ends_it_quietly(words: str, reader: str) -> None:
    code, _, err = shell(f'"$@" {words} | {reader}; exit ${{PIPESTATUS[0]}}')
    assert code == 0
    assert err in ("", "Waiting for a file to be saved; Ctrl-C ends.\n")


def test_a_closed_standard_output() -> None:
    assert shell(f'"$@" examine {LOW} >&-') == (0, "", "")


def test_a_closed_standard_output_is_not_taken_by_a_file(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert shell(f'"$@" examine {LOW} -o {page} >&-') == (0, "", "")
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_closed_standard_input() -> None:
    code, out, err = shell('"$@" ask <&-')
    assert (code, out[:19]) == (0, "Not ready to judge.")
    assert "Traceback" not in err
    code, out, err = shell('"$@" examine - <&-')
    assert (code, out) == (2, "")
    assert err.startswith("standard input: the visit is empty\n")


@pytest.mark.parametrize("how", ["2>&-", "2>/dev/full"])
def test_complaints_that_nobody_can_read_change_no_exit_code(how: str) -> None:
    assert shell(f'"$@" examine no-such-visit.yaml {how}') == (2, "", "")


def test_every_word_comes_out_unbuffered_as_well() -> None:
    """The end of a long answer, and a complaint without the colours that are asked for; all others are run buffered."""
    out = shell(f'PYTHONUNBUFFERED=1 "$@" examine {LOW} --as json')[1]
    assert json.loads(out)["status"] == "diagnosed"
    forced = "PYTHONUNBUFFERED=1 TERM=xterm-256color FORCE_COLOR=1 CLICOLOR_FORCE=1"
    complaint = shell(f'{forced} "$@" examine no-such-visit.yaml')[2]
    assert complaint.startswith("no-such-visit.yaml: ")
    assert "\x1b" not in complaint
