"""Slips of hand: named on the simulator's machines of every kind, and never where only a fault is to blame."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
import shared
from doubtful import DOUBTS, RIGHT, Data, clamps, rewritten, swapped
from hypothesis import given
from hypothesis import strategies as st
from judged import JUDGEMENT
from strategies import F, State, kelvin, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine
from diagnose.properties import refrigerant
from diagnose.quantities.plausibility import doubts
from diagnose.quantities.plausibility.strain import strain
from diagnose.quantities.uncertainty import absolute, estimate
from diagnose.visit import visit_from
from diagnose.workshop.trials import read_cases

LIMITS = JUDGEMENT.plausibility
LIKELY = {
    "clamps-swapped", "air-thermometers-swapped", "psi-written-as-kpa", "kpa-written-as-psi", "saturations-too-high",
    "saturations-too-low", "standing-pressure-too-low", "standing-pressure-as-when-running",
}  # fmt: skip


def told(data: Data) -> dict[str, Mapping[str, Any]]:
    """The codes of all doubts about the readings, with their figures."""
    parsed = visit_from(data)
    return {doubt.reason.code: doubt.reason.figures for doubt in doubts(parsed, estimate(parsed), LIMITS)}


@pytest.fixture(scope="module")
def machines() -> list[Data]:
    """40 simulated machines, ten kinds of condition, the usual eight readings and more; a seed nothing was set on."""
    return [case.visit for case in shared.machines(40)]


def test_no_fault_alone_is_called_a_slip(machines):
    """At most one in a hundred: none of so few."""
    assert not [data for data in machines if not LIKELY.isdisjoint(told(data))]


SLIPS: dict[str, tuple[Callable[[Data], Data], str]] = {
    "clamps": (clamps, "clamps-swapped"),
    "return and supply air": (
        lambda d: swapped(
            d, ("return air dry bulb", "supply air dry bulb"), ("return air wet bulb", "supply air wet bulb")
        ),
        "supply-air-above-return-air",
    ),
    "wet and dry bulb": (
        lambda d: swapped(d, ("return air dry bulb", "return air wet bulb")),
        "return-wet-bulb-above-dry-bulb",
    ),
    "gauges": (lambda d: swapped(d, ("suction pressure", "liquid pressure")), "suction-above-liquid"),
    "kPa for psi": (lambda d: rewritten(d, "psig", "kPa"), "psi-written-as-kpa"),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_each_slip_is_named_in_four_of_five_machines(slip, machines):
    change, code = SLIPS[slip]
    assert sum(code in told(change(data)) for data in machines) / len(machines) >= 0.8


# Refrigerants with nearly the same saturation pressure: no pressure tells them apart (properties, checked below).
TWINS = ({"R-410A", "R-32", "R-454B"}, {"R-22", "R-407C"})


@pytest.mark.parametrize("written", ["R-410A", "R-22", "R-32"])
def test_the_wrong_refrigerant_is_named_with_the_right_one_where_pressures_can_tell(written, machines):
    count: Counter[str] = Counter()
    for data in machines:
        real = data["machine"]["refrigerant"]
        if real == written or any({real, written} <= group for group in TWINS):
            continue
        found = told(with_machine(data, refrigerant=written))
        count["all"] += 1
        for code in ("saturations-too-high", "saturations-too-low"):
            count["named"] += code in found and real in found[code]["fitting"]
    assert count["all"] >= 15
    assert count["named"] / count["all"] >= 0.8


@pytest.mark.parametrize("group", TWINS, ids=lambda group: " ".join(sorted(group)))
def test_twins_lie_within_a_few_degrees_which_is_less_than_faults_move(group):
    """At 45 °F and 110 °F; the dew line, and the middle of dew and bubble where there is glide."""
    from diagnose.properties import saturation_pressure as pressure
    from diagnose.properties import saturation_temperature as saturation

    for at in (280.4, 316.5):
        for one in group:
            p = pressure(refrigerant(one), "dew", at)
            for other in group:
                middle = sum(saturation(other, line, p) for line in ("dew", "bubble")) / 2
                assert abs(middle - at) < 6


def test_the_strain_of_what_was_measured_on_real_machines_is_next_to_nothing():
    """The fault-free and faulty laboratory cases and the textbook's: none is strained, no slip is named."""
    seen = 0
    for folder in ("lab", "textbook"):
        for case in read_cases(Path(__file__).parents[2] / "cases" / folder):
            data = case.document.data["visit"]
            if "rounds" in data or not isinstance(data.get("readings"), dict):
                continue
            parsed = visit_from(data)
            values = {name: absolute(r, parsed.machine) for name, r in parsed.last.readings.items()}
            assert (
                strain(parsed.machine.refrigerant, values, parsed.machine.station_pressure, LIMITS) < LIMITS.strained[0]
            ), case.path
            assert LIKELY.isdisjoint(told(data)), case.path
            seen += 1
    assert seen > 40


