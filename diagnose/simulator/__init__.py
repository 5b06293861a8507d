"""A physical model of a split system with faults, to practise on and to test the rules against.

It knows nothing of the rules, and the rules nothing of it: the only common ground is the visit file.
`design` sizes a machine, `solve` finds its steady state in some weather with some faults (`NoSolution` where there is
none), `readings` is what a technician would write down, `draw` makes up a case.
A machine is of one `Structure`; the plain one is what the rules' points were fitted to, `family` draws the others.

`heat_pump` makes one that also heats: `solve_heating` finds its steady state then, `draw(..., mode="heating")` a case.

What it leaves out: ice in cooling, the defrost itself, cycling, non-condensable gas outside the condenser; the plain
machine also pressure loss in the condenser, oil and (in cooling) accumulator. `tests/simulator` says what it was checked
against, and where it departs from what is published.
"""

from diagnose.simulator.design import AHRI_A, TON, Scatter, charged_right, design, fahrenheit
from diagnose.simulator.family import Families
from diagnose.simulator.fault_sizes import FAULTS, HEATING_FAULTS, faults_of, sized
from diagnose.simulator.heat_pump import AHRI_H1, HeatPump, Winter
from diagnose.simulator.heating_solver import HeatingState, heat_pump, solve_heating
from diagnose.simulator.model import (
    HEALTHY,
    MODES,
    REFRIGERANTS,
    Coefficients,
    Faults,
    Mode,
    NoSolution,
    Plant,
    State,
    Structure,
    Weather,
    balances,
)
from diagnose.simulator.population import Practice, draw, individual, weather
from diagnose.simulator.readings import BASIC, HEATING_SETS, RUNNING, SETS, readings, true_values
from diagnose.simulator.solver import solve
