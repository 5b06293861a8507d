"""What a healthy machine should read: target superheat, temperature split, condensing over ambient, bores, ratios.

SI in and out (K for temperatures and for differences, m, kg, kg/m³, m³/(s·W)), except where a name says otherwise.
No function here raises on a number: what cannot be answered is a `NoTarget` with its figures, or None. Sources are keys
of rules/sources.yaml. "From memory" marks a figure of which no printed copy was seen. Tables lie in targets.json.
"""

from diagnose.properties.targets.charge import (
    OUNCE_PER_FOOT,
    PUBLISHED_OUNCES_PER_FOOT,
    Allowance,
    LineStates,
    charge_slopes,
    free_of_room_limits,
    line_charge,
    mixture_density,
    published_allowances,
    tube_bore,
)
from diagnose.properties.targets.expected import F, NoTarget, Target, of_both
from diagnose.properties.targets.heating import (
    HEATING_CHARTS,
    MAKERS_HEATING_CHART,
    air_rise,
    condensing_over_return_air,
    heating_capacity_ratio,
    heating_current_ratio,
    heating_performance,
    heating_subcooling,
    orifice_subcooling_in_heating,
    orifice_superheat_in_heating,
    outdoor_coil_below_outdoor_air,
)
from diagnose.properties.targets.protocol import (
    MINIMUM_TARGET_SUPERHEAT,
    Cells,
    neighbors,
    or_typical,
    target_superheat,
    target_superheat_formula,
    target_temperature_split,
)
from diagnose.properties.targets.typical import (
    CFM_PER_TON,
    CONDENSING_BY_SEER,
    ORDINARY_SUCTION_SUPERHEAT,
    SOUND_EFFICIENCY,
    capacity_ratio,
    condensing_over_ambient,
    evaporator_temperature_difference,
    liquid_line_approach,
    power_ratio,
    subcooling,
    typical_temperature_split,
    valve_superheat_range,
    weather_inside,
)
