"""A run that is killed goes on without loss or repeats: the output is that of an undisturbed one, byte for byte."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections.abc import Iterator
from multiprocessing.process import BaseProcess
from pathlib import Path

import commands
import pytest
from forks import FORKS, begun
from tables import many

from diagnose.batch import sources
from diagnose.batch.answers import Asked
from diagnose.batch.examining import plan, run
from diagnose.batch.parts import ENDING
from diagnose.batch.sources import Plan
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems

ROWS = 42
COMMAND = """
import sys
from diagnose.batch import sources
whole = sources.pieces
sources.pieces = lambda *given: whole(*given, 200)
from diagnose.cli import main
sys.argv = ['diagnose', 'batch', *words]
main()
"""


@pytest.fixture(scope="module", autouse=True)
def small() -> Iterator[None]:
    """Some ten chunks, as COMMAND has them."""
    whole = sources.pieces
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sources, "pieces", lambda *given: whole(*given, 200))
        yield


@pytest.fixture(scope="module")
def whole(small: None, tmp_path_factory: pytest.TempPathFactory, book: Rulebook) -> bytes:
    """What an undisturbed run writes."""
    folder = tmp_path_factory.mktemp("whole")
    run(planned(many(folder / "in.csv", ROWS), book), folder / "out.csv")
    return (folder / "out.csv").read_bytes()


def planned(table: Path, book: Rulebook, form: str = "csv") -> Plan:
    return plan(str(table), book, Asked(), form)  # type: ignore[arg-type]


def started(*words: object, program: str = COMMAND) -> BaseProcess:
    return begun(program, words=[*map(str, words)])


def parts_in(out: Path) -> int:
    folder = out.with_name(out.name + ENDING)
    try:
        return sum(name.endswith(".part") for name in os.listdir(folder))
    except FileNotFoundError:  # not yet, or no more
        return 0


@pytest.mark.parametrize("form", ["parquet"])
def test_killed_at_random_moments_it_goes_on_to_the_same_bytes(tmp_path: Path, book: Rulebook, form: str) -> None:
    table, out, whole = many(tmp_path / "in.csv", ROWS), tmp_path / f"out.{form}", tmp_path / f"whole.{form}"
    undisturbed = run(planned(table, book, form), whole)
    moments = random.Random(form)
    killed = 0
    for _ in range(2):
        enough = parts_in(out) + moments.randrange(1, 4)
        process = started(table, out, "--resume", "--workers", "1")
        while process.is_alive() and parts_in(out) < enough:
            time.sleep(moments.random() / 50)
        process.kill()
        process.join()
        killed += process.exitcode == -signal.SIGKILL
        assert out.exists() or parts_in(out)
    assert killed
    run(planned(table, book, form), out, resume=True)
    assert out.read_bytes() == whole.read_bytes()
    assert undisturbed.rows == ROWS
    assert not out.with_name(out.name + ENDING).exists()


def test_killed_while_the_parts_are_put_together(tmp_path: Path, book: Rulebook, whole: bytes) -> None:
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.csv"
    dying = COMMAND.replace("from diagnose.cli", "import os\nos.replace = dying(os.replace)\nfrom diagnose.cli")
    dying = (
        "import os, signal\n"
        "def dying(move):\n"
        "    return lambda old, new: os.kill(os.getpid(), signal.SIGKILL) if str(old).endswith('whole') else move(old, new)\n"
        + dying
    )
    process = started(table, out, "--workers", "1", program=dying)
    process.join()
    assert process.exitcode == -signal.SIGKILL
    assert not out.exists()
    found = run(planned(table, book), out, resume=True)
    assert out.read_bytes() == whole
    assert found.rows == ROWS
    assert found.statuses["not read"] == ROWS // 7


def test_a_process_that_is_ended_from_outside_is_told_and_what_was_done_stays(
    tmp_path: Path, book: Rulebook, whole: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.csv"
    monkeypatch.setattr(multiprocessing, "get_context", lambda how: FORKS)

    def end_one(*_: int) -> None:
        # The others end with it; what they had done before is told all the same, and finds none to end.
        for child in multiprocessing.active_children()[:1]:
            assert child.pid is not None
            os.kill(child.pid, signal.SIGKILL)
            child.join()

    with pytest.raises(InputProblems, match="ended from outside"):
        run(planned(table, book), out, jobs=2, progress=end_one)
    assert 0 < parts_in(out) < len(list(planned(table, book).chunks()))
    run(planned(table, book), out, resume=True)
    assert out.read_bytes() == whole


def interrupted(table: Path, out: Path, book: Rulebook) -> None:
    def stop(*_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(planned(table, book), out, progress=stop)


def test_an_unfinished_run_is_neither_written_over_nor_taken_for_another(tmp_path: Path, book: Rulebook) -> None:
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.csv"
    interrupted(table, out, book)
    err = commands.run("batch", table, out).refused()
    assert "an unfinished run of this output lies here" in err
    with pytest.raises(InputProblems, match="was another one"):
        run(plan(str(table), book, Asked("us"), "csv"), out, resume=True)
    table.write_text(table.read_text().replace("net loft", "sail loft"))
    with pytest.raises(InputProblems, match="was another one"):
        run(planned(table, book), out, resume=True)
    assert parts_in(out) == 1


def test_a_damaged_part_is_told_and_made_again(tmp_path: Path, book: Rulebook) -> None:
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.csv"
    interrupted(table, out, book)
    (part,) = out.with_name(out.name + ENDING).glob("*.part")
    part.write_bytes(b"\0" * 10)
    with pytest.raises(InputProblems, match="is damaged"):
        run(planned(table, book), out, resume=True)
    part.unlink()
    assert run(planned(table, book), out, resume=True).rows == ROWS


def test_two_runs_of_one_output_do_not_mix(tmp_path: Path, book: Rulebook) -> None:
    pytest.importorskip("fcntl")
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.csv"
    told = []

    def second(*_: int) -> None:
        if not told:
            with pytest.raises(InputProblems, match="another run is at work") as error:
                run(planned(table, book), out, resume=True)
            told.append(error)

    assert run(planned(table, book), out, progress=second).rows == ROWS
    assert told


def test_a_run_that_did_nothing_leaves_nothing(tmp_path: Path, book: Rulebook) -> None:
    table, out = many(tmp_path / "in.csv", 3), tmp_path / "out.csv"
    with pytest.raises(InputProblems):
        run(planned(table, book), out, scheduler="tcp://")
    assert [path.name for path in tmp_path.iterdir()] == ["in.csv"]
