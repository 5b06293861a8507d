"""How sure a quantity is: against published figures, against drawing thousands of visits, and at the edges."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from published import rows
from strategies import F, State, states, visit, with_machine, with_readings
from work import THOROUGH

from diagnose.properties.targets import Target
from diagnose.quantities import EXPECTED, STEPS, run
from diagnose.quantities.uncertainty import COVERAGE, absolute, estimate, inputs, shifts
from diagnose.visit import visit_from

DRAWS = 10_000 if THOROUGH else 1_000  # which gives a standard deviation to 2.3 %
GRADES = {  # column -> what clamps and gauges may be wrong by, at this saturation temperature and pressure
    "u_SH_or_SC_f_if_2F_and_2psi": lambda line, psig: ("2 F", "2 psig"),
    "u_if_1.3F_0.1pct_and_1pct_of_reading": lambda line, psig: (f"{1.3 + 0.001 * line} F", "1 %"),
    "u_if_0.5F_and_0.5pct_of_reading": lambda line, psig: ("0.5 F", "0.5 %"),
}


@pytest.mark.parametrize(
    "row",
    rows("uncertainty_superheat_subcooling.csv"),
    ids=lambda r: f"{r['refrigerant']} {r['side']} {r['sat_temp_f']}",
)
@pytest.mark.parametrize("column", GRADES)
def test_superheat_and_subcooling_against_the_computed_table(row, column):
    """Limits of error of superheat and subcooling, computed apart with CoolProp 8: root of the summed squares."""
    suction = row["side"] == "suction"
    at, psig = float(row["sat_temp_f"]), row["sat_press_psig"]
    line = at + 10 if suction else at - 10
    clamp, gauge = GRADES[column](line, psig)
    side = "suction" if suction else "liquid"
    found = estimate(
        visit_from(
            {
                "machine": {"refrigerant": row["refrigerant"].removesuffix(".mix"), "station pressure": "29.921 inHg"},
                "instruments": {"pipe clamps": clamp, "gauges": gauge},
                "readings": {f"{side} pressure": f"{psig} psig", f"{side} line temperature": f"{line} F"},
            }
        )
    )["superheat" if suction else "subcooling"]
    # The table counts clamps and gauges only; a blend's own table is up to 0.5 °F off, which is counted here.
    theirs = math.hypot(*(by for source, by in found.effects.items() if source != "refrigerant table"))
    assert COVERAGE * theirs / F == pytest.approx(float(row[column]), abs=0.1)
    assert found.value / F == pytest.approx(10, abs=0.3)


def drawn(parsed, n: int = DRAWS) -> dict[str, np.ndarray]:
    """Every quantity, and its distance from what is expected, over `n` draws of all errors together."""
    random = np.random.default_rng(7)
    base, sources = inputs(parsed.machine, parsed.last), shifts(parsed.machine, parsed.last)
    steps = random.standard_normal((n, len(sources)))
    found: dict[str, list[tuple[float, float]]] = {}
    for row in steps:
        values = dict(base)
        for by, moves in zip(row, sources.values(), strict=True):
            for name, one in moves.items():
                values[name] += float(by) * one
        run(STEPS, values)
        for step in STEPS:
            value, target = values.get(step.name), values.get(EXPECTED + step.name)
            if isinstance(value, float) and step.name not in base:
                difference = value - target.value if isinstance(target, Target) else value
                found.setdefault(step.name, []).append((value, difference))
    return {name: np.array(pairs) for name, pairs in found.items()}


@pytest.mark.parametrize(
    "state",
    [
        State(outdoor=82.3, return_wb=63.4),
        State(gas="R-454B", metering="TXV", outdoor=95, condensing=114, altitude=3000),
    ],
    ids=["fixed orifice", "TXV"],
)
def test_many_draws_agree_with_one_shift_at_a_time(state):
    parsed = visit_from(visit(state, extra=True))
    estimates, samples = estimate(parsed), drawn(parsed)
    worst = 0.0
    for name, sample in samples.items():
        has = estimates[name]
        assert len(sample) == DRAWS, f"{name} was lost in some draws"
        if has.sigma == 0:  # a share of the machine only
            assert sample[:, 0].std() == pytest.approx(0, abs=1e-12)
            continue
        by_value, by_difference = sample.std(axis=0)
        assert has.sigma == pytest.approx(by_value, rel=0.1), name
        assert has.difference_sigma == pytest.approx(by_difference, rel=0.1), name
        worst = max(worst, abs(has.sigma / by_value - 1), abs(has.difference_sigma / by_difference - 1))
    assert len(samples) > 25
    print(f"largest disagreement {worst:.1%}")


def test_an_error_shared_by_value_and_target_is_counted_once():
    """Warmer outdoor air lowers the target superheat; the pressures' own station error shifts both sides alike."""
    has = estimate(visit_from(visit(State())))["superheat"]
    assert has.effects["outdoor air temperature"] > 0  # a lower target makes the difference larger
    assert has.effects["return air wet bulb"] < 0
    assert has.difference_sigma > has.sigma
    assert has.difference_sigma == pytest.approx(math.sqrt(sum(e * e for e in has.effects.values())))


