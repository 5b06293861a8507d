"""Whether the gauges are needed, in words."""

from __future__ import annotations

from diagnose.diagnosis.gauges import GaugeAdvice
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.wording import lower_first, name_of, number

# 600 simulated machines of kinds never seen (seed 77001, mild to severe faults): 54 % of the sound ones and 19 % of the
# faulty ones had a normal temperature split and a normal liquid line approach, and no fault before "nothing wrong".
HOW_SURE = "half of the sound machines read like this, and one in five of the faulty ones (simulated)"


def gauges_text(d: Diagnosis, advice: GaugeAdvice) -> str:
    """What air side and line temperatures answer by themselves, how sure that is, and what to do about the gauges."""
    return f"{_answer(d, advice)}{_by_weight(advice)}"


def _answer(d: Diagnosis, advice: GaugeAdvice) -> str:
    if advice.code == "compressor-stands":
        return (
            "No gauges needed: the compressor stands, and at rest they show the temperature around the machine. Find what "
            "keeps it from running."
        )
    if advice.rule is not None:
        return f"No gauges yet: {lower_first(advice.rule.entry.title)}. {advice.rule.entry.why}".split("{")[0].rstrip()
    split = d.findings.get("air temperature split")
    shown = split.estimate if split else None
    air = (
        f" The air is cooled by {number(shown.value, shown.kind, d.system)} ({split.word})." if split and shown else ""
    )
    if advice.code == "temperatures-sound":
        return (
            f"No gauges needed so far: air and line temperatures look sound.{air} That is not proof: {HOW_SURE}. Where the "
            "complaint stays unexplained, put the gauges on."
        )
    leads = (
        f" They point to {name_of(advice.fault, d.rules)} at most weakly."
        if advice.fault and d.rules.faults[advice.fault].charge != "right"
        else ""
    )
    return (
        f"Gauges are needed: air and line temperatures alone do not answer it.{air}{leads} Short hoses, purged, or probes: "
        "each connection loses refrigerant and may bring air in."
    )


def _by_weight(advice: GaugeAdvice) -> str:
    if not advice.by_weight:
        return ""
    return " This machine is charged by weight only, and a hose holds a good part of its charge."
