"""A physical model of a split system with faults, to practise on and to test the rules against.

It knows nothing of the rules, and the rules nothing of it: the only common ground is the visit file.
`design` sizes a machine, `solve` finds its steady state in some weather with some faults (`NoSolution` where there is
none), `readings` is what a technician would write down, `population` draws whole rows of cases.
A machine is of one `Structure`; the plain one is what the rules' points were fitted to, `family` draws the others.

What it leaves out: ice, cycling, heating mode, non-condensable gas outside the condenser; the plain machine also pressure
loss in the condenser, oil and accumulator. `tests/test_simulator.py` says what it was checked
against, and where it departs from what is published.
"""

from diagnose.simulator.design import AHRI_A, CFM, TON, Scatter, charged_right, design, fahrenheit
from diagnose.simulator.family import FAMILIES, Families
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
from diagnose.simulator.structure import Coefficients, Structure

__all__ = [
    "AHRI_A",
    "BASIC",
    "CFM",
    "EXTRA",
    "FAMILIES",
    "FAULTS",
    "HEALTHY",
    "REFRIGERANTS",
    "RUNNING",
    "SETS",
    "TON",
    "Balances",
    "Charge",
    "Coefficients",
    "Families",
    "Faults",
    "NoSolution",
    "Plant",
    "Practice",
    "Scatter",
    "State",
    "Structure",
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
