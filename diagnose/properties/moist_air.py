"""Moist air: what a dry-bulb and a wet-bulb thermometer say about the water and the heat in the air.

Belongs here: psychrometric relations of air at the coil and in the room, in plain Python (nothing but ``math``), and
the pressure of the standard atmosphere. Refrigerants live in ``refrigerants``.

Units: K, Pa (absolute station pressure), kg of water per kg of dry air, J and m3 per kg of dry air. Relative humidity
is a fraction 0..1. Every function answers ``None`` when the state is impossible (wet bulb above dry bulb, less than no
water, not a number) or outside 170..470 K; none raises on numbers.

Source of the formulas: ASHRAE Handbook Fundamentals 2017, chapter 1 (SI); equation numbers are given with each
function. Moist air is taken as a mixture of ideal gases, as in that chapter: the humidity ratio is 0.4..0.7 % below
real-gas tables, enthalpy differences over a coil 0.2 %, far inside the error of a wet-bulb reading.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from math import exp, log
from typing import ParamSpec

from diagnose.units.columns import choose, is_column
from diagnose.units.columns import log as log_of

ZERO_CELSIUS = 273.15
TRIPLE_POINT = 273.16
"""Below this the water in question is ice (K)."""

MASS_RATIO = 0.621945
"""Molar mass of water over molar mass of dry air (ch. 1, eq. 9)."""

GAS_CONSTANT_DRY_AIR = 287.042
"""J/(kg K) (ch. 1, eq. 1)."""

COLDEST, HOTTEST = ZERO_CELSIUS - 100.0, ZERO_CELSIUS + 200.0  # validity of the saturation equations

# Hyland and Wexler 1983, as printed in ch. 1, eq. 5 (over ice) and eq. 6 (over liquid water)
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)

NOT_A_NUMBER = (TypeError, ValueError, ArithmeticError)
"""What comparing or converting something that is no number may raise."""

P = ParamSpec("P")
WET_BULB_SLACK = 1e-9  # K; a wet bulb equal to the dry bulb but for rounding is saturated air


def _answered(work: Callable[P, float | None]) -> Callable[P, float | None]:
    """The same for columns, by the function of its name in `columnwise`; None where something is no number."""

    @wraps(work)
    def answer(*args: P.args, **kwargs: P.kwargs) -> float | None:
        if args and args[0].__class__ is not float and is_column(args[0]):
            from diagnose.properties import columnwise

            return getattr(columnwise, work.__name__)(*args, **kwargs)
        try:
            return work(*args, **kwargs)
        except NOT_A_NUMBER:
            return None

    return answer


@_answered
def standard_pressure(altitude: float) -> float | None:
    """Pressure of the standard atmosphere (Pa) at an altitude (m), -5000..11000 m. Ch. 1, eq. 3."""
    if not -5000.0 <= altitude <= 11000.0:
        return None
    return at_altitude(altitude)


def at_altitude(altitude: float) -> float:
    """The formula of `standard_pressure`, its range unchecked."""
    return 101325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.2559


@_answered
def saturation_vapour_pressure(temperature: float) -> float | None:
    """Pressure (Pa) of saturated water vapor, over ice below the triple point. -100..200 degC. Ch. 1, eq. 5, 6."""
    if not COLDEST <= temperature <= HOTTEST:
        return None
    return exp(_log_saturation(temperature)[0])


@_answered
def humidity_ratio_from_wet_bulb(dry_bulb: float, wet_bulb: float, pressure: float) -> float | None:
    """Humidity ratio (kg/kg) from dry bulb and thermodynamic wet bulb (K) at a pressure (Pa). Ch. 1, eq. 33 and 35.

    ``None`` for a wet bulb above the dry bulb, or so low that the air would hold less than no water.
    """
    if not (_possible(dry_bulb, pressure) and COLDEST <= wet_bulb <= dry_bulb + WET_BULB_SLACK):
        return None
    water = _water_at_wet_bulb(dry_bulb, wet_bulb, pressure)
    return water if water is not None and water >= 0.0 else None


@_answered
def humidity_ratio_from_relative_humidity(dry_bulb: float, relative_humidity: float, pressure: float) -> float | None:
    """Humidity ratio (kg/kg) from dry bulb (K) and relative humidity (0..1) at a pressure (Pa). Ch. 1, eq. 20, 22."""
    if not (_possible(dry_bulb, pressure) and 0.0 <= relative_humidity <= 1.0):
        return None
    return ratio(relative_humidity * exp(_log_saturation(dry_bulb)[0]), pressure)


@_answered
def relative_humidity(dry_bulb: float, humidity_ratio: float, pressure: float) -> float | None:
    """Relative humidity (0..1) of air at a dry bulb (K), humidity ratio (kg/kg), pressure (Pa). Ch. 1, eq. 20 and 22.

    ``None`` for more water than the air can hold (a relative humidity above 1 by more than rounding).
    """
    if not (_possible(dry_bulb, pressure) and _wet(humidity_ratio)):
        return None
    found = partial_pressure(humidity_ratio, pressure) / exp(_log_saturation(dry_bulb)[0])
    return min(found, 1.0) if found <= 1.0 + 1e-9 else None


@_answered
def wet_bulb(dry_bulb: float, humidity_ratio: float, pressure: float) -> float | None:
    """Thermodynamic wet bulb (K) of air at a dry bulb (K), humidity ratio (kg/kg), pressure (Pa). Ch. 1, eq. 33 and 35.

    Solved to 1e-8 K. Near 0 degC a wick of water and a wick of ice fit the same air with wet bulbs up to 0.7 K apart;
    the answer is the wick of water wherever there is one. ``None`` for more water than the air can hold.
    """
    if not (_possible(dry_bulb, pressure) and _wet(humidity_ratio)):
        return None
    wettest = _water_at_wet_bulb(dry_bulb, dry_bulb, pressure)
    if wettest is not None and humidity_ratio >= wettest:
        return dry_bulb if humidity_ratio <= wettest * (1.0 + 1e-9) else None
    return _solve_wet_bulb(dry_bulb, humidity_ratio, pressure)


@_answered
def dew_point(humidity_ratio: float, pressure: float) -> float | None:
    """Temperature (K) at which air of a humidity ratio (kg/kg) at a pressure (Pa) is saturated. Ch. 1, eq. 36.

    Frost point below 0 degC. Solved on eq. 5 and 6 to 1e-9 K; ``None`` for perfectly dry air.
    """
    if not (_possible(ZERO_CELSIUS, pressure) and _wet(humidity_ratio)) or humidity_ratio == 0.0:
        return None
    return _saturated_at(partial_pressure(humidity_ratio, pressure))


@_answered
def enthalpy(dry_bulb: float, humidity_ratio: float) -> float | None:
    """Enthalpy (J/kg of dry air) from dry bulb (K) and humidity ratio (kg/kg); dry air at 0 degC: 0. Ch. 1, eq. 30."""
    if not (COLDEST <= dry_bulb <= HOTTEST and _wet(humidity_ratio)):
        return None
    return heat(dry_bulb, humidity_ratio)


@_answered
def specific_volume(dry_bulb: float, humidity_ratio: float, pressure: float) -> float | None:
    """Volume (m3 per kg of dry air) at a dry bulb (K), humidity ratio (kg/kg), pressure (Pa). Ch. 1, eq. 26."""
    if not (_possible(dry_bulb, pressure) and _wet(humidity_ratio)):
        return None
    return volume(dry_bulb, humidity_ratio, pressure)


def saturated_enthalpy(temperature: float, pressure: float) -> float | None:
    """Enthalpy (J/kg of dry air) of saturated air at a temperature (K) and pressure (Pa); its range is unchecked."""
    water = ratio(exp(_log_saturation(temperature)[0]), pressure)
    return None if water is None else heat(temperature, water)


def heat(dry_bulb: float, humidity_ratio: float) -> float:
    """The formula of `enthalpy`."""
    celsius = dry_bulb - ZERO_CELSIUS
    return 1006.0 * celsius + humidity_ratio * (2501000.0 + 1860.0 * celsius)


def volume(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """The formula of `specific_volume`."""
    return GAS_CONSTANT_DRY_AIR * dry_bulb * (1.0 + humidity_ratio / MASS_RATIO) / pressure


def _possible(dry_bulb: float, pressure: float) -> bool:
    """A temperature inside the equations' range and a pressure some atmosphere could have."""
    return COLDEST <= dry_bulb <= HOTTEST and 1e3 <= pressure <= 1e7


