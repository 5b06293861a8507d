"""lookup: one figure, with its source."""

from __future__ import annotations

from typing import Annotated

import typer

from diagnose.cli.shared import NEGATIVE, AltitudeOption, As, AsOption, group, put_blocks

lookup_app = group("One figure, with its source.")


def _looked_up(name: str, *given: str | None, how: As) -> None:
    from diagnose.report import lookups
    from diagnose.rulebook import load_rules

    blocks, data = getattr(lookups, name)(*given, load_rules())
    put_blocks(blocks, how, data)


@lookup_app.command("saturation", context_settings=NEGATIVE)
def lookup_saturation(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    value: Annotated[str, typer.Argument(help="a pressure or a temperature: '130 psig', '45 F'")],
    altitude: AltitudeOption = None,
    how: AsOption = As.text,
) -> None:
    """Saturation temperature at a pressure, or pressure at a temperature."""
    _looked_up("saturation", refrigerant, value, altitude, how=how)


@lookup_app.command("target-superheat", context_settings=NEGATIVE)
def lookup_target_superheat(
    outdoor: Annotated[str, typer.Argument(help="outdoor air dry bulb: '80 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: AsOption = As.text,
) -> None:
    """Target superheat of a fixed orifice in this weather."""
    _looked_up("target_superheat", outdoor, wet_bulb, how=how)


@lookup_app.command("temperature-split", context_settings=NEGATIVE)
def lookup_temperature_split(
    dry_bulb: Annotated[str, typer.Argument(help="return air dry bulb: '75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="return air wet bulb: '63 F'")],
    how: AsOption = As.text,
) -> None:
    """How far the indoor coil should cool the air."""
    _looked_up("temperature_split", dry_bulb, wet_bulb, how=how)


@lookup_app.command("line-charge", context_settings=NEGATIVE)
def lookup_line_charge(
    refrigerant: Annotated[str, typer.Argument(help="for example R-410A")],
    tube: Annotated[str, typer.Argument(help="outside diameter of the liquid line: '3/8 in'")],
    length: Annotated[str, typer.Argument(help="'25 ft'")],
    how: AsOption = As.text,
) -> None:
    """How much refrigerant a liquid line holds."""
    _looked_up("line_charge", refrigerant, tube, length, how=how)


@lookup_app.command("moist-air", context_settings=NEGATIVE)
def lookup_moist_air(
    dry_bulb: Annotated[str, typer.Argument(help="'75 F'")],
    wet_bulb: Annotated[str, typer.Argument(help="wet bulb '63 F', or relative humidity '50 %'")],
    altitude: AltitudeOption = None,
    how: AsOption = As.text,
) -> None:
    """Humidity, dew point, enthalpy and volume of air."""
    _looked_up("moist_air", dry_bulb, wet_bulb, altitude, how=how)
