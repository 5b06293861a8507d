"""judgement.yaml at the door: its shape, made from the groups of figures, and its figures turned into SI."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, Field, create_model

from diagnose.quantities.baseline import KINDS as QUANTITIES
from diagnose.quantities.judged import FigureSpec
from diagnose.rulebook.entries import FigureAsWritten, JudgedFigure
from diagnose.rulebook.fields import Source, Why, Written, near, no_truth
from diagnose.rulebook.judgement import ORDERED, FigurePart, groups, parts, specs, values_of

TellMistake = Callable[..., None]
"""Takes a mistake: the place in the file, what is wrong, how to mend it; `key`: whether the name there is meant."""
One = Annotated[str | int | float, BeforeValidator(no_truth)]
Value = One | list[One]


class WrittenFigure(Written):
    """One figure, or several that belong together, with their unit where they have one; why; and where it is from."""

    value: Value = Field(description="The figure, with its unit where it has one; several as a list.")
    why: Why
    source: Source


def _row(kind: type) -> type[BaseModel]:
    """One row of a table: its figures side by side, with one reason."""
    found: dict[str, Any] = {}
    for part in parts(kind):
        assert part.spec is not None
        said = _between(part.spec)
        found[part.name] = (
            (Value, Field(description=said))
            if part.spec.absent is ...
            else (Value | None, Field(None, description=said))
        )
    return create_model(
        f"Written{kind.__name__}Row",
        __base__=Written,
        __doc__="One row.",
        **found,
        why=(Why, ...),
        source=(Source, ...),
    )


def _table(part: FigurePart) -> Any:
    assert part.rows is not None
    row = _row(part.rows.of)
    if part.rows.names is None:
        return dict[str, row]  # type: ignore[valid-type]
    names: dict[str, Any] = {name: (row, Field(description=f"What holds for: {name}.")) for name in part.rows.names}
    return create_model(f"Written{part.rows.of.__name__}s", __base__=Written, __doc__="One row a name.", **names)


def _title(group: str) -> str:
    return group.title().replace(" ", "")


def _group(name: str, kind: type) -> type[BaseModel]:
    found: dict[str, Any] = {
        p.name: (WrittenFigure if p.rows is None else _table(p), Field(description=_between(p.spec)))
        for p in parts(kind)
    }
    return create_model(f"Written{_title(name)}", __base__=Written, __doc__=kind.__doc__, **found)


def _between(spec: FigureSpec | None) -> str:
    """Which kind of figure, between what; of a table that it is one."""
    if spec is None:
        return "One row a name, each with its reason."
    if spec.kind == "word":
        return f"One of: {', '.join(spec.words)}."
    some = "From" if spec.count == 1 else f"{spec.count} figures, each from"
    return f"{some} {spec.low} to {spec.high}{'' if spec.absent is ... else '; may be left out'}."


_GROUPS: dict[str, Any] = {
    name: (_group(name, kind), Field(description=f"{re.split('[.:,]', str(kind.__doc__))[0]}."))
    for name, kind in groups().items()
}
JudgementFile: type[BaseModel] = create_model("JudgementFile", __base__=Written, __doc__="judgement.yaml.", **_GROUPS)


def figures_of(entry: BaseModel, told: TellMistake) -> dict[str, JudgedFigure]:
    """Every figure of the file by its name, SI; those that cannot stand there are told and left out."""
    written: dict[str, tuple[tuple[str, ...], JudgedFigure]] = {}
    for group, kind in groups().items():
        values = getattr(entry, group)
        for part in parts(kind):
            one = getattr(values, part.name)
            at: tuple[str, ...] = (group, part.name)
            if part.rows is None:
                written["/".join(at)] = ((*at, "value"), _raw(at, one.value, one))
                continue
            table = one if isinstance(one, dict) else {row: getattr(one, row) for row in part.rows.names or ()}
            for row, figures in table.items():
                if row not in QUANTITIES and part.rows.names is None:
                    told((*at, row), f"`{row}` is not a quantity", near(row, list(QUANTITIES)), key=True)
                    continue
                for cell in parts(part.rows.of):
                    value = getattr(figures, cell.name)
                    if value is not None:
                        here = (*at, row, cell.name)
                        written["/".join(here)] = (here, _raw(here, value, figures))
    found: dict[str, JudgedFigure] = {}
    wanted = specs({name: figure for name, (_, figure) in written.items()})
    for name, (at, figure) in written.items():
        compiled = compiled_figure(figure, figure.written, wanted[name], partial(told, at))
        if compiled is not None:
            found[name] = compiled
    for name, what, fix in out_of_order(found):
        told(written[name][0], what, fix)
    return found


def compiled_figure(
    figure: JudgedFigure, written: tuple[FigureAsWritten, ...], spec: FigureSpec, told: Callable[[str, str], None]
) -> JudgedFigure | None:
    """The figure as it is written, in SI; None where it cannot stand there, and why is told."""
    try:
        value = values_of(written, spec)
    except ValueError as error:
        told(str(getattr(error, "what", error)), str(getattr(error, "fix", "")))
        return None
    return JudgedFigure(figure.figure, value, written, figure.why, figure.source)


def out_of_order(figures: dict[str, JudgedFigure]) -> list[tuple[str, str, str]]:
    """(figure, what is wrong, how to mend it) for each that must be larger than another and is not."""
    pairs = [*ORDERED]
    for name in figures:
        row, slash, cell = name.rpartition("/")
        if slash and cell == "low" and f"{row}/high" in figures:
            pairs.append((name, f"{row}/high"))
    found = []
    for less, more in pairs:
        if less in figures and more in figures and not figures[less].value < figures[more].value:
            what = f"`{more}` is not above `{less}`"
            fix = f"`{less}` is {figures[less].written[0]}: write more here, or less there."
            found.append((more, what, fix))
    return found


def _raw(at: tuple[str, ...], value: Any, entry: Any) -> JudgedFigure:
    written = tuple(value) if isinstance(value, list) else (value,)
    return JudgedFigure("/".join(at), (), written, entry.why, tuple(entry.source))
