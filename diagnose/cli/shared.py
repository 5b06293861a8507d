"""What all commands share: options, pages printed or written to a file, leaving with a list of problems."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, NoReturn, get_args

import typer
from typer.core import TyperGroup

from diagnose.yamlfile import InputProblems, files

if TYPE_CHECKING:  # what the commands need is imported when they run, so that --help is quick
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook


class Commands(TyperGroup):
    """Every command: what cannot be used is listed, and the command left with 2."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Its own parameters."""
        return _quick(super().get_params(ctx))

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of that name."""
        command = super().get_command(ctx, cmd_name)
        if command:
            _quick(command.get_params(ctx))
        return command

    def invoke(self, ctx: Any) -> Any:
        """Runs the one that was asked for."""
        try:
            return super().invoke(ctx)
        except InputProblems as error:
            stop(error)


def _quick(params: list[Any]) -> list[Any]:
    """Typer loads pydantic to look at what it is given, a quarter of the time of `examine`: not for what is plainly right."""
    for param in (one for one in params if hasattr(one, "type_descriptor")):  # older ones need no pydantic
        vars(param)["process_value"] = partial(_taken, param)
    return params


def _taken(param: Any, ctx: Any, value: Any) -> Any:
    kind = param.type_descriptor.annotation
    if value is None and not param.required:
        value = () if param.multiple or param.nargs == -1 else None
    elif not (type(value) is str and (kind is str or value in get_args(kind))):
        return type(param).process_value(param, ctx, value)
    return param.callback(ctx, param, value) if param.callback else value


def group(text: str, commands: type[Commands] = Commands) -> typer.Typer:
    """A set of commands with its help."""
    return typer.Typer(
        cls=commands,
        help=text,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )


As = Literal["text", "json", "markdown", "html"]
"""How an answer is written."""

Units = Literal["us", "si"]
"""Units of the answer."""

NEGATIVE = {"ignore_unknown_options": True}  # `-20 F` is a temperature, not an option
VisitFile = Annotated[str, typer.Argument(metavar="VISIT", help="A visit file; - reads standard input.")]
AsOption = Annotated[As, typer.Option("--as", help="text, json, markdown or html")]
MachineOption = Annotated[
    str | None,
    typer.Option(
        "--machine",
        metavar="VISIT",
        help="of a log: a visit file that says what the machine is; else LOG.yaml beside it",
    ),
]
PageOption = Annotated[
    As | None, typer.Option("--as", help="text, json, markdown or html; by the ending of the file with -o")
]


def to_file(output: Path | None) -> Path | None:
    """`-` is standard output, as if no file were named."""
    return None if output is not None and str(output) == files.STANDARD_OUTPUT else output


OutOption = Annotated[
    Path | None,
    typer.Option("-o", "--output", metavar="FILE", help="write it to this file; - prints it", callback=to_file),
]
UnitsOption = Annotated[Units | None, typer.Option("--units", help="us or si; those of the visit unless said")]
ModeOption = Annotated[
    Literal["cooling", "heating"], typer.Option("--mode", help="a machine that cools, or one that heats")
]
OneOfUnits = Annotated[Units, typer.Option("--units", help="us or si")]  # where no visit says in which it was read
RulesOption = Annotated[
    list[Path] | None,
    typer.Option("--rules", help="a folder of your own rules, laid over the shipped ones; may be given several times"),
]
DraftsOption = Annotated[bool, typer.Option("--drafts", help="what your rules mark as a draft speaks as well")]
AltitudeOption = Annotated[str | None, typer.Option("--altitude", help="altitude of the site, for example '5000 ft'")]

_BY_ENDING: dict[str, As] = {".html": "html", ".htm": "html", ".md": "markdown", ".json": "json"}


def form(how: As | None, output: Path | None) -> As:
    """How a page is written: as was asked for, else by the ending of the file, else as text."""
    return how or (_BY_ENDING.get(output.suffix.lower(), "text") if output else "text")


def put(text: str) -> None:
    """Prints, in characters that the output can show."""
    from diagnose.report import plain

    sys.stdout.write(plain(text, sys.stdout.encoding or "ascii"))
    sys.stdout.flush()


def put_markup(text: str) -> None:
    """Prints HTML or SVG: both are read as UTF-8, so an output that is not has characters beyond ASCII by their number."""
    put(text if _utf8() else text.encode("ascii", "xmlcharrefreplace").decode())


def _utf8() -> bool:
    return (sys.stdout.encoding or "ascii").lower().startswith("utf")


def columns(output: Path | None = None) -> int:
    """How wide text is written: as the terminal, 80 characters at the most; in a file, 80."""
    return 80 if output else min(shutil.get_terminal_size((80, 24)).columns, 80)


def put_blocks(
    blocks: Sequence[Block] | Callable[[], Sequence[Block]],
    how: As | None,
    data: Mapping[str, Any] | Callable[[], Mapping[str, Any]],
    output: Path | None = None,
    contents: bool = False,
    fold: bool = False,
    template: str = "lesson.html",
) -> None:
    """Prints a page the way it was asked for, or writes it over this file. Raises InputProblems.

    Only the form that is asked for is made, where a function is given. data: what a program gets. contents: a
    long web page begins with a list of its sections.
    """
    how = form(how, output)
    put_page(page_text(blocks, how, data, output, contents, fold, template), how, output)


def page_text(
    blocks: Sequence[Block] | Callable[[], Sequence[Block]],
    how: As,
    data: Mapping[str, Any] | Callable[[], Mapping[str, Any]],
    output: Path | None = None,
    contents: bool = False,
    fold: bool = False,
    template: str = "lesson.html",
) -> str:
    """A page as text, Markdown or HTML; or its data as JSON."""
    if how == "json":
        return json_text(data() if callable(data) else data, output)
    blocks = blocks() if callable(blocks) else blocks
    if how == "html":  # the templates are loaded for this alone
        from diagnose.report.webpage import web_page

        return web_page(blocks, contents, fold, template)
    from diagnose import report

    return report.as_markdown(blocks) if how == "markdown" else report.as_text(blocks, columns(output))


def json_text(data: Mapping[str, Any], output: Path | None = None) -> str:
    """One JSON document; in ASCII where it is printed and the output knows no more."""
    return json.dumps(data, ensure_ascii=output is None and not _utf8(), indent=2, allow_nan=False) + "\n"


def put_page(text: str, how: As, output: Path | None, over: bool = True) -> None:
    """Prints it; or writes it to this file, and says so. over: it may replace a page. Raises InputProblems."""
    if output is not None:
        files.write(output, text, over)
        put(written(output, text))
    elif how == "html":
        put_markup(text)
    else:
        put(text)


def written(output: Path, text: str) -> str:
    """The sentence after a file was written."""
    return f"Written: {output}, {max(1, round(len(text.encode()) / 1024))} kB.\n"


def refuse_to_write(output: Path | None, over: bool = True, visit: str = "") -> None:
    """Raises InputProblems where a page could not be written: before the work. over, visit: as for `files.write`."""
    if output is not None:
        files.refuse(output, over, visit)


def stop(error: InputProblems) -> NoReturn:
    """Lists every problem and leaves with 2."""
    from diagnose.report import plain

    text = "\n".join(f"{problem}" for problem in error.problems)
    count = len(error.problems)
    closing = f"\n{count} problem{'s' if count != 1 else ''} to mend." if count > 1 else ""
    sys.stderr.write(plain(f"{text}\n{closing}".rstrip() + "\n", sys.stderr.encoding or "ascii"))
    raise typer.Exit(2)


def book_of(folders: Sequence[Path] | None, drafts: bool = False, told: bool = False) -> Rulebook:
    """The shipped rules with these folders laid over them; what can be used of them, so that a visit is never stopped.

    Where others judge than were asked for, that is said beside the answer; told: the answer says it itself.
    """
    from diagnose.rulebook import usable_rules

    book = usable_rules(*(folders or ()), drafts=drafts)
    if book.unfit and not told:
        from diagnose.report import plain
        from diagnose.report.dangers import unfit_text

        sys.stderr.write(plain(f"{unfit_text(book.unfit)}\n", sys.stderr.encoding or "ascii"))
    return book


def sound_book(folders: Sequence[Path] | None, drafts: bool = False) -> Rulebook:
    """The same for work on the rules themselves. Raises RuleError with every mistake."""
    from diagnose.rulebook import load_rules

    return load_rules(*(folders or ()), drafts=drafts)
