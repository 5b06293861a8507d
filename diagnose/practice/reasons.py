"""The reason that a learner gives: each part held against the figures, classic errors named, what was not understood told.

A reason is read clause by clause: a figure or a thing seen, and a word for it. Whether it is a good one is asked apart from
whether the answer is right. Classic errors are common practice, no source: one sign taken for the proof of one fault.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.properties.targets import F
from diagnose.quantities.uncertainty import COVERAGE, estimate
from diagnose.report.wording import finding_text, name_of

FAINT = 0.25  # points; evidence that weighs less makes no reason

_SPLIT = re.compile(
    r"[,;:]|\.(?!\d)|\b(?:and|but|while|though|although|because|so|since|with|therefore|thus|which means)\b"
)
_NOT = re.compile(r"\bnot\b|n[’']t\b|\bno\b|\bnever\b|\bneither\b|\bnor\b")
_NORMAL = ("normal", "right", "fine", "good", "ok", "okay", "correct", "should be", "usual", "matches", "on target")
_SAME: Mapping[str, tuple[str, ...]] = {
    "high": (
        "high",
        "up",
        "large",
        "big",
        "above",
        "raised",
        "warm",
        "hot",
        "elevated",
        "higher",
        "too much",
        "double",
        "over",
    ),
    "low": (
        "low",
        "down",
        "small",
        "below",
        "cold",
        "little",
        "lower",
        "missing",
        "none",
        "hardly any",
        "short",
        "colder",
    ),
    "dirty": ("clogged", "plugged", "filthy", "blocked", "dusty"),
    "heavy": ("thick",),
}
_IMPLIED = {"oil": "present", "ice": "present", "bubbles": "bubbles", "close together": "low", "are too close": "low"}
"""What naming a thing says of it."""
_ZERO = re.compile(r"\b(?:zero|gone)\b|\bnothing$|^(?:there (?:is|was) )?no(?: at all| left)?$")
_STATED = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?)\s*(?:°|degrees?|deg)?\s*([fkc])?\b")
_FROM_TARGET = re.compile(r"\b(over|above|under|below)\b.*\b(?:target|plate|it should)\b")
NEAR = 1.0 * F  # K by which a figure may be told off, beside its own error
# What learners call a figure -> the finding, and whether it stands the other way round.
ALIASES: Mapping[str, tuple[str, bool]] = {
    "sh": ("superheat", False),
    "super heat": ("superheat", False),
    "sc": ("subcooling", False),
    "subcool": ("subcooling", False),
    "sub cooling": ("subcooling", False),
    "sub-cooling": ("subcooling", False),
    "suction pressure": ("evaporator temperature difference", True),
    "low side pressure": ("evaporator temperature difference", True),
    "low side": ("evaporator temperature difference", True),
    "evaporating temperature is": ("evaporator temperature difference", True),
    "suction": ("evaporator temperature difference", True),
    "head pressure": ("condensing over ambient", False),
    "liquid pressure": ("condensing over ambient", False),
    "high side pressure": ("condensing over ambient", False),
    "high side": ("condensing over ambient", False),
    "condensing temperature": ("condensing over ambient", False),
    "head": ("condensing over ambient", False),
    "temperature split": ("air temperature split", False),
    "air split": ("air temperature split", False),
    "split": ("air temperature split", False),
    "approach": ("liquid line approach", False),
    "discharge temperature": ("discharge superheat", False),
    "discharge line": ("discharge superheat", False),
    "discharge": ("discharge superheat", False),
    "amps": ("compressor current", False),
    "current": ("compressor current", False),
    "airflow": ("airflow per ton", False),
    "filter": ("air filter", False),
    "oil": ("oil stains", False),
    "ice": ("indoor coil ice", False),
    "frost": ("outdoor coil frost", False),
    "bubbles": ("sight glass", False),
    "drier": ("filter drier", False),
    "bulb": ("sensing bulb", False),
    "ratio": ("compression ratio", False),
    "close together": ("compression ratio", False),
    "are too close": ("compression ratio", False),
    "suction line": ("superheat", False),
    "low pressure": ("evaporator temperature difference", True),
    "td": ("evaporator temperature difference", False),
    "high pressure": ("condensing over ambient", False),
    "over ambient": ("condensing over ambient", False),
    "ctoa": ("condensing over ambient", False),
    "delta t": ("air temperature split", False),
    "drop across the coil": ("air temperature split", False),
    "supply air": ("air temperature split", True),
    "air comes out": ("air temperature split", True),
    "liquid line": ("liquid line approach", False),
    "pressure at rest": ("standing pressure", False),
    "drop across the drier": ("drier temperature drop", False),
}
IN_HEATING: Mapping[str, tuple[str, bool]] = {
    "suction pressure": ("outdoor coil difference", True),
    "suction": ("outdoor coil difference", True),
    "low side": ("outdoor coil difference", True),
    "head pressure": ("condensing over return air", False),
    "liquid pressure": ("condensing over return air", False),
    "head": ("condensing over return air", False),
    "split": ("air rise", False),
    "supply air": ("air rise", False),
    "air comes out": ("air rise", False),
    "liquid line": ("liquid over return air", False),
}
_CONCLUDES = re.compile(
    r"charge|refrigerant|leak|undercharg|overcharg|restrict|clog|compressor|valve|airflow|fault|wrong|air in the circuit|"
    r"orifice|device|it must|so it|nothing"
)


@dataclass(frozen=True, slots=True)
class Premise:
    """One clause: what it names, the words it may mean, and how far they hold (None: nobody measured it)."""

    text: str
    finding: str
    side: str  # high, low, normal, or the word itself
    holds: float | None


@dataclass(frozen=True, slots=True)
class WeighedReason:
    """A reason weighed. lines: what is told of it; sound: whether it carries the answer (None: none was given, or not all
    of it was understood)."""

    lines: tuple[str, ...]
    sound: bool | None


@dataclass(frozen=True, slots=True)
class Classic:
    """One sign taken for the proof of one fault."""

    name: str
    finding: str
    side: str
    concluded: tuple[str, ...]
    why: str


CLASSIC: tuple[Classic, ...] = (
    Classic("Suction is low, so refrigerant is missing", "evaporator temperature difference", "high", ("low-charge",),
            "Low indoor airflow, a restriction and an underfeeding device lower it as well. Superheat and subcooling together "
            "tell them apart."),
    Classic("Head is high, so it is overcharged", "condensing over ambient", "high", ("overcharge",),
            "A dirty outdoor coil, a slow fan and air in the circuit raise it as well. Compare the liquid line with the "
            "outdoor air, and read the standing pressure."),
    Classic("Head is low, so refrigerant is missing", "condensing over ambient", "low", ("low-charge",),
            "A weak compressor, a restriction and little heat from the house lower it too. Look at suction and subcooling."),
    Classic("Superheat is high, so refrigerant is missing", "superheat", "high", ("low-charge",),
            "A coil starves just as well behind a restriction or a closed device. Then the liquid is there: subcooling tells."),
    Classic("Superheat is low, so it is overcharged", "superheat", "low", ("overcharge",),
            "Low indoor airflow, an overfeeding device and a weak compressor flood a coil as well. Subcooling tells."),
    Classic("Subcooling is high, so it is overcharged", "subcooling", "high", ("overcharge",),
            "A restriction backs liquid up in the condenser, and air in the circuit makes the figure read high. Superheat and "
            "the standing pressure tell."),
    Classic("Subcooling is low, so refrigerant is missing", "subcooling", "low", ("low-charge",),
            "An overfeeding device and a weak compressor drain the condenser too. Superheat and the suction pressure tell."),
    Classic("It cools too little, so refrigerant is missing", "air temperature split", "low", ("low-charge",),
            "Every fault but low airflow cools less. The split tells that something is wrong, not what."),
    Classic("The discharge is hot, so the compressor is worn", "discharge superheat", "high", ("weak-compressor",),
            "Any starved coil sends warm gas that leaves hotter still. Look at the pressure ratio."),
    Classic("The current is low, so the compressor is worn", "compressor current", "low", ("weak-compressor",),
            "With little refrigerant or little heat it has little to do. Look at the pressure ratio."),
    Classic("The filter is dirty, so the airflow is low", "air filter", "dirty", ("low-indoor-airflow",),
            "A dusty filter may still pass its air. Measure the airflow, or the split: it rises when air is short."),
    Classic("The coil is dirty, so the heat cannot get out", "outdoor coil", "dirty", ("low-outdoor-airflow",),
            "A dirty face may have clean rows behind it. The coil must then condense too far above the air, too."),
    Classic("There is oil, so it leaks", "oil stains", "present", ("low-charge",),
            "Oil stays for years where somebody once worked. The figures must show that refrigerant is missing, too."),
    Classic("There are bubbles, so refrigerant is missing", "sight glass", "bubbles", ("low-charge",),
            "Bubbles come wherever liquid flashes: behind a restriction, or on a machine that drains its condenser."),
    Classic("There is ice, so refrigerant is missing", "indoor coil ice", "present", ("low-charge",),
            "Low airflow freezes a coil just as well. Thaw it, and look at superheat."),
    Classic("Somebody added gas, so it is overcharged", "charge changed", "added", ("overcharge",),
            "Gas is mostly added where some was missing, and leaks out again. Subcooling tells what is there today."),
    Classic("It was opened, so there is air in it", "recent opening", "not evacuated well", ("non-condensables",),
            "Not every hasty repair leaves air. The standing pressure tells."),
)  # fmt: skip


def weigh(because: str, answer: str, d: Diagnosis) -> WeighedReason:
    """Everything there is to say of a reason, clause by clause, and whether it carries the answer."""
    if not because.strip():
        return WeighedReason((), None)
    premises: list[Premise] = []
    lines: list[str] = []
    unread = False
    for clause in _clauses(because, d):
        found = _premise(clause, d)
        if isinstance(found, Premise):
            premises.append(found)
            lines.append(_told(found, d))
        elif found:
            lines.append(found)
            unread = True
    errors = _classic(premises, answer)
    lines += [] if unread else [f"A classic error: “{error.name}”. {error.why}" for error in errors]
    if not premises:
        lines.append("No figure stands in your reason. Name one and a word for it, as in “superheat is high”.")
    ranked = next((fault for fault in d.faults if fault.fault == answer), None)
    carries = [one for one in premises if (one.holds or 0.0) >= 0.5 and _carries(one, ranked)]
    if premises and not carries and answer in d.rules.faults:
        lines.append(f"None of that is evidence for {name_of(answer, d.rules)}.")
    false = [one for one in premises if one.holds is not None and one.holds < 0.2]
    if unread and not false and (errors or not carries):  # what was not understood may be the second sign
        return WeighedReason((*lines, "What is not understood does not count against you."), None)
    return WeighedReason(tuple(lines), bool(carries) and not errors and not false)


def _clauses(because: str, d: Diagnosis) -> list[str]:
    """What is said of both pressures, or of two figures, is said of each."""
    text = re.sub(
        r"both (?:the )?pressures(?! .*close)", "suction pressure and head pressure", because.lower().replace("−", "-")
    )
    found = [clause for part in _SPLIT.split(text) if (clause := " ".join(part.split()))]
    for i, clause in enumerate(found[:-1]):
        named, after = _named(clause, d), _named(found[i + 1], d)
        if named and after and set(clause.replace(named[1], "").split()) <= {"the", "both"}:
            found[i] = found[i + 1].replace(after[1], named[1], 1)
    return found


# -- one clause --------------------------------------------------------------------------------------------------------


def _named(clause: str, d: Diagnosis) -> tuple[str, str, bool] | None:
    """The finding that a clause names, the words it does so with, and whether they stand the other way round."""
    own = {name: (name, False) for name in d.rules.findings}
    aliases = {**ALIASES, **(IN_HEATING if d.visit.machine.mode == "heating" else {})}
    known = {**own, **{word: found for word, found in aliases.items() if found[0] in d.rules.findings}}
    for written in sorted(known, key=len, reverse=True):
        if re.search(rf"(?<!wet )(?<!dry )\b{re.escape(written)}\b", clause):  # a bulb of its own, not of a thermometer
            name, turned = known[written]
            return name, written, turned
    return None


def _premise(clause: str, d: Diagnosis) -> Premise | str:
    """The clause understood; or what to say of it, empty where it only concludes."""
    named = _named(clause, d)
    if named is None:
        return "" if _CONCLUDES.search(clause) else f"Not understood: “{clause}”."
    name, written, turned = named
    entry = d.rules.findings[name]
    rest = clause.replace(written, " ", 1)
    finding = d.findings.get(name)
    said = _IMPLIED.get(written) or _word(rest, entry.words)
    if (stated := _stated(rest, finding, d)) is not None and finding is not None and finding.estimate is not None:
        near = abs(stated - finding.estimate.value) <= COVERAGE * finding.estimate.sigma + NEAR
        if near or said is None:
            side = _side(finding.word, entry.words)
            same = sum(chance for word, chance in finding.words.items() if _side(word, entry.words) == side)
            return Premise(clause, name, side if near else "as you say", same if near else 0.0)
    if said is None:
        if _CONCLUDES.search(clause) and not entry.seen:
            return ""
        known = ", ".join(entry.words)
        return f"Not understood: “{clause}”. Say one of these of the {name}: {known}."
    side = _side(said, entry.words)
    if turned and side in ("high", "low"):
        side = "low" if side == "high" else "high"
    denied = bool(_NOT.search(rest)) and said not in ("no", "none")
    holds = None
    if finding is not None:
        holds = sum(chance for word, chance in finding.words.items() if _side(word, entry.words) == side)
        holds = 1.0 - holds if denied else holds
    return Premise(clause, name, f"not {side}" if denied else side, holds)


def _stated(rest: str, finding: Finding | None, d: Diagnosis) -> float | None:
    """A difference of temperature that the rest of the clause states, K; zero where it says that there is none."""
    e = finding.estimate if finding else None
    if e is None or e.kind != "difference":
        return None
    if (found := _STATED.search(rest)) is None:
        return 0.0 if _ZERO.search(" ".join(rest.split())) else None
    value = float(found[1]) * (F if found[2] == "f" or (found[2] is None and d.system == "us") else 1.0)
    if e.target is not None and (apart := _FROM_TARGET.search(rest, found.end())):
        return e.target.value + (value if apart[1] in ("over", "above") else -value)
    return value


def _word(rest: str, words: Sequence[str]) -> str | None:
    """The word of the finding that the rest of the clause means."""

    def has(said: str) -> bool:
        return re.search(rf"\b{re.escape(said)}\b", rest) is not None

    for word in sorted(words, key=len, reverse=True):
        if has(word):
            return word
    if "normal" in words and any(map(has, _NORMAL)):
        return "normal"
    for side, others in _SAME.items():
        if any(map(has, others)):
            meant = [word for word in words if _side(word, words) == side or word.split()[0] in others]
            return meant[0] if meant else None
    # `cold` for `cold or frosted at the outlet`
    return next((word for word in words if any(has(part.split()[0]) for part in word.split(" or "))), None)


def _side(word: str, words: Sequence[str]) -> str:
    """high, normal or low; words without a normal stand for themselves."""
    if "normal" not in words or word not in words:
        return word
    place, middle = list(words).index(word), list(words).index("normal")
    return "normal" if place == middle else "high" if place > middle else "low"


def _told(premise: Premise, d: Diagnosis) -> str:
    """Whether the clause holds, with the figure."""
    name, finding = premise.finding, d.findings.get(premise.finding)
    if finding is None or premise.holds is None:
        if (d.rules.findings[name].quantity or "") in estimate(d.visit, settling=d.rules.judgement.steadiness):
            return (
                f"You rely on the {name}, but a reading behind it cannot be trusted: see the notes about the readings."
            )
        return f"You rely on the {name}, which nobody had checked."
    figure, word = _figure(finding, d), finding.word
    if premise.holds >= 0.5:
        return f"Right: {figure}{'' if finding.estimate is None else f', which is {word}'}."
    rather = "" if finding.estimate is None else f"which is {word}, "
    if premise.holds >= 0.2:
        return f"Uncertain: {figure}, {word} rather than {premise.side}."
    if premise.side.startswith("not "):
        return f"Wrong: {figure}{', ' if rather else ''}{rather.rstrip(', ')}."
    return f"Wrong: {figure}, {rather}not {premise.side}."


def _figure(finding: Finding, d: Diagnosis) -> str:
    text = finding_text(finding, d.system)
    return f"`{finding.name}: {text}` was seen" if finding.estimate is None else f"the {finding.name} is {text}"


# -- the whole ---------------------------------------------------------------------------------------------------------


def _classic(premises: Sequence[Premise], answer: str) -> list[Classic]:
    """Errors in a reason that rests on one sign; with a second sign that holds it is no error to name the first."""
    true = {one.finding for one in premises if one.holds is None or one.holds >= 0.5}
    if len(true) > 1:
        return []
    return [
        error
        for error in CLASSIC
        if answer in error.concluded and any((one.finding, one.side) == (error.finding, error.side) for one in premises)
    ]


def _carries(premise: Premise, ranked: Ranked | None) -> bool:
    """Whether some evidence for the answer asks for that finding, at least as one of several."""
    return ranked is not None and any(
        premise.finding in e.rule.findings for e in ranked.supporting if abs(e.weight) >= FAINT
    )