def _wet(humidity_ratio: float) -> bool:
    """No less than no water, and no more than steam with a trace of air."""
    return 0.0 <= humidity_ratio <= 1e3


def ratio(vapour_pressure: float, pressure: float) -> float | None:
    """Humidity ratio from the partial pressure of water (ch. 1, eq. 20); none when the water would boil."""
    dry = pressure - vapour_pressure
    if dry.__class__ is not float and is_column(dry):
        return choose(dry > 0.0, MASS_RATIO * vapour_pressure / dry, None)
    return MASS_RATIO * vapour_pressure / dry if dry > 0.0 else None


def partial_pressure(humidity_ratio: float, pressure: float) -> float:
    """Partial pressure of water from the humidity ratio (ch. 1, eq. 20 turned round)."""
    return pressure * humidity_ratio / (MASS_RATIO + humidity_ratio)


def _log_saturation(T: float) -> tuple[float, float]:
    """ln of the saturation pressure and its slope d(ln p)/dT (ch. 1, eq. 5, 6, and their derivatives)."""
    return over_ice(T) if T < TRIPLE_POINT else over_water(T)


def over_ice(T: float) -> tuple[float, float]:
    """The same over ice, for numbers and columns. Ch. 1, eq. 5."""
    a, b, c, d, e, f, g = _ICE
    return (
        a / T + b + T * (c + T * (d + T * (e + T * f))) + g * log_of(T),
        -a / (T * T) + c + T * (2.0 * d + T * (3.0 * e + T * 4.0 * f)) + g / T,
    )


