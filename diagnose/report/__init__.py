"""A diagnosis on paper: terminal text, Markdown. The JSON result is `Diagnosis.to_dict`."""

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, deeper, heading, item, line
from diagnose.report.first_screen import first_screen
from diagnose.report.following import next_page
from diagnose.report.layout import as_markdown, as_text, plain
from diagnose.report.pages import answer, diagnosis_page
from diagnose.report.trace import why_page
from diagnose.visit import System


def text(d: Diagnosis, units: System | None = None, full: bool = False) -> str:
    """The first screen as plain text, or all that is known; in US or SI units, those of the visit unless said."""
    d = d.told_in(units)
    return as_text(diagnosis_page(d) if full else first_screen(d))


__all__ = [
    "Block",
    "answer",
    "as_markdown",
    "as_text",
    "deeper",
    "diagnosis_page",
    "first_screen",
    "heading",
    "item",
    "line",
    "next_page",
    "plain",
    "text",
    "why_page",
]
