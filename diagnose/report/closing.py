"""What a technician does before leaving, whatever was found: short, the same at the end of every visit."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, brief

CLOSING = (
    "valve caps with their seals back on, finger tight and snug",
    "valve cores and new joints checked for leaks",
    "panels and covers closed",
    "filter clean and in place",
    "thermostat back as the customer had it",
)
"""Common practice, no source."""
_KEEP = "these readings kept as the machine’s next good day (`baseline:`)"


def closing(d: Diagnosis) -> tuple[str, ...]:
    """The list for this visit: its readings are kept as a good day only where nothing is wrong."""
    good = bool(d.faults) and d.rules.faults[d.faults[0].fault].charge == "right" and not d.dangers
    return (*CLOSING, _KEEP) if good else CLOSING


def closing_brief(d: Diagnosis) -> Iterator[Block]:
    """The list as one part of a first screen."""
    yield brief("Before you leave:", f"{'; '.join(closing(d))}.")
