"""lookup: one figure, with its source."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from diagnose.cli.shared import NEGATIVE, AltitudeOption, As, Commands, OutOption, PageOption, group, put_blocks


class _Figures(Commands):
    """Commands that are given figures: `118 psi` is one of them, also without quotes."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Words that are one value together, as the shell parted them, become one."""
        joined: list[str] = []
        for word in args:
            joined.append(word)
            while len(joined) > 1 and _is_value(together := " ".join(joined[-2:])):
                joined[-2:] = [together]
        return super().parse_args(ctx, joined)


def _is_value(text: str) -> bool:
    from diagnose import units

    if not text[:2].strip("+-.")[:1].isdigit():
        return False
    for kind in get_args(units.Kind):
        try:
            units.parse(text, kind)
        except units.UnitError:
            continue
        return True
    return False


lookup_app = group("One figure, with its source.", _Figures)


def _looked_up(name: str, *given: str | Mapping[str, str | None] | None, how: As | None, output: Path | None) -> None:
    from diagnose.report import lookups
    from diagnose.rulebook import usable_rules

    blocks, data = getattr(lookups, name)(*given, usable_rules())
    put_blocks(blocks, how, data, output)


@lookup_app.command("saturation", context_settings=NEGATIVE)
def lookup_saturation(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    value: Annotated[str, typer.Argument(help="a pressure or a temperature: '130 psig', '45 F'")],
    altitude: AltitudeOption = None,
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """Saturation temperature at a pressure, or pressure at a temperature."""
    _looked_up("saturation", refrigerant, value, altitude, how=how, output=output)


@lookup_app.command("target-superheat", context_settings=NEGATIVE)
def lookup_target_superheat(
    outdoor: Annotated[str, typer.Argument(help="outdoor air dry bulb: '80 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """Target superheat of a fixed orifice in this weather."""
    _looked_up("target_superheat", outdoor, wet_bulb, how=how, output=output)


@lookup_app.command("temperature-split", context_settings=NEGATIVE)
def lookup_temperature_split(
    dry_bulb: Annotated[str, typer.Argument(help="return air dry bulb: '75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """How far the indoor coil should cool the air."""
    _looked_up("temperature_split", dry_bulb, wet_bulb, how=how, output=output)


@lookup_app.command("line-charge", context_settings=NEGATIVE)
def lookup_line_charge(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    tube: Annotated[str, typer.Argument(help="outside diameter of the liquid line: '3/8 in'")],
    length: Annotated[str, typer.Argument(help="'25 ft'")],
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """How much refrigerant a liquid line holds."""
    _looked_up("line_charge", refrigerant, tube, length, how=how, output=output)


@lookup_app.command("weigh-in", context_settings=NEGATIVE)
def lookup_weigh_in(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    liquid_line: Annotated[str, typer.Argument(help="outside diameter of the liquid line: '3/8 in'")],
    length: Annotated[str, typer.Argument(help="of the liquid line, one way: '35 ft'")],
    factory: Annotated[str | None, typer.Option(help="factory charge, from the plate: '6 lb 4 oz'")] = None,
    included: Annotated[str | None, typer.Option(help="length of line that it covers: '15 ft'")] = None,
    included_line: Annotated[str | None, typer.Option(help="the liquid line it covers, if another: '3/8 in'")] = None,
    suction_line: Annotated[str | None, typer.Option(help="outside diameter: '3/4 in'")] = None,
    suction_length: Annotated[str | None, typer.Option(help="where it differs: '30 ft'")] = None,
    allowance: Annotated[str | None, typer.Option(help="its maker's own figure: '0.60 oz/ft'")] = None,
    coil: Annotated[str | None, typer.Option(help="what its maker adds for the indoor coil: '8 oz'")] = None,
    drier: Annotated[str | None, typer.Option(help="what its maker adds for a filter drier: '3 oz'")] = None,
    lift: Annotated[str | None, typer.Option(help="indoor unit above the outdoor unit: '20 ft'")] = None,
    metering_place: Annotated[str | None, typer.Option(help="indoors or outdoors")] = None,
    liquid_at: Annotated[str | None, typer.Option(help="liquid temperature; 100 F unless said")] = None,
    suction_at: Annotated[str | None, typer.Option(help="suction pressure; that of 45 F unless said")] = None,
    superheat: Annotated[str | None, typer.Option(help="of the suction vapor; 10 F unless said")] = None,
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """How much a machine should hold in all: factory charge, line set, coil and drier."""
    more = {
        "factory charge": factory, "included": included, "included liquid line": included_line, "suction line": suction_line,
        "suction length": suction_length, "allowance": allowance, "indoor coil": coil, "drier": drier, "lift": lift,
        "metering place": metering_place,
    }  # fmt: skip
    states = {"liquid at": liquid_at, "suction at": suction_at, "superheat": superheat}
    _looked_up("weigh_in", refrigerant, liquid_line, length, more, states, how=how, output=output)


@lookup_app.command("heating", context_settings=NEGATIVE)
def lookup_heating(
    outdoor: Annotated[str, typer.Argument(help="outdoor air dry bulb: '35 F'")],
    returned: Annotated[str | None, typer.Option("--return-air", help="return air dry bulb; 70 F unless said")] = None,
    refrigerant: Annotated[str | None, typer.Option(help="for its two pressures: R-410A")] = None,
    altitude: AltitudeOption = None,
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """What a sound heat pump reads while it heats, in this weather."""
    _looked_up("heating", outdoor, returned, refrigerant, altitude, how=how, output=output)


@lookup_app.command("moist-air", context_settings=NEGATIVE)
def lookup_moist_air(
    dry_bulb: Annotated[str, typer.Argument(help="'75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="wet bulb '63 F', or relative humidity '50 %'")],
    altitude: AltitudeOption = None,
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """Humidity, dew point, enthalpy and volume of air."""
    _looked_up("moist_air", dry_bulb, wet_bulb, altitude, how=how, output=output)
