"""What a fault costs: the correlations against their published coefficients, single machines, and the simulator."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, kelvin, states, visit, with_readings

from diagnose import examine
from diagnose.diagnosis.costs import Costs, FaultSize, NoCosts, airflow_effect, charge_effect
from diagnose.report.costs import costs_text, size_text, unknown_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.wording import cite
from diagnose.simulator.population import population

REFERENCE = Path(__file__).parents[1] / "reference"
LOW = visit(State(superheat=30, subcooling=3, evaporating=36, condensing=93, split=14))


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("deviation", [-0.3, -0.2, -0.1, 0.1, 0.2, 0.3])
@pytest.mark.parametrize(("indoor", "outdoor"), [(21.1, 27.8), (26.7, 35.0)])
def test_the_charge_correlation_is_the_published_one(deviation, indoor, outdoor):
    """NIST correlations as OpenStudio-HPXML implements them: charge_effect_coefficients.csv."""
    side = "undercharge" if deviation <= 0 else "overcharge"
    for output, has in zip(
        ("capacity", "power"), charge_effect(deviation, indoor + 273.15, outdoor + 273.15), strict=True
    ):
        (row,) = [
            r for r in rows("charge_effect_coefficients.csv")
            if r["fault"].startswith(side) and r["mode"] == "cooling" and r["output"] == output
        ]  # fmt: skip
        a1, a2, a3, a4 = (float(row[n]) for n in ("a1", "a2_per_C_indoor", "a3_per_C_outdoor", "a4_per_F"))
        assert has == pytest.approx(1 + (a1 + a2 * indoor + a3 * outdoor + a4 * deviation) * deviation)


@pytest.mark.parametrize("fraction", [0.4, 0.5, 0.75, 0.9, 1.0])
def test_the_airflow_curve_is_the_published_one(fraction):
    """Cutler et al. 2013: airflow_effect_coefficients.csv."""
    capacity, power = airflow_effect(fraction)
    for output, has in (("capacity ratio", capacity), ("EIR ratio", power / capacity)):
        (row,) = [r for r in rows("airflow_effect_coefficients.csv") if (r["mode"], r["output"]) == ("cooling", output)]
        assert has == pytest.approx(float(row["c0"]) + float(row["c1"]) * fraction + float(row["c2"]) * fraction**2)


@given(st.floats(290, 305), st.floats(290, 316))
def test_a_right_charge_and_full_air_cost_nothing(indoor, outdoor):
    assert charge_effect(0.0, indoor, outdoor) == (1.0, 1.0)
    assert airflow_effect(1.0) == pytest.approx((1.0, 1.0), abs=1e-4)


@given(st.floats(0.5, 1.0), st.floats(0.5, 1.0))
def test_less_air_never_gives_more_cooling(one, other):
    small, large = sorted((one, other))
    assert airflow_effect(small)[0] <= airflow_effect(large)[0] + 1e-12


@pytest.mark.parametrize(
    ("deviation", "least", "most", "source"),
    [
        (-0.15, 4, 11, "Home Energy 2002: capillary tube -4 to -6 % EER, orifice -11 %, at 15 % too little"),
        (-0.20, 2, 21, "Farzad 1990: season's efficiency -2 % with an expansion valve, -21 % with a capillary tube"),
        (0.20, 0, 11, "Farzad 1990: -8 % with an expansion valve, -11 % with a capillary tube, orifice flat"),
    ],
)
def test_efficiency_lost_lies_among_the_single_machines_that_were_published(deviation, least, most, source):
    """published_effects.csv; at 80 °F in, 95 °F out, the usual test conditions."""
    capacity, power = charge_effect(deviation, kelvin(80), kelvin(95))
    assert least <= 100 * (1 - capacity / power) <= most, source


def test_cooling_lost_at_seventy_percent_charge():
    """Australian bench tests of a non-ducted split at 70 % charge: cooling -17 % (published_effects.csv)."""
    assert 100 * (1 - charge_effect(-0.3, kelvin(80), kelvin(95))[0]) == pytest.approx(17, abs=4)


def test_a_low_charge_is_priced_by_its_estimate():
    found = examine(LOW)
    assert found.charge.verdict == "low"
    priced = found.costs
    assert isinstance(priced, Costs)
    assert 0 <= priced.capacity[0] < priced.capacity[1] <= 60
    small, large = sorted(abs(p) for p in found.charge.percent)
    assert (priced.size.of, priced.size.low, priced.size.high) == ("missing charge", small / 100, large / 100)
    assert size_text(priced.size).startswith(f"{small} to {large} % of the charge missing")
    assert found.to_dict()["costs"] == {
        "fault": "low-charge",
        "capacity_percent": list(priced.capacity),
        "efficiency_percent": list(priced.efficiency),
        "running_cost_percent": list(priced.running),
        "why": size_text(priced.size),
        "source": cite(priced.source, found.rules),
    }
    page = [block.text for block in diagnosis_page(found)]
    assert page[page.index("What it costs") + 1] == costs_text(priced)
    assert "NIST TN 1848" in page[page.index("What it costs") + 2]


def test_more_electricity_is_the_other_side_of_less_efficiency():
    priced = examine(LOW).costs
    for lost, more in zip(priced.efficiency, priced.running, strict=True):
        assert more == pytest.approx(100 * lost / (100 - lost), abs=1)


def test_an_orifice_may_lose_more_than_a_valve():
    """ORNL on RP-1173: an orifice loses from 90 % of the charge, a valve from 80 % (published_effects.csv)."""
    valve = examine(visit(State(metering="TXV", superheat=12, subcooling=4, evaporating=43, condensing=92))).costs
    orifice = examine(LOW).costs
    assert isinstance(valve, Costs)
    assert orifice.capacity[1] > valve.capacity[1] * 0.9


@pytest.mark.parametrize("extra", [False, True], ids=["by the split", "by the airflow"])
def test_little_air_is_priced_by_what_tells_it(extra):
    data = visit(State(metering="TXV", split=26, evaporating=36, cfm=750), extra=extra)
    found = examine(data)
    assert found.faults[0].fault == "low-indoor-airflow"
    assert isinstance(found.costs, Costs)
    assert (found.costs.size.of, found.costs.size.measured) == ("airflow", extra)
    assert size_text(found.costs.size).endswith("measured" if extra else "from the air temperature split")


def test_without_its_size_a_fault_has_no_price_but_says_what_to_measure():
    found = examine(visit(State(condensing=115, subcooling=8)))
    assert found.faults[0].fault == "low-outdoor-airflow"
    assert isinstance(found.costs, NoCosts)
    assert found.costs.reason.code == "cost-size-unknown"
    assert "Measure the airflow" in unknown_text(found.costs)
    assert found.to_dict()["costs"] is None
    assert any(unknown_text(found.costs) == block.text for block in diagnosis_page(found))


def test_what_was_measured_in_the_air_is_told_of_any_fault():
    data = with_readings(visit(State(condensing=118, subcooling=8, split=13), extra=True), airflow="900 cfm")
    found = examine(data)
    assert found.faults[0].fault == "low-outdoor-airflow"
    assert isinstance(found.costs, Costs)
    assert found.costs.efficiency is None
    assert found.costs.size.of == "capacity"
    assert "than one of its size should" in costs_text(found.costs)


@given(states())
def test_nothing_wrong_costs_nothing_and_every_range_is_a_range(state):
    found = examine(visit(state, extra=True))
    if found.status != "diagnosed" or found.faults[0].fault == "nothing-wrong":
        assert found.costs is None
    if isinstance(found.costs, Costs):
        for span in (found.costs.capacity, found.costs.efficiency, found.costs.running):
            assert span is None or 0 <= span[0] <= span[1] <= 150


def test_words_of_small_and_of_one_sided_costs():
    size = FaultSize("excess charge", 0.0, 0.1)
    assert costs_text(Costs("overcharge", (0, 1), (0, 1), (0, 1), size, "")) == (
        "The machine still cools about as much as it should, and uses hardly more electricity for it."
    )
    assert costs_text(Costs("overcharge", (0, 9), (2, 7), (2, 8), size, "")) == (
        "The machine gives up to 9 % less cooling, and uses about 2 to 8 % more electricity for the same cooling."
    )


def test_the_simulator_loses_about_as_much():
    """Capacity and cooling for each kWh (compressor and fans) of the same machine with and without the fault."""
    lost: dict[str, list[tuple[float, float, float, float]]] = {}
    for case in population(8515, 44, faults=["low-charge", "low-indoor-airflow"]):
        taken = case.conditions
        if case.truth == "low-charge":
            capacity, power = charge_effect(case.size - 1, taken.return_dry_bulb, taken.outdoor)
        else:
            capacity, power = airflow_effect(case.size)
        ill, well = case.state, case.healthy
        lost.setdefault(case.truth, []).append(
            (
                1 - ill.capacity / well.capacity,
                1 - capacity,
                1 - ill.capacity / ill.total_power * well.total_power / well.capacity,
                1 - capacity / power,
            )
        )
    for truth, each in lost.items():
        assert len(each) >= 20
        sim, said_lost, sim_efficiency, said_efficiency = (
            sum(column) / len(each) for column in zip(*each, strict=True)
        )
        assert sim > 0.05, truth
        assert said_lost / 1.5 <= sim <= said_lost * 2.0, truth
        assert said_efficiency / 1.5 <= sim_efficiency <= said_efficiency * 2.0, truth
