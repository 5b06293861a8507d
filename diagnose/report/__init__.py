"""A diagnosis on paper: terminal text, Markdown. The JSON result is `Diagnosis.to_dict`."""

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, deeper, heading, item, line
from diagnose.report.first_screen import first_screen
from diagnose.report.layout import as_markdown, as_text, plain
from diagnose.visit import System


def text(d: Diagnosis, units: System | None = None, full: bool = False) -> str:
    """The first screen as plain text, or all that is known; in US or SI units, those of the visit unless said."""
    d = d.told_in(units)
    if not full:
        return as_text(first_screen(d))
    from diagnose.report.pages import diagnosis_page  # the whole page loads half as much again

    return as_text(diagnosis_page(d))
