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
