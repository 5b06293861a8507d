"""The simulator against physics (balances), published trends and figures, and hostile input."""

from __future__ import annotations

import itertools
import math
import random
import statistics
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import rows
from shared import machines
from work import THOROUGH, examples

from diagnose.properties import table, vapour_density, vapour_enthalpy, vapour_temperature
from diagnose.properties.targets import Target, target_superheat
from diagnose.simulator import (
    AHRI_A,
    BASIC,
    FAULTS,
    HEALTHY,
    REFRIGERANTS,
    SETS,
    TON,
    Faults,
    NoSolution,
    Plant,
    Scatter,
    State,
    Weather,
    balances,
    design,
    draw,
    fahrenheit,
    individual,
    readings,
    sized,
    solve,
    true_values,
    weather,
)
from diagnose.simulator.compressor import overall_efficiency, volumetric_efficiency
from diagnose.simulator.fluid import at_temperature, mean_rho
from diagnose.simulator.metering import orifice_flow
from diagnose.simulator.readings import noisy
from diagnose.simulator.solver import MOST_LOOKS
from diagnose.visit import visit_from
from diagnose.visit.fields import INSTRUMENTS, READINGS, Instrument

pytestmark = pytest.mark.usefixtures("all_searched")
DEVICES = ("fixed orifice", "TXV")
F = 5 / 9
PSI = 6894.757293
MIDDLE = Weather(fahrenheit(88), fahrenheit(78), fahrenheit(65))


@lru_cache(maxsize=64)
def machine(refrigerant: str = "R-410A", device: str = "TXV", seer: float = 13.0, tons: float = 3.0) -> Plant:
    return design(refrigerant, device, tons * TON, seer)  # type: ignore[arg-type]


@lru_cache(maxsize=512)
def run(of: Plant, conditions: Weather, faults: Faults = HEALTHY) -> State:
    found = solve(of, conditions, faults)
    assert isinstance(found, State), found
    return found


# --- the parts ------------------------------------------------------------------------------------


@examples(30)
@given(st.sampled_from(REFRIGERANTS), st.floats(225, 328), st.floats(0, 115))
def test_vapour_density_and_temperature_against_coolprop(name: str, dew: float, superheat: float) -> None:
    """Source: CoolProp 8. The simulator's two additions to the property table."""
    p = at_temperature(name, "dew", dew).pressure
    T = at_temperature(name, "dew", dew).dew + superheat
    gas = table.Gas(table.fluid_name(name))
    gas.at(T, p)
    assert vapour_density(name, T, p) == pytest.approx(gas.density(), rel=1.5e-3)
    h = vapour_enthalpy(name, T, p)
    assert h is not None
    assert vapour_temperature(name, h, p) == pytest.approx(T, abs=1e-4)


def test_vapour_additions_answer_none_outside() -> None:
    assert vapour_density("R-22", 250.0, 1e6) is None
    assert vapour_density("R-22", math.nan, 1e6) is None
    assert vapour_temperature("R-22", 1e9, 1e6) is None
    assert vapour_temperature("R-22", math.nan, 1e6) is None
    assert vapour_temperature("R-22", 4e5, -1.0) is None


def test_short_tube_agrees_with_the_semi_empirical_form() -> None:
    """Source: building_blocks, sections 1 and 2: Payne 2004 against Kim 1994, R-22, within 1.2 %."""
    b = (1.005, 5.7367, -0.485, -0.179, 0.9948, 0.268, 2.716, -0.226, -0.021, 2.0, -0.092)
    D, L, P_c, T_c = 0.069 * 0.0254, 0.5 * 0.0254, 4.99e6, 369.3
    for condensing, subcooling in itertools.product((105, 115, 125), (2, 8, 15)):
        sat = at_temperature("R-22", "bubble", fahrenheit(condensing))
        T = sat.bubble - subcooling * F
        below = at_temperature("R-22", "bubble", T)
        pra, ld, sub = sat.pressure / P_c, L / D, subcooling * F / T_c
        low = (P_c - at_temperature("R-22", "dew", fahrenheit(45)).pressure) / P_c
        p_f = below.pressure * (
            b[0]
            + b[1] * pra ** b[2] * ld ** b[3] * sub ** b[4]
            + b[5] * pra ** b[6]
            + b[7] * math.exp(b[8] * D / 1.35e-3 * ld ** b[9])
            + b[10] * low
        )
        kim = math.pi / 4 * D * D * math.sqrt(2 * below.liquid_density * (sat.pressure - p_f))
        assert orifice_flow("R-22", D, L, sat.pressure, T, 0.0, sat) == pytest.approx(kim, rel=0.02)


def test_short_tube_has_no_step_where_vapour_enters_and_passes_less_with_more() -> None:
    for name in REFRIGERANTS:
        sat = at_temperature(name, "bubble", fahrenheit(105))
        flows = [
            orifice_flow(name, 1.7e-3, 0.0127, sat.pressure, sat.bubble, x, sat) for x in (0.0, 1e-4, 0.02, 0.1, 0.3)
        ]
        assert flows[1] == pytest.approx(flows[0], rel=2e-3)
        assert flows == sorted(flows, reverse=True)


