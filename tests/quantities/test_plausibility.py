"""Slips of hand and instrument: each is named, nothing raises, what it spoils is withheld; honest readings are believed."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import F, State, saturated, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine
from diagnose.diagnosis.wording import plain_show
from diagnose.quantities.plausibility import suspicions
from diagnose.quantities.uncertainty import estimate
from diagnose.units import CFM, PSI
from diagnose.visit import visit_from

RIGHT = visit(State(), extra=True)
VALVE = visit(State(metering="TXV"), extra=True)


def doubts(data):
    parsed = visit_from(data)
    return suspicions(parsed, estimate(parsed), plain_show(parsed.machine, parsed.system))


# name of the slip: (visit, words that must be said, quantities withheld, whether the charge hangs on it)
SLIPS = {
    "return wet bulb above dry bulb": (
        with_readings(RIGHT, return_air_wet_bulb="79 F"),
        "The return air wet bulb is 4.0 °F above the return air dry bulb",
        ("return dew point", "return relative humidity", "air temperature split"),
        True,
    ),
    "return wet and dry bulb swapped": (
        with_readings(RIGHT, return_air_dry_bulb="63 F", return_air_wet_bulb="75 F"),
        "the two are swapped",
        ("return wet bulb", "evaporator temperature difference", "total capacity"),
        True,
    ),
    "supply wet bulb above dry bulb": (
        with_readings(RIGHT, supply_air_wet_bulb="61 F"),
        "The supply air wet bulb is 4.5 °F above the supply air dry bulb",
        ("total capacity", "cooling capacity"),
        False,
    ),
    "supply warmer than return": (
        with_readings(RIGHT, supply_air_dry_bulb="79 F"),
        "The supply air dry bulb is 4.0 °F above the return air dry bulb",
        ("air temperature split", "sensible capacity"),
        False,
    ),
    "return and supply probes swapped": (
        with_readings(
            RIGHT, return_air_dry_bulb="57 F", return_air_wet_bulb="54 F", supply_air_dry_bulb="75 F",
            supply_air_wet_bulb="63 F",
        ),
        "the probes are swapped",
        ("air temperature split", "return wet bulb", "evaporator temperature difference"),
        True,
    ),
    "liquid line colder than outdoor air": (
        with_readings(RIGHT, liquid_line_temperature="72 F"),
        "The liquid line is 8.0 °F colder than the outdoor air that cools it",
        ("subcooling", "liquid line approach"),
        True,
    ),
    "liquid line warmer than condensing": (
        with_readings(RIGHT, liquid_line_temperature="103 F"),
        "The liquid line is 6.0 °F warmer than the refrigerant in it can be as a liquid",
        ("subcooling",),
        True,
    ),
    "suction line colder than saturation": (
        with_readings(RIGHT, suction_line_temperature="38 F"),
        "The suction line is 7.0 °F colder than the refrigerant in it can be",
        ("superheat", "compressor efficiency"),
        True,
    ),
    "pressures swapped": (
        with_readings(
            RIGHT,
            suction_pressure=RIGHT["readings"]["liquid pressure"],
            liquid_pressure=RIGHT["readings"]["suction pressure"],
        ),
        "written in each other's place, the hoses are swapped, or a heat pump is running in the other mode",
        ("superheat", "subcooling", "compression ratio", "condensing over ambient"),
        True,
    ),
    "absolute pressure written as gauge": (
        with_readings(
            visit(State(superheat=2.5), extra=True), suction_pressure=f"{saturated('R-410A', 'dew', 45, 0):.2f} psig"
        ),
        "A gauge that shows absolute pressure, written down as gauge pressure, would do it as well.",
        ("superheat",),
        True,
    ),
    "vacuum": (
        with_readings(RIGHT, suction_pressure="29.8 inHg vacuum"),
        "The suction pressure is at or below a perfect vacuum",
        ("superheat", "compression ratio"),
        True,
    ),
    "clamp reading air": (
        with_readings(RIGHT, suction_line_temperature="79.5 F", outdoor_air_temperature="79.5 F"),
        "The suction line reads the same as the outdoor air",
        (),
        True,
    ),
    "discharge colder than condensing": (
        with_readings(RIGHT, discharge_line_temperature="85 F"),
        "The discharge line is 12.2 °F colder than its vapour condenses",
        ("discharge superheat", "compressor efficiency"),
        False,
    ),
    "discharge and suction clamps swapped": (
        with_readings(
            RIGHT,
            discharge_line_temperature=RIGHT["readings"]["suction line temperature"],
            suction_line_temperature=RIGHT["readings"]["discharge line temperature"],
        ),
        "the clamps are swapped",
        ("superheat", "discharge superheat", "compressor efficiency"),
        True,
    ),
    "supply colder than evaporating": (
        with_readings(RIGHT, supply_air_dry_bulb="38 F", supply_air_wet_bulb=None),
        "The supply air is 7.0 °F colder than the refrigerant that cools it",
        ("air temperature split", "evaporator temperature difference"),
        True,
    ),
    "condensing below the outdoor air": (
        with_readings(RIGHT, outdoor_air_temperature="104 F", condenser_leaving_air_temperature=None),
        "The refrigerant would condense 6.9 °F below the outdoor air",
        ("condensing over ambient", "compression ratio"),
        True,
    ),
    "drier clamps swapped": (
        with_readings(RIGHT, drier_inlet_temperature="80 F"),
        "The drier outlet temperature is 6.7 °F above the drier inlet temperature",
        ("drier temperature drop",),
        False,
    ),
    "metering inlet warmer than the liquid line": (
        with_readings(RIGHT, metering_inlet_temperature="95 F"),
        "The metering inlet temperature is 8.0 °F above the liquid line temperature",
        ("liquid line drop",),
        False,
    ),
    "condenser air colder than outdoor air": (
        with_readings(RIGHT, condenser_leaving_air_temperature="70 F"),
        "The outdoor air temperature is 10.0 °F above the condenser leaving air temperature",
        ("condenser air rise",),
        False,
    ),
    "wick at freezing": (
        with_readings(RIGHT, return_air_wet_bulb="32.5 F"),
        "is within 2 °F (1 °C) of freezing, where a wet wick reads water or ice",
        ("return wet bulb", "total capacity"),
        False,
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_each_slip_is_named_and_spoils_nothing(slip):
    data, words, withheld, holds = SLIPS[slip]
    found = examine(data)
    assert any(words in problem for problem in found.problems), found.problems
    for name in withheld:
        assert name not in found.estimates, name
    if holds:
        assert found.charge.verdict == "do not judge"
        assert any(problem in found.charge.why for problem in found.problems) or "target superheat" in found.charge.why


@pytest.mark.parametrize("slip", ["drier clamps swapped", "supply wet bulb above dry bulb"])
def test_where_the_charge_does_not_hang_on_it_it_is_judged(slip):
    assert examine(SLIPS[slip][0]).charge.verdict == "right"


def test_a_machine_that_does_not_cool_has_no_charge_verdict():
    """Supply air warmer than return air: swapped probes, or a machine that heats or does not cool at all."""
    found = examine(with_readings(VALVE, supply_air_dry_bulb="79 F"))
    assert found.charge.verdict == "do not judge"
    assert found.problems


@pytest.mark.parametrize(
    ("real", "declared", "at"),
    [
        ("R-22", "R-410A", State(outdoor=85, evaporating=42, condensing=105, return_db=76, return_wb=64)),
        ("R-410A", "R-22", State(outdoor=85, evaporating=42, condensing=105, return_db=76, return_wb=64)),
        ("R-134a", "R-22", State(outdoor=95, evaporating=44, condensing=115, return_db=78, return_wb=65)),
        ("R-22", "R-134a", State(outdoor=85, evaporating=42, condensing=105, return_db=76, return_wb=64)),
    ],
)
def test_the_wrong_refrigerant_is_suspected_and_the_right_one_is_among_the_suggestions(real, declared, at):
    found = examine(with_machine(visit(at.but(gas=real)), refrigerant=declared))
    (problem,) = found.problems
    assert f"for {declared} " in problem
    assert "These pressures would fit " in problem
    assert f" {real}" in problem.split("would fit ")[1].split(". ")[0].replace("R-", " R-").replace("  ", " ")
    assert "superheat" not in found.estimates
    assert found.charge.verdict == "do not judge"


def test_the_pair_that_contradicts_is_set_aside_whole():
    """Which of two swapped probes is right cannot be known, so neither may speak."""
    (doubt,) = doubts(with_readings(RIGHT, return_air_dry_bulb="63 F", return_air_wet_bulb="75 F", supply_air_dry_bulb=None,
                                    supply_air_wet_bulb=None))  # fmt: skip
    assert set(doubt.set_aside) == {"return air dry bulb", "return air wet bulb"}


def test_swapped_pressures_do_not_hide_what_is_wrong_with_the_air():
    data = with_readings(RIGHT, suction_pressure="300 psig", liquid_pressure="120 psig", return_air_wet_bulb="80 F")
    assert len(doubts(data)) >= 2


def test_a_machine_that_says_it_is_heating_is_not_suspected_of_heating():
    data = with_machine(
        with_readings(
            visit(State()), outdoor_air_temperature="40 F", supply_air_dry_bulb="100 F", return_air_dry_bulb="70 F",
            return_air_wet_bulb="58 F", suction_pressure="350 psig", liquid_pressure="345 psig",
            liquid_line_temperature="95 F", suction_line_temperature="150 F", discharge_line_temperature="165 F",
        ),
        mode="heating",
    )  # fmt: skip
    assert doubts(data) == ()
    assert len(doubts(with_readings(data, return_air_wet_bulb="80 F"))) == 1


def test_a_hair_beyond_is_believed():
    """Within the instruments' limits of error and a little slack nothing is impossible."""
    assert doubts(with_readings(RIGHT, return_air_wet_bulb="75.5 F")) == ()
    assert doubts(with_readings(RIGHT, suction_line_temperature="44 F")) == ()
    assert doubts(with_readings(RIGHT, liquid_line_temperature="78.2 F", metering_inlet_temperature=None,
                                drier_inlet_temperature=None, drier_outlet_temperature=None)) == ()  # fmt: skip


