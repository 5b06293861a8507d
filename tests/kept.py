"""Visits to keep: real ones as text, and entries made up where nobody need examine them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from diagnose.diagnosis.story import Figure, Look, Story
from diagnose.store import VisitEntry

NAME = "Bäckerei, dach"


def visit_text(date: str = "2026-04-03", name: str = NAME, liquid: float = 93.5, more: str = "") -> str:
    """A valve machine whose subcooling falls as `liquid`, the liquid line, °F, rises."""
    return f"""# as it was written: {name!r}
machine: {{name: "{name}", mode: cooling, refrigerant: R-410A, metering: TXV, nominal capacity: 3 ton,
  SEER: 14, rated subcooling: 10 F}}
date: {date}
readings: {{minutes running: 20, suction pressure: 124 psig, liquid pressure: 326 psig, suction line temperature: 54 F,
  liquid line temperature: {liquid} F, outdoor air temperature: 84 F, return air dry bulb: 77 F, return air wet bulb: 64 F,
  supply air dry bulb: 58.5 F}}
{more}"""


def told(**but: object) -> Story:
    """A machine that is right."""
    usual: dict[str, object] = {
        "status": "diagnosed", "system": "us", "fault": "nothing-wrong", "name": "Nothing wrong", "strength": "strong",
        "share": 0.9, "verdict": "right", "right": True, "mode": "cooling", "outdoor": 302.0, "worked": False, "figures": {},
    }  # fmt: skip
    return Story(**{**usual, **but})  # type: ignore[arg-type]


def entry(text: str, machine: str = NAME, date: str = "2026-04-03", book: str = "b" * 64, **but: object) -> VisitEntry:
    own = hashlib.sha256(text.encode()).hexdigest()[:32]
    return VisitEntry(own, machine, date, text, book, "0.1.0", told(**but), {"format": 2})


def subcooled(date: str, off: float, sigma: float = 0.4, **but: object) -> Look:
    """A visit whose subcooling stands so far off what it should be, K."""
    figure = Figure(5.5 + off, sigma, 5.5, "maker", off, sigma, wander=0.3, low=3.9, high=7.2)
    return Look(date.replace("-", "") * 4, date, told(**{"figures": {"subcooling": figure}, **but}))


def looks(offs: Sequence[float], **but: object) -> list[Look]:
    """One on the first of each month."""
    return [subcooled(f"2026-{month:02}-01", off, **but) for month, off in enumerate(offs, 3)]