def test_zivi_mean_density_lies_between_liquid_and_vapour_and_joins_up() -> None:
    """The mean over 0..1 is the mean of the means over its halves (Zivi 1964, integrated)."""
    sat = at_temperature("R-410A", "bubble", 315.0)
    whole = mean_rho(0.0, 1.0, sat)
    assert sat.vapour_density < whole < 0.5 * sat.liquid_density
    assert whole == pytest.approx(0.5 * (mean_rho(0.0, 0.5, sat) + mean_rho(0.5, 1.0, sat)))


def test_compressor_has_the_shape_of_the_ahri_540_scroll_map() -> None:
    """Source: building_blocks, section 4, R-22 2-ton scroll at 45 °F evaporating: overall 0.635, 0.690, 0.668, 0.630.

    Volumetric efficiency there falls from 1.94 to 1.79 (x 1e-3 m3/s) between pressure ratios 1.71 and 3.88.
    """
    for ratio, overall in ((2.02, 0.635), (2.66, 0.690), (3.43, 0.668), (3.88, 0.630), (5.54, 0.498)):
        assert overall_efficiency(0.69, ratio) == pytest.approx(overall, abs=0.035)
    assert volumetric_efficiency(3.88) / volumetric_efficiency(1.71) == pytest.approx(1.765 / 1.91, abs=0.02)


# --- the machine as designed ----------------------------------------------------------------------


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize(("seer", "tons"), [(10.0, 1.5), (13.0, 3.0), (18.0, 5.0)])
def test_design_point_is_the_steady_state(refrigerant: str, device: str, seer: float, tons: float) -> None:
    """At AHRI A: capacity, condensing over ambient of the class, subcooling and superheat as asked for."""
    made = machine(refrigerant, device, seer, tons)
    state = run(made, AHRI_A)
    assert state.net_capacity == pytest.approx(tons * TON, rel=2e-3)
    assert state.subcooling == pytest.approx(10 * F, abs=0.05)
    assert state.superheat == pytest.approx((16 if device == "TXV" else 12) * F, abs=0.05)
    assert state.condensing_apparent - AHRI_A.outdoor == pytest.approx(made.design_condensing, abs=0.05)
    assert 0.68 < state.sensible / state.capacity < 0.80
    pounds_per_ton = made.right_charge / 0.45359 / tons
    assert 1.0 < pounds_per_ton < 4.0


def test_efficiency_rises_with_class() -> None:
    b = Weather(fahrenheit(82), fahrenheit(80), fahrenheit(67))
    found = [run(machine(seer=s), b) for s in (10.0, 12.0, 13.0, 14.0, 16.0, 18.0)]
    ratios = [s.net_capacity / s.total_power for s in found]
    assert ratios == sorted(ratios)
    for seer, ratio in zip((10, 12, 13, 14, 16, 18), ratios, strict=True):
        assert ratio * 3.412 == pytest.approx(seer, rel=0.11)  # SEER is near the ratio at 82 °F


def test_design_refuses_what_cannot_be() -> None:
    for arguments in (("R-290",), ("R-22", "EEV"), ("R-22", "TXV", 1.0), ("R-22", "TXV", 3 * TON, 40.0)):
        with pytest.raises(ValueError):
            design(*arguments)  # type: ignore[arg-type]


# --- balances -------------------------------------------------------------------------------------


@st.composite
def cases(draw_: st.DrawFn) -> tuple[Plant, Weather, Faults]:
    made = machine(
        draw_(st.sampled_from(REFRIGERANTS)),
        draw_(st.sampled_from(DEVICES)),
        draw_(st.sampled_from((10.0, 13.0, 18.0))),
        draw_(st.sampled_from((1.5, 3.0, 5.0))),
    )
    conditions = Weather(
        fahrenheit(draw_(st.floats(65, 110))),
        fahrenheit(draw_(st.floats(70, 82))),
        return_relative_humidity=draw_(st.floats(0.4, 0.65)),
        station_pressure=draw_(st.floats(80e3, 103e3)),
    )
    faults = Faults(
        charge=draw_(st.floats(0.6, 1.4)),
        indoor_airflow=draw_(st.floats(0.5, 1.1)),
        outdoor_airflow=draw_(st.floats(0.5, 1.0)),
        restriction=draw_(st.one_of(st.just(0.0), st.floats(0.0, 1.0))),
        restriction_at=draw_(st.sampled_from(("drier", "line end"))),  # type: ignore[arg-type]
        non_condensable=draw_(st.one_of(st.just(0.0), st.floats(0.0, 0.004))),
        valve_leakage=draw_(st.one_of(st.just(0.0), st.floats(0.0, 0.4))),
        metering_size=draw_(st.floats(0.7, 1.5)),
        valve_opening=draw_(st.one_of(st.none(), st.floats(0.1, 1.0))),
        bulb_contact=draw_(st.floats(0.0, 1.0)),
    )
    return made, conditions, faults


@examples(18)
@given(cases())
def test_energy_and_mass_close_within_a_thousandth(case: tuple[Plant, Weather, Faults]) -> None:
    """The four balances compare figures that the model works out on different ways."""
    made, conditions, faults = case
    state = solve(made, conditions, faults)
    if isinstance(state, NoSolution):
        assert state.reason
        return
    closed = balances(state)
    assert max(map(abs, (closed.energy, closed.evaporator, closed.mass_flow, closed.charge))) < 1e-3
    # second law, and what must hold of any state
    assert state.compressor_power > 0
    assert state.capacity > 0
    assert state.liquid_pressure > state.metering_inlet_pressure > state.evaporator_pressure > state.suction_pressure
    assert state.supply_dry_bulb < conditions.return_dry_bulb + 1.0
    assert conditions.outdoor < state.liquid_temperature
    if state.condenser_outlet_quality <= 0.0:
        assert state.liquid_temperature <= state.condensing_apparent + 0.01
    assert (
        state.metering_inlet_temperature
        < max(state.liquid_temperature, conditions.outdoor, conditions.return_dry_bulb) + 0.25
    )
    # no warmer than the warmest air; a quarter of a kelvin for the convergence of a circuit that is all but empty
    assert state.suction_temperature < max(conditions.return_dry_bulb, conditions.outdoor) + 0.25


