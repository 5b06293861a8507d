"""How far the charge is off where the condenser holds no liquid, and what the machine is charged by."""

from __future__ import annotations

from dataclasses import replace

import pytest
from strategies import State, visit, with_machine

from diagnose import examine
from diagnose.diagnosis.charge import ChargeVerdict
from diagnose.report.result import charge_dict
from diagnose.rulebook import machine_facts
from diagnose.simulator import HEALTHY, TON, charged_right, design, readings, solve
from diagnose.simulator.model import NoSolution
from diagnose.simulator.population import CHARGING_DAY, CHARGING_SUPERHEAT
from diagnose.visit import visit_from

EMPTY = State(metering="TXV", superheat=25, subcooling=0, evaporating=36, condensing=92, split=12)


@pytest.mark.parametrize("refrigerant", ["R-410A", "R-22"])
@pytest.mark.parametrize("missing", [10, 15, 25, 35, 45, 60])
def test_the_range_holds_what_is_missing_on_a_valve_machine(refrigerant: str, missing: int) -> None:
    machine = charged_right(design(refrigerant, "TXV", 3 * TON, 14), CHARGING_DAY, CHARGING_SUPERHEAT)
    faults = replace(HEALTHY, charge=1 - missing / 100)
    state = solve(machine, CHARGING_DAY, faults)
    assert not isinstance(state, NoSolution)
    d = examine(readings(machine, CHARGING_DAY, faults, state))
    assert isinstance(d.charge, ChargeVerdict)
    assert d.charge.verdict == "low"
    assert d.charge.percent is not None
    assert d.charge.percent[0] <= -missing <= d.charge.percent[1]
    assert d.charge.at_least == (d.estimates["subcooling"].value < 1.0)


def test_superheat_beyond_the_valve_s_range_raises_the_least_that_is_missing() -> None:
    held, beyond = (examine(visit(replace(EMPTY, superheat=heat))).charge for heat in (18, 50))
    assert isinstance(held, ChargeVerdict)
    assert isinstance(beyond, ChargeVerdict)
    assert held.percent == (-60, -8)
    assert beyond.percent is not None
    assert beyond.percent[0] == -60
    assert beyond.percent[1] <= -16


def test_only_a_valve_machine_without_subcooling_says_at_least() -> None:
    some, orifice = (
        examine(visit(replace(EMPTY, **change))).charge
        for change in ({"subcooling": 5, "superheat": 12}, {"metering": "fixed orifice"})
    )
    for charge in (some, orifice):
        assert isinstance(charge, ChargeVerdict)
        assert not charge.at_least


def test_an_orifice_that_floods_says_at_least() -> None:
    """What wets the vapor further shows nowhere."""
    wet, dry = (
        examine(visit(State(superheat=heat, subcooling=18, condensing=102, evaporating=44))).charge for heat in (0, 4)
    )
    assert isinstance(wet, ChargeVerdict)
    assert isinstance(dry, ChargeVerdict)
    assert (wet.verdict, wet.at_least, wet.percent and wet.percent[1]) == ("high", True, 60)
    assert not dry.at_least


def test_json_says_at_least_beside_the_pair() -> None:
    told = charge_dict(examine(visit(EMPTY)))
    assert told["estimate_at_least"] is True
    assert told["estimate_percent"] == [-60, -8]
    assert charge_dict(examine(visit(State())))["estimate_at_least"] is False


@pytest.mark.parametrize(
    ("facts", "weight_only"),
    [
        ({}, False),
        ({"factory charge": "0.99 kg"}, True),
        ({"factory charge": "1 kg"}, False),
        ({"nominal capacity": "0.9 ton"}, True),
        ({"nominal capacity": "0.9 ton", "factory charge": "1.2 kg"}, False),
        ({"metering": "cap tube"}, True),
        ({"metering": "Capillary  Tube", "factory charge": "3 kg"}, True),
        ({"refrigerant": "R-290"}, True),
        ({"kind": "window"}, True),
    ],
)
def test_what_a_machine_is_charged_by(facts: dict[str, str], weight_only: bool) -> None:
    machine = visit_from({"machine": {"refrigerant": "R-410A", "metering": "piston", **facts}}).machine
    assert machine.metering == "fixed orifice"
    assert (machine_facts(machine)["charging"] == "weight only") == weight_only


def test_a_capillary_tube_is_kept_as_it_was_written() -> None:
    for written, device in (("capillary tube", "capillary tube"), ("orifice", "orifice"), ("TEV", "TXV")):
        assert machine_facts(visit_from({"machine": {"metering": written}}).machine)["metering device"] == device
    data = with_machine(visit(State()), metering="cap tube")
    data["baseline"] = {"readings": data["readings"]}
    before = visit_from(data).baseline
    assert before is not None
    assert machine_facts(before.machine)["metering device"] == "capillary tube"