@examples(250)
@given(states(), st.sampled_from(["us", "si"]), st.booleans())
def test_sane_machines_are_never_suspected(state, system, extra):
    assert doubts(visit(state, system, extra)) == ()


PER_UNIT = {"F": F, "psig": PSI, "cfm": CFM}


@examples(250)
@given(states(), st.integers(0, 2**32))
def test_nor_are_honest_readings_of_them_with_instruments_as_good_as_they_say(state, seed):
    chance, data = random.Random(seed), visit(state, extra=True)
    for name, reading in visit_from(data).last.readings.items():
        number, unit = data["readings"][name].split(" ")
        off = chance.uniform(-1, 1) * reading.error / PER_UNIT[unit]
        data["readings"][name] = f"{float(number) + off:.5f} {unit}"
    assert doubts(data) == ()


@given(states(), st.sampled_from([name for name in RIGHT["readings"] if name != "minutes running"]), st.floats(-80, 80))
def test_no_slip_of_one_reading_raises_and_a_verdict_never_stands_on_one_that_was_set_aside(state, name, by):
    data = visit(state, extra=True)
    number, unit = data["readings"][name].split(" ")
    try:
        data["readings"][name] = f"{max(float(number) + by, 0 if unit == 'cfm' else -1000)} {unit}"
        parsed = visit_from(data)
    except ValueError:
        return
    found = examine(parsed)
    aside = {n for doubt in doubts(data) for n in doubt.set_aside}
    for estimate_of in found.estimates.values():
        assert not aside & set(estimate_of.readings) or estimate_of.name.endswith("drift")