def test_liquid_is_nowhere_warmer_than_where_it_left_the_condenser() -> None:
    """No heat source lies between (second law), however much vapor trapped air carries along."""
    for place in (33, 42, 63):
        state = draw(77, place, faults=("non-condensables",)).state
        assert state.condenser_outlet_quality > 0.0
        assert state.drier_outlet_temperature <= state.liquid_temperature
        assert state.metering_inlet_temperature <= state.liquid_temperature


# --- published signs ------------------------------------------------------------------------------

# What moves, SI. "line_temp_drop" is over the drier.
FEATURES: dict[str, Callable[[State], float]] = {
    "T_evap": lambda s: s.evaporating,
    "superheat": lambda s: s.superheat,
    "T_cond": lambda s: s.condensing_apparent,
    "P_cond": lambda s: s.liquid_pressure / 1e4,
    "subcooling": lambda s: s.subcooling,
    "T_discharge": lambda s: s.discharge_temperature,
    "dT_air_condenser": lambda s: s.condenser_leaving_air - MIDDLE.outdoor,
    "dT_air_evaporator": lambda s: MIDDLE.return_dry_bulb - s.supply_dry_bulb,
    "line_temp_drop": lambda s: s.liquid_temperature - s.drier_outlet_temperature,
    "mass_flow": lambda s: s.mass_flow * 1e3,
    "SHR": lambda s: s.sensible / s.capacity * 100,
    "COP": lambda s: s.capacity / s.total_power * 10,
    "compressor_power": lambda s: s.compressor_power / 50,
    "idle_pressure_vs_ambient_sat": lambda s: s.standing_pressure / 1e4,
}
NOTHING = 0.05
"""A smaller change has no sign."""
HARDLY = 1.7
"""K, 3 °F, the protocol's tolerance on subcooling: a sign of 0 means no more than this."""

# (fault, metering) of the file: the same fault here. Valves "in control" get less of it than valves "fully open".
SAME: dict[tuple[str, str], Faults] = {
    ("undercharge", "in control"): Faults(charge=0.92),
    ("undercharge", ""): Faults(charge=0.80),
    ("undercharge", "fully open"): Faults(charge=0.60),
    ("overcharge", ""): Faults(charge=1.08),
    ("compressor_valve_leak", ""): Faults(valve_leakage=0.25),
    ("liquid_line_restriction", "in control"): Faults(restriction=0.25),
    ("liquid_line_restriction", ""): Faults(restriction=0.5),
    ("liquid_line_restriction", "fully open"): Faults(restriction=0.7),
    ("condenser_fouling", ""): Faults(outdoor_airflow=0.6),
    ("evaporator_fouling", ""): Faults(indoor_airflow=0.65),
    ("non_condensables", ""): Faults(non_condensable=0.002),
    ("metering_underfeed", "fixed orifice"): Faults(metering_size=0.75),
    ("metering_underfeed", "TXV"): Faults(valve_opening=0.25),
    ("metering_overfeed", "fixed orifice"): Faults(metering_size=1.25),
    ("metering_overfeed", "TXV"): Faults(valve_opening=0.75),
}
NAMED = {
    "undercharge/leak": "undercharge",
    "condenser_blockage": "condenser_fouling",
    "evaporator_airflow_loss": "evaporator_fouling",
    "compressor_or_reversing_valve_leak": "compressor_valve_leak",
}


def signs() -> list[tuple[str, str, str, str, str]]:
    """(short source, fault as the file says it, device, feature, sign) of every row that states a sign."""
    found = []
    for row in rows("fault_signs.csv"):
        sign, feature, metering = row["sign"], row["feature"], row["metering"]
        if feature not in FEATURES or sign[0] not in "+-0":
            continue
        source = row["source"].split()[0].strip("(;)").lower()
        devices = [d for d in DEVICES if d in metering] or list(DEVICES)
        stage = next((s for s in ("in control", "fully open") if s in metering), "")
        found += [(source, row["fault"] + (f" {stage}" if stage else ""), d, feature, sign) for d in devices]
    return found


def same_fault(fault: str, device: str) -> Faults:
    stage = next((s for s in ("in control", "fully open") if fault.endswith(s)), "")
    name = fault.removesuffix(stage).strip()
    name = NAMED.get(name, name)
    for key in ((name, stage), (name, device), (name, "")):
        if key in SAME:
            return SAME[key]
    raise KeyError(fault)


def moved(refrigerant: str, fault: str, device: str, feature: str) -> float:
    made = machine(refrigerant, device)
    read = FEATURES[feature]
    return read(run(made, MIDDLE, same_fault(fault, device))) - read(run(made, MIDDLE))


def agrees(change: float, sign: str) -> bool:
    if sign.startswith("+ or 0"):
        return change > -HARDLY
    if sign.startswith("0"):
        return abs(change) < HARDLY
    return change > NOTHING if sign.startswith("+") else change < -NOTHING


