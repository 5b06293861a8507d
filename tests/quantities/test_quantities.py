"""Quantities against other libraries, rules of thumb and measured machines."""

from __future__ import annotations

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import JUDGEMENT
from published import rows
from strategies import F, State, kelvin, states, visit, with_machine, with_readings

from diagnose.properties import refrigerant, saturation_temperature
from diagnose.quantities import EXPECTED, STEPS, dependents, leaves, refrigerant_side, run, steadiness
from diagnose.quantities.uncertainty import estimate
from diagnose.units import CFM, TON
from diagnose.visit import FIXED_ORIFICE, READINGS, visit_from
from diagnose.visit.fields import MACHINE

REFRIGERANT_SIDE = (
    "evaporating temperature", "condensing temperature", "superheat", "subcooling", "coil superheat",
    "condensing over ambient", "evaporator temperature difference", "liquid line approach", "compression ratio",
    "discharge superheat", "compressor efficiency", "drier temperature drop", "liquid line drop",
    "liquid line pressure loss",
)  # fmt: skip


def quantities(data) -> dict[str, float]:
    return {name: e.value for name, e in estimate(visit_from(data), settling=JUDGEMENT.steadiness).items()}


# -- the air side ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("altitude", [0.0, 5000.0])
def test_capacity_against_a_hand_calculation_with_psychrolib(altitude):
    """Another library, the same physics: GetHumRatioFromTWetBulb, GetMoistAirVolume, GetMoistAirEnthalpy (ASHRAE 2017)."""
    state = State(return_db=80, return_wb=67, split=20, cfm=1200, altitude=altitude)
    has = quantities(visit(state, extra=True))
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure = psychrolib.GetStandardAtmPressure(altitude * 0.3048)
    warm, cold = [(f - 32) / 1.8 for f in (80, 67)], [(f - 32) / 1.8 for f in (60, state.supply_wb)]
    w1 = psychrolib.GetHumRatioFromTWetBulb(warm[0], warm[1], pressure)
    w2 = psychrolib.GetHumRatioFromTWetBulb(cold[0], cold[1], pressure)
    dry_air = 1200 * CFM / psychrolib.GetMoistAirVolume(warm[0], w1, pressure)
    total = dry_air * (psychrolib.GetMoistAirEnthalpy(warm[0], w1) - psychrolib.GetMoistAirEnthalpy(cold[0], w2))
    sensible = dry_air * (1006 + 1860 * w1) * (warm[0] - cold[0])
    assert has["total capacity"] == pytest.approx(total, rel=2e-3)
    assert has["sensible capacity"] == pytest.approx(sensible, rel=2e-3)
    assert has["latent capacity"] == pytest.approx(total - sensible, rel=1e-2)
    assert has["sensible heat ratio"] == pytest.approx(sensible / total, rel=3e-3)
    assert has["return dew point"] - 273.15 == pytest.approx(
        psychrolib.GetTDewPointFromTWetBulb(warm[0], warm[1], pressure), abs=0.05
    )
    assert has["return relative humidity"] == pytest.approx(
        psychrolib.GetRelHumFromTWetBulb(warm[0], warm[1], pressure), abs=0.002
    )


@given(st.floats(70, 82), st.floats(12, 24), st.floats(800, 2000))
def test_sensible_heat_is_about_1_08_cfm_times_the_split_at_sea_level(return_db, split, cfm):
    """Btu/h = 1.08 · cfm · ΔT (common practice; 60 min/h · 0.075 lb/ft³ · 0.24 Btu/lb °F).

    The rule counts standard air of 70 °F. Per cfm of warmer, damp air it is up to 3 % less, so the rule is held at 70 °F.
    """
    state = State(return_db=70, return_wb=58, split=min(split, 20), cfm=cfm)
    has = quantities(visit(state, extra=True))["sensible capacity"] / (TON / 12000)
    assert has == pytest.approx(1.08 * cfm * min(split, 20), rel=0.02)


def test_relative_humidity_serves_as_well_as_a_wet_bulb():
    base = visit(State())
    by_wet = quantities(base)
    text = f"{by_wet['return relative humidity'] * 100:.6f} %"
    by_humidity = quantities(with_readings(base, return_air_wet_bulb=None, return_air_relative_humidity=text))
    assert by_humidity["return wet bulb"] == pytest.approx(kelvin(63), abs=0.02)
    assert by_humidity["return dew point"] == pytest.approx(by_wet["return dew point"], abs=0.02)


def test_400_cfm_per_ton():
    has = quantities(visit(State(cfm=1200, tons=3), extra=True))["airflow per ton"]
    assert has == pytest.approx(5.37e-5, rel=1e-3)  # as in the docstring; 400 · CFM / TON


