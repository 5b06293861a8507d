"""The refrigerant's way round the circuit as points of pressure and enthalpy: measured, and as it should be.

A service technician has two pressures and three pipe temperatures. The pressure drop of the coils and the lines is not
known from them, so each side has one pressure, as its gauge shows it. K, Pa absolute, J/kg.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.diagnosis.record import Diagnosis
from diagnose.properties import (
    EVAPORATOR_BELOW_DEW,
    Refrigerant,
    isentropic_temperature,
    liquid_enthalpy,
    saturation_pressure,
    saturation_temperature,
    targets,
    vapour_enthalpy,
)
from diagnose.properties.targets import F, NoTarget, Target
from diagnose.report.drawings.svg import NoDrawing
from diagnose.report.wording import no_target_text, number
from diagnose.visit import HEATING, VALVES

SOUND_EFFICIENCY = 0.70
"""Isentropic efficiency where no discharge temperature was read: fault-free laboratory machines 0.69-0.74 (nistir-7350)."""

_HOTTEST = 119.9  # K of superheat; the vapor table ends at 120


@dataclass(frozen=True, slots=True)
class Cycle:
    """What the gauges and clamps say: pressures Pa absolute, pipe temperatures K, None where not measured.

    efficiency: the compressor's (isentropic), for the discharge line where its temperature is None. air: whether the high
    pressure has that of air in it, so that its saturation temperature is only apparent. held: whether something before the
    metering device holds the liquid back, so that it loses pressure on the way.
    """

    low: float
    high: float
    suction: float | None = None
    discharge: float | None = None
    liquid: float | None = None
    efficiency: float = SOUND_EFFICIENCY
    air: bool = False
    held: bool = False


@dataclass(frozen=True, slots=True)
class Corners:
    """The cycle worked out. Temperatures K, enthalpies J/kg, zero as in the property table.

    suction … inlet: enthalpy at the suction line, the discharge line, the liquid line, after the metering device.
    """

    cycle: Cycle
    low_bubble: float  # K
    low_dew: float
    high_bubble: float
    high_dew: float
    low_liquid: float  # J/kg, saturated
    low_vapour: float
    high_liquid: float
    high_vapour: float
    suction: float
    discharge: float
    discharge_temperature: float  # K, as measured or estimated
    liquid: float

    @property
    def superheat(self) -> float | None:
        """K above the dew temperature at the suction line."""
        return None if self.cycle.suction is None else self.cycle.suction - self.low_dew

    @property
    def subcooling(self) -> float | None:
        """K below the bubble temperature at the liquid line."""
        return None if self.cycle.liquid is None else self.high_bubble - self.cycle.liquid

    @property
    def estimated(self) -> bool:
        """Whether the discharge line was not measured."""
        return self.cycle.discharge is None


def corners(ref: Refrigerant, cycle: Cycle) -> Corners | None:
    """The cycle's points; None where a pressure lies outside the property table.

    Suction vapor below its dew temperature is drawn at the dew point and liquid above its bubble temperature at the
    bubble point: how much is vapor there, no thermometer tells. Superheat beyond the table goes on with the heat capacity of
    its end.
    """
    low_bubble, high_bubble = (saturation_temperature(ref, "bubble", p) for p in (cycle.low, cycle.high))
    low_dew, high_dew = (saturation_temperature(ref, "dew", p) for p in (cycle.low, cycle.high))
    if low_bubble is None or low_dew is None or high_bubble is None or high_dew is None or cycle.high <= cycle.low:
        return None
    low_liquid, high_liquid = liquid_enthalpy(ref, low_bubble), liquid_enthalpy(ref, high_bubble)
    low_vapour, high_vapour = vapour_enthalpy(ref, low_dew, cycle.low), vapour_enthalpy(ref, high_dew, cycle.high)
    if low_liquid is None or high_liquid is None or low_vapour is None or high_vapour is None:
        return None
    suction = vapour(ref, cycle.suction if cycle.suction is not None else low_dew, cycle.low, low_dew)
    liquid = liquid_enthalpy(ref, min(cycle.liquid, high_bubble)) if cycle.liquid is not None else high_liquid
    if liquid is None:
        return None
    if cycle.discharge is not None:
        discharge, hot = vapour(ref, cycle.discharge, cycle.high, high_dew), cycle.discharge
    else:
        discharge = _compressed(ref, cycle, low_dew, high_dew, suction)
        hot = _temperature(ref, discharge, cycle.high, high_dew)
    return Corners(
        cycle, low_bubble, low_dew, high_bubble, high_dew, low_liquid, low_vapour, high_liquid, high_vapour,
        suction, discharge, hot, liquid,
    )  # fmt: skip


def vapour(ref: Refrigerant, temperature: float, pressure: float, dew: float) -> float:
    """Enthalpy of vapor, saturated where it is below its dew temperature, J/kg. The pressure lies in the table."""
    held = min(max(temperature, dew), dew + _HOTTEST)
    found = vapour_enthalpy(ref, held, pressure)
    assert found is not None
    if temperature > held:
        found += (temperature - held) * _slope(ref, pressure, dew)
    return found


def _slope(ref: Refrigerant, pressure: float, dew: float) -> float:
    """Heat capacity at the hot end of the table, J/(kg K)."""
    end, before = (vapour_enthalpy(ref, dew + above, pressure) for above in (_HOTTEST, _HOTTEST - 10.0))
    assert end is not None
    assert before is not None
    return (end - before) / 10.0


def _compressed(ref: Refrigerant, cycle: Cycle, low_dew: float, high_dew: float, suction: float) -> float:
    """Enthalpy after the compressor: the loss-free rise over its efficiency."""
    start = max(cycle.suction or low_dew, low_dew)
    end = isentropic_temperature(ref, min(start, low_dew + _HOTTEST), cycle.low, cycle.high)
    loss_free = vapour(ref, end if end is not None else high_dew + _HOTTEST, cycle.high, high_dew)
    return suction + max(loss_free - suction, 0.0) / cycle.efficiency


def _temperature(ref: Refrigerant, enthalpy: float, pressure: float, dew: float) -> float:
    """Temperature of vapor of an enthalpy, by bisection (total, and quick enough for one point)."""
    below, above = dew, dew + 400.0
    for _ in range(40):
        middle = (below + above) / 2
        if vapour(ref, middle, pressure, dew) < enthalpy:
            below = middle
        else:
            above = middle
    return (below + above) / 2


# -- of a visit ----------------------------------------------------------------------------------------------------


def measured_cycle(d: Diagnosis) -> Cycle | NoDrawing:
    """The cycle of the visit, from what the pipeline let stand of its readings."""
    refrigerant = d.visit.machine.refrigerant
    lacking = [] if refrigerant else ["the refrigerant"]
    for name in ("suction pressure", "liquid pressure"):
        if name not in d.estimates:
            was_read = name in d.visit.last.readings
            lacking.append(f"a {name} that is plausible" if was_read else f"the {name}")
    if refrigerant is None or lacking:
        return NoDrawing(f"The pressure-enthalpy diagram needs {' and '.join(lacking)}.")
    if device_outdoors(d) == "outdoors":
        return NoDrawing("The metering device is outdoors, so both ports are on its low side: no high side was read.")
    low, high = d.estimates["suction pressure"].value, d.estimates["liquid pressure"].value
    if high <= low:
        return NoDrawing("The liquid pressure is not above the suction pressure: there is no cycle to draw.")
    if corners(refrigerant, Cycle(low, high)) is None:
        return NoDrawing(
            f"A pressure lies outside the property table of {refrigerant.name}, which ends near the critical point."
        )
    superheat, subcooling = d.estimates.get("superheat"), d.estimates.get("subcooling")
    evaporating, condensing = d.estimates.get("evaporating temperature"), d.estimates.get("condensing temperature")
    discharge = d.estimates.get("discharge line temperature")
    return Cycle(
        low,
        high,
        evaporating.value + superheat.value if superheat and evaporating else None,
        discharge.value if discharge else None,
        condensing.value - subcooling.value if subcooling and condensing else None,
        air=_leads(d, "non-condensables"),
        held=_leads(d, "liquid-line-restriction"),
    )


def device_outdoors(d: Diagnosis) -> str:
    """`outdoors`, or `high side read` where the readings were taken ahead of such a device; empty in heating, and indoors."""
    place = d.visit.machine.words.get("metering place", "")
    return "" if d.visit.machine.mode == HEATING or place == "indoors" else place


_LEADS = 0.5  # share of the odds from which a drawing shows what a fault does


def _leads(d: Diagnosis, fault: str) -> bool:
    return bool(d.faults) and d.faults[0].fault == fault and d.faults[0].share >= _LEADS


@dataclass(frozen=True, slots=True)
class ExpectedCycle:
    """The cycle it should have. superheat: what is said of it where there is no single target, else None."""

    cycle: Cycle
    superheat: str | None


def expected_cycle(d: Diagnosis) -> ExpectedCycle | NoDrawing:
    """The cycle this machine should have in today's air, from the expected values of the pipeline.

    Evaporating and condensing temperatures from the expected differences to the air (both counted from the mean of
    the coil, between bubble and dew temperature), superheat and subcooling from their targets.
    """
    machine = d.visit.machine
    ref = machine.refrigerant
    heats = machine.mode == HEATING
    coil, over = (d.estimates.get(name) for name in (_HEATING if heats else _COOLING))
    indoor, outdoor = d.visit.last.readings.get("return air dry bulb"), d.estimates.get("outdoor air temperature")
    if ref is None or coil is None or over is None or indoor is None or outdoor is None:
        return NoDrawing(
            "The cycle as it should be is not drawn: it needs the return air dry bulb and the outdoor air temperature."
        )
    subcooling = d.estimates.get("subcooling")
    usual = targets.heating_subcooling(None) if heats else targets.subcooling(None)
    cold = subcooling.target if subcooling else usual
    superheat, said = _superheat(d)
    if coil.target is None or over.target is None or cold is None or superheat is None:
        return NoDrawing(f"The cycle as it should be is not drawn: {said or 'there is no target for it'}.")
    cold_air, warm_air = (outdoor.value, indoor.value) if heats else (indoor.value, outdoor.value)
    evaporating = cold_air - coil.target.value + EVAPORATOR_BELOW_DEW * ref.glide
    condensing = warm_air + over.target.value - ref.glide / 2
    low, high = saturation_pressure(ref, "dew", evaporating), saturation_pressure(ref, "bubble", condensing)
    if low is None or high is None or high <= low:
        return NoDrawing("The cycle as it should be is not drawn: it lies outside the property table.")
    cycle = Cycle(low, high, evaporating + superheat, None, condensing - cold.value)
    if corners(ref, cycle) is None:
        return NoDrawing("The cycle as it should be is not drawn: it lies outside the property table.")
    return ExpectedCycle(cycle, said)


# The coil that boils against the air it cools, and the one that condenses against the air it warms.
_COOLING = ("evaporator temperature difference", "condensing over ambient")
_HEATING = ("outdoor coil below outdoor air", "condensing over return air")
_LITTLE = 6 * F  # K of superheat, drawn where a valve holds little and an accumulator none


def _superheat(d: Diagnosis) -> tuple[float | None, str | None]:
    """Expected superheat, K, and what is said of it where it is no single target."""
    estimate = d.estimates.get("superheat")
    wanted = estimate.expected if estimate else None
    if isinstance(wanted, Target):
        return wanted.value, None
    if isinstance(wanted, NoTarget):
        if wanted.nearest is not None:
            return wanted.nearest.value, "no target in this weather"
        return None, f"for the target superheat there is {no_target_text(wanted, d.system)}"
    if d.visit.machine.metering in VALVES and d.visit.machine.mode == HEATING:
        return _LITTLE, "in heating little is ordinary"
    if d.visit.machine.metering in VALVES:
        middle, least, most = targets.valve_superheat_range(d.visit.machine.fact("rated superheat"))
        low = number(least, "difference", d.system, unit=False).removesuffix(".0")
        return middle.value, f"a valve holds {low} to {number(most, 'difference', d.system).replace('.0 ', ' ')}"
    return None, "there is no target superheat without the metering device and the suction line temperature"