# Rows that the model does not follow, with which refrigerants, and why. Whatever joins or leaves the list fails the test.
BOTH = ("R-410A", "R-22")
DISAGREE: dict[tuple[str, str, str, str, str], tuple[tuple[str, ...], str]] = {
    ("rossi", "condenser_fouling", "fixed orifice", "subcooling", "-"): (
        ("R-410A",),
        "a tenth of a kelvin the other way: hotter condensing drives more subcooling per square foot, and that just makes "
        "up for the liquid the warmer condenser loses; the sources disagree among themselves (NIST 2019 has +)",
    ),
    ("nist", "overcharge", "TXV", "COP", "+"): (
        BOTH,
        "the file marks it as contrary to the usual expectation; power rises faster than capacity",
    ),
    ("nist", "undercharge", "TXV", "compressor_power", "+"): (
        BOTH,
        "the file marks it as contrary to the usual expectation; the condenser, emptier, condenses colder",
    ),
    ("nrel", "undercharge", "TXV", "T_evap", "-"): (
        BOTH,
        "device not stated; at 80 % a valve still controls and the model has a third of a kelvin more; at 60 % it falls",
    ),
    ("nrel", "undercharge", "TXV", "mass_flow", "-"): (
        BOTH,
        "the same: the valve makes up for flash gas by opening, until it is fully open",
    ),
    ("none", "non_condensables", "fixed orifice", "T_discharge", "+"): (
        BOTH,
        "the added pressure drives more liquid through an orifice and floods the evaporator: wet suction cools the discharge "
        "more than the pressure ratio heats it; with a valve the row holds",
    ),
}


@pytest.mark.parametrize("refrigerant", BOTH)
def test_trends_agree_with_the_published_signs(refrigerant: str) -> None:
    """Source: fault_signs.csv (Rossi and Braun 1997, NIST SP 1087, NREL, cycle physics), every row with a sign."""
    stated = signs()
    assert len(stated) == 129
    wrong = {row for row in stated if not agrees(moved(refrigerant, row[1], row[2], row[3]), row[4])}
    assert wrong == {row for row, (where, _) in DISAGREE.items() if refrigerant in where}


def test_undercharge_of_a_valve_machine_moves_as_stated_once_the_valve_is_fully_open() -> None:
    """The two NREL rows that do not hold at 80 % of the charge hold at 60 %."""
    empty = run(machine(), MIDDLE, Faults(charge=0.6))
    assert empty.valve_position == 1.0
    assert empty.evaporating < run(machine(), MIDDLE).evaporating - 2.0
    assert empty.mass_flow < 0.95 * run(machine(), MIDDLE).mass_flow


def test_decoupling_features_move_for_their_own_fault_most() -> None:
    """Source: fault_signs.csv, Braun and Li 2003: one feature for each fault."""
    made = machine("R-410A", "TXV")
    names = {
        "non_condensables": Faults(non_condensable=0.003),
        "restriction": Faults(restriction=0.6),
        "condenser": Faults(outdoor_airflow=0.6),
        "evaporator": Faults(indoor_airflow=0.6),
        "charge": Faults(charge=0.75),
    }
    features: dict[str, Callable[[State], float]] = {
        "non_condensables": lambda s: s.standing_pressure,
        "restriction": lambda s: s.liquid_pressure - s.metering_inlet_pressure,
        "condenser": lambda s: s.condenser_leaving_air,
        "evaporator": lambda s: MIDDLE.return_dry_bulb - s.supply_dry_bulb,
        "charge": lambda s: s.subcooling - s.superheat,
    }
    healthy = run(made, MIDDLE)
    for name, read in features.items():
        moves = {other: abs(read(run(made, MIDDLE, fault)) - read(healthy)) for other, fault in names.items()}
        if name == "charge":  # the charge feature is touched by all faults: the file says so
            assert read(run(made, MIDDLE, names["charge"])) < read(healthy) - 3.0
        else:
            assert max(moves, key=moves.__getitem__) == name


@pytest.mark.parametrize("device", DEVICES)
def test_fault_effects_grow_with_the_fault(device: str) -> None:
    """Each fault's leading sign is monotone in its size."""
    made = machine("R-410A", device)
    ladders: list[tuple[list[Faults], Callable[[State], float]]] = [
        ([Faults(charge=c) for c in (1.0, 0.95, 0.9, 0.8, 0.7, 0.6)], lambda s: s.charge.condenser),
        ([Faults(charge=c) for c in (1.4, 1.3, 1.2, 1.1, 1.0)], lambda s: s.liquid_pressure),
        ([Faults(indoor_airflow=c) for c in (1.0, 0.85, 0.7, 0.55, 0.4)], lambda s: s.suction_pressure),
        ([Faults(outdoor_airflow=c) for c in (0.4, 0.55, 0.7, 0.85, 1.0)], lambda s: s.liquid_pressure),
        ([Faults(restriction=c) for c in (0.0, 0.2, 0.4, 0.7, 1.0)], lambda s: s.metering_inlet_pressure),
        ([Faults(non_condensable=c) for c in (0.006, 0.004, 0.002, 0.0)], lambda s: s.standing_pressure),
        ([Faults(valve_leakage=c) for c in (0.0, 0.1, 0.2, 0.3, 0.45)], lambda s: s.capacity),
        ([Faults(outdoor_coil=c) for c in (0.5, 0.7, 0.85, 1.0)], lambda s: s.liquid_pressure),
    ]
    if device == "TXV":
        ladders.append(([Faults(valve_opening=c) for c in (0.8, 0.5, 0.35, 0.25, 0.15)], lambda s: s.suction_pressure))
        ladders.append(([Faults(bulb_contact=c) for c in (1.0, 0.7, 0.4, 0.0)], lambda s: s.suction_quality))
    else:
        ladders.append(([Faults(metering_size=c) for c in (1.5, 1.2, 1.0, 0.8, 0.6)], lambda s: s.suction_pressure))
    for ladder, read in ladders:
        values = [read(run(made, MIDDLE, faults)) for faults in ladder]
        assert values == sorted(values, reverse=True), ladder[1]


