"""Pages made from the templates. The only importer of Jinja2."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["told"] = told
    return made


_WHOLE = re.compile(r"\bR-\d+\w*|\b\d{4}-\d\d-\d\d\b")


def told(text: str) -> Markup:
    """A sentence with what stands between backticks set as code; all of it escaped. A refrigerant's name and a date are
    not broken at their hyphens."""
    marked = re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text)))
    return Markup(_WHOLE.sub(r'<span class="whole">\g<0></span>', marked))


def page(template: str, values: dict[str, Any]) -> str:
    """A whole page, everything in it escaped; without a script, and without anything from a network."""
    return _environment().get_template(template).render(values)


def slug(text: str) -> str:
    """A name as it can stand in an address inside the page."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
