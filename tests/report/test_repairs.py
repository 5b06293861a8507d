"""What to do follows the machine, is complete, and never asks for what hurts."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from strategies import State, visit, with_machine

from diagnose import examine
from diagnose.report.layout import as_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.wording import step_text
from diagnose.rulebook import Rulebook, check_for, load_rules, steps_for
from diagnose.rulebook.entries import RepairStep
from diagnose.shipped import shipped

BOOK: Rulebook = load_rules(shipped("rules"))
OPENED = (
    "low-charge",
    "liquid-line-restriction",
    "metering-underfeeding",
    "metering-overfeeding",
    "non-condensables",
    "weak-compressor",
    "reversing-valve-leaking",
    "check-valve-leaking",
)
LOW = State(superheat=30, subcooling=1, evaporating=36, condensing=93, split=14)
MACHINES = [
    {"metering": metering, "metering device": device, "charging": charging, "safety class": safety}
    for metering, device in (
        ("fixed orifice", "orifice"),
        ("fixed orifice", "capillary tube"),
        ("TXV", "TXV"),
        ("EEV", "EEV"),
    )
    for charging in ("weight only", "weight and temperatures")
    for safety in ("A1", "A2L", "A3")
]


def steps(fault: str, facts: dict[str, str]) -> str:
    repair = BOOK.faults[fault].repair
    return " ".join((*steps_for(repair.do, facts), *steps_for(repair.cautions, facts)))


def page(**machine: str) -> str:
    return " ".join(as_text(diagnosis_page(examine(with_machine(visit(LOW), **machine))), 10000).split())


@pytest.mark.parametrize("fault", OPENED)
@pytest.mark.parametrize("facts", MACHINES, ids=" ".join)
def test_whoever_opens_a_circuit_recovers_tests_evacuates_and_weighs_in(fault: str, facts: dict[str, str]) -> None:
    said = steps(fault, facts)
    order = ["ecover", "Pressure test with dry nitrogen through a regulator, not above the maker's test pressure"]
    order += ["Evacuate to 500 microns", "valve the pump off", "Weigh in"]
    places = [said.index(part) for part in order]
    assert places == sorted(places)
    for part in (
        "dry nitrogen flow through the pipe while you braze",
        "relief valve",
        "Light no torch",
        "vacuum",
        "zero voltage",
        "filled to 80 % at the most",
        "break it with dry nitrogen and pump again",
        "a blend as liquid",
    ):
        assert part in said
    assert ("pen the electronic valve" in said) == (facts["metering"] == "EEV")
    assert ("This refrigerant burns" in said or "may explode" in said) == (facts["safety class"] != "A1")


@pytest.mark.parametrize("facts", MACHINES, ids=" ".join)
def test_what_is_charged_by_weight_only_is_never_trimmed_in_steps(facts: dict[str, str]) -> None:
    for fault in BOOK.faults:
        said = steps(fault, facts)
        if facts["charging"] == "weight only":
            assert "a little at a time, 15 minutes" not in said
            assert "Recover a little" not in said
    weighed = "Weigh in exactly the charge that the rating plate calls for" in steps("low-charge", facts)
    assert weighed == (facts["charging"] == "weight only")


@pytest.mark.parametrize("facts", MACHINES, ids=" ".join)
def test_each_metering_device_is_mended_by_its_own_parts(facts: dict[str, str]) -> None:
    own = {"TXV": "equalizer", "EEV": "stepper motor", "orifice": "maker's table", "capillary tube": "bore"}
    for fault in ("metering-underfeeding", "metering-overfeeding"):
        said = steps(fault, facts)
        for device, part in own.items():
            assert (part in said) == (device == facts["metering device"])
        assert (" bulb" in said) == (facts["metering"] == "TXV")


def test_an_electronic_valve_is_asked_about_sensors_and_not_a_bulb() -> None:
    entry = BOOK.checks["check-the-bulb"]
    electronic, thermostatic = check_for(entry, {"metering": "EEV"}), check_for(entry, {"metering": "TXV"})
    assert "sensors" in electronic.ask
    assert "bulb" not in f"{electronic.ask} {electronic.why}"
    assert thermostatic == entry
    assert electronic.gives == entry.gives


@pytest.mark.parametrize("facts", [{"metering": "cap tube"}, {"kind": "window"}, {"factory charge": "0.6 kg"}])
def test_a_small_machine_is_told_to_weigh_in_only(facts: dict[str, str]) -> None:
    said = page(**facts)
    assert "weigh in exactly what the rating plate calls for. Never add to this machine by temperatures" in said
    assert "small steps" not in said
    assert "little at a time" not in said


def test_a_larger_machine_may_be_trimmed_by_the_plate() -> None:
    assert "Trim the charge only by the method and the targets on the plate" in page(**{"factory charge": "2.5 kg"})


def fault_texts() -> Iterator[str]:
    for entry in BOOK.faults.values():
        if entry.repair is not None:
            yield from (step.do for step in (*entry.repair.do, *entry.repair.cautions))


def test_what_was_pumped_into_the_condenser_is_not_weighed_in_once_more() -> None:
    said = steps("liquid-line-restriction", MACHINES[3])
    assert MACHINES[3]["charging"] == "weight and temperatures"
    assert "Then evacuate only what was opened, and weigh nothing in." in said
    assert "calls for, if it was recovered" in said
    assert "pump it into the condenser" not in steps("liquid-line-restriction", MACHINES[0])


@pytest.mark.parametrize(("safety", "told"), [("A1", False), ("A2L", True), ("A3", False)])
def test_a_refrigerant_detector_may_have_stopped_the_compressor(safety: str, told: bool) -> None:
    assert ("Refrigerant detector" in steps("compressor-not-running", {"safety class": safety})) is told


def test_nothing_is_vented_and_nothing_is_tested_with_oxygen() -> None:
    for text in fault_texts():
        for word in ("vent ", "oxygen", "compressed air"):
            assert word not in text.lower() or "never" in text.lower() or "venting" in text.lower(), text


def test_a_step_without_a_machine_says_for_which_it_is() -> None:
    assert step_text(RepairStep("Do it.")) == "Do it."
    valve = (("metering", frozenset({"TXV", "EEV"})),)
    assert step_text(RepairStep("Do it.", valve)) == "For an expansion valve: Do it."
    named = {"charging": "weight and temperatures", "condenser coil": "microchannel", "mode": "cooling"}
    large = tuple((name, frozenset({word})) for name, word in named.items())
    assert (
        step_text(RepairStep("Do it.", large))
        == "For a larger machine with a microchannel condenser in cooling: Do it."
    )
    repair = BOOK.faults["low-charge"].repair
    assert any(step_text(s).startswith("For a machine that is charged by weight only") for s in repair.do)


def test_every_kind_of_machine_is_named_with_its_article() -> None:
    steps = [
        s for entry in load_rules().faults.values() if entry.repair for s in (*entry.repair.do, *entry.repair.cautions)
    ]
    named = [step_text(step).removesuffix(step.do) for step in steps if step.applies]
    assert named
    assert not [text for text in named if not text.startswith(("For a ", "For an "))]
