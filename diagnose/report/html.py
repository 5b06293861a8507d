"""Pages made from the templates. The only importer of Jinja2."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(template: str, values: dict[str, Any]) -> str:
    """A whole page, everything in it escaped; without a script, and without anything from a network."""
    return _environment().get_template(template).render(values)


def slug(text: str) -> str:
    """A name as it can stand in an address inside the page."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
