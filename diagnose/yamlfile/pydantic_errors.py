"""What pydantic finds in a file, in plain words and with its place."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from diagnose.yamlfile.events import MOST_PROBLEMS
from diagnose.yamlfile.problems import Document, Path, Problem, did_you_mean, printable

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError


def model_problems(document: Document, error: "ValidationError", model: type["BaseModel"]) -> list[Problem]:
    """What pydantic found in a document that should be this model, in plain words and with positions.

    A validator may raise an error with `what` and `fix`, as UnitError has; both are kept.
    """
    grouped: dict[tuple[Path, bool], list[Any]] = {}
    for one in error.errors(include_url=False):
        path, key = _data_path(document.data, one)
        grouped.setdefault((path, key), []).append(one)
    problems: dict[Problem, None] = {}
    for (path, key), errors in grouped.items():
        for what, fix in _in_words(path, errors, model):
            problems[document.problem(path, what, fix, key)] = None
        if len(problems) >= MOST_PROBLEMS:
            break
    return sorted(problems, key=lambda problem: (problem.line, problem.column))


def _names(model: type["BaseModel"], path: Path) -> Iterable[str]:
    """The names that may stand at a path of the model."""
    at: Any = model
    for step in path:
        if not isinstance(step, int):
            fields = getattr(at, "model_fields", {})
            if step not in fields:
                return ()
            at = _inner(fields[step].annotation)
    return getattr(at, "model_fields", ())


def _inner(annotation: Any) -> Any:
    """What a list or a group holds, or a union besides nothing."""
    while arguments := [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]:
        annotation = arguments[-1]
    return annotation


_WANTED = {  # pydantic's error type, without `_type` or `_parsing`
    "string": "a text",
    "list": "a list",
    "dict": "a group of fields",
    "model": "a group of fields",
    "int": "a whole number",
    "int_from_float": "a whole number",
    "float": "a number",
    "bool": "true or false",
}

_BOUNDS = {  # pydantic's error type -> in words, and the name of the limit in its context
    "greater_than_equal": ("at least", "ge"),
    "less_than_equal": ("at most", "le"),
}


def _step(data: object, part: str | int, otherwise: object) -> object:
    """One level down, if there is one."""
    if isinstance(data, Mapping) and part in data:
        return data[part]
    if isinstance(data, list | tuple) and isinstance(part, int) and 0 <= part < len(data):
        return data[part]
    return otherwise


def _data_path(data: object, error: Any) -> tuple[Path, bool]:
    """pydantic's location without its own inventions (union members, validators), and whether the name is meant."""
    location: Path = error["loc"]
    key = error["type"] == "extra_forbidden"
    if location and location[-1] == "[key]":
        location, key = location[:-1], True
    nowhere = object()
    path: list[str | int] = []
    for part in location:
        below = _step(data, part, nowhere)
        if below is not nowhere:
            path.append(part)
            data = below
    if error["type"] == "missing":
        path.append(location[-1])
    return tuple(path), key


def _in_words(path: Path, errors: list[Any], model: type["BaseModel"]) -> Iterator[tuple[str, str]]:
    """Errors at one place, as (what, fix). The members of a union each complain; they are told as one."""
    name = f"`{printable(str(path[-1]))}`" if path and isinstance(path[-1], str) else "this"
    if path and isinstance(path[-1], int):
        name = f"item {path[-1] + 1} of the list"
    types = [error for error in errors if _wanted(error)]
    others = [error for error in errors if not _wanted(error)]
    if not others:
        wanted = list(dict.fromkeys(_wanted(error) for error in types))
        written = types[0]["input"]
        if not path:
            yield _whole(written, model)
        else:
            yield f"{name} must be {' or '.join(wanted)}, not {_a_thing(written)}", _how_to_write(wanted, written)
    for error in others:
        yield _one_in_words(name, path, error, model)


def _whole(written: object, model: type["BaseModel"]) -> tuple[str, str]:
    """A file that is no group of fields at all."""
    fields = model.model_fields
    first = next((name for name, field in fields.items() if field.is_required()), next(iter(fields)))
    fix = f"It begins with `{first}:`."
    if written is None:
        return "there is nothing in this file", fix
    return f"the file must be a group of fields, not {_a_thing(written)}", fix


