"""A heat pump that heats and is right, as a technician would write it down; the tests change one line of it at a time."""

from __future__ import annotations

from typing import Any

from strategies import with_machine, with_readings

# Pressures of a printed chart at 47 °F outdoors (tests/reference/heating_charts.csv, A, 2.5 ton), the rest in keeping.
SOUND: dict[str, Any] = {
    "machine": {
        "mode": "heating", "refrigerant": "R-410A", "metering": "TXV", "nominal capacity": "2.5 ton", "SEER": 14,
        "altitude": "0 ft",
    },
    "readings": {
        "minutes running": 30, "suction pressure": "99 psig", "suction line temperature": "37 F", "liquid pressure": "310 psig",
        "liquid line temperature": "82 F", "outdoor air temperature": "47 F", "return air dry bulb": "70 F",
        "supply air dry bulb": "95 F",
    },
}  # fmt: skip
# What few take: hot gas, the tubes of the reversing valve, airflow and power.
WHOLE = with_readings(
    SOUND, discharge_line_temperature="150 F", vapour_line_temperature="145 F", vapour_line_pressure="316 psig",
    valve_tube_temperature="36 F", airflow="1000 cfm", electric_power="2.25 kW", minutes_since_defrost=40,
)  # fmt: skip
ORIFICE = with_machine(SOUND, metering="fixed orifice")
# In frost an orifice machine stands at no superheat and no subcooling, right or not.
IN_FROST = with_readings(
    ORIFICE, outdoor_air_temperature="15 F", suction_pressure="53 psig", suction_line_temperature="5 F",
    liquid_pressure="265 psig", liquid_line_temperature="87 F", supply_air_dry_bulb="86 F",
)  # fmt: skip