@examples(12)
@given(states())
def test_swapping_twice_is_no_slip(state):
    data = visit(state)
    assert told(clamps(clamps(data))) == told(data)
    assert "clamps-swapped" not in told(data)


@given(states(), st.sampled_from(sorted(LIMITS.ranges)))
def test_errors_only_ease_the_strain(state, name):
    parsed = visit_from(clamps(visit(state)))
    values = {n: absolute(r, parsed.machine) for n, r in parsed.last.readings.items()}
    gas, station = parsed.machine.refrigerant, parsed.machine.station_pressure
    assert strain(gas, values, station, LIMITS, {name: 2.0}) <= strain(gas, values, station, LIMITS) + 1e-9


def test_swapped_clamps_are_set_aside_and_told_with_both_figures():
    data = DOUBTS["clamps-swapped"]
    ((code, figures),) = told(data).items()  # the slip explains the rest
    assert code == "clamps-swapped"
    assert figures["superheat_swapped"] == pytest.approx(14 * F, abs=1e-3)
    assert figures["subcooling_swapped"] == pytest.approx(10 * F, abs=1e-3)
    assert figures["superheat"] == pytest.approx(42 * F, abs=1e-3)
    assert figures["subcooling"] == pytest.approx(38 * F, abs=1e-3)
    found = examine(data)
    assert "superheat" not in found.estimates
    assert "subcooling" not in found.estimates
    assert found.charge.verdict == "do not judge"


def test_outdoor_and_return_air_are_named_where_they_lie_far_apart():
    (figures,) = told(DOUBTS["air-thermometers-swapped"]).values()
    assert (figures["one"], figures["other"]) == ("outdoor air temperature", "return air dry bulb")
    assert figures["first"] == pytest.approx(kelvin(72))
    assert figures["second"] == pytest.approx(kelvin(108))


def test_a_wrong_unit_is_told_with_the_pressures_that_fit():
    right = visit_from(RIGHT)
    figures = told(DOUBTS["psi-written-as-kpa"])["psi-written-as-kpa"]
    for word in ("suction", "liquid"):
        assert figures[word] == pytest.approx(
            absolute(right.last.readings[f"{word} pressure"], right.machine), rel=1e-6
        )


def test_a_gauge_that_reads_low_at_rest_is_named_where_liquid_is_there():
    """A pressure at rest below saturation means that no liquid is left (thermodynamics); subcooling says there is some."""
    assert list(told(DOUBTS["standing-pressure-too-low"])) == ["standing-pressure-too-low"]
    empty = with_readings(visit(State(subcooling=0.5, superheat=40, evaporating=28, condensing=90, split=10)),
                          standing_pressure="150 psig", standing_air_temperature="80 F")  # fmt: skip
    assert "standing-pressure-too-low" not in told(empty)
    assert examine(empty).faults[0].fault == "low-charge"


def test_a_starved_machine_whose_liquid_line_fits_is_not_called_another_refrigerant():
    """Little refrigerant comes round, so both pressures are low; but the liquid is no warmer than it condenses."""
    starved = visit(State(gas="R-22", outdoor=74, condensing=88, evaporating=16, superheat=63, subcooling=0, split=12,
                          return_db=80, return_wb=67))  # fmt: skip
    found = examine(starved)
    assert found.status == "diagnosed"
    assert found.faults[0].fault == "low-charge"


def test_pressures_beyond_the_table_are_another_refrigerant_too():
    """R-410A on a hot day written down as R-134a: its pressure is above all that R-134a can have."""
    hot = visit(State(outdoor=120, condensing=150, evaporating=52, return_db=82, return_wb=69))
    figures = told(with_machine(hot, refrigerant="R-134a"))["saturations-too-high"]
    assert figures["condensing"] is None
