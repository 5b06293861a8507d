"""The stylesheet: every pair of colors that carries text is told apart (WCAG 2.2, AA), light and dark, and nothing moves."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

CSS = files("diagnose.page").joinpath("static", "page.css").read_text()
TEXT = [
    ("ink", "paper"), ("ink", "field"), ("ink", "note"), ("soft", "paper"), ("soft", "note"), ("this", "paper"),
    ("this", "field"), ("this", "note"), ("stop", "paper"), ("stop", "stop-paper"), ("stop", "note"),
]  # fmt: skip
EDGES = [("line", "paper"), ("line", "note"), ("this", "paper")]
"""Borders of fields and what shows the focus: 3 to 1 is enough."""


def colors(scheme: str) -> dict[str, str]:
    light, dark = re.findall(r":root \{(.*?)\}", CSS, re.DOTALL)
    return dict(re.findall(r"--([\w-]+): (#\w+)", light if scheme == "light" else dark))


def luminance(color: str) -> float:
    """Relative luminance as WCAG 2.2 defines it, of `#abc` or `#aabbcc`."""
    digits = color[1:] if len(color) == 7 else "".join(2 * digit for digit in color[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_known_pairs() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#fff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_and_edges_stand_out(scheme: str) -> None:
    known = colors(scheme)
    assert [pair for pair in TEXT if contrast(known[pair[0]], known[pair[1]]) < 4.5] == []
    assert [pair for pair in EDGES if contrast(known[pair[0]], known[pair[1]]) < 3] == []


def test_both_schemes_name_the_same_colors_and_no_other_color_is_used_but_on_paper() -> None:
    assert colors("light").keys() - colors("dark").keys() == set()
    assert set(re.findall(r"#[0-9a-f]{3,6}(?=[; ])", CSS)) <= {
        *colors("light").values(),
        *colors("dark").values(),
        "#000",
    }


def test_nothing_moves_by_itself() -> None:
    assert re.findall(r"animation|transition|scroll-behavior: smooth", CSS) == []


def test_no_text_on_a_screen_is_smaller_than_16_px() -> None:
    screen = CSS.partition("@media print")[0]
    base = float(re.findall(r"html \{ font: (\d+)px", screen)[0])
    sizes = [base * float(size) for size in re.findall(r"font-size: ([\d.]+)rem", screen)]
    assert len(sizes) > 3
    assert min(sizes) >= 16
