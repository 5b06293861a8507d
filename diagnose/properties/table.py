"""Builds ``saturation.json`` from CoolProp and measures how far the file is from it.

Belongs here: every use of CoolProp in the project; the library (and numpy) is imported inside the functions, because
its import costs two seconds. Run it with ``python -m diagnose.properties build``.

Units: K, Pa, J/kg, J/(kg K), kg/m3.

How it works, and the traps it avoids:

* Blends fail to flash in bands of ordinary condensing temperatures. Each saturation line is therefore walked outward
  from 300 K, and where the plain flash fails it starts again from the neighboring state. A root whose liquid is as
  thin as its vapor is the trivial one, and is refused.
* A state is never read after a failed update: it holds leftovers.
* Vapor is evaluated with the gas phase imposed, which is continuous through the dew line and a hundred times faster
  for blends. Without it, a pure fluid a thousandth of a kelvin below its dew line is silently a liquid.
* R-410A, R-407C, R-404A and R-507A use the equation made for each of them (it keeps their glide); other blends use the
  mixture model.
* Enthalpy and entropy of a refrigerant come from one model, so that their zeros agree.

Shape of the file: ``{"CoolProp": version, "refrigerants": {name: {...}}}`` with, for each refrigerant,

``fluid``  CoolProp's name · ``Tc`` critical temperature · ``glide`` at the dew pressure of 40 F
``T``  range of temperature answered · ``fit T`` range fitted (a little wider, so that the ends are sound)
``bubble``, ``dew``  one saturation line each (a pure fluid has only ``bubble``): ``p`` range of pressure answered,
``fit ln p`` range fitted, ``T of ln p`` and ``ln p of T`` coefficients, highest first, of the argument scaled to -1..1
``top``  the same two lines again, with their ``T`` and ``fit T``, from there to just below the critical point
``liquid``  ``density`` and ``h`` of saturated liquid, coefficients of scaled T
``vapour``  ``p``, ``fit ln p``, ``superheat`` (largest), ``h``, ``s`` and ``pv`` (pressure over density, J/kg): rows over
powers of the scaled logarithm of the superheat, columns over powers of scaled ln p, highest first
``error``  largest difference from CoolProp at the random points of ``compare_one``: ``dew`` and ``bubble`` K, ``density``,
``gas density`` and ``work`` (isentropic) as fractions, ``liquid h`` and ``h`` J/kg, ``s`` J/(kg K)
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from diagnose.properties.fits import (
    SUPERHEAT_SCALE,
    Entry,
    dew_at,
    horner,
    isentropic_end,
    read_entry,
    surface,
    unchecked,
    vapour_state,
)
from diagnose.properties.fitting import between, chebyshev_nodes, fit_line, polynomial, powers, rounded, unit
from diagnose.properties.names import FACTS, REFRIGERANTS
from diagnose.properties.refrigerants import TABLE_FILE
from diagnose.yamlfile import files

# K; R-32 and R-410A boil near -61 F at sea level, so that 0 psig is answered on a mountain too
LOWEST = (-75.0 + 459.67) / 1.8
HIGHEST = (160.0 + 459.67) / 1.8  # K; beyond any condenser of an air conditioner
BELOW_CRITICAL = 4.0  # K; nearer to the critical point the liquid turns too sharply for a polynomial
# K below critical at which the top piece may end, the nearest that holds TOP_ERROR
TOPS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0)
TOP_ERROR = 0.004  # K
FORTY = (40.0 + 459.67) / 1.8  # K; the evaporator at which glide is stated
HIGHEST_VAPOUR = (155.0 + 459.67) / 1.8
VAPOUR_BELOW_CRITICAL = 8.0
BEYOND = 0.5  # K fitted beyond the range answered
SUPERHEAT = 120.0  # K; the hottest discharge before oil breaks down is about 100 K above condensing
START = 300.0  # K; every blend flashes here

LIQUID_DEGREE = 14
PRESSURE_DEGREE, SUPERHEAT_DEGREE = 9, 5  # lowest that keep h within about 100 J/kg and the work within 0.5 %


class ReferenceSaturation(NamedTuple):
    """One state on a saturation line."""

    p: float
    h: float
    density: float


def fluid_name(name: str) -> str:
    """CoolProp's name for a refrigerant of the table."""
    return name.replace("-", "") + (".mix" if FACTS[name].kind == "blend" else "")


def build(
    names: Iterable[str] = REFRIGERANTS, critical_temperatures: Mapping[str, float] | None = None
) -> dict[str, Any]:
    """The whole table. Known critical temperatures save the slow part (a search of up to 7 s for a blend)."""
    from CoolProp import CoolProp

    known = critical_temperatures or {}
    return {
        "CoolProp": CoolProp.get_global_param_string("version"),
        "refrigerants": {name: build_one(name, known.get(name)) for name in names},
    }


