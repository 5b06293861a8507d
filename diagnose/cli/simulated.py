"""`cases run --simulated`: its options, what is wrong with them, and the run."""

from __future__ import annotations

import gc
import sys
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from diagnose.cli.shared import As, put_blocks
from diagnose.yamlfile import InputProblems, Problem

if TYPE_CHECKING:
    from diagnose.rulebook import Rulebook


class Readings(StrEnum):
    """What is measured on the simulated machines: typer takes no list of plain words."""

    basic = "basic"
    running = "running"
    airflow = "airflow"
    all = "all"


CountOption = Annotated[
    int | None,
    typer.Option("--simulated", metavar="N", help="instead: N simulated machines, and how often the answers are right"),
]
MachinesSeedOption = Annotated[
    int | None, typer.Option("--seed", metavar="S", help="which machines: the same seed, the same figures; 1")
]
ReadingsOption = Annotated[
    list[Readings] | None,
    typer.Option(
        "--readings",
        help="what is measured on them (basic: the usual eight); may be given several times, each of them unless said",
    ),
]
BaselineOption = Annotated[bool, typer.Option("--baseline", help="also with each machine's own good day")]
PairsOption = Annotated[bool, typer.Option("--pairs", help="also N machines with two faults at once")]
SlipsOption = Annotated[bool, typer.Option("--slips", help="also with swapped probes and wrong refrigerants")]
FamiliesOption = Annotated[
    Literal["plain", "seen", "unseen", "all"] | None,
    typer.Option(
        "--families",
        help="how they are built. plain: one way, with other numbers each; seen: several ways, on which the points of rules "
        "may be set; unseen: ways on which none was set; plain unless said",
    ),
]
MachinesModeOption = Annotated[
    Literal["cooling", "heating"] | None,
    typer.Option("--mode", help="what the machines do: heat pumps that heat have faults of their own; cooling"),
]
TrainOption = Annotated[
    int | None,
    typer.Option("--train", metavar="N", help="machines the classifier learns from; N and at least 1500; 0: none"),
]


def refuse(count: int | None, options: Mapping[str, Any], how: As, where: Path | None) -> None:
    """Raises InputProblems with every option that does not fit. options: all but the number of machines, as given."""
    if count is None:
        given = {f"--{name}": value for name, value in options.items()} | {f"--as {how}": how != "text"}
        fix = "Say how many machines: --simulated 500."
        there = [name for name, value in given.items() if type(value) is int or value]  # a 0 was given as well
        found = [_problem(f"{name} goes with --simulated only", fix) for name in there]
    else:
        found = []
        if where is not None:
            fix = "Leave one of the two out."
            found.append(_problem(f"--simulated makes its own machines, and {where} is given as well", fix))
        if count < 1:
            fix = "500 give a first idea, 2000 figures within ±0.02."
            found.append(_problem(f"--simulated must be 1 or more, not {count}", fix))
        if (options["seed"] or 0) < 0:
            fix = "Write any whole number, such as 7."
            found.append(_problem(f"--seed must be 0 or more, not {options['seed']}", fix))
        if options["slips"] and options["mode"] == "heating":
            fix = "Leave it out, or leave out --mode heating."
            found.append(_problem("--slips are made in cooling visits only", fix))
        if options["train"] and options["train"] < _least():
            fix = "A classifier learns nothing from fewer machines; 0 leaves it out."
            found.append(_problem(f"--train must be 0, or {_least()} or more, not {options['train']}", fix))
    if found:
        raise InputProblems(found)


def _least() -> int:
    from diagnose.evaluation.classifier import LEAST

    return LEAST


def _problem(what: str, fix: str) -> Problem:
    return Problem("", 0, 0, what, fix)


def report(count: int, options: Mapping[str, Any], how: As, book: Rulebook) -> None:
    """Runs it and prints the figures; how far it has come is shown where somebody watches."""
    from diagnose.evaluation.page import evaluation_page
    from diagnose.evaluation.running import evaluate

    gc.enable()  # `main` leaves it off for commands that take a moment; this one takes minutes
    given = {"seed": 1, "train": None} | {name: value for name, value in options.items() if value is not None}
    progress = _progress if sys.stderr.isatty() else None
    found = evaluate(count=count, **given, rules=book, progress=progress)
    put_blocks(evaluation_page(found), how, found.to_dict())


def _progress(done: int, count: int) -> None:
    if done == count:
        sys.stderr.write("\r" + " " * 40 + "\r")
    elif done % 10 == 0:
        sys.stderr.write(f"\r{done} of {count} machines")
    sys.stderr.flush()
