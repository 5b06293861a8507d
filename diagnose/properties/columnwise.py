"""Look-ups for whole columns: what leaves a range becomes nan, and equations are solved for all rows at once.

The polynomials and formulas are those of `fits` and `moist_air`; only the ranges and the solvers are here, because a row that
is done must wait for the others. Columns are float64 arrays of one length; K, Pa absolute, J/kg, kg/kg.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from diagnose.properties import fits
from diagnose.properties import moist_air as air
from diagnose.properties.fits import Entry, Fit


def within(column: Any, low: float, high: float) -> Any:
    """The column, with nan for what is not between the two."""
    return np.where((column >= low) & (column <= high), column, np.nan)


def temperature_at(fit: Fit, top: Fit, pressure: Any) -> Any:
    """Saturation temperature at pressures: `fit`, and above its range `top`."""
    return _on_two_fits(fit, top, pressure, np.log(pressure))


def pressure_at(fit: Fit, top: Fit, temperature: Any) -> Any:
    """Saturation pressure at temperatures."""
    return np.exp(_on_two_fits(fit, top, temperature, temperature))


def _on_two_fits(fit: Fit, top: Fit, ranged: Any, argument: Any) -> Any:
    found: Any = np.asarray(fits.unchecked(fit, argument))
    beyond = ~((ranged >= fit.low) & (ranged <= fit.high))
    if beyond.any():
        found[beyond] = np.nan
        above = (ranged > fit.high) & (ranged <= top.high)
        if above.any():
            found[above] = fits.unchecked(top, argument[above])
    return found


def vapour_state(entry: Entry, temperature: Any, pressure: Any) -> Any:
    """See `fits.vapour_state`."""
    v = entry.vapour
    ln_p = np.log(within(pressure, v.low, v.high))
    superheat = within(temperature - fits.dew_at(entry, ln_p), -fits.SUPERHEAT_SLACK, v.superheat)
    return fits.arguments(v, ln_p, superheat)


def isentropic_end(entry: Entry, start: Any, pressure: Any, discharge_pressure: Any) -> Any:
    """See `fits.isentropic_end`."""
    v = entry.vapour
    ln_p: Any = np.log(
        np.where((pressure < discharge_pressure) & (discharge_pressure <= v.high), discharge_pressure, np.nan)
    )
    aim: Any = fits.surface(v.entropy, *start)
    x, dew = v.scale * ln_p + v.shift, fits.dew_at(entry, ln_p)
    entropy = fits.along(v.entropy, x)
    lack: Any = fits.horner(entropy, -1.0) - aim
    wet = lack > 0.0
    reached: Any = fits.horner(entropy, 1.0) >= aim
    z: Any = solve(entropy, aim)
    drop: Any = fits.wet_drop(dew, lack)
    holds = np.where(wet, drop <= fits.WETTEST_END, reached) & np.isfinite(aim)
    temperature = np.where(wet, dew, dew + fits.superheat_of(v, z))
    heat = fits.along(v.enthalpy, x)
    end = np.where(wet, fits.horner(heat, -1.0) - drop, fits.horner(heat, z))
    return np.where(holds, temperature, np.nan), np.where(holds, end, np.nan)


def vapour_temperature(entry: Entry, enthalpy: Any, pressure: Any) -> Any:
    """See `refrigerants.vapour_temperature`."""
    v = entry.vapour
    ln_p: Any = np.log(within(pressure, v.low, v.high))
    x: Any = v.scale * ln_p + v.shift
    heat = fits.along(v.enthalpy, x)
    holds = (fits.horner(heat, -1.0) <= enthalpy) & (enthalpy <= fits.horner(heat, 1.0))
    z: Any = solve(heat, enthalpy)
    return np.where(holds, fits.dew_at(entry, ln_p) + fits.superheat_of(v, z), np.nan)


def solve(coefficients: Sequence[Any], aim: Any) -> Any:
    """See `fits.solve`: each row goes on until it is as near as a single one would be."""
    low, high, z = np.full_like(aim, -1.0), np.full_like(aim, 1.0), np.zeros_like(aim)
    done = ~np.isfinite(aim)
    for _ in range(40):
        value, slope = np.zeros_like(z), np.zeros_like(z)
        for c in coefficients:
            slope *= z
            slope += value
            value *= z
            value += c
        below = value < aim
        low, high = np.where(below, z, low), np.where(below, high, z)
        near = z + np.where(slope > 0.0, (aim - value) / slope, 0.0)
        near = np.where((slope > 0.0) & (low <= near) & (near <= high), near, 0.5 * (low + high))
        moved = np.abs(near - z)
        z = np.where(done, z, near)
        done |= moved < 1e-10
        if done.all():
            break
    return z


# -- moist air ---------------------------------------------------------------------------------------------------------


def _possible(dry_bulb: Any, pressure: Any) -> Any:
    return (dry_bulb >= air.COLDEST) & (dry_bulb <= air.HOTTEST) & (pressure >= 1e3) & (pressure <= 1e7)


def _wet(humidity_ratio: Any) -> Any:
    return (humidity_ratio >= 0.0) & (humidity_ratio <= 1e3)


def _kept(holds: Any, found: Any) -> Any:
    return np.where(holds, found, np.nan)


def standard_pressure(altitude: Any) -> Any:
    """See `moist_air.standard_pressure`."""
    return air.at_altitude(within(altitude, -5000.0, 11000.0))


def _saturation_pressure(T: Any) -> Any:
    """Of water vapor, over ice below the triple point."""
    found: Any = air.over_water(T)[0]
    ice = T < air.TRIPLE_POINT
    if ice.any():
        found[ice] = air.over_ice(T[ice])[0]
    return np.exp(found)


def _water_at_wet_bulb(dry_bulb: Any, wet_bulb: Any, pressure: Any) -> Any:
    saturated: Any = air.ratio(_saturation_pressure(wet_bulb), pressure)
    t, b = dry_bulb - air.ZERO_CELSIUS, wet_bulb - air.ZERO_CELSIUS
    found: Any = air.of_a_wet_wick(t, b, saturated)
    ice = b < 0.0
    if ice.any():
        found = np.where(ice, air.of_an_iced_wick(t, b, saturated), found)
    return found


def humidity_ratio_from_wet_bulb(dry_bulb: Any, wet_bulb: Any, pressure: Any) -> Any:
    """See `moist_air.humidity_ratio_from_wet_bulb`."""
    water = _water_at_wet_bulb(dry_bulb, wet_bulb, pressure)
    holds = _possible(dry_bulb, pressure) & (wet_bulb >= air.COLDEST) & (wet_bulb <= dry_bulb + air.WET_BULB_SLACK)
    return _kept(holds & (water >= 0.0), water)


def humidity_ratio_from_relative_humidity(dry_bulb: Any, relative_humidity: Any, pressure: Any) -> Any:
    """See `moist_air.humidity_ratio_from_relative_humidity`."""
    holds = _possible(dry_bulb, pressure) & (relative_humidity >= 0.0) & (relative_humidity <= 1.0)
    return _kept(holds, air.ratio(relative_humidity * _saturation_pressure(dry_bulb), pressure))


def relative_humidity(dry_bulb: Any, humidity_ratio: Any, pressure: Any) -> Any:
    """See `moist_air.relative_humidity`."""
    found = air.partial_pressure(humidity_ratio, pressure) / _saturation_pressure(dry_bulb)
    holds = _possible(dry_bulb, pressure) & _wet(humidity_ratio) & (found <= 1.0 + 1e-9)
    return _kept(holds, np.minimum(found, 1.0))


def enthalpy(dry_bulb: Any, humidity_ratio: Any) -> Any:
    """See `moist_air.enthalpy`."""
    holds = (dry_bulb >= air.COLDEST) & (dry_bulb <= air.HOTTEST) & _wet(humidity_ratio)
    return _kept(holds, air.heat(dry_bulb, humidity_ratio))


def specific_volume(dry_bulb: Any, humidity_ratio: Any, pressure: Any) -> Any:
    """See `moist_air.specific_volume`."""
    return _kept(_possible(dry_bulb, pressure) & _wet(humidity_ratio), air.volume(dry_bulb, humidity_ratio, pressure))


def wet_bulb(dry_bulb: Any, humidity_ratio: Any, pressure: Any) -> Any:
    """See `moist_air.wet_bulb`."""
    dry, water, station = (np.array(each) for each in np.broadcast_arrays(dry_bulb, humidity_ratio, pressure))
    wettest = _water_at_wet_bulb(dry, dry, station)
    found = _kept(water <= wettest * (1.0 + 1e-9), dry)
    asked = np.flatnonzero(_possible(dry, station) & _wet(water) & ~(water >= wettest))
    found[asked] = _solve_wet_bulb(dry[asked], water[asked], station[asked])
    return _kept(_possible(dry, station) & _wet(water), found)


def _solve_wet_bulb(dry: Any, water: Any, station: Any) -> Any:
    """See `moist_air._solve_wet_bulb`: the same steps, a row that has arrived no longer takes part."""
    low, high = np.full_like(dry, air.COLDEST), dry.copy()
    dew = dew_point(water, station)
    low = np.where(dew < dry, dew, low)
    melts = (low < air.ZERO_CELSIUS) & (high > air.ZERO_CELSIUS)
    below = _water_at_wet_bulb(dry, np.full_like(dry, air.ZERO_CELSIUS), station) <= water
    low = np.where(melts & below, air.ZERO_CELSIUS, low)
    high = np.where(melts & ~below, air.ZERO_CELSIUS - 1e-9, high)
    guess = high - 0.6 * np.minimum(high - low, 15.0)
    found, last, last_gap, left = guess.copy(), np.full_like(dry, np.nan), np.zeros_like(dry), np.arange(dry.size)
    for _ in range(60):
        if not left.size:
            break
        w = water[left]
        gap = _water_at_wet_bulb(dry[left], guess, station[left]) - w
        boils = np.isnan(gap)
        gap = np.where(boils, 1.0, gap)
        high, low = np.where(gap > 0.0, guess, high), np.where(gap > 0.0, low, guess)
        first = np.isnan(last) | (gap == last_gap)
        step = np.where(first, guess - gap / (w * 0.06 + 5e-4), guess - gap * (guess - last) / (gap - last_gap))
        step = np.where(boils, 0.5 * (low + high), step)
        near = np.where((low < step) & (step < high), step, 0.5 * (low + high))
        found[left] = near
        on = ~((np.abs(near - guess) < 1e-8) | (high - low < 1e-8))
        last, last_gap, guess = np.where(boils, np.nan, guess)[on], gap[on], near[on]
        low, high, left = low[on], high[on], left[on]
    return found


def dew_point(humidity_ratio: Any, pressure: Any) -> Any:
    """See `moist_air.dew_point`, and for its steps `moist_air._saturated_at`."""
    water: Any
    station: Any
    water, station = (np.array(each) for each in np.broadcast_arrays(humidity_ratio, pressure))
    vapour: Any = air.partial_pressure(water, station)
    target = np.log(vapour)
    T: Any = np.where(target < 16.0, 1.0 / (1.0 / air.TRIPLE_POINT - (target - np.log(611.657)) / 5400.0), air.HOTTEST)
    for _ in range(30):
        T = np.minimum(np.maximum(T, air.COLDEST - 1.0), air.HOTTEST + 1.0)
        ice = T < air.TRIPLE_POINT
        (value, slope), (value_ice, slope_ice) = air.over_water(T), air.over_ice(T)
        step: Any = (target - np.where(ice, value_ice, value)) / np.where(ice, slope_ice, slope)
        T = np.where(step < 0.5 * T, T / (1.0 - step / T), T + step)
        if not (np.abs(step) >= 1e-9).any():
            break
    holds = _wet(water) & (water > 0.0) & (T >= air.COLDEST) & (T <= air.HOTTEST)
    return _kept(holds & _possible(air.ZERO_CELSIUS, station), T)
