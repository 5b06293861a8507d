"""What other libraries say."""

from __future__ import annotations

from diagnose.yamlfile import printable


def first_line(error: BaseException) -> str:
    """What another library says is wrong, in one line."""
    text = str(error).strip()
    return printable(text.splitlines()[0] if text else type(error).__name__, 160)