@given(states())
def test_worse_instruments_never_make_anything_surer(state):
    base = visit(state, extra=True)
    good = estimate(visit_from(base | {"instruments": {"gauges": "0.5 %", "pipe clamps": "0.5 F"}}))
    bad = estimate(visit_from(base | {"instruments": {"gauges": "1 %", "pipe clamps": "1 F"}}))
    for name, has in good.items():
        assert bad[name].sigma >= has.sigma * (1 - 1e-9), name


def test_where_a_shift_leaves_the_table_the_other_way_tells_as_much():
    """Return wet bulb at the very end of the target superheat table: 76 °F; the shift upwards has no answer."""
    inside = estimate(visit_from(visit(State(return_db=84, return_wb=75.0))))["superheat"]
    edge = estimate(visit_from(visit(State(return_db=84, return_wb=76.0))))["superheat"]
    assert edge.target is not None
    assert edge.difference_sigma == pytest.approx(inside.difference_sigma, rel=0.15)


@pytest.mark.parametrize("outdoor", [54.95, 115.05])
def test_at_both_ends_of_the_outdoor_range(outdoor):
    found = estimate(visit_from(visit(State(outdoor=outdoor, condensing=outdoor + 17, return_wb=72, return_db=80))))[
        "superheat"
    ]
    assert found.target is not None
    assert found.difference_sigma / F > 0.7


@pytest.mark.parametrize("at", [69.6, 83.8])
def test_the_step_from_one_table_to_another_is_not_taken_for_an_effect(at):
    """Return air near the ends of the temperature split table (70 and 84 °F), beyond which a typical split is expected.

    One standard deviation (0.5 °F) of the return air reaches over the end; the two tables differ there by several °F.
    """
    found = estimate(visit_from(visit(State(return_db=at, return_wb=at - 16))))["air temperature split"]
    assert found.difference_sigma / F < 1.0


def test_set_aside_readings_are_not_used(right):
    parsed = visit_from(right)
    has = estimate(parsed, without={"suction line temperature"})
    assert "superheat" not in has
    assert "subcooling" in has


def test_a_gauge_pressure_becomes_absolute(right):
    parsed = visit_from(with_machine(right, station_pressure="1000 hPa", altitude=None))
    reading = parsed.last.readings["suction pressure"]
    assert absolute(reading, parsed.machine) == pytest.approx(reading.value + 100e3)


def test_readings_are_named_as_origin(right):
    has = estimate(visit_from(right))
    assert set(has["superheat"].readings) == {"suction line temperature", "suction pressure"}
    assert set(has["subcooling"].readings) == {"liquid line temperature", "liquid pressure"}


@given(states())
def test_no_estimate_is_ever_nan_or_negative(state):
    for name, has in estimate(visit_from(visit(state, extra=True))).items():
        assert math.isfinite(has.value), name
        assert 0 <= has.sigma < math.inf, name
        assert 0 <= has.difference_sigma < math.inf, name


def test_the_refrigerant_table_adds_its_own_error():
    """A blend whose makers' tables differ from the library is less sure than a pure refrigerant."""
    exact = {"instruments": {"pipe clamps": "0.01 F", "gauges": "0.01 psig"}}
    has = {
        gas: estimate(visit_from(with_machine(visit(State(gas=gas)), station_pressure="29.921 inHg") | exact))[
            "superheat"
        ]
        for gas in ("R-410A", "R-454B")
    }
    for gas, found in has.items():
        table = visit_from({"machine": {"refrigerant": gas}}).machine.refrigerant
        assert found.sigma >= table.saturation_error / COVERAGE


def test_direct_readings_are_estimates_too(right):
    has = estimate(visit_from(with_readings(right, minutes_running="20 min")))
    assert has["running time"].value == 1200
    assert has["outdoor air temperature"].sigma == pytest.approx(1 * F / COVERAGE)
