"""How a visit that nothing may be judged of is told, and what else is written of a visit: machine facts, remarks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block
from diagnose.report.sentences import said
from diagnose.report.wording import upper_first
from diagnose.visit import Machine, System
from diagnose.visit.fields import BUILT_FOR, RUNNING_AT

_WORD = {"kind": "{}", "compressor": "{} compressor", RUNNING_AT: "running at {}", "condenser cooled by": "cooled by {}",
         "metering place": "metering device {}", "accumulator": "accumulator: {}", "condenser coil": "{} condenser",
         "head pressure held by": "head pressure held by {}", "gas path": "gas path: {}", "economizer": "economizer {}",
         "circuits": "{} circuits", BUILT_FOR: "built for {}"}  # fmt: skip


def odd_text(d: Diagnosis) -> str:
    """What is otherwise on this machine, though it is judged; empty on an ordinary one."""
    odd = [d.rules.by_id[reason.code].entry.title for reason in d.assumed if reason.code in d.rules.by_id]
    return f"{'. '.join(odd)}." if odd else ""


def held_short(d: Diagnosis) -> str:
    """That nothing is judged, without why: for a title."""
    return "Outside what the rules were written for." if d.outside else "Not ready to judge."


def held_text(d: Diagnosis) -> str:
    """That nothing is judged, and the first reason why."""
    return f"{held_short(d)} {said(d, d.held[0])}"


def machine_words(m: Machine) -> list[str]:
    """What is said of a machine behind its name, refrigerant and metering device."""
    return [_WORD[name].format(word) for name, word in m.words.items() if name in _WORD]


def remarks(d: Diagnosis) -> Iterator[Block]:
    """Complaint, date, technician, notes and what was done, as they were written."""
    for name, texts in d.visit.remarks.items():
        yield Block(
            "foot", f"{upper_first(name)}: {'; '.join(texts)}{'' if texts[-1].endswith(('.', '!', '?')) else '.'}"
        )
    if text := weighed_text(d.visit.weighed, d.visit.machine, d.system):
        yield Block("foot", f"Refrigerant: {text}")


def weighed_text(weighed: Mapping[str, float], machine: Machine, system: System) -> str:
    """`12 oz of R-410A added, nothing recovered (12 % of the factory charge).` Empty without a log. weighed: kg."""
    if not weighed:
        return ""
    gas = f" of {machine.refrigerant.name}" if machine.refrigerant else ""
    unit = "lb" if system == "us" else "kg"

    def shown(amount: float) -> str:
        return units.show(amount, "mass", unit).replace(".0 oz", " oz")

    parts = [f"{shown(amount)}{gas} {name}" if amount else f"nothing {name}" for name, amount in weighed.items()]
    net, whole = weighed.get("added", 0.0) - weighed.get("recovered", 0.0), machine.fact("factory charge")
    told = [f"in all {shown(abs(net))} {'more' if net > 0 else 'less'}"] if len(parts) > 1 and net else []
    told += [f"{100 * abs(net) / whole:.0f} % of the factory charge"] if whole and net else []
    more = f" ({', '.join(told)})" if told else ""
    return f"{', '.join(parts)}{more}."


def visit_dict(d: Diagnosis) -> dict[str, Any]:
    """What the visit says beside its readings, ready for JSON; what it does not say is left out."""
    m = d.visit.machine
    plain = {
        "name": m.name,
        "mode": m.mode,
        "refrigerant": m.refrigerant.name if m.refrigerant else None,
        "metering": m.metering,
    }
    told = {name: texts if name == "done" else "; ".join(texts) for name, texts in d.visit.remarks.items()}
    return {
        "machine": {name: word for name, word in plain.items() if word is not None} | dict(m.words),
        **{name: list(text) if isinstance(text, tuple) else text for name, text in told.items()},
        **({"refrigerant": dict(d.visit.weighed)} if d.visit.weighed else {}),
    }
