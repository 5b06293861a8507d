"""What a technician does before leaving, whatever was found: short, the same at the end of every visit."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, brief

CIRCUIT = ("valve caps with their seals back on and snug", "valve cores and new joints checked for leaks")
"""Where gauges were on, or the circuit was opened."""
CLOSING = (
    "panels and covers closed",
    "filter clean and in place",
    "thermostat back as the customer had it",
)
"""Common practice, no source."""
_KEEP = "these readings kept as the machine’s next good day (`baseline:`)"


def closing(d: Diagnosis) -> tuple[str, ...]:
    """The list for this visit: its readings are kept as a good day only where they are whole and nothing is wrong."""
    gauged = bool(d.visit.weighed) or any(r.field.instrument == "gauges" for r in d.visit.last.readings.values())
    begin = CIRCUIT if gauged else ()
    right = bool(d.faults) and d.rules.faults[d.faults[0].fault].charge == "right" and d.faults[0].strength != "weak"
    good = right and gauged and not d.stop
    return (*begin, *CLOSING, _KEEP) if good else (*begin, *CLOSING)


def closing_brief(d: Diagnosis) -> Iterator[Block]:
    """The list as one part of a first screen; a machine that must be stopped is not left like that."""
    if d.stop:
        return
    yield brief("Before you leave:", f"{'; '.join(closing(d))}.")