def over_water(T: float) -> tuple[float, float]:
    """The same over liquid water. Ch. 1, eq. 6."""
    a, b, c, d, e, g = _WATER
    return (
        a / T + b + T * (c + T * (d + T * e)) + g * (log(T) if T.__class__ is float else log_of(T)),
        -a / (T * T) + c + T * (2.0 * d + T * 3.0 * e) + g / T,
    )


def _water_at_wet_bulb(dry_bulb: float, wet_bulb: float, pressure: float) -> float | None:
    """Humidity ratio (possibly negative) from the energy balance of the wet wick (ch. 1, eq. 33 water, eq. 35 ice)."""
    saturated = ratio(exp(_log_saturation(wet_bulb)[0]), pressure)
    if saturated is None:
        return None
    t, b = dry_bulb - ZERO_CELSIUS, wet_bulb - ZERO_CELSIUS
    return of_a_wet_wick(t, b, saturated) if b >= 0.0 else of_an_iced_wick(t, b, saturated)


def of_a_wet_wick(t: float, b: float, saturated: float) -> float:
    """Humidity ratio from dry and wet bulb (degC) and that of saturated air at the wet bulb. Ch. 1, eq. 33."""
    return ((2501.0 - 2.326 * b) * saturated - 1.006 * (t - b)) / (2501.0 + 1.86 * t - 4.186 * b)


def of_an_iced_wick(t: float, b: float, saturated: float) -> float:
    """The same below 0 degC. Ch. 1, eq. 35."""
    return ((2830.0 - 0.24 * b) * saturated - 1.006 * (t - b)) / (2830.0 + 1.86 * t - 2.1 * b)


def _solve_wet_bulb(dry_bulb: float, humidity_ratio: float, pressure: float) -> float | None:
    """Root of ``_water_at_wet_bulb``, which rises with the wet bulb on either side of 0 degC: secant in a bracket."""
    low, high = COLDEST, dry_bulb
    dew = _saturated_at(partial_pressure(humidity_ratio, pressure)) if humidity_ratio > 0.0 else None
    if dew is not None and dew < dry_bulb:
        low = dew  # the wet bulb is never below the dew point
    if low < ZERO_CELSIUS < high:
        at_zero = _water_at_wet_bulb(dry_bulb, ZERO_CELSIUS, pressure)
        if at_zero is not None and at_zero <= humidity_ratio:
            low = ZERO_CELSIUS
        else:
            high = ZERO_CELSIUS - 1e-9  # the ice side
    guess = high - 0.6 * min(high - low, 15.0)
    last: float | None = None
    last_gap = 0.0
    for _ in range(60):
        found = _water_at_wet_bulb(dry_bulb, guess, pressure)
        gap = 1.0 if found is None else found - humidity_ratio
        if gap > 0.0:
            high = guess
        else:
            low = guess
        if found is None:  # water would boil: only the bracket helps
            step, last = 0.5 * (low + high), None
        elif (
            last is None or gap == last_gap
        ):  # slope of a saturation curve near room temperature, and of the wick's heat
            step, last = guess - gap / (humidity_ratio * 0.06 + 5e-4), guess
        else:
            step, last = guess - gap * (guess - last) / (gap - last_gap), guess
        last_gap = gap
        nearer = step if low < step < high else 0.5 * (low + high)
        if abs(nearer - guess) < 1e-8 or high - low < 1e-8:
            return nearer
        guess = nearer
    return guess


def _saturated_at(vapour_pressure: float) -> float | None:
    """Temperature at which vapor of this pressure is saturated: Newton on ln p, which is nearly straight in 1/T."""
    if not vapour_pressure > 0.0:
        return None
    target = log(vapour_pressure)
    T = 1.0 / (1.0 / TRIPLE_POINT - (target - log(611.657)) / 5400.0) if target < 16.0 else HOTTEST
    for _ in range(30):
        T = min(max(T, COLDEST - 1.0), HOTTEST + 1.0)
        value, slope = _log_saturation(T)
        step = (target - value) / slope
        # Newton in 1/T rather than in T: one step less
        T = T / (1.0 - step / T) if step < 0.5 * T else T + step
        if abs(step) < 1e-9:
            break
    return T if COLDEST <= T <= HOTTEST else None
