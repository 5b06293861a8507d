"""Why something cannot be used, as one problem without a line."""

from __future__ import annotations

from diagnose.yamlfile import InputProblems, Problem, printable


def refusal(place: object, what: str, fix: str) -> InputProblems:
    """To be raised. place: a file, a folder, an address; empty where there is none."""
    return InputProblems([Problem(printable(str(place), 200), 0, 0, what, fix)])


def first_line(error: BaseException) -> str:
    """What another library says is wrong, in one line."""
    text = str(error).strip()
    return printable(text.splitlines()[0] if text else type(error).__name__, 160)
