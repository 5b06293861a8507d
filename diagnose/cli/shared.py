"""What all commands share: options, printing, leaving with a list of problems."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from diagnose.yamlfile import InputProblems

if TYPE_CHECKING:  # what the commands need is imported when they run, so that --help is quick
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook


def group(text: str) -> typer.Typer:
    """A set of commands with its help."""
    return typer.Typer(
        help=text, no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None
    )


class As(StrEnum):
    """How an answer is written."""

    text = "text"
    json = "json"
    markdown = "markdown"


class Units(StrEnum):
    """Units of the answer."""

    us = "us"
    si = "si"


NEGATIVE = {"ignore_unknown_options": True}  # `-20 F` is a temperature, not an option
VisitFile = Annotated[str, typer.Argument(metavar="VISIT", help="A visit file; - reads standard input.")]
AsOption = Annotated[As, typer.Option("--as", help="text, json or markdown")]
UnitsOption = Annotated[Units | None, typer.Option("--units", help="us or si; those of the visit unless said")]
RulesOption = Annotated[
    list[Path] | None,
    typer.Option("--rules", help="a folder of your own rules, laid over the shipped ones; may be given several times"),
]
AltitudeOption = Annotated[str | None, typer.Option("--altitude", help="of the place, for example '5000 ft'")]


def put(text: str) -> None:
    """Prints, in signs that the output can show."""
    from diagnose.report import plain

    try:
        sys.stdout.write(plain(text, sys.stdout.encoding or "ascii"))
        sys.stdout.flush()
    except BrokenPipeError:  # `diagnose … | head` is no error: nobody reads the rest
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def put_blocks(blocks: Sequence[Block], how: As, data: dict[str, Any]) -> None:
    """Prints a page the way it was asked for."""
    from diagnose import report

    if how is As.json:
        ascii_only = not (sys.stdout.encoding or "ascii").lower().startswith("utf")
        put(json.dumps(data, ensure_ascii=ascii_only, indent=2, allow_nan=False) + "\n")
    elif how is As.markdown:
        put(report.as_markdown(blocks))
    else:
        put(report.as_text(blocks, min(shutil.get_terminal_size((80, 24)).columns, 80)))


def stop(error: InputProblems) -> NoReturn:
    """Lists every problem and leaves with 2."""
    from diagnose.report import plain

    text = "\n".join(f"{problem}" for problem in error.problems)
    count = len(error.problems)
    closing = f"\n{count} problem{'s' if count != 1 else ''} to mend." if count > 1 else ""
    sys.stderr.write(plain(f"{text}\n{closing}".rstrip() + "\n", sys.stderr.encoding or "ascii"))
    raise typer.Exit(2)


def book_of(folders: Sequence[Path] | None) -> Rulebook:
    """The shipped rules with these folders laid over them."""
    from diagnose.rulebook import load_rules

    return load_rules(*(folders or ()))