# --- published sizes ------------------------------------------------------------------------------


def charge_effect(kind: str, output: str, fraction: float, indoor: float, outdoor: float) -> float:
    """Y = 1 + (a1 + a2 Tid + a3 Tod + a4 F) F, °C."""
    row = next(
        r
        for r in rows("charge_effect_coefficients.csv")
        if r["mode"] == "cooling" and r["output"] == output and r["fault"].startswith(kind)
    )
    a = [float(row[k]) for k in ("a1", "a2_per_C_indoor", "a3_per_C_outdoor", "a4_per_F")]
    return 1 + (a[0] + a[1] * indoor + a[2] * outdoor + a[3] * fraction) * fraction


@pytest.mark.parametrize("refrigerant", BOTH)
@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize(("indoor", "outdoor"), [(26.7, 35.0), (26.7, 27.8), (24.0, 35.0), (22.0, 30.0)])
def test_charge_effects_against_the_coefficients(refrigerant: str, device: str, indoor: float, outdoor: float) -> None:
    """Source: charge_effect_coefficients.csv (NIST correlations, several machines pooled).

    Bands from 80 to 130 % of charge: capacity 0.06, power 0.045; at 70 %, where the correlation lies between our two
    devices, 0.12 and 0.06.
    """
    made = machine(refrigerant, device)
    conditions = Weather(outdoor + 273.15, indoor + 273.15, return_relative_humidity=0.5)
    healthy = run(made, conditions)
    for fraction in (-0.3, -0.2, -0.1, 0.1, 0.2, 0.3):
        kind = "undercharge" if fraction < 0 else "overcharge"
        state = run(made, conditions, Faults(charge=1 + fraction))
        far = fraction == -0.3
        wanted = charge_effect(kind, "capacity", fraction, indoor, outdoor)
        assert state.capacity / healthy.capacity == pytest.approx(wanted, abs=0.12 if far else 0.06), fraction
        wanted = charge_effect(kind, "power", fraction, indoor, outdoor)
        assert state.total_power / healthy.total_power == pytest.approx(wanted, abs=0.06 if far else 0.045), fraction


@pytest.mark.parametrize("refrigerant", BOTH)
@pytest.mark.parametrize("device", DEVICES)
def test_airflow_effects_against_the_coefficients(refrigerant: str, device: str) -> None:
    """Source: airflow_effect_coefficients.csv (Cutler et al. 2013). Band 0.02 from 70 to 120 % of airflow, 0.04 at 60 %."""
    made = machine(refrigerant, device)
    healthy = run(made, AHRI_A)
    table_ = [r for r in rows("airflow_effect_coefficients.csv") if r["mode"] == "cooling"]
    for flow in (0.6, 0.7, 0.8, 0.9, 1.1, 1.2):
        state = run(made, AHRI_A, Faults(indoor_airflow=flow))
        capacity, ratio = (sum(float(r[f"c{i}"]) * flow**i for i in range(3)) for r in table_)
        band = 0.02 if flow > 0.65 else 0.04
        assert state.capacity / healthy.capacity == pytest.approx(capacity, abs=band)
        outdoor_unit = [(s.compressor_power + s.outdoor_fan) / s.capacity for s in (state, healthy)]
        assert outdoor_unit[0] / outdoor_unit[1] == pytest.approx(ratio, abs=band)


def efficiency(made: Plant, conditions: Weather, faults: Faults = HEALTHY) -> float:
    """Net, over that of the healthy machine."""
    ratios = [s.net_capacity / s.total_power for s in (run(made, conditions, faults), run(made, conditions))]
    return ratios[0] / ratios[1]