def test_without_humidity_there_is_no_total_capacity():
    has = quantities(with_readings(visit(State(), extra=True), return_air_wet_bulb=None))
    assert "total capacity" not in has
    assert "sensible capacity" in has
    assert "cooling capacity" not in has


# -- the refrigerant side ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gas", ["R-410A", "R-22", "R-454B", "R-407C", "R-32", "R-134a"])
@pytest.mark.parametrize("metering", [FIXED_ORIFICE, "TXV"])
def test_the_same_machine_in_absolute_pressures_is_the_same_at_any_altitude(gas, metering):
    low = State(gas=gas, metering=metering)
    one = quantities(visit(low, extra=True, absolute=True))
    other = quantities(visit(low.but(altitude=5000), extra=True, absolute=True))
    for name in REFRIGERANT_SIDE:
        assert other[name] == pytest.approx(one[name], rel=1e-9), name


def test_gauges_are_read_with_the_station_pressure():
    low, high = State(), State(altitude=5000)
    one, other = quantities(visit(low, extra=True)), quantities(visit(high, extra=True))
    for name in REFRIGERANT_SIDE:
        assert other[name] == pytest.approx(one[name], rel=1e-6), name
    # Forgetting 5,000 ft is 2.5 psi: about 1 °F of suction saturation (R-410A, 0.41 °F/psi; tests/reference).
    forgotten = quantities(visit(high) | {"machine": visit(low)["machine"]})
    assert (forgotten["superheat"] - one["superheat"]) / F == pytest.approx(-2.47 * 0.411, abs=0.1)


@pytest.mark.parametrize("gas", ["R-410A", "R-22", "R-454B", "R-407C"])
def test_superheat_from_the_dew_line_and_subcooling_from_the_bubble_line(gas):
    has = quantities(visit(State(gas=gas)))
    assert has["superheat"] / F == pytest.approx(14, abs=0.01)
    assert has["subcooling"] / F == pytest.approx(10, abs=0.01)


@pytest.mark.parametrize("mode", ["cooling", "heating"])
def test_an_evaporator_is_to_the_air_what_lies_four_tenths_of_the_glide_below_its_dew_temperature(mode):
    """A fifth of the refrigerant comes in as vapor: the mean of 0.2 and all of it is 0.6 of the way to the dew line."""
    blend = with_machine(visit(State(gas="R-407C")), mode=mode)
    pressure = float(blend["readings"]["suction pressure"].split()[0]) * 6894.757 + 101325.0
    bubble, dew = (saturation_temperature(refrigerant("R-407C"), line, pressure) for line in ("bubble", "dew"))
    assert 4.5 < dew - bubble < 7.5
    name, air = (
        ("outdoor coil below outdoor air", 80) if mode == "heating" else ("evaporator temperature difference", 75)
    )
    assert quantities(blend)[name] == pytest.approx(kelvin(air) - (0.4 * bubble + 0.6 * dew), abs=0.01)


@given(states(), st.floats(0.05, 10))
def test_a_warmer_suction_line_never_lowers_superheat(state, by):
    cold, warm = quantities(visit(state)), quantities(visit(state.but(superheat=state.superheat + by)))
    assert warm["superheat"] > cold["superheat"]


@given(states(), st.floats(0.05, 10))
def test_more_suction_pressure_never_raises_superheat(state, by):
    base = visit(state)
    psig = float(base["readings"]["suction pressure"].split()[0])
    more = quantities(with_readings(base, suction_pressure=f"{psig + by:.6f} psig"))
    assert more["superheat"] < quantities(base)["superheat"]


@given(states(), st.floats(0.05, 20))
def test_more_liquid_pressure_never_lowers_subcooling(state, by):
    base = visit(state)
    psig = float(base["readings"]["liquid pressure"].split()[0])
    more = quantities(with_readings(base, liquid_pressure=f"{psig + by:.6f} psig"))
    assert more["subcooling"] > quantities(base)["subcooling"]


@pytest.mark.parametrize("row", rows("nist_no_fault_wet.csv"), ids=lambda row: f"condition {row['condition']}")
def test_measured_machines_without_fault(row):
    """NISTIR 7350, app. D: superheat and subcooling as derived there, and an efficiency a sound compressor has."""
    has = quantities(
        {
            "machine": {"refrigerant": "R-410A", "metering": "TXV"},
            "readings": {
                "suction pressure": f"{row['suction_psig_derived']} psig",
                "liquid pressure": f"{row['liquid_psig_derived']} psig",
                "suction line temperature": f"{row['suction_line_f']} F",
                "liquid line temperature": f"{row['liquid_line_f']} F",
                "discharge line temperature": f"{row['discharge_f']} F",
                "outdoor air temperature": f"{row['outdoor_db_f']} F",
                "return air dry bulb": f"{row['return_db_f']} F",
                "supply air dry bulb": f"{row['supply_db_f']} F",
            },
        }
    )
    # Derived there with another formulation of R-410A, up to 0.2 °F away.
    assert has["superheat"] / F == pytest.approx(float(row["superheat_f_derived"]), abs=0.25)
    assert has["subcooling"] / F == pytest.approx(float(row["subcooling_f_derived"]), abs=0.15)
    assert has["condensing over ambient"] / F == pytest.approx(float(row["cond_temp_over_ambient_f_derived"]), abs=0.25)
    assert has["air temperature split"] / F == pytest.approx(float(row["air_split_f"]), abs=0.02)
    print(f"isentropic efficiency {has['compressor efficiency']:.3f}")
    # A sound scroll is 0.55 to 0.9 on the line (from memory); heat lost by line and shell makes it read high.
    assert 0.5 < has["compressor efficiency"] < 1.0


