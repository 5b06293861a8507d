"""The short lessons for machines that are not the textbook's, held to what the program then really judges."""

from __future__ import annotations

import pytest
from commands import run

from diagnose import examine, load_rules
from diagnose.lessons import odd_machines_page
from diagnose.lessons.odd_machines import FIRST, _asked, _of_a_kind, _silent
from diagnose.report import as_text
from diagnose.rulebook import Rule

KNOWN = [rule for rule in load_rules().rules if _of_a_kind(rule)]
FACTS = {"retrofit": {"built for": "R-22"}, "lines": {}}
VISIT = {
    "machine": {"refrigerant": "R-410A", "metering": "TXV", "mode": "cooling", "rated subcooling": "10 F", "SEER": 14},
    "readings": {
        "minutes running": 20, "suction pressure": "118 psig", "suction line temperature": "52 F",
        "liquid pressure": "330 psig", "liquid line temperature": "95 F", "outdoor air temperature": "85 F",
        "return air dry bulb": "75 F", "return air wet bulb": "63 F", "supply air dry bulb": "56 F",
    },
}  # fmt: skip


def said_of(rule: Rule) -> dict[str, object]:
    """A visit to such a machine."""
    machine: dict[str, object] = dict(VISIT["machine"])
    for name, words in rule.applies:
        machine |= {} if words == {"not stated"} else FACTS.get(name, {name: sorted(words)[0]})
    return {**VISIT, "machine": machine}


@pytest.mark.parametrize("rule", [r for r in KNOWN if _silent(r, load_rules())], ids=lambda rule: rule.id)
def test_what_is_said_to_be_silent_is_not_judged_and_the_rest_is(rule: Rule) -> None:
    d = examine(said_of(rule))
    judged = {name for name in FIRST if name in d.findings}
    silent = set(_silent(rule, load_rules()))
    assert not judged & silent
    assert judged == set(FIRST) - silent or rule.holds == "outside"
    for ask, answer in _asked(rule, load_rules()):
        assert rule.entry.title in ask
        for name in FIRST:
            assert (name in answer.split(".")[0].lower()) == (name not in silent)


@pytest.mark.parametrize("rule", [r for r in KNOWN if r.holds in ("charge", "outside", "visit")], ids=lambda r: r.id)
def test_where_no_charge_is_judged_none_is(rule: Rule) -> None:
    verdict = examine(said_of(rule)).charge.verdict
    assert verdict == "do not judge"


def test_the_page_has_each_of_them_once_and_the_command_prints_it() -> None:
    text = " ".join(as_text(odd_machines_page(load_rules())).split())
    for rule in KNOWN:
        assert text.count(" ".join(rule.entry.why.split())) >= 1
    assert len(KNOWN) >= 15
    out = run("lesson", "odd-machines", "--as", "slides").fine()
    assert 'class="slide"' in out
    assert "odd-machines" in run("lesson").stdout