def _how_to_write(wanted: list[str], written: object) -> str:
    """One sentence: how what is expected looks, seen from what is there."""
    if written is None and wanted != ["a group of fields"]:
        below = wanted == ["a list"]
        return "Write its entries below, each beginning with `- `." if below else "Write it after the colon."
    if {"a number", "a list"} <= set(wanted):
        return "Write a number alone, as `2`, or a list, as `[5 F, 20 F]`."
    if "a text" in wanted:
        if isinstance(written, list) and written and isinstance(written[0], str):
            return f"Write one alone: `{_bare(written[0])}`."
        if isinstance(written, Mapping | list):
            return "Put a text with a colon, a comma or a bracket in it between quotes."
        return f'Put it between quotes: "{_bare(written)}".'
    if "a list" in wanted:
        one = isinstance(written, str | int | float) and not isinstance(written, bool)
        return f"Write `[{_bare(written)}]`." if one else "Begin each of its entries with `- `."
    if "a group of fields" in wanted:
        return "Write `name: value`, each on a line of its own, or `{name: value, name: value}`."
    if "true or false" in wanted:
        return "Write `true` or `false`."
    whole = "a whole number" in wanted
    if isinstance(written, str) and re.fullmatch(r"[-+]?[0-9]+,[0-9]+", written) and not whole:
        return f"Write a decimal point: `{written.replace(',', '.')}`."
    return f"Write the number alone, for example `{2 if whole else 1.5}`."


def _bare(value: object) -> str:
    try:
        return str(value).lower() if isinstance(value, bool) else printable(str(value), 30)
    except ValueError:  # Python refuses to print very long whole numbers
        return "a very long one"


def _wanted(error: Any) -> str:
    kind: str = error["type"]
    return _WANTED.get(kind.removesuffix("_type").removesuffix("_parsing"), "")


def _one_in_words(name: str, path: Path, error: Any, model: type["BaseModel"]) -> tuple[str, str]:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return f"{name} is missing", "Add it to this entry."
    if kind == "extra_forbidden":
        allowed = sorted(_names(model, path[:-1]))
        below = [n for n in allowed if path and str(path[-1]) in tuple(_names(model, (*path[:-1], n)))]
        near = (
            f"It belongs under `{below[0]}:`."
            if len(below) == 1
            else did_you_mean(str(path[-1]), allowed)
            if path
            else ""
        )
        listed = f"Known here: {', '.join(allowed)}." if allowed else "Take it out."
        if error["input"] is None and not near:  # `{why: hot, humid air}`: the comma begins a new name
            listed = f"Put a text with a comma in it between quotes. {listed}"
        return f"{name} is not a field here", near or listed
    if kind == "literal_error":
        allowed = re.findall(r"'([^']*)'", context.get("expected", ""))
        written = error["input"]
        if not isinstance(written, str):
            return f"{name} must be one of its words, not {_a_thing(written)}", f"Write one of: {', '.join(allowed)}."
        near = did_you_mean(written, allowed)
        return f"`{printable(written)}` is not known for {name}", near or f"Write one of: {', '.join(allowed)}."
    cause = context.get("error")
    if isinstance(cause, Exception):
        return str(getattr(cause, "what", cause)), str(getattr(cause, "fix", ""))
    if kind == "string_too_short":
        return f"{name} is empty", "Write something, or leave it out if it is not needed."
    if kind in _BOUNDS:
        words, limit = _BOUNDS[kind]
        return f"{name} must be {words} {context[limit]:g}, not {_bare(error['input'])}", "Check the number."
    if kind == "string_pattern_mismatch":
        return f"`{printable(str(error['input']))}` is not a date", "Year-month-day, for example `2026-03-31`."
    message = re.sub(r"^(?:Input|String|List|Dictionary|Tuple|Set|Value) ", "", error["msg"])
    return f"{name} {message}", "Check how the entries beside it are written."


def _a_thing(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {_bare(value)}"
    if isinstance(value, str):
        return f"`{printable(value, 30)}`"
    if isinstance(value, Mapping):
        return "a group of fields"
    return "a list" if isinstance(value, list | tuple) else "something else"