def write() -> int:
    """Build the table and write it, one refrigerant a line so that a difference can be read; the size in bytes."""
    table = build()
    lines = [
        f"{json.dumps(name)}:{json.dumps(entry, separators=(',', ':'))}"
        for name, entry in table["refrigerants"].items()
    ]
    text = f'{{"CoolProp":{json.dumps(table["CoolProp"])},"refrigerants":{{\n' + ",\n".join(lines) + "\n}}\n"
    files.write(TABLE_FILE, text)
    return len(text.encode())


def build_one(name: str, critical_temperature: float | None = None) -> dict[str, Any]:
    """One refrigerant of the table."""
    fluid = fluid_name(name)
    critical = critical_temperature or round(find_critical_temperature(fluid), 2)
    low, high = LOWEST, min(HIGHEST, critical - BELOW_CRITICAL)
    fit_T = [low - BEYOND, high + BEYOND]
    nodes = between(fit_T, chebyshev_nodes(40))
    entry: dict[str, Any] = {"fluid": fluid, "Tc": critical, "glide": 0.0}
    entry |= {"T": [rounded(low, 7), rounded(high, 7)], "fit T": [rounded(T, 7) for T in fit_T]}
    lines = ("bubble",) if FACTS[name].kind == "pure" else ("bubble", "dew")
    for line in lines:
        states = walk(fluid, line, [*nodes, *fit_T])
        entry[line] = fit_line([s.p for s in states.values()], list(states), entry["T"], entry["fit T"])
        if line == "bubble":
            u = [unit(T, *entry["fit T"]) for T in states]
            entry["liquid"] = {
                "density": polynomial(u, [s.density for s in states.values()], LIQUID_DEGREE, 8),
                "h": polynomial(u, [s.h for s in states.values()], LIQUID_DEGREE, 9),
            }
    entry["top"] = _top(fluid, lines, high, critical)
    entry["vapour"] = {"p": [1.0, 2.0], "fit ln p": [0.0, 1.0], "superheat": SUPERHEAT}
    entry["vapour"] |= {"h": [[0.0]], "s": [[0.0]], "pv": [[0.0]]}
    entry["vapour"] = _fit_vapour(fluid, read_entry(entry), min(HIGHEST_VAPOUR, critical - VAPOUR_BELOW_CRITICAL))
    ready = read_entry(entry)
    bubble = unchecked(ready.temperatures["bubble"], unchecked(ready.pressures["dew"], FORTY))
    entry["glide"] = round(FORTY - bubble, 3) if "dew" in entry else 0.0
    entry["error"] = {key: float(f"{worst:.2g}") for key, worst in compare_one(name, read_entry(entry)).items()}
    return entry


# --- CoolProp -------------------------------------------------------------------------------------


def find_critical_temperature(fluid: str) -> float:
    """Critical temperature (K). A blend shows several critical points; the true one lies below 450 K."""
    from CoolProp import CoolProp

    state = CoolProp.AbstractState("HEOS", fluid)
    if len(state.fluid_names()) == 1:
        return float(state.T_critical())
    return float(max(point.T for point in state.all_critical_points() if point.T < 450.0))


def walk(fluid: str, line: str, temperatures: Iterable[float]) -> dict[float, ReferenceSaturation]:
    """States on a saturation line at the temperatures (K), rising; found outward from 300 K with warm starts."""
    from CoolProp import CoolProp

    state = CoolProp.AbstractState("HEOS", fluid)
    blend = len(state.fluid_names()) > 1
    quality = 1.0 if line == "dew" else 0.0

    def solve(T: float, guess: Any) -> Any:
        """Put the state at T, plainly or from the guess; answer the guess for the next."""
        try:
            state.update(CoolProp.QT_INPUTS, quality, T)
        except ValueError:
            if guess is None:
                raise
            state.update_with_guesses(CoolProp.QT_INPUTS, quality, T, guess)
        return _guess(state) if blend else None

    found: dict[float, ReferenceSaturation] = {}
    wanted = sorted(set(temperatures))
    for leg in ([T for T in wanted if T >= START], [T for T in reversed(wanted) if T < START]):
        at, last = START, solve(START, None)
        for T in leg:
            parts = 1
            while True:  # from the last state in one step, or else in ever smaller ones
                try:
                    guess = last
                    for i in range(1, parts + 1):
                        guess = solve(T if i == parts else at + (T - at) * i / parts, guess)
                    break
                except ValueError:
                    if parts == 64:
                        raise
                    parts *= 2
            last = guess
            found[T] = ReferenceSaturation(state.p(), state.hmass(), state.rhomass())
            at = T
    return {T: found[T] for T in wanted}