def test_published_effects() -> None:
    """Source: published_effects.csv; seasonal ratios compared at 82 °F outdoors, which stands for the season."""
    b = Weather(fahrenheit(82), fahrenheit(80), fahrenheit(67))
    valve, orifice = machine("R-22", "TXV", 10.0), machine("R-22", "fixed orifice", 10.0)
    # Farzad 1990: TXV -2 % at 80 % of charge, -8 % at 120 %; capillary tube -21 %, -11 %
    assert -0.08 < efficiency(valve, b, Faults(charge=0.8)) - 1 < -0.01
    assert -0.08 < efficiency(valve, b, Faults(charge=1.2)) - 1 < 0.0
    # a fixed device loses more than a valve (same source; RP-1173: from 90 % down)
    assert efficiency(orifice, b, Faults(charge=0.8)) < efficiency(valve, b, Faults(charge=0.8)) - 0.03
    assert efficiency(orifice, b, Faults(charge=0.9)) < 0.985
    # Home Energy 2002: orifice -15 % of charge: EER -11 %; +15 %: less than 2 % lost
    assert -0.14 < efficiency(orifice, b, Faults(charge=0.85)) - 1 < -0.04
    assert efficiency(orifice, b, Faults(charge=1.15)) > 0.98
    # RP-1173: below 80 % the valve is fully open, superheat uncontrolled
    assert run(valve, AHRI_A, Faults(charge=0.65)).valve_position == 1.0
    # bench tests: 70 % charge: capacity -17 % (non-ducted split)
    for refrigerant in BOTH:
        low = (
            run(machine(refrigerant), AHRI_A, Faults(charge=0.7)).capacity / run(machine(refrigerant), AHRI_A).capacity
        )
        assert -0.25 < low - 1 < -0.08
    # Breuker and Braun 1998 (from memory): leak 14 %: -8 %; valve leak 35 %: -21.5 %; evaporator airflow -36 %: -19 %
    healthy = run(orifice, AHRI_A).capacity
    assert -0.12 < run(orifice, AHRI_A, Faults(charge=0.86)).capacity / healthy - 1 < -0.04
    assert -0.42 < run(orifice, AHRI_A, Faults(valve_leakage=0.35)).capacity / healthy - 1 < -0.15
    assert -0.20 < run(orifice, AHRI_A, Faults(indoor_airflow=0.64)).capacity / healthy - 1 < -0.06


def test_non_condensables_cost_capacity_as_published_in_direction() -> None:
    """Source: published_effects.csv: 51 g in a ducted rooftop: -18 %. Its charge is not stated; 51 g into a 3-ton R-22
    machine's 2.5 kg passes our high-pressure limit, so a fifth of it is tried: a loss, on an orifice by flooding.
    """
    for device in DEVICES:
        made = machine("R-22", device)
        ill = run(made, AHRI_A, Faults(non_condensable=0.01 / made.right_charge))
        assert ill.capacity < run(made, AHRI_A).capacity
        assert ill.total_power > 1.05 * run(made, AHRI_A).total_power


def test_trapped_air_raises_the_standing_pressure() -> None:
    """Dalton: in a machine that stands still the trapped air adds n R T / V, and without it saturation is read."""
    for refrigerant in REFRIGERANTS:
        made = machine(refrigerant)
        clean, foul = (run(made, MIDDLE, Faults(non_condensable=n)).standing_pressure for n in (0.0, 0.004))
        dew = at_temperature(refrigerant, "dew", MIDDLE.outdoor).pressure
        bubble = at_temperature(refrigerant, "bubble", MIDDLE.outdoor).pressure
        assert dew - 1.0 <= clean <= bubble + 1.0
        assert 8 * PSI < foul - clean < 40 * PSI


# --- superheat table and laboratory machine -------------------------------------------------------


def superheat_deviation(refrigerant: str, outdoor: float, wet: float) -> float | None:
    """Healthy orifice machine less the target table, °F; None where the table is blank."""
    target = target_superheat(fahrenheit(outdoor), fahrenheit(wet))
    if not isinstance(target, Target):
        return None
    conditions = Weather(fahrenheit(outdoor), fahrenheit(78 if wet < 70 else 82), fahrenheit(wet))
    return (run(machine(refrigerant, "fixed orifice"), conditions).superheat - target.value) * 1.8


def test_healthy_orifice_superheat_follows_the_target_table_where_it_does() -> None:
    """Source: target superheat table RA3.2-2 (from memory). Charged to 12 °F at 95/67.

    R-22, for whose machines the table was made: within 6 °F at 67 to 72 °F wet bulb over 65 to 115 °F outdoors. R-410A:
    the same over 75 to 115 °F; its slope with outdoor temperature is two thirds of the table's (8 °F low at 65 °F). In dry
    air (57 to 62 °F wet bulb) both machines flood where the table still asks for up to 21 °F: 5 to 14 °F low.
    """
    for refrigerant, coldest in (("R-22", 65), ("R-410A", 75)):
        for wet, outdoor in itertools.product((67, 70, 72), range(coldest, 116, 10)):
            away = superheat_deviation(refrigerant, outdoor, wet)
            assert away is None or abs(away) <= 7.0 - (refrigerant == "R-22"), (refrigerant, outdoor, wet, away)
    low = [superheat_deviation("R-410A", o, w) for o, w in ((65, 67), (75, 62), (65, 62))]
    assert all(away is not None and -14.5 < away < -5.0 for away in low)


def test_superheat_moves_the_way_the_table_does() -> None:
    """Rises with indoor wet bulb, falls with outdoor temperature."""
    made = machine("R-410A", "fixed orifice")

    def at(outdoor: float, wet: float) -> float:
        return run(made, Weather(fahrenheit(outdoor), fahrenheit(80), fahrenheit(wet))).superheat

    by_outdoor = [at(o, 67) for o in (70, 80, 90, 100, 110)]
    by_wet = [at(85, w) for w in (63, 66, 69, 72)]
    assert by_outdoor == sorted(by_outdoor, reverse=True)
    assert by_wet == sorted(by_wet)


