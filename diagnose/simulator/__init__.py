"""A physical model of a split system with faults, to practise on and to test the rules against.

It knows nothing of the rules, and the rules nothing of it: the only common ground is the visit file.
`design` sizes a machine, `solve` finds its steady state in some weather with some faults (`NoSolution` where there is
none), `readings` is what a technician would write down, `population` draws whole rows of cases.

What it leaves out: pressure loss in the condenser, oil, ice, cycling, heating mode, non-condensable gas outside the
condenser, refrigerant left in the accumulator. `tests/test_simulator.py` says what it was checked
against, and where it departs from what is published.
"""

from diagnose.simulator.design import AHRI_A, CFM, TON, Scatter, charged_right, design, fahrenheit
from diagnose.simulator.model import (
    HEALTHY,
    REFRIGERANTS,
    Balances,
    Charge,
    Faults,
    NoSolution,
    Plant,
    State,
    Weather,
    balances,
)
from diagnose.simulator.population import FAULTS, Practice, draw, individual, population, sized, weather
from diagnose.simulator.readings import BASIC, EXTRA, RUNNING, SETS, readings, true_values
from diagnose.simulator.solver import solve, solve_for

__all__ = [
    "AHRI_A",
    "BASIC",
    "CFM",
    "EXTRA",
    "FAULTS",
    "HEALTHY",
    "REFRIGERANTS",
    "RUNNING",
    "SETS",
    "TON",
    "Balances",
    "Charge",
    "Faults",
    "NoSolution",
    "Plant",
    "Practice",
    "Scatter",
    "State",
    "Weather",
    "balances",
    "charged_right",
    "design",
    "draw",
    "fahrenheit",
    "individual",
    "population",
    "readings",
    "sized",
    "solve",
    "solve_for",
    "true_values",
    "weather",
]
