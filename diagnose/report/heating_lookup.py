"""What a sound heat pump reads while it heats, in one weather: the look-up of a technician without the maker's chart."""

from __future__ import annotations

from typing import Any

from diagnose import units
from diagnose.properties import EVAPORATOR_BELOW_DEW, Refrigerant, saturation_pressure, targets
from diagnose.properties.targets import F, Target
from diagnose.report.blocks import Block, item, line
from diagnose.report.lookups import Found, gas_named, read, station, system_of
from diagnose.report.wording import cite, number
from diagnose.rulebook import Rulebook
from diagnose.visit import System
from diagnose.yamlfile import refusal

COLDEST, WARMEST = 255.372 - 10 * F, 255.372 + 70 * F  # K; where the lines of the charts are no longer held


def heating(outdoor: str, returned: str | None, name: str | None, altitude: str | None, rules: Rulebook) -> Found:
    """The expected differences, the air rise and, for a refrigerant, the two pressures."""
    air = read(outdoor, "temperature", "outdoor air")
    returned = returned or ("70 F" if system_of(air) == "us" else "21 C")
    room = read(returned, "temperature", "return air")
    system = system_of(air, room)
    if not COLDEST <= air.value <= WARMEST:
        raise refusal(
            f"{outdoor} outdoors is outside the charts of heating machines",
            "They go from about 0 to 65 °F (−18 to 18 °C). Where it is warmer, check whether the machine is cooling.",
        )
    if not 50 * F <= room.value - 255.372 <= 90 * F:
        raise refusal(f"return air: {returned} is no room that is heated", "Write the air that enters the indoor coil.")
    rows: list[tuple[str, Target | None]] = [
        ("condensing over return air", targets.condensing_over_return_air(air.value)),
        ("outdoor coil below outdoor air", targets.outdoor_coil_below_outdoor_air(air.value)),
        ("subcooling behind a valve", targets.heating_subcooling(None)),
        ("air rise, heat pump alone", targets.air_rise(air.value)),
    ]
    found: dict[str, Any] = {
        text: {"value": target.value, "spread": target.spread, "unit": "K"} for text, target in rows if target
    }
    blocks = [Block("answer", f"A sound heat pump at {outdoor} outdoors and {returned} return air, heating:")]
    blocks += [item(f"{text} {_about(target, 'difference', system)}") for text, target in rows if target]
    share, performance = targets.heating_capacity_ratio(air.value), targets.heating_performance(air.value)
    if share and performance:
        blocks.append(item(f"heat {share.value:.2f} ± {2 * share.spread:.2f} of the nominal cooling capacity"))
        blocks.append(item(f"coefficient of performance {performance.value:.1f} ± {2 * performance.spread:.1f}"))
        found |= {"heating capacity ratio": share.value, "coefficient of performance": performance.value}
    if name is not None:
        blocks += _pressures(gas_named(name), air.value, room.value, station(altitude), system, found)
    blocks += [
        line(
            "± holds 95 of 100 sound machines. Charts of two makers, R-410A, about 400 cfm/ton (54 L/s per kW). The "
            f"maker's own chart goes first. Source: {cite(targets.HEATING_CHARTS, rules)}."
        ),
        line("Fixed orifices and accumulators: superheat and subcooling near zero are ordinary in the cold."),
        line("Never charge by these figures. Weigh the charge in, and confirm it in cooling weather."),
    ]
    return blocks, found | {"source": targets.HEATING_CHARTS}


def _about(target: Target, kind: Any, system: System) -> str:
    return f"{number(target.value, kind, system)} ± {number(2 * target.spread, kind, system)}"


def _pressures(
    gas: Refrigerant, air: float, room: float, station: float, system: System, found: dict[str, Any]
) -> list[Block]:
    """The gauges that go with the expected temperatures, from one spread of two below to two above."""
    condensing, coil = targets.condensing_over_return_air(air), targets.outdoor_coil_below_outdoor_air(air)
    assert condensing is not None
    assert coil is not None
    blocks = []
    for text, middle, spread, line_, off in (
        ("liquid pressure", room + condensing.value, condensing.spread, "bubble", -gas.glide / 2),
        ("suction pressure", air - coil.value, coil.spread, "dew", EVAPORATOR_BELOW_DEW * gas.glide),
    ):
        ends = [
            saturation_pressure(gas, "bubble" if line_ == "bubble" else "dew", middle + off + by * spread)
            for by in (-2, 2)
        ]
        if None not in ends:
            unit = units.unit_for("pressure", system)
            low, high = (units.show(end - station, "pressure", unit, decimals=0) for end in ends if end is not None)
            blocks.append(item(f"{text} of {gas.name} about {low.split(' ')[0]} to {high}"))
            found[text] = {"from": ends[0], "to": ends[1], "unit": "Pa absolute"}
    return blocks