def test_laboratory_machine_without_fault() -> None:
    """Source: nist_no_fault_wet.csv (NISTIR 7350): 2.5 ton, R-410A, TXV; its class and subcooling chosen to fit.

    Bands: suction 10 psi, liquid 10 psi, superheat 3 °F, subcooling 3 °F, liquid line 3 °F, discharge 8 °F, temperature
    split 1.2 °F, outdoor unit's power 5 %. Means over the eight states: half of that.
    """
    made = design("R-410A", "TXV", 2.5 * TON, 15.0, subcooling=7.5 * F)
    bands = {"Ps": 10.0, "Pl": 10.0, "SH": 3.0, "SC": 3.0, "Tl": 3.0, "Td": 8.0, "split": 1.2, "W": 0.05}
    away: dict[str, list[float]] = {k: [] for k in bands}
    for row in rows("nist_no_fault_wet.csv"):
        value = {
            k: float(v) for k, v in row.items() if k not in ("source", "refrigerant", "metering", "true_fault", "coil")
        }
        state = run(
            made,
            Weather(
                fahrenheit(value["outdoor_db_f"]),
                fahrenheit(value["return_db_f"]),
                fahrenheit(value["return_wb_f_derived"]),
            ),
        )
        away["Ps"].append((state.suction_pressure - 101325) / PSI - value["suction_psig_derived"])
        away["Pl"].append((state.liquid_pressure - 101325) / PSI - value["liquid_psig_derived"])
        away["SH"].append(state.superheat * 1.8 - value["superheat_f_derived"])
        away["SC"].append(state.subcooling * 1.8 - value["subcooling_f_derived"])
        away["Tl"].append(state.liquid_temperature * 1.8 - 459.67 - value["liquid_line_f"])
        away["Td"].append(state.discharge_temperature * 1.8 - 459.67 - value["discharge_f"])
        away["split"].append(value["return_db_f"] - (state.supply_dry_bulb * 1.8 - 459.67) - value["air_split_f"])
        away["W"].append((state.compressor_power + state.outdoor_fan) / value["outdoor_unit_w"] - 1)
    for name, band in bands.items():
        assert max(map(abs, away[name])) < band, (name, away[name])
        assert abs(statistics.mean(away[name])) < (0.8 if name == "Ps" else 0.5) * band, name


# --- hostile input --------------------------------------------------------------------------------


@examples(12)
@given(
    st.sampled_from(REFRIGERANTS),
    st.sampled_from(DEVICES),
    st.floats(-20, 140),
    st.floats(40, 110),
    st.floats(0, 1.0),
    st.builds(
        Faults,
        charge=st.floats(0.2, 2.2),
        indoor_airflow=st.floats(0.0, 1.5),
        outdoor_airflow=st.floats(0.0, 1.5),
        restriction=st.floats(0.0, 20.0),
        non_condensable=st.floats(0.0, 0.1),
        valve_leakage=st.floats(0.0, 1.0),
        metering_size=st.floats(0.0, 5.0),
    ),
)
def test_extreme_input_ends_within_the_bound(
    refrigerant: str, device: str, outdoor: float, indoor: float, rh: float, faults: Faults
) -> None:
    conditions = Weather(fahrenheit(outdoor), fahrenheit(indoor), return_relative_humidity=rh)
    found = solve(machine(refrigerant, device), conditions, faults)
    assert found.evaluations <= MOST_LOOKS
    assert isinstance(found, State) or found.reason


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf, -1.0, 5e-324, 1e308])
def test_no_number_raises(odd: float) -> None:
    """Wherever it stands, one place at a time; what cannot be is refused at once."""
    weathers = [replace(MIDDLE, **{place: odd}) for place in ("outdoor", "return_dry_bulb", "return_wet_bulb")]
    sizes = ["charge", "indoor_airflow", "restriction", "non_condensable", "metering_size"]
    if odd != -1.0:  # as shut as at 5e-324
        sizes.append("valve_opening")
    tried = [(one, HEALTHY) for one in weathers] + [(MIDDLE, Faults(**{size: odd})) for size in sizes]
    found = [solve(machine(), *one) for one in tried]
    assert all(isinstance(one, NoSolution | State) for one in found)
    if not math.isfinite(odd):
        assert all(isinstance(one, NoSolution) and one.evaluations == 0 for one in found)


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_size_has_a_state_or_a_reason(fault: str) -> None:
    """Six machines a fault or more over the whole range of its size: hardly any without a steady state."""
    missing = 0
    for i in range(12 if THOROUGH else 6):
        chance = random.Random(f"{fault} {i}")
        made = machine(REFRIGERANTS[i % 5], DEVICES[i % 2], (10.0, 13.0, 18.0)[i % 3], (1.5, 3.0, 5.0)[i % 3])
        faults, _ = sized(chance, fault, made.metering, HEALTHY)
        missing += isinstance(solve(made, weather(chance), faults), NoSolution)
    assert missing <= (2 if THOROUGH else 1)


# --- readings and population ----------------------------------------------------------------------


def test_readings_are_a_visit() -> None:
    """Every set is accepted by the visit reader, and says in its units what the state says."""
    state = run(machine(), MIDDLE)
    for which, names in SETS.items():
        mapping = readings(machine(), MIDDLE, HEALTHY, state, None, None, which)
        visit = visit_from(mapping)
        taken = mapping["readings"]
        assert isinstance(taken, dict)
        assert set(taken) == {*names, "minutes running"}
        assert visit.machine.refrigerant is not None
    assert set(BASIC) < set(READINGS)
    true = true_values(MIDDLE, state)
    assert set(true) == set(SETS["all"])
    for name, value in true.items():
        assert READINGS[name].low <= value <= READINGS[name].high, name
        read = taken[name].split()[0]
        if READINGS[name].kind == "temperature":
            assert float(read) == pytest.approx(value * 1.8 - 459.67, abs=0.051)
        elif READINGS[name].kind == "pressure":
            assert float(read) * PSI == pytest.approx(value, abs=0.051 * PSI)


