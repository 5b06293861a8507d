"""A diagnosis on paper: terminal text, Markdown. The JSON result is `Diagnosis.to_dict`."""

from diagnose.report.blocks import Block, deeper, heading, item, line, subheading
from diagnose.report.following import next_page
from diagnose.report.layout import as_markdown, as_text, plain
from diagnose.report.pages import answer, diagnosis_page
from diagnose.report.trace import why_page

__all__ = [
    "Block",
    "answer",
    "as_markdown",
    "as_text",
    "deeper",
    "diagnosis_page",
    "heading",
    "item",
    "line",
    "next_page",
    "plain",
    "subheading",
    "why_page",
]