def _guess(state: Any) -> Any:
    """The state as a starting point for its neighbor; raises on the trivial root (a liquid as thin as its vapor)."""
    from CoolProp import CoolProp

    liquid = state.saturated_liquid_keyed_output(CoolProp.iDmolar)
    vapour = state.saturated_vapor_keyed_output(CoolProp.iDmolar)
    if liquid / vapour < 1.05:
        raise ValueError("trivial root")
    guess = CoolProp.PyGuessesStructure()
    guess.T, guess.p, guess.rhomolar = state.T(), state.p(), state.rhomolar()
    guess.rhomolar_liq, guess.rhomolar_vap = liquid, vapour
    guess.x, guess.y = list(state.mole_fractions_liquid()), list(state.mole_fractions_vapor())
    return guess


class Gas:
    """Superheated vapor by CoolProp, gas phase imposed; the caller sees to it that the superheat is not negative."""

    def __init__(self, fluid: str) -> None:
        from CoolProp import CoolProp

        self._coolprop, self._fluid = CoolProp, fluid
        self._state = self._new()

    def at(self, temperature: float, pressure: float) -> tuple[float, float, float]:
        """Enthalpy, entropy and heat capacity at constant pressure."""
        try:
            self._state.update(self._coolprop.PT_INPUTS, pressure, temperature)
        except ValueError:
            self._walk(temperature, pressure)
        return self._state.hmass(), self._state.smass(), self._state.cpmass()

    def density(self) -> float:
        """Density at the state last asked for."""
        return float(self._state.rhomass())

    def _new(self) -> Any:
        state = self._coolprop.AbstractState("HEOS", self._fluid)
        state.specify_phase(self._coolprop.iphase_gas)
        return state

    def _walk(self, temperature: float, pressure: float) -> None:
        """Near the critical point of a blend the density solver starts at the liquid and fails.

        So come down from hotter vapor in small steps, solving p(density, T) by Newton from the density of the last
        step.
        """
        CoolProp = self._coolprop
        self._state = self._new()  # the failed one holds leftovers
        self._state.update(CoolProp.PT_INPUTS, pressure, temperature + 60.0)
        density = self._state.rhomolar()
        for above in range(58, -1, -2):
            for _ in range(30):
                self._state.update(CoolProp.DmolarT_INPUTS, density, temperature + above)
                step = (pressure - self._state.p()) / self._state.first_partial_deriv(
                    CoolProp.iP, CoolProp.iDmolar, CoolProp.iT
                )
                density += step
                if abs(step) < 1e-9 * density:
                    break
            else:
                raise ValueError(f"{self._fluid}: no vapour at {temperature} K, {pressure} Pa")

    def isentropic(self, temperature: float, pressure: float, discharge_pressure: float) -> tuple[float, float]:
        """Temperature and enthalpy at the discharge pressure with the entropy of the suction state (Newton)."""
        aim = self.at(temperature, pressure)[1]
        T = temperature * (discharge_pressure / pressure) ** 0.13
        for _ in range(50):
            h, s, cp = self.at(T, discharge_pressure)
            step = (aim - s) * T / cp
            if abs(step) < 1e-7:
                return T, h
            T += max(-30.0, min(30.0, step))
        raise ValueError(f"no isentropic end from {temperature} K, {pressure} Pa to {discharge_pressure} Pa")

    def temperature(self, enthalpy: float, pressure: float, start: float) -> float:
        """Temperature at an enthalpy and pressure (Newton)."""
        T = start
        for _ in range(50):
            h, _, cp = self.at(T, pressure)
            step = (enthalpy - h) / cp
            if abs(step) < 1e-7:
                return T
            T += max(-30.0, min(30.0, step))
        raise ValueError(f"no temperature with {enthalpy} J/kg at {pressure} Pa")


# --- fitting --------------------------------------------------------------------------------------


def _top(fluid: str, lines: tuple[str, ...], low: float, critical: float) -> dict[str, Any]:
    """The lines from the end of the table to as near the critical point as the walk and the fit reach."""
    for below in TOPS:
        T, fit_T = [low, critical - below], [low - BEYOND, critical - below]
        found: dict[str, Any] = {"T": [rounded(end, 7) for end in T], "fit T": [rounded(end, 7) for end in fit_T]}
        worst = 0.0
        for line in lines:
            try:
                states = walk(fluid, line, [*between(fit_T, chebyshev_nodes(40)), *fit_T])
            except ValueError:
                break
            found[line] = one = fit_line([s.p for s in states.values()], list(states), found["T"], found["fit T"])
            worst = max(
                worst,
                *(
                    abs(horner(one["T of ln p"], unit(math.log(state.p), *one["fit ln p"])) - at)
                    for at, state in states.items()
                ),
            )
        else:
            if worst < TOP_ERROR:
                return found
    raise ValueError(f"{fluid}: no piece of the table fits up to the critical point")


