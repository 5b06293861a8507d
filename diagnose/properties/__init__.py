"""Properties of refrigerants and of moist air: everything the rest of the project asks of nature goes through here.

``names``, ``refrigerants`` and ``moist_air`` answer the everyday questions in plain Python within microseconds.
``table`` is the only module of the project that imports CoolProp; it writes ``saturation.json`` (``python -m
diagnose.properties build``) and measures how far that file is from CoolProp (``python -m diagnose.properties
compare``). Nothing here imports ``table``.
"""

from diagnose.properties.moist_air import (
    dew_point,
    enthalpy,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_wet_bulb,
    relative_humidity,
    saturation_vapour_pressure,
    specific_volume,
    standard_pressure,
    wet_bulb,
)
from diagnose.properties.names import REFRIGERANTS, NotCovered, UnknownRefrigerant
from diagnose.properties.refrigerants import (
    EVAPORATOR_BELOW_DEW,
    Refrigerant,
    discharge_temperatures,
    isentropic_efficiency,
    isentropic_temperature,
    liquid_density,
    liquid_enthalpy,
    refrigerant,
    saturation_pressure,
    saturation_range,
    saturation_temperature,
    vapour_density,
    vapour_enthalpy,
    vapour_temperature,
)
