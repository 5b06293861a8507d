"""Heat pumps that heat: that states close, that cooling stays as it was, what is refused, and cases drawn in heating."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from statistics import fmean

import pytest
from test_heating import COLD, DEVICES, MILD, MOVES, OWN, F, day, drawn, found, ill, pump, sound

from diagnose.simulator import (
    AHRI_A,
    AHRI_H1,
    HEALTHY,
    HEATING_FAULTS,
    HEATING_SETS,
    Faults,
    HeatPump,
    NoSolution,
    Weather,
    balances,
    draw,
    fahrenheit,
    heat_pump,
    readings,
    solve,
    solve_heating,
    true_values,
)
from diagnose.simulator.heating_solver import MOST_LOOKS_HEATING, SUBCOOLING
from diagnose.visit import visit_from

pytestmark = pytest.mark.usefixtures("all_searched")

# --- balances, bounds, refusals ---------------------------------------------------------------------


def test_every_state_closes() -> None:
    states = [sound(device, outdoor) for device in DEVICES for outdoor in (MILD, COLD)]
    states += [ill("TXV", faults) for faults, _, _ in MOVES.values()]
    for state in states + [one.state for one in drawn()]:  # type: ignore[operator]
        closure = balances(state)
        assert abs(closure.energy) < 1e-3
        assert abs(closure.mass_flow) < 1e-3
        assert abs(closure.charge) < 1e-3


def test_the_machine_that_cools_is_untouched_by_what_it_is_in_heating() -> None:
    for one in drawn()[:6]:
        machine = one.machine
        other = replace(machine, turned=pump("EEV").turned, outdoor_device="EEV")
        assert solve(machine, AHRI_A) == solve(other, AHRI_A)
        assert machine.turned.right_charge == machine.right_charge
        assert machine.turned.displacement == machine.displacement
        assert machine.turned.condenser_volume == machine.evaporator_volume
        assert machine.turned.evaporator_volume == machine.condenser_volume


def test_what_cannot_run_is_refused_in_words() -> None:
    machine = pump("TXV")
    cases = {
        "outside what the model was made for": (day(95.0), HEALTHY),
        "is not a number": (day(MILD), Faults(reversing_leakage=float("nan"))),
        "too small to run": (day(MILD), Faults(outdoor_airflow=0.01)),
        "outside 0.3 to 2": (day(MILD), Faults(charge=0.1)),
        "all but blocked": (day(MILD), Faults(restriction=50.0)),
        "humidity is missing": (Weather(fahrenheit(MILD), fahrenheit(70.0)), HEALTHY),
    }
    for words, (conditions, faults) in cases.items():
        refused = solve_heating(machine, conditions, faults)
        assert words in refused.reason
    with pytest.raises(ValueError, match="like no maker's chart"):
        heat_pump(replace(machine, right_charge=1.25 * machine.right_charge), OWN)


def test_any_faults_at_once_give_a_state_or_words() -> None:
    chance = random.Random("any faults")
    for _ in range(3):
        faults = Faults(
            charge=chance.uniform(0.4, 1.8),
            indoor_airflow=chance.uniform(0.2, 1.2),
            outdoor_airflow=chance.uniform(0.1, 1.0),
            valve_leakage=chance.uniform(0.0, 0.6),
            reversing_leakage=chance.uniform(0.0, 0.6),
            check_leakage=chance.uniform(0.0, 3.0),
        )
        state = solve_heating(pump(chance.choice(DEVICES)), day(chance.uniform(0.0, 65.0), 65.0), faults)
        if isinstance(state, NoSolution):
            assert state.reason
        else:
            assert state.suction_pressure < state.liquid_pressure
            assert state.supply_dry_bulb > fahrenheit(65.0)


def test_a_search_that_begins_nearby_ends_in_the_same_place() -> None:
    for device in ("TXV", "fixed orifice"):
        for faults in (Faults(charge=0.8), Faults(indoor_airflow=0.6), Faults(valve_leakage=0.3)):
            cold_start = found(solve_heating(pump(device), day(MILD), faults))
            near = found(solve_heating(pump(device), day(MILD), faults, near=sound(device)))
            assert near.suction_pressure == pytest.approx(cold_start.suction_pressure, rel=2e-3)
            assert near.liquid_pressure == pytest.approx(cold_start.liquid_pressure, rel=2e-3)


# --- cases ------------------------------------------------------------------------------------------


def test_cases_come_in_every_fault_and_read_as_visits() -> None:
    seen: Counter[str] = Counter()
    for place, fault in enumerate(HEATING_FAULTS):
        one = draw(8, place, families="seen", mode="heating", faults=(fault,))
        seen[one.truth] += 1
        assert one.mode == "heating"
        visit = visit_from(one.visit)
        assert visit.machine.mode == "heating"
        assert visit.machine.metering == one.machine.outdoor_device  # type: ignore[attr-defined]
        taken = one.visit["readings"]
        assert isinstance(taken, dict)
        assert {*HEATING_SETS["all"], "minutes running", "minutes since defrost"} == set(taken)
        frost = one.visit["seen"]["outdoor coil frost"]  # type: ignore[index]
        assert (frost == "heavy") == (one.truth == "defrost-fault")
        assert one.baseline["seen"] == {"outdoor coil frost": "none"}
        if frost == "light":
            assert one.conditions.outdoor < fahrenheit(42.0)
            assert one.faults.outdoor_airflow < 1.0
        assert fahrenheit(0.0) <= one.conditions.outdoor <= fahrenheit(65.0)
    assert set(seen) == set(HEATING_FAULTS)


def test_a_good_day_is_any_other_day_of_the_season() -> None:
    """Outdoors as far apart as two days of a season are, a third of them by 30 °F and more."""
    apart = []
    for place in range(12):
        one = draw(8, place, families="seen", mode="heating", faults=("nothing-wrong",))
        was = visit_from(one.baseline).last.readings["outdoor air temperature"].value
        assert fahrenheit(-3.0) <= was <= fahrenheit(68.0)
        apart.append(abs(was - one.conditions.outdoor) * 1.8)
    assert sum(each > 30.0 for each in apart) >= 2


def test_a_case_is_its_seed_and_its_place() -> None:
    first, again, other = (draw(seed, 1, families="all", mode="heating") for seed in (8, 8, 9))
    assert first == again != other


def test_every_sound_machine_is_one_that_a_maker_could_print() -> None:
    for one in drawn():
        assert isinstance(one.machine, HeatPump)
        state = found(solve_heating(one.machine, AHRI_H1))
        shown = state.condensing_apparent - state.liquid_temperature
        assert SUBCOOLING[0] - 0.1 <= shown <= SUBCOOLING[1] + 0.1
        assert state.suction_temperature - state.evaporating > 0.5


def test_perfect_instruments_read_the_state_and_usual_ones_err_within_their_limits() -> None:
    one = drawn()[0]
    true = true_values(one.conditions, one.state)
    assert true["valve tube temperature"] == one.state.tube_temperature
    assert true["vapour line pressure"] + one.conditions.station_pressure == one.state.vapour_line_pressure
    exact = readings(one.machine, one.conditions, one.faults, one.state)
    assert visit_from(exact).last.readings["suction line temperature"].value == pytest.approx(
        one.state.suction_temperature, abs=0.03
    )
    off = [
        (visit_from(case.visit).last.readings["suction line temperature"].value - case.state.suction_temperature) * F
        for case in drawn()
    ]
    assert max(map(abs, off)) < 4.0
    assert abs(fmean(off)) < 0.6


def test_heavier_frost_costs_more() -> None:
    heat = [
        ill("TXV", Faults(outdoor_airflow=1.0 - 0.75 * f, outdoor_coil=1.0 - 0.4 * f), 25.0).capacity
        for f in (0.2, 0.6, 1.0)
    ]
    assert sound("TXV", 25.0).capacity > heat[0] > heat[1] > heat[2]
    assert sound("TXV", 25.0).surface < 273.15


def test_a_case_takes_no_more_looks_than_it_must() -> None:
    """In looks round the circuit, not in time: the first search of a day needs some 15."""
    looks = [one.state.evaluations for one in drawn()]
    assert max(looks) <= MOST_LOOKS_HEATING
    assert fmean(looks) < 25
