"""Where the shipped rules and cases lie: beside the package in a checkout, inside it in an installed wheel."""

from functools import lru_cache
from pathlib import Path

VERSION = "0.1.0"


@lru_cache(maxsize=4)
def shipped(folder: str) -> Path:
    """The folder `rules` or `cases` that travels with this version."""
    here = Path(__file__).resolve().parent
    inside = here / "shipped" / folder
    return inside if inside.is_dir() else here.parent / folder
