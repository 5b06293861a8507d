"""Machines that are not the textbook's: which findings say nothing there, what is told, and that nothing is said too firmly."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from heats import WHOLE
from strategies import State, visit, with_machine, with_readings

from diagnose import Diagnosis, examine, load_rules
from diagnose.diagnosis.next_checks import next_checks
from diagnose.report.first_screen import first_screen
from diagnose.report.pages import diagnosis_page
from diagnose.report.sentences import said
from diagnose.rulebook import RuleError, machine_facts
from diagnose.rulebook.entries import CheckInstead
from diagnose.simulator import HEALTHY, Faults, Plant, Weather, design, fahrenheit, solve, true_values
from diagnose.simulator.readings import written
from diagnose.visit import visit_from

VALVE = visit(State(metering="TXV", superheat=10), extra=True)
ORIFICE = visit(State(), extra=True)
LINES = {"liquid line": "3/8 in", "length": "120 ft", "included": "15 ft"}

# the rule about a machine -> such a machine
UNUSUAL: dict[str, dict[str, Any]] = {
    "machine/stages-not-stated": with_machine(VALVE, SEER="20"),
    "machine/any-speed-in-heating": with_machine(WHOLE, compressor="inverter", running_at="high"),
    "machine/ductless-in-heating": with_machine(WHOLE, kind="mini split"),
    "machine/part-load": with_machine(VALVE, compressor="two-stage", running_at="low"),
    "machine/part-load-orifice": with_machine(ORIFICE, compressor="inverter", running_at="60 %"),
    "machine/metering-outdoors": with_machine(VALVE, metering_place="outdoors"),
    "machine/packaged": with_machine(VALVE, kind="package unit"),
    "machine/microchannel": with_machine(VALVE, condenser_coil="micro channel"),
    "machine/long-lines": with_machine(VALVE, line_set=LINES),
    "machine/retrofit": with_machine(visit(State(gas="R-407C", metering="TXV")), built_for="R22"),
    "machine/retrofit-orifice": with_machine(visit(State(gas="R-407C")), built_for="R-22"),
    "machine/accumulator": with_machine(VALVE, accumulator=True),
    "machine/economizer-open": with_machine(VALVE, economizer="open"),
    "machine/economizer-orifice": with_machine(ORIFICE, economizer="open"),
    "machine/head-pressure-held": with_machine(VALVE, head_pressure_held_by="fan cycling"),
    "machine/two-circuits": with_machine(VALVE, circuits=2),
    "machine/gas-path": with_machine(VALVE, gas_path="reheat"),
}


def page(d: Diagnosis) -> str:
    return "\n".join(f"{b.text} {' '.join(' '.join(row) for row in b.rows)}" for b in diagnosis_page(d))


@pytest.mark.parametrize("rule", UNUSUAL)
def test_what_says_nothing_and_why(rule, book):
    d, entry = examine(UNUSUAL[rule]), book.by_id[rule]
    assert entry in [*d.holding("readiness")]
    reasons = [reason.code for reason in (*d.assumed, *d.charge.reasons, *d.not_ready)]
    assert rule in reasons
    assert entry.entry.title in page(d)
    assert not set(entry.silent) & d.findings.keys()
    quantities = {book.findings[name].quantity for name in entry.silent}
    assert all(d.estimates[name].expected is None for name in quantities & d.estimates.keys())
    for name in entry.silent:
        assert name in said(d, next(r for r in (*d.assumed, *d.charge.reasons, *d.not_ready) if r.code == rule))
    assert not set(entry.silent) & {name for check in next_checks(d) for name in check.gives}
    asked = {name for fault in d.ranked for e in fault.evidence for name, _ in e.rule.when}
    assert not set(entry.silent) & asked
    if entry.holds == "charge":
        assert d.charge.verdict == "do not judge"
    if entry.silent:
        assert {fault.strength for fault in d.faults[:1]} <= {"fair", "weak"}


def test_every_rule_about_a_machine_is_tried_here(book):
    assert {rule.id for rule in book.rules if rule.id.startswith("machine/")} == set(UNUSUAL)
    assert {rule.id for rule in book.rules if rule.silent or rule.holds == "nothing"} < set(UNUSUAL)


STARVED = visit(State(superheat=40, subcooling=10, condensing=95, split=10))
PORT, LINE = "gauge-the-liquid-line", "clamp-the-coil-outlet"


@pytest.mark.parametrize(
    ("facts", "without"),
    [({}, set()), ({"kind": "packaged"}, {PORT, LINE}), ({"metering": "cap tube"}, {PORT}),
     ({"metering": "EEV", "metering_place": "outdoors"}, {PORT}),
     ({"kind": "ptac"}, {PORT, LINE, "rest-and-read", "measure-superheat", "measure-subcooling", "measure-condensing",
                             "read-subcooling-again"})],
)  # fmt: skip
def test_no_machine_is_asked_for_a_port_that_it_lacks(facts, without, book):
    """Common practice, no source: a window unit is sealed; a port just before the metering device is met on split ones,
    and a suction line that takes up heat."""
    told = book.about(machine_facts(visit_from(with_machine(STARVED, **facts)).machine)).checks
    elsewhere = {
        "note-the-metering-device",
        "look-at-the-metering-device",
        "look-for-frost",
    }  # the last in heating alone
    assert book.checks.keys() - told.keys() - elsewhere == without
    bare = with_readings(with_machine(STARVED, **facts), suction_pressure=None, liquid_pressure=None)
    for data in (with_machine(STARVED, **facts), bare):
        assert not without & {check.check for check in next_checks(examine(data))}


def test_a_machine_charged_by_weight_alone_is_not_asked_for_gauges():
    window = with_readings(with_machine(STARVED, kind="window", metering=None), suction_pressure=None)
    screen = " ".join(block.text for block in first_screen(examine(window)))
    assert "only a scale tells its charge" in screen
    assert "TXV" not in screen


def test_who_has_weighed_the_charge_is_not_asked_who_changed_it(book):
    for fact in ("weighed_in", "recovered_charge"):
        facts = machine_facts(visit_from(with_machine(VALVE, **{fact: "6 lb"})).machine)
        assert book.about(facts).checks["ask-the-history"].gives == ("recent opening",)
    assert "charge changed" in book.about(machine_facts(visit_from(VALVE).machine)).checks["ask-the-history"].gives


def test_a_single_stage_is_told_to_be_assumed_where_hardly_any_machine_has_one():
    """SEER2 is 0.95 SEER (fields.py), so that SEER 18 is 17.1."""
    assumed = [
        [r.code for r in examine(with_machine(VALVE, SEER=None, **facts)).assumed]
        for facts in ({"SEER2": "17"}, {"SEER2": "17.2"}, {"SEER2": "20", "compressor": "single stage"})
    ]
    assert ["machine/stages-not-stated" in codes for codes in assumed] == [False, True, False]


def test_no_danger_hangs_on_what_says_nothing(book):
    for data in UNUSUAL.values():
        d = examine(data)
        assert not d.rules.silent & {
            name for rule in d.applying.rules if rule.kind == "caution" for name in rule.findings
        }


@pytest.mark.parametrize(
    "facts",
    [
        {"circuits": "one"}, {"economizer": "closed"}, {"economizer": "mixed air read"}, {"gas_path": "usual"},
        {"condenser_coil": "fin and tube"}, {"head_pressure_held_by": "none"}, {"built_for": "R-410A"},
        {"line_set": {**LINES, "length": "30 ft"}}, {"metering_place": "high side read"},
    ],
    ids=str,
)  # fmt: skip
def test_the_textbooks_machine_is_judged_as_if_nothing_had_been_said(facts):
    d, plain = examine(with_machine(VALVE, **facts)), examine(VALVE)
    assert d.ranked == plain.ranked
    assert not d.rules.silent
    assert [reason.code for reason in d.assumed] == [reason.code for reason in plain.assumed]


def test_a_high_lift_is_a_long_line():
    line = {"liquid line": "3/8 in", "length": "45 ft", "included": "15 ft", "lift": "-30 ft"}
    assert machine_facts(examine(with_machine(VALVE, line_set=line)).visit.machine)["lines"] == "long"


def test_what_changed_stands_on_the_first_screen_in_a_line():
    told = [b.text for b in first_screen(examine(UNUSUAL["machine/two-circuits"]))]
    assert any("Two circuits cool the same air" in text for text in told)


def test_no_amount_is_worked_out_for_a_microchannel():
    short = visit(State(metering="TXV", superheat=30, subcooling=1, evaporating=34, condensing=93, split=14))
    plain, micro = examine(short), examine(with_machine(short, condenser_coil="microchannel"))
    assert (plain.charge.verdict, micro.charge.verdict) == ("low", "low")
    assert plain.charge.percent is not None
    assert micro.charge.percent is None


@pytest.mark.parametrize(
    ("gas", "built_for", "danger"),
    [
        ("R-410A", "R-22", "caution/built-for-less-pressure"),
        ("R-32", "R-410A", "caution/built-for-another-safety-class"),
        ("R-407C", "R-22", None),
        ("R-32", "R-32", None),
    ],
)
def test_a_refrigerant_that_the_machine_was_not_built_for(gas, built_for, danger):
    d = examine(with_machine(visit(State(gas=gas, metering="TXV")), built_for=built_for))
    stops = [each.code for each in d.dangers if each.level == "stop"]
    assert stops == ([danger] if danger else [])


def test_readings_off_the_habits_of_most_machines_are_no_slips_there():
    mixed = with_readings(visit(State(metering="TXV", outdoor=62, evaporating=36, condensing=80, split=26)))
    assert examine(with_machine(mixed, economizer="open")).doubts == ()


# -- at a low stage, on the simulator --------------------------------------------------------------------------------

MILD = Weather(fahrenheit(82), fahrenheit(75), fahrenheit(63))
READ = (
    "suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature", "outdoor air temperature",
    "return air dry bulb", "return air wet bulb", "supply air dry bulb", "discharge line temperature",
    "drier inlet temperature", "drier outlet temperature",
)  # fmt: skip


@cache
def plant() -> Plant:
    """Two thirds of the displacement, and a blower that runs slower."""
    whole = design("R-410A", "TXV")
    return replace(
        whole, displacement=0.67 * whole.displacement, airflow=0.78 * whole.airflow, indoor_fan=0.5 * whole.indoor_fan
    )


def low_stage(faults: Faults, **facts: str) -> Diagnosis:
    values = true_values(MILD, solve(plant(), MILD, faults))  # type: ignore[arg-type]
    machine = {"mode": "cooling", "refrigerant": "R-410A", "metering": "TXV", "nominal capacity": "3 ton", "SEER": 14,
               "rated subcooling": "10 F", "altitude": "0 ft", "compressor": "two-stage"} | facts  # fmt: skip
    readings = {name: written(name, values[name]) for name in READ}
    return examine({"machine": machine, "readings": {"minutes running": 30, **readings}})


@pytest.mark.parametrize(
    ("faults", "first"),
    [
        (HEALTHY, {"nothing-wrong"}),
        (Faults(charge=0.75), {"low-charge"}),  # superheat is held, and no liquid is left
        (Faults(charge=1.25), {"nothing-wrong"}),  # does not show at a low stage, and is not said to
        (Faults(restriction=0.8), {"liquid-line-restriction"}),
        (Faults(metering_size=0.5), {"metering-underfeeding"}),
        (Faults(valve_leakage=0.3), {"nothing-wrong"}),
    ],
    ids=["sound", "low", "over", "restriction", "device", "compressor"],
)
def test_at_a_low_stage(faults, first):
    d = low_stage(faults, **{"running at": "low"})
    assert d.faults[0].fault in first
    assert d.faults[0].strength == "weak" or (d.faults[0].strength == "fair" and first != {"nothing-wrong"})
    assert d.charge.verdict == "do not judge"
    assert d.doubts == ()
    assert next_checks(d)[0].check == "run-at-the-high-stage"
    assert low_stage(faults).status == "outside"  # nobody said at which


# -- mistakes in a book ----------------------------------------------------------------------------------------------


def test_a_company_cannot_silence_a_finding(tmp_path: Path):
    folder = tmp_path / "harbour"
    folder.mkdir()
    rule = (
        "{id: harbour/x, title: X, holds: nothing, applies: {kind: window}, silent: [running time], "
        "why: x, source: common-practice}"
    )
    (folder / "readiness.yaml").write_text(f"rules:\n  - {rule}\n", encoding="utf-8")
    with pytest.raises(RuleError) as error:
        load_rules(folder)
    (problem,) = error.value.problems
    assert (problem.line, problem.what) == (2, "a company's own rule cannot make findings say nothing")


def test_a_check_that_is_told_otherwise_on_a_machine_with_the_same_first_words_is_not_taken_for_the_other(book) -> None:
    entry = book.checks["measure-subcooling"]
    other = CheckInstead(applies=(("accumulator", frozenset({"yes"})),), ask=entry.ask, why="Another reason.")
    changed = replace(book, checks={**book.checks, entry.check: entry._replace(instead=(other,))})
    told = [changed.about({"accumulator": word}).checks[entry.check].why for word in ("no", "yes", "no")]
    assert told == [entry.why, "Another reason.", entry.why]
    assert "where it is outdoors" in book.about({"kind": "ductless"}).checks[entry.check].ask.lower()
