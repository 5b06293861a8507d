"""Machines that are not the textbook's: a short lesson for each, from the rules that know them by what they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.lessons import story
from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.wording import listed, upper_first
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.facts import in_order
from diagnose.visit.fields import CHOICES, HEATING
from diagnose.workshop.showing import or_words

ODD = "odd-machines"
"""What the page is called for by, beside the faults."""
TAUGHT_ELSEWHERE = {"mode", "heating target"}
FIRST = ("superheat", "subcooling", "air temperature split")
JUDGED = (
    *FIRST, "condensing over ambient", "evaporator temperature difference", "liquid line approach", "liquid line drop",
    "drier temperature drop", "compression ratio", "standing pressure excess",
)  # fmt: skip
"""What a technician looks at first, of which some say nothing on such a machine."""
CHARGE: Mapping[str, str] = {
    "outside": "nothing is judged, the charge neither.",
    "visit": "nothing is judged while it runs like that, the charge neither.",
    "charge": "not judged by temperatures; the faults are, by what is left.",
    "nothing": "judged as on any other machine, with what is said above in mind.",
}


def odd_machines_page(rules: Rulebook) -> list[Block]:
    """Each kind of machine: what is otherwise on it, what then says nothing, what is still judged, what to do."""
    known = [rule for rule in rules.rules if _of_a_kind(rule)]
    known.sort(key=lambda rule: rule.holds == "outside")
    cited = [key for rule in known for key in rule.entry.source]
    return [
        Block("answer", "Machines that are not the textbook’s"),
        line(
            "Targets and limits are for one compressor at full load, one outdoor coil in the air, one indoor coil, and the "
            "refrigerant on the plate. On other machines some figures have other right values, and a sound one looks ill. Ask "
            "first what stands before you."
        ),
        *(block for rule in known for block in _section(rule, rules)),
        *story.questions([asked for rule in known for asked in _asked(rule, rules)]),
        *story.sources(cited, rules),
        Block("foot", f"Rule book: {rules.name}."),
    ]


def _of_a_kind(rule: Rule) -> bool:
    """Whether it knows a machine by what it is, and not by a reading; what is silent in heating alone is taught there."""
    facts = {name for name, _ in rule.applies} - TAUGHT_ELSEWHERE
    return rule.kind == "readiness" and bool(facts) and not (rule.when or rule.either or silent_in_heating(rule))


def silent_in_heating(rule: Rule) -> bool:
    """Whether it silences findings of a machine only while that heats."""
    return bool(rule.silent) and dict(rule.applies).get("mode") == frozenset({HEATING})


def _section(rule: Rule, rules: Rulebook) -> Iterator[Block]:
    yield heading(rule.entry.title)
    yield line(rule.entry.why)
    facts = {name: words for name, words in in_order(rule.applies).items() if name in CHOICES}
    if facts.keys() - {"mode"}:
        told = "; ".join(f"{name}: {or_words(words)}" for name, words in facts.items())
        yield item(f"{told}.".replace(": not stated", " left out"), lead="In a visit:")
    silent = _silent(rule, rules)
    if silent:
        yield item(f"{', '.join(silent)}.", lead="Says nothing there:")
    if silent and rule.holds not in ("visit", "outside"):
        yield item(f"{', '.join(name for name in JUDGED if name not in silent)}.", lead="Still judged, where read:")
    yield item(CHARGE[rule.holds], lead="The charge:")
    if rule.entry.check:
        yield item(rules.checks[rule.entry.check].ask, lead="Do:")


def _silent(rule: Rule, rules: Rulebook) -> list[str]:
    """What says nothing on such a machine, by this rule and by those that hold wherever it does."""
    on = dict(rule.applies)
    wider = (
        r for r in rules.rules if all(name in on and on[name] <= words for name, words in r.applies) and _of_a_kind(r)
    )
    return list(dict.fromkeys(name for one in (rule, *wider) for name in one.silent))


def _asked(rule: Rule, rules: Rulebook) -> Iterator[tuple[str, str]]:
    """Which of the three first figures may be judged, where not all of them may."""
    silent = _silent(rule, rules)
    left = [name for name in FIRST if name not in silent]
    if len(left) < len(FIRST):
        yield (
            f"{rule.entry.title}. Which of {listed(FIRST)} would you judge?",
            f"{upper_first(listed(left)) or 'None of them'}. {rule.entry.why}",
        )
