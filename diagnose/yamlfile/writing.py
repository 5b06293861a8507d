"""A plain mapping as YAML text, and the library's own Python files, for a program that takes them along."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml


def written(data: Mapping[str, Any]) -> str:
    """The mapping as YAML, its keys in their order, one line a value."""
    return str(yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True, width=1000))


def library() -> Iterator[tuple[str, bytes]]:
    """Name and content of each Python file of PyYAML; without its compiled part it works the same, slower."""
    for path in Path(yaml.__file__).parent.glob("*.py"):
        yield f"yaml/{path.name}", path.read_bytes()
