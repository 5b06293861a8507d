"""The sentence of every reason: rules say theirs in the rule book, all others stand in `charge`, `doubts` and here."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from diagnose.diagnosis.dangers import WAIT
from diagnose.diagnosis.record import Diagnosis
from diagnose.report import charge
from diagnose.report.doubts import sentence
from diagnose.report.wording import fill, findings_text, listed, name_of, plain_show, spoken_by
from diagnose.rulebook import Rule
from diagnose.visit.reason import Figures, Reason


def said(d: Diagnosis, reason: Reason) -> str:
    """What a reason says of this visit, in the units the diagnosis is told in."""
    rule = d.rules.by_id.get(reason.code)
    if rule is not None:
        if d.stop and rule.entry.check == WAIT:  # nobody is told to wait beside a machine that must be stopped
            return f"{rule.entry.title}."
        return f"{rule.entry.title}. {rule_text(d, rule)}{_silent(rule)}"
    if reason.code in charge.SENTENCES:
        return charge.charge_sentence(d, reason)
    text = SENTENCES.get(reason.code)
    if text is not None:
        return text if isinstance(text, str) else text(d, reason.figures)
    return sentence(reason, plain_show(d.visit, d.system))


def rule_text(d: Diagnosis, rule: Rule, alarming: bool = False) -> str:
    """A rule's `why` with the figures of this visit; alarming: with those of readings that are set aside as well."""
    return fill(rule.entry.why, d.alarming if alarming else d.findings, d.rules, d.system, d.states) + spoken_by(
        rule, d.rules
    )


def _silent(rule: Rule) -> str:
    """What is not judged on such a machine."""
    return f" Not judged here: {', '.join(rule.silent)}." if rule.silent else ""


def charge_text(d: Diagnosis) -> str:
    """Why the charge is judged as it is, or not judged."""
    return " ".join(said(d, reason) for reason in d.charge.reasons)


def needless(d: Diagnosis, reason: Reason) -> bool:
    """Whether nobody need read it: how long a machine ran that stands."""
    return reason.code == "running-time-not-noted" and d.states.get("compressor", {}).get("standing", 0.0) > 0.5


def problems(d: Diagnosis) -> list[tuple[Reason, tuple[str, ...]]]:
    """What is to be known about the readings, with the readings that it is about: doubts, what was assumed, the baseline."""
    found: list[tuple[Reason, tuple[str, ...]]] = [(doubt.reason, doubt.readings) for doubt in d.doubts if doubt.told]
    found += [(reason, ()) for reason in d.assumed]
    return found + [(reason, ()) for reason in (d.good_day.reasons if d.good_day else ())]


def _nothing_to_judge(d: Diagnosis, f: Figures) -> str:
    lacks = {"refrigerant": "the refrigerant", "readings": "readings"}
    lacking = " and ".join(lacks[name] for name in f["lacks"]) or "readings that belong together"
    begin = (
        "suction pressure", "suction line temperature", "liquid pressure", "liquid line temperature",
        "outdoor air temperature",
    )  # fmt: skip
    missing = [name for name in begin if name not in d.visit.last.readings] or [*begin]
    return f"There is too little to go on: the visit lacks {lacking}. Begin with {listed(missing)}."


def _no_pattern(d: Diagnosis, f: Figures) -> str:
    """Which findings nothing explains; the readings are suspected first."""
    return (
        f"No known pattern: {findings_text(f['findings'], d.findings, d.system)}. No fault in the rule book explains all of "
        "this, nor do two together. Suspect the readings first: clamps swapped or reading air, a probe in the sun, a gauge off "
        "its zero, another refrigerant than the one written down. Take all readings again before you touch the machine."
    )


def _before(d: Diagnosis) -> Diagnosis:
    assert d.good_day is not None
    return d.good_day.before.told_in(d.system)


WAYS_TO_MEASURE = {"heat": "by electric heat", "table": "by the blower table", "meter": "by the meter"}
GENERAL = "Everything is judged by the general figures for such machines."
SENTENCES: Mapping[str, str | Callable[[Diagnosis, Figures], str]] = {
    "nothing-to-judge": _nothing_to_judge,
    "stop-before-charging": "Stop the machine first: nothing is added or taken out before what is dangerous is fixed.",
    "no-known-pattern": _no_pattern,
    "sea-level-assumed": "No altitude or station pressure is given: sea level is assumed.",
    "cooling-assumed": "The mode is not given: cooling is assumed.",
    "no-refrigerant": "The refrigerant is not given: no saturation temperature can be looked up.",
    "no-metering": "The metering device is not given: neither superheat nor the charge can be judged.",
    "running-time-not-noted": "How long the machine has been running is not noted. Readings before 15 minutes mean little: "
    "note `minutes running`.",
    "only-in-an-earlier-round": lambda d, f: (
        f"The {f['reading']} was read at {f['minutes']:g} minutes and not in the last round, which alone is judged: read it "
        "again."
    ),
    "gauge-figure-needs-pressure": lambda d, f: (
        f"The {f['figure']} that the gauge shows is not used without the pressure it was worked out from: write the "
        f"{f['pressure']} as well."
    ),
    "humidity-assumed": "The humidity of the return air was not measured: 50 % is assumed for the capacity.",
    "airflow-of-the-start-up": lambda d, f: (
        f"The airflow among the readings is that of the start-up, {WAYS_TO_MEASURE[f['by']]}."
    ),
    "read-in-heating-only": lambda d, f: (
        f"The {' and '.join(f['readings'])} {'are' if len(f['readings']) > 1 else 'is'} used only while a heat pump heats."
    ),
    "baseline-shares-nothing": "The baseline is not used: it has no reading in common with today that could be compared.",
    "baseline-copied": f"The baseline is not used: it repeats today's readings to the last digit. {GENERAL}",
    "baseline-not-ready": lambda d, f: (
        f"The baseline is not used: its own readings cannot be judged. {said(_before(d), f['because'])} {GENERAL}"
    ),
    "baseline-was-faulty": lambda d, f: (
        f"The baseline is not used: by its own readings the machine was not right that day ({name_of(f['fault'], d.rules)} "
        f"comes first). {GENERAL}"
    ),
    "baseline-start-up-failed": lambda d, f: (
        f"The baseline is a start-up that did not come out right ({', '.join(f['items'])}): find out whether that was "
        "corrected before you rely on it."
    ),
    "baseline-looks-faulty": lambda d, f: (
        f"By the general figures the baseline itself looks a little like this fault: {name_of(f['fault'], d.rules)}. If the "
        "machine had it that day already, the baseline hides it."
    ),
}
