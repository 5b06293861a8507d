"""Superheat, subcooling, splits, capacity …: pure functions in SI, each with its formula and source.

`STEPS` is the list of all of them in order of work. To add one, write a function in `refrigerant_side` or `air_side`
under `@quantity`, and what it should be in `expectations` under `@expected`.
"""

from diagnose.quantities import air_side, electrical, expectations, refrigerant_side, steadiness, weighing
from diagnose.quantities.registry import (
    EXPECTED,
    STEPS,
    Inputs,
    QuantityKind,
    Step,
    dependents,
    leaves,
    of_other_mode,
    own_steps,
    run,
)
