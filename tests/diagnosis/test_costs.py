"""What a fault costs: the correlations against their published coefficients, single machines, and the simulator."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import BOOK, JUDGEMENT
from published import rows
from shared import told
from strategies import State, kelvin, states, visit, with_readings

from diagnose import examine
from diagnose.diagnosis import costs
from diagnose.diagnosis.costs import Costs, FaultSize, airflow_effect, charge_effect
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.verdict import ChargeReading, ChargeVerdict
from diagnose.properties.targets import Target
from diagnose.quantities.uncertainty import Estimate
from diagnose.report.costs import costs_text, size_text, unknown_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.wording import cite
from diagnose.rulebook.judgement import CostFigures
from diagnose.simulator.population import draw
from diagnose.visit import Machine

LOW = visit(State(superheat=30, subcooling=3, evaporating=36, condensing=93, split=14))


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
    assert orifice.capacity[1] > valve.capacity[1] * 0.9


@pytest.mark.parametrize("extra", [False, True], ids=["by the split", "by the airflow"])
def test_little_air_is_priced_by_what_tells_it(extra):
    data = visit(State(metering="TXV", split=26, evaporating=36, cfm=750), extra=extra)
    found = examine(data)
    assert found.faults[0].fault == "low-indoor-airflow"
    assert (found.costs.size.of, found.costs.size.measured) == ("airflow", extra)
    assert size_text(found.costs.size).endswith("measured" if extra else "from the air temperature split")


def test_without_its_size_a_fault_has_no_price_but_says_what_to_measure():
    found = examine(visit(State(condensing=115, subcooling=8)))
    assert found.faults[0].fault == "low-outdoor-airflow"
    assert found.costs.reason.code == "cost-size-unknown"
    assert "It takes the airflow" in unknown_text(found.costs)
    assert found.to_dict()["costs"] is None
    assert any(unknown_text(found.costs) == block.text for block in diagnosis_page(found))


def test_in_heating_no_cost_is_told_for_all_figures_are_of_cooling():
    for name in ("weigh-in-heating-low", "heating-low-indoor-airflow-measured"):
        found = told(f"demo/{name}")
        assert found["faults"][0]["strength"] == "strong"
        assert found["costs"] is None


def test_what_was_measured_in_the_air_is_told_of_any_fault():
    data = with_readings(visit(State(condensing=118, subcooling=8, split=13), extra=True), airflow="900 cfm")
    found = examine(data)
    assert found.faults[0].fault == "low-outdoor-airflow"
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


# -- by hand -----------------------------------------------------------------------------------------------------------

ALIKE = replace(
    JUDGEMENT.costs, machines_differ=1.0, orifices_differ=1.0, rated_differs=0.0
)  # so that figures stay plain
BY = ChargeReading("subcooling", 3.0, 0.0, 5.0, 1.0)
AIR = {"return air dry bulb": 299.8, "outdoor air temperature": 308.2}
CFM_TON = 0.3048**3 / 60 / 3516.8528


def figure(name: str, value: float, target: float | None = None, sigma: float = 0.0, spread: float = 0.0) -> Estimate:
    expected = None if target is None else Target(target, spread, "test", "typical")
    return Estimate(name, "ratio", value, sigma, expected, None, sigma, (), {}, "", "")


def of(*estimates: Estimate) -> dict[str, Estimate]:
    return {estimate.name: estimate for estimate in estimates}


def lost_by_charge(*fractions: float) -> list[float]:
    return [100 * (1 - charge_effect(f, *AIR.values())[0]) for f in fractions]


def charged(percent: tuple[int, int], metering: str = "TXV", figures: CostFigures = ALIKE) -> Costs:
    verdict = ChargeVerdict("low" if percent[0] < 0 else "high", BY, 0.9, (), percent)
    return costs._of_charge("f", verdict, AIR, Machine(metering=metering), figures)


def test_a_charge_costs_what_both_ends_of_its_range_and_all_between_cost():
    least, most = lost_by_charge(-0.1, -0.3)
    assert charged((-30, -10)).capacity == (floor(least), ceil(most))


@pytest.mark.parametrize(
    ("percent", "of", "beyond"),
    [((-30, -10), "missing charge", None), ((-31, -10), "missing charge", 0.3), ((10, 30), "excess charge", None),
     ((10, 31), "excess charge", 0.3)],
)  # fmt: skip
def test_the_size_is_named_and_where_the_published_figures_end(percent, of, beyond):
    size = charged(percent).size
    assert (size.of, size.beyond) == (of, beyond)
    assert (size.low, size.high) == tuple(sorted(abs(p) / 100 for p in percent))


def test_only_an_orifice_that_starves_loses_more():
    figures = replace(ALIKE, orifices_differ=3.0, overcharge_costs=0.0)
    for percent in ((-20, -20), (20, 20)):
        valve, orifice = (charged(percent, metering, figures).capacity for metering in ("TXV", "fixed orifice"))
        assert (orifice > valve) == (percent[0] < 0)


def test_no_missing_charge_costs_what_an_overcharge_may():
    figures = replace(ALIKE, overcharge_costs=3.0)
    assert charged((20, 20), figures=figures).efficiency[1] == 60
    assert charged((-20, -20), figures=figures).efficiency[1] < 20


def test_less_cooling_for_each_kwh_is_more_electricity_for_the_same_cooling():
    size = FaultSize("airflow", 0.5, 0.5)
    found = costs._priced("f", [(0.4, 1.0)], size, "", ALIKE, 1.0)
    assert (found.capacity, found.efficiency, found.running) == ((60, 60), (60, 60), (150, 150))
    found = costs._priced("f", [(0.5, 1.0), (0.8, 1.0)], size, "", ALIKE, 1.0)
    assert (found.efficiency, found.running) == ((20, 50), (25, 100))


@pytest.mark.parametrize(("lost", "told"), [(0.29, (29, 29)), (0.07, (7, 7)), (0.071, (7, 8)), (-0.1, (0, 0))])
def test_a_range_is_told_in_whole_percent_that_hold_it(lost, told):
    """100 · 0.29 is a hair less than 29, and 100 · 0.07 a hair more than 7."""
    assert costs._span([lost], ALIKE, 1.0) == told


def test_a_blower_saves_a_share_of_what_the_air_falls_short_by():
    capacity, power = airflow_effect(0.65)
    flow = of(figure("airflow per ton", 0.65 * 400 * CFM_TON))
    found = costs._of_airflow("f", flow, Machine(), replace(ALIKE, blower=0.02))
    assert found.efficiency == (floor(100 * (1 - capacity / (power - 0.02 * 0.35))), ceil(100 * (1 - capacity / power)))


def test_airflow_so_badly_known_that_it_may_be_none_is_held_at_none():
    found = costs._of_airflow("f", of(figure("airflow per ton", 100 * CFM_TON, sigma=200 * CFM_TON)), Machine(), ALIKE)
    assert (found.size.low, found.size.high, found.size.beyond) == (0, 1.0, 0.35)


@pytest.mark.parametrize(
    "estimates",
    [{}, of(figure("air temperature split", 20.0)), of(figure("air temperature split", 10.0, 10.0)),
     of(figure("air temperature split", 10.0, 0.0)), of(figure("air temperature split", 10.0, -1.0))],
)  # fmt: skip
def test_an_airflow_that_nothing_tells_has_no_price(estimates):
    found = costs._of_airflow("f", estimates, Machine(), ALIKE)
    assert found.reason.code == "cost-airflow-unknown"


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [((0, 10), (12, 20), True), ((0, 10), (11, 20), False), ((12, 20), (0, 10), True), ((11, 20), (0, 10), False),
     ((0, 30), (10, 20), False)],
)  # fmt: skip
def test_ranges_are_apart_from_more_than_a_percent(one, other, apart):
    assert costs._apart(one, other) is apart


@pytest.mark.parametrize(
    ("split", "told"),
    [
        (figure("air temperature split", 6.0, 10.0), (31, 64)),  # 0.6 of it, ± 15 % of airflow, and 15 % of moisture
        (figure("air temperature split", 6.0, 10.0, sigma=0.5), (20, 72)),
        (figure("air temperature split", 14.0, 10.0), (0, 0)),
        (figure("air temperature split", -6.0, 10.0), (100, 100)),
        (figure("air temperature split", 6.0), None),
        (figure("air temperature split", 6.0, 0.0), None),
        (figure("air temperature split", 0.3, 0.5), (31, 64)),
    ],
)
def test_what_a_split_tells_of_the_cooling_lost(split, told):
    found = costs._by_split(of(split), replace(ALIKE, split_tells=0.15, moisture=0.15))
    assert found == told


@pytest.mark.parametrize(("value", "told"), [(8.0, (10, 30)), (12.0, (0, 0)), (0.5, (85, 100)), (9.5, (0, 15))])
def test_cooling_that_was_measured_is_lost_within_its_error_and_the_spread_of_sound_machines(value, told):
    capacity = figure("cooling capacity", value, 10.0, sigma=0.3, spread=0.4)
    known = {"cooling capacity": Finding("cooling capacity", {"low": 1.0})}
    assert costs._lost(of(capacity), known) == told
    assert costs._lost(of(capacity), {}) is None
    assert costs._lost(of(figure("cooling capacity", value)), known) is None


LOW_CHARGE = ChargeVerdict("low", BY, 0.9, (), (-30, -20))


@pytest.mark.parametrize(
    ("fault", "estimates", "told"),
    [
        ("low-charge", [], "missing charge"),
        ("low-charge", [figure("cooling capacity", 8.0, 10.0)], "missing charge"),  # 20 % lost, as it should
        ("low-charge", [figure("cooling capacity", 9.9, 10.0)], "capacity"),  # 1 %: what was measured goes first
        ("low-charge", [figure("cooling capacity", 10.0, 10.0)], "cost-air-disagrees"),
        ("low-charge", [figure("air temperature split", 8.0, 10.0)], "missing charge"),
        ("low-charge", [figure("air temperature split", 14.0, 10.0)], "cost-air-disagrees"),
        (
            "low-charge",
            [figure("air temperature split", 14.0, 10.0), figure("cooling capacity", 8.0, 10.0)],
            "missing charge",
        ),
        ("low-indoor-airflow", [figure("air temperature split", 20.0, 10.0)], "airflow"),  # no loss by it, and more
        ("low-indoor-airflow", [], "cost-airflow-unknown"),
        ("weak-compressor", [figure("cooling capacity", 9.9, 10.0)], "capacity"),
        ("weak-compressor", [figure("cooling capacity", 10.0, 10.0)], "cost-size-unknown"),
    ],
)
def test_what_was_measured_goes_before_what_is_published(fault, estimates, told):
    ranked = (Ranked(fault, 0.0, 0.9, (), "strong"),)
    known = {"cooling capacity": Finding("cooling capacity", {"low": 1.0})}
    found = costs.costs(ranked, LOW_CHARGE, of(*estimates), known, Machine(metering="TXV"), AIR, BOOK)
    assert (found.size.of if isinstance(found, Costs) else found.reason.code) == told


def test_cooling_that_was_measured_is_the_size_of_its_fault():
    capacity = of(figure("cooling capacity", 8.0, 10.0, sigma=0.3, spread=0.4))
    found = costs._measured("f", capacity, (10, 30))
    assert (found.capacity, found.size.low, found.size.high) == ((10, 30), 0.1, 0.3)
    assert (found.efficiency, found.running) == (None, None)


def test_nothing_wrong_and_nothing_ranked_has_no_price():
    sound = (Ranked("nothing-wrong", 0.0, 0.9, (), "strong"),)
    for ranked in ((), sound):
        assert costs.costs(ranked, LOW_CHARGE, {}, {}, Machine(), AIR, BOOK) is None


def test_the_simulator_loses_about_as_much():
    """Capacity and cooling for each kWh (compressor and fans) of the same machine with and without the fault."""
    lost: dict[str, list[tuple[float, float, float, float]]] = {}
    for case in (draw(8515, i, faults=["low-charge", "low-indoor-airflow"]) for i in range(44)):
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
