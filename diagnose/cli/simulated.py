"""`cases run --simulated`: its options, what is wrong with them, and the run."""

from __future__ import annotations

import gc
import sys
from dataclasses import dataclass, fields
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from diagnose.cli.shared import As, put_blocks
from diagnose.yamlfile import InputProblems, Problem

if TYPE_CHECKING:
    from diagnose.rulebook import Rulebook
    from diagnose.simulator import Families, Mode


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


@dataclass(frozen=True, slots=True)
class SimulatedRun:
    """The options as they were given."""

    simulated: int | None
    seed: int | None
    readings: list[Readings] | None
    baseline: bool
    pairs: bool
    slips: bool
    train: int | None
    families: Families | None
    mode: Mode | None
    how: As


def refuse(asked: SimulatedRun, where: Path | None) -> None:
    """Raises InputProblems with every option that does not fit."""
    if asked.simulated is None:
        given = {f"--{option.name}": getattr(asked, option.name) for option in fields(asked)[1:-1]}
        given[f"--as {asked.how}"] = asked.how != "text"
        fix = "Say how many machines: --simulated 500."
        there = [name for name, value in given.items() if type(value) is int or value]  # a 0 was given as well
        found = [_problem(f"{name} goes with --simulated only", fix) for name in there]
    else:
        found = []
        if where is not None:
            fix = "Leave one of the two out."
            found.append(_problem(f"--simulated makes its own machines, and {where} is given as well", fix))
        if asked.simulated < 1:
            fix = "500 give a first idea, 2000 figures within ±0.02."
            found.append(_problem(f"--simulated must be 1 or more, not {asked.simulated}", fix))
        if asked.seed is not None and asked.seed < 0:
            found.append(_problem(f"--seed must be 0 or more, not {asked.seed}", "Write any whole number, such as 7."))
        if asked.slips and asked.mode == "heating":
            found.append(
                _problem("--slips are made in cooling visits only", "Leave it out, or leave out --mode heating.")
            )
        if asked.train is not None and asked.train != 0 and asked.train < _least():
            fix = "A classifier learns nothing from fewer machines; 0 leaves it out."
            found.append(_problem(f"--train must be 0, or {_least()} or more, not {asked.train}", fix))
    if found:
        raise InputProblems(found)


def _least() -> int:
    from diagnose.evaluation.classifier import LEAST

    return LEAST


def _problem(what: str, fix: str) -> Problem:
    return Problem("", 0, 0, what, fix)


def report(asked: SimulatedRun, book: Rulebook) -> None:
    """Runs it and prints the figures; how far it has come is shown where somebody watches."""
    from diagnose.evaluation import READINGS, evaluate, evaluation_page

    gc.enable()  # `main` leaves it off for commands that take a moment; this one takes minutes
    found = evaluate(
        1 if asked.seed is None else asked.seed,
        asked.simulated or 0,
        readings=[str(name) for name in asked.readings or ()] or tuple(READINGS),
        baseline=asked.baseline,
        pairs=asked.pairs,
        slips=asked.slips,
        train=asked.train,
        families=asked.families or "plain",
        mode=asked.mode or "cooling",
        rules=book,
        progress=_progress if sys.stderr.isatty() else None,
    )
    put_blocks(evaluation_page(found), asked.how, found.to_dict())


def _progress(done: int, count: int) -> None:
    if done == count:
        sys.stderr.write("\r" + " " * 40 + "\r")
    elif done % 10 == 0:
        sys.stderr.write(f"\r{done} of {count} machines")
    sys.stderr.flush()