# -- what an audit found to do harm ------------------------------------------------------------------------------------


def test_wet_vapour_of_a_blend_with_glide_is_not_called_impossible():
    """Within the glide a two-phase mixture lies below its dew, or above its bubble temperature (thermodynamics)."""
    short = examine(visit(State(gas="R-407C", metering="TXV", subcooling=-5)))
    assert "subcooling" in short.estimates
    assert short.faults[0].fault == "low-charge"
    flooded = examine(visit(State(gas="R-407C", superheat=-5, subcooling=18)))
    assert "superheat" in flooded.estimates
    assert any(c.rule == "caution/liquid-return" for c in flooded.cautions)


def test_liquid_at_the_compressor_is_said_even_where_the_reading_is_not_used():
    found = examine(visit(State(superheat=-4)))
    assert "superheat" not in found.estimates
    assert any(c.rule == "caution/liquid-return" for c in found.cautions)


def test_a_machine_that_stands_is_named():
    level = examine(with_readings(visit(State()), suction_pressure="200 psig", liquid_pressure="201 psig"))
    assert any("stand together" in problem for problem in level.problems)
    assert level.charge.verdict == "do not judge"
    idle = with_machine(with_readings(visit(State()), compressor_current="0 A"), rated_current="17 A")
    assert examine(idle).status == "not ready"


def test_a_nearly_empty_machine_is_not_called_another_refrigerant():
    found = examine(
        visit(State(metering="TXV", evaporating=5, condensing=82, superheat=60, subcooling=-0.5, split=3, outdoor=85))
    )
    assert found.status == "diagnosed"
    assert found.faults[0].fault == "low-charge"
    assert any("hardly any refrigerant" in problem for problem in found.problems)