def _fit_vapour(fluid: str, entry: Entry, highest: float) -> dict[str, Any]:
    import numpy as np
    from numpy.polynomial import chebyshev

    dew = entry.pressures["dew"]
    fit_ln_p = [rounded(unchecked(dew, end), 10) for end in (dew.low, highest)]
    reach = math.log(1 + SUPERHEAT / SUPERHEAT_SCALE)
    gas = Gas(fluid)
    x_nodes, z_nodes = chebyshev_nodes(20), chebyshev_nodes(14)
    points, enthalpies, entropies, products = [], [], [], []
    for x in x_nodes:
        (ln_p,) = between(fit_ln_p, [x])
        for z in z_nodes:
            superheat = SUPERHEAT_SCALE * (math.exp((z + 1) / 2 * reach) - 1)
            h, s, _ = gas.at(dew_at(entry, ln_p) + superheat, math.exp(ln_p))
            points.append((x, z))
            enthalpies.append(h)
            entropies.append(s)
            products.append(math.exp(ln_p) / gas.density())
    xs, zs = np.array(points).T
    terms = chebyshev.chebvander2d(zs, xs, [SUPERHEAT_DEGREE, PRESSURE_DEGREE])
    surfaces = {}
    for key, values, decimals in (("h", enthalpies, 2), ("s", entropies, 5), ("pv", products, 3)):
        found = np.linalg.lstsq(terms, np.array(values), rcond=None)[0].reshape(
            SUPERHEAT_DEGREE + 1, PRESSURE_DEGREE + 1
        )
        rows = powers(powers(found).T).T
        surfaces[key] = [[round(float(c), decimals) for c in row[::-1]] for row in rows[::-1]]
    p = [rounded(math.exp(fit_ln_p[0]) * (1 - 1e-6), 7), rounded(math.exp(fit_ln_p[1]) * (1 + 1e-6), 7)]
    return {"p": p, "fit ln p": fit_ln_p, "superheat": SUPERHEAT, **surfaces}


# --- comparing ------------------------------------------------------------------------------------


def compare_one(name: str, entry: Entry, points: int = 40) -> dict[str, float]:
    """Largest differences of one refrigerant at random but repeatable points."""
    chance = random.Random(f"{name} {points}")
    fluid = fluid_name(name)
    worst: dict[str, float] = {}

    def note(key: str, difference: float) -> None:
        worst[key] = max(worst.get(key, 0.0), abs(difference))

    for line, fit in entry.temperatures.items():
        bounds = entry.pressures[line]
        states = walk(fluid, line, [chance.uniform(bounds.low, bounds.high) for _ in range(points)])
        for T, state in states.items():
            note(line, unchecked(fit, math.log(state.p)) - T)
            if line == "bubble":
                note("density", unchecked(entry.density, T) / state.density - 1)
                note("liquid h", unchecked(entry.enthalpy, T) - state.h)
        top, bounds = entry.top_temperatures[line], entry.top_pressures[line]
        states = walk(fluid, line, [between([bounds.low, bounds.high], [u])[0] for u in chebyshev_nodes(points // 4)])
        for T, state in states.items():
            note(line, unchecked(top, math.log(state.p)) - T)
    _compare_vapour(entry, Gas(fluid), chance, points, note)
    return worst


def _compare_vapour(entry: Entry, gas: Gas, chance: random.Random, points: int, note: Any) -> None:
    v = entry.vapour
    for _ in range(4 * points):
        p = math.exp(chance.uniform(math.log(v.low), math.log(v.high)))
        superheat = chance.choice([0.0, chance.uniform(0, 15), chance.uniform(0, v.superheat)])
        T = dew_at(entry, math.log(p)) + superheat
        at = vapour_state(entry, T, p)
        assert at is not None
        h, s, _ = gas.at(T, p)
        note("h", surface(v.enthalpy, *at) - h)
        note("s", surface(v.entropy, *at) - s)
        note("gas density", p / gas.density() / surface(v.pressure_volume, *at) - 1)
        discharge = p * chance.uniform(1.8, 6.0)
        end = isentropic_end(entry, T, p, discharge) if T < 320.0 else None
        if end is not None and end[0] > dew_at(entry, math.log(discharge)) + 1.0:
            work = gas.isentropic(T, p, discharge)[1] - h
            note("work", (end[1] - surface(v.enthalpy, *at)) / work - 1)