def test_efficiency_comes_back_as_it_was_put_in():
    has = quantities(visit(State(efficiency=0.7), extra=True))
    assert has["compressor efficiency"] == pytest.approx(0.7, abs=1e-3)


def test_there_is_no_efficiency_for_wet_vapour():
    assert "compressor efficiency" not in quantities(visit(State(superheat=1.0), extra=True))  # 0.56 K


def test_nothing_is_divided_by_a_vacuum():
    assert refrigerant_side.compression_ratio(1e6, 0.0) is None


# -- steadiness --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "values", "relative", "drift"),
    [
        ([10, 15], [5.0, 5.0], False, 0.0),
        ([10, 15], [5.0, 6.0], False, 1.0),
        ([10, 20], [5.0, 6.0], False, 0.5),  # told over five minutes
        ([0, 10, 12, 15], [9.0, 8.0, 7.0, 6.0], False, -5 / 3),  # from minute 12, the nearest at least 3 minutes before
        ([0, 10, 13, 15], [3.0, 5.0, 5.5, 6.0], False, 1.0),  # 13 is too near; from minute 10
        ([5, 10, 15, 20], [9.0, 5.0, 9.0, 5.0], False, -4.0),  # up and down: the swing of the last ten minutes
        ([15, 40], [9.0, 6.0], False, -0.6),  # however long: what was seen, and no faster
        ([14, 15], [5.0, 6.0], False, 5.0),  # nothing better than the first
        ([10, 15], [100.0, 125.0], True, 0.2),
        ([10, 12, 15], [5.0, float("nan"), 6.0], False, 1.0),
    ],
)
def test_drift(minutes, values, relative, drift):
    found = steadiness.drift(minutes, values, 0.1, relative, JUDGEMENT.steadiness)
    assert found[0] == pytest.approx(drift)
    assert found[1] > 0


def test_one_round_has_no_drift():
    assert steadiness.drift([15], [5.0], 0.1, False, JUDGEMENT.steadiness) is None
    assert steadiness.drift([10, 15], [float("nan"), 5.0], 0.1, False, JUDGEMENT.steadiness) is None
    assert not any("drift" in name for name in quantities(visit(State())))


def test_drift_of_a_whole_visit():
    rounds = [visit(State(superheat=s, minutes=m))["readings"] for m, s in ((10, 20), (15, 17))]
    has = quantities(visit(State()) | {"readings": rounds})
    assert has["superheat drift"] / F == pytest.approx(-3, abs=1e-3)
    assert has["subcooling drift"] == pytest.approx(0, abs=1e-6)
    assert has["suction pressure drift"] == pytest.approx(0, abs=1e-6)


# -- the list of work --------------------------------------------------------------------------------------------------------


def test_every_step_needs_what_a_visit_or_an_earlier_step_gives():
    facts = ("refrigerant", "metering", "accumulator")
    known = {*READINGS, *MACHINE, *facts, "refrigerant table", "station pressure", "charge in all"}
    for step in STEPS:
        assert set(step.reads) <= known, step.name
        known.add(step.name)


def test_every_quantity_says_its_formula_and_source():
    for step in STEPS:
        if not step.name.startswith(EXPECTED):
            assert step.formula, step.name
            assert step.source, step.name


def test_sources_of_quantities_are_in_the_book(book):
    assert {step.source for step in STEPS if step.source} <= set(book.sources)


def test_dependents_and_leaves():
    follow = {step.name for step in dependents(STEPS)["suction pressure"]}
    assert {"superheat", "compression ratio", "expected superheat"} & follow == {"superheat", "compression ratio"}
    values = {"suction line temperature": 290.0, "evaporating temperature": 280.0}
    run([step for step in STEPS if step.name == "superheat"], values)
    assert values["superheat"] == 10.0
    assert leaves([step for step in STEPS if step.name == "superheat"], values) == {
        "superheat": ("suction line temperature", "evaporating temperature")
    }