def test_same_seed_same_readings_in_every_set() -> None:
    state = run(machine(), MIDDLE)
    few, many = (readings(machine(), MIDDLE, HEALTHY, state, 5, None, w)["readings"] for w in ("basic", "all"))  # type: ignore[arg-type]
    assert isinstance(few, dict)
    assert isinstance(many, dict)
    assert few.items() <= many.items()
    assert many != readings(machine(), MIDDLE, HEALTHY, state, 6, None, "all")["readings"]


def test_noise_has_the_stated_size_and_a_part_in_common() -> None:
    """Limits of error hold 95 of 100 readings; two clamps of one visit are half correlated; two instruments are not."""
    true = true_values(MIDDLE, run(machine(), MIDDLE))
    found = [noisy(true, seed) for seed in range(1500)]
    for name in (
        "suction pressure",
        "suction line temperature",
        "airflow",
        "compressor current",
        "return air dry bulb",
    ):
        limit = INSTRUMENTS[READINGS[name].instrument]
        away = [f[name] - true[name] for f in found]
        wanted = (limit.share * true[name] + limit.fixed) / 2
        assert statistics.pstdev(away) == pytest.approx(wanted, rel=0.08)
        assert abs(statistics.mean(away)) < 0.1 * wanted
    one, other, third = (
        [f[n] - true[n] for f in found] for n in ("suction line temperature", "liquid line temperature", "airflow")
    )
    assert statistics.correlation(one, other) == pytest.approx(0.5, abs=0.08)
    assert abs(statistics.correlation(one, third)) < 0.08


def test_own_instruments_are_written_down() -> None:
    own = {"gauges": Instrument(0.005, 0.0, "pressure", ""), "pipe clamps": Instrument(0.0, 0.5, "difference", "")}
    mapping = readings(machine(), MIDDLE, HEALTHY, run(machine(), MIDDLE), 1, own)
    assert mapping["instruments"] == {"gauges": "0.5 %", "pipe clamps": "0.9 F"}
    visit_from(mapping)


def test_population_is_repeatable_and_each_case_its_own() -> None:
    first, again = ([draw(3, i) for i in range(3)] for _ in range(2))
    assert first == again
    assert [p.truth for p in first] != [p.truth for p in (draw(4, i) for i in range(3))]
    assert len({p.machine for p in first}) == 3


def test_population_draws_all_faults_within_their_ranges() -> None:
    drawn = machines(60)
    assert {p.truth for p in drawn} == set(FAULTS)
    for p in drawn:
        assert visit_from({**p.visit, "baseline": {"readings": p.baseline["readings"]}}).baseline
        closed = balances(p.state)
        assert max(map(abs, (closed.energy, closed.evaporator, closed.mass_flow, closed.charge))) < 1e-3
        assert 65 <= p.conditions.outdoor * 1.8 - 459.67 <= 110
        assert 0.94 < (p.healthy.charge.total / p.machine.right_charge) < 1.06
        tons = p.machine.nominal_capacity / TON
        assert 329 < p.machine.airflow / tons * 2118.88 < 431
        assert (p.truth == "nothing-wrong") == (p.faults == Faults(charge=p.faults.charge) and p.size == 0.0)
        assert p.also is None


def test_pairs_name_both_faults() -> None:
    drawn = [draw(2, i, faults=FAULTS[1:], pairs=True) for i in range(6)]
    assert all(p.also not in (None, p.truth, "nothing-wrong") for p in drawn)
    assert not any({p.truth, p.also} == {"low-charge", "overcharge"} for p in drawn)


def test_healthy_machines_of_the_population_are_ordinary() -> None:
    """Against what laboratory and trade call usual (NISTIR 7350; targets.py): an independent look at the scatter."""
    drawn = [draw(8, i, faults=("nothing-wrong",)) for i in range(60 if THOROUGH else 25)]
    over = [(p.state.condensing_apparent - p.conditions.outdoor) * 1.8 for p in drawn]
    below = [(p.conditions.return_dry_bulb - p.state.evaporating) * 1.8 for p in drawn]
    split = [(p.conditions.return_dry_bulb - p.state.supply_dry_bulb) * 1.8 for p in drawn]
    assert 15 < statistics.mean(over) < 24
    assert 28 < statistics.mean(below) < 37
    assert 17 < statistics.mean(split) < 23
    valves = [p.state.superheat * 1.8 for p in drawn if p.machine.metering == "TXV"]
    assert 13 < statistics.mean(valves) < 19
    assert 1.0 < statistics.pstdev(valves) < 4.0


def test_individual_machines_scatter_about_their_kind() -> None:
    chance = random.Random(1)
    made = [individual(chance) for _ in range(20)]
    assert {m.metering for m in made} == set(DEVICES)
    one = design("R-22", "TXV", 3 * TON, 13, scatter=Scatter(condenser=1.1))
    assert one.condenser_conductance == pytest.approx(1.1 * machine("R-22", "TXV").condenser_conductance)
    assert run(one, AHRI_A).subcooling == pytest.approx(10 * F, abs=0.05)
