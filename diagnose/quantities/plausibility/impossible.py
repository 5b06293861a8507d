"""Readings that cannot be, or hardly can: what is wrong with them and which slip is the likely cause.

Nothing is corrected here and nothing raises. A reading that physics forbids is set aside by name, so that what would
be worked out from it is missing instead of wrong; a doubt on which the charge would hang says so.
Every test allows for the instruments' limits of error first. The tests themselves are thermodynamics (heat flows from
warm to cold); the plausible ranges are common practice, no source, and generous.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from diagnose.properties import humidity_ratio_from_wet_bulb, relative_humidity, saturation_temperature
from diagnose.quantities.plausibility.look import ATMOSPHERE, SLACK, Look, Suspicion
from diagnose.quantities.plausibility.slips import gauge_at_rest, slips
from diagnose.quantities.uncertainty import Estimate
from diagnose.targets import F
from diagnose.visit import Visit


def suspicions(
    visit: Visit, estimates: Mapping[str, Estimate], show: Callable[[float, str], str]
) -> tuple[Suspicion, ...]:
    """Everything doubtful about the last round, most far-reaching first."""
    look = Look(visit, estimates, show)
    if visit.machine.mode == "heating":  # the coils have changed places, and with them most of what cannot be
        return (*_vacuum(look), *_pairs(look, _ALWAYS_WARMER), *_frozen_wick(look))
    others = (*_pairs(look, _ALWAYS_WARMER + _WARMER_COOLING), *_frozen_wick(look), *_humidity(look))
    unusable = [*_swapped(look), *_vacuum(look)]
    if unusable:  # nothing on the refrigerant side can be judged by such pressures
        return (*unusable, *others)
    wrong = list(slips(look))
    slipped = {name for doubt in wrong for name in doubt.set_aside}
    others = tuple(doubt for doubt in (*gauge_at_rest(look), *others) if slipped.isdisjoint(doubt.set_aside))
    standing = list(_not_pumping(look))
    if standing:  # what a running machine must show does not hold of one that stands
        return (*standing, *others)
    rest = [] if wrong else [*_suction(look), *_liquid(look), *_discharge(look), *_air(look)]
    return (*wrong, *rest, *others)


def _swapped(look: Look) -> Iterator[Suspicion]:
    low, high = look.value("suction pressure"), look.value("liquid pressure")
    if low is not None and high is not None and low > high + look.error("suction pressure", "liquid pressure"):
        yield Suspicion(
            f"The suction pressure ({look.show(low, 'pressure')}) is above the liquid pressure "
            f"({look.show(high, 'pressure')}): the two are written in each other's place, the hoses are swapped, or a "
            "heat pump is running in the other mode. Neither pressure is used.",
            set_aside=("suction pressure", "liquid pressure"),
            holds_charge=True,
            holds_visit=True,
        )


def _vacuum(look: Look) -> Iterator[Suspicion]:
    for name in ("suction pressure", "liquid pressure"):
        pressure = look.value(name)
        if pressure is not None and pressure < 0.03 * ATMOSPHERE:
            yield Suspicion(
                f"The {name} is at or below a perfect vacuum: the gauge is off its zero or the unit is wrong. It is not used.",
                set_aside=(name,),
                holds_charge=True,
            )


STANDING = 1.15  # pressure ratio below which nothing is pumped; a running machine has 2 and more


def _not_pumping(look: Look) -> Iterator[Suspicion]:
    """Pressures that stand together, or a compressor without current."""
    low, high = look.value("suction pressure"), look.value("liquid pressure")
    if low is not None and high is not None and low > 0 and high / low < STANDING:
        yield Suspicion(
            f"The two pressures stand together ({look.show(low, 'pressure')} and {look.show(high, 'pressure')}): the "
            "compressor does not run, or it runs and does not pump. See whether it turns, and measure its current.",
            holds_charge=True,
            check="clamp-the-current",
        )
    current, rated = look.value("compressor current"), look.visit.machine.fact("rated current")
    if current is not None and current < max(0.1 * (rated or 0.0), 0.2):
        yield Suspicion(
            "The compressor draws next to no current: it is not running, or the clamp is not round one lead only. Readings "
            "of a machine that stands cannot be judged.",
            holds_charge=True,
            holds_visit=True,
            check="clamp-the-current",
        )


def _humidity(look: Look) -> Iterator[Suspicion]:
    """Wet bulb and relative humidity of one air must agree."""
    for side in ("return", "supply"):
        dry, wet = look.value(f"{side} air dry bulb"), look.value(f"{side} air wet bulb")
        said = look.value(f"{side} air relative humidity")
        if dry is None or wet is None or said is None or wet > dry:
            continue
        station = look.visit.machine.station_pressure
        water = humidity_ratio_from_wet_bulb(dry, wet, station)
        measured = None if water is None else relative_humidity(dry, water, station)
        if measured is not None and abs(measured - said) > 0.12 + look.error(f"{side} air relative humidity"):
            yield Suspicion(
                f"The {side} air wet bulb means {measured * 100:.0f} % relative humidity, but {said * 100:.0f} % is written: "
                "one of the two is wrong. The relative humidity is not used.",
                set_aside=(f"{side} air relative humidity",),
            )


def _suction(look: Look) -> Iterator[Suspicion]:
    superheat = look.quantity("superheat")
    line, outdoor = look.value("suction line temperature"), look.value("outdoor air temperature")
    gas, pressure = look.visit.machine.refrigerant, look.value("suction pressure")
    if superheat is not None and line is not None and superheat[0] < -(superheat[1] + SLACK + look.glide):
        slip = "The clamp has poor contact or a wrong zero, the gauge is off, or another refrigerant is in the machine."
        if gas is not None and pressure is not None:
            dew = saturation_temperature(gas, "dew", pressure - ATMOSPHERE)
            if dew is not None and 0 <= line - dew <= 30 * F:
                slip += " A gauge that shows absolute pressure, written down as gauge pressure, would do it as well."
        yield Suspicion(
            f"The suction line is {look.show(-superheat[0], 'difference')} colder than the refrigerant in it can be. "
            f"{slip} The superheat is not used.",
            set_aside=("suction line temperature",),
            holds_charge=True,
        )
    subcooling = look.quantity("subcooling")
    if (
        superheat is not None
        and line is not None
        and outdoor is not None
        and abs(line - outdoor) < 2 * F
        and superheat[0] > 30 * F
        and (subcooling is None or subcooling[0] > 5 * F)
    ):
        there = "" if subcooling is None else ", although liquid stands in the condenser"
        yield Suspicion(
            f"The suction line reads the same as the outdoor air ({look.show(line, 'temperature')}){there}: the clamp may "
            "be reading air. Clean the pipe, clamp it tight, insulate it, and read again. The superheat is not used.",
            set_aside=("suction line temperature",),
            holds_charge=True,
        )


def _liquid(look: Look) -> Iterator[Suspicion]:
    over = look.quantity("condensing over ambient")
    if over is not None and over[0] < -(over[1] + SLACK):
        yield Suspicion(
            f"The refrigerant would condense {look.show(-over[0], 'difference')} below the outdoor air, which cannot "
            "be while the machine runs well: hardly any refrigerant is left in the circuit, the outdoor probe is in the sun "
            "or not at the coil's inlet, the liquid pressure is wrong, or another refrigerant is in the machine.",
            spoils=("condensing over ambient", "compression ratio"),
            holds_charge=True,
            check="rest-and-read",
        )
    approach = look.quantity("liquid line approach")
    if approach is not None and approach[0] < -(approach[1] + SLACK):
        yield Suspicion(
            f"The liquid line is {look.show(-approach[0], 'difference')} colder than the outdoor air that cools it: "
            "the clamp sits after a restriction, has poor contact or a wrong zero, or the outdoor probe is in the "
            "sun. The subcooling is not used.",
            set_aside=("liquid line temperature",),
            holds_charge=True,
        )
    subcooling = look.quantity("subcooling")
    if subcooling is not None and subcooling[0] < -(subcooling[1] + SLACK + look.glide):
        yield Suspicion(
            f"The liquid line is {look.show(-subcooling[0], 'difference')} warmer than the refrigerant in it can be "
            "as a liquid: the clamp is too near the discharge line or in the sun, the gauge is off, or another "
            "refrigerant is in the machine. The subcooling is not used.",
            set_aside=("liquid line temperature",),
            holds_charge=True,
        )
    elif subcooling is not None and approach is not None and abs(approach[0]) < 1.5 * F and subcooling[0] > 15 * F:
        yield Suspicion(
            "The liquid line reads the same as the outdoor air: the clamp may be reading air. Clean the pipe, clamp "
            "it tight, insulate it, and read again."
        )


def _discharge(look: Look) -> Iterator[Suspicion]:
    discharge = look.quantity("discharge superheat")
    if discharge is not None and discharge[0] < -(discharge[1] + SLACK):
        yield Suspicion(
            f"The discharge line is {look.show(-discharge[0], 'difference')} colder than its vapour condenses: the "
            "clamp has poor contact, or liquid is passing through the compressor. Feel for frost and listen before "
            "anything else. The discharge temperature is not used.",
            set_aside=("discharge line temperature",),
        )


# What must be the warmer, what must be the colder, the readings set aside, the likely slip. Where the two may have been
# swapped neither can be trusted, so both are set aside.
_Pair = tuple[str, str, tuple[str, ...], str]
_ALWAYS_WARMER: tuple[_Pair, ...] = (
    (
        "return air dry bulb",
        "return air wet bulb",
        ("return air dry bulb", "return air wet bulb"),
        "the two are swapped, or the wick is dry or in the sun",
    ),
    (
        "supply air dry bulb",
        "supply air wet bulb",
        ("supply air dry bulb", "supply air wet bulb"),
        "the two are swapped, or the wick is dry",
    ),
    (
        "discharge line temperature",
        "suction line temperature",
        ("discharge line temperature", "suction line temperature"),
        "the clamps are swapped, or the compressor does not run",
    ),
)
_WARMER_COOLING: tuple[_Pair, ...] = (
    (
        "return air dry bulb",
        "supply air dry bulb",
        ("return air dry bulb", "supply air dry bulb", "supply air wet bulb", "supply air relative humidity"),
        "the probes are swapped, the machine is heating, or it is not cooling at all",
    ),
    (
        "return air wet bulb",
        "supply air wet bulb",
        ("return air wet bulb", "supply air wet bulb"),
        "the probes are swapped, or a wick is dry",
    ),
    (
        "drier inlet temperature",
        "drier outlet temperature",
        ("drier inlet temperature", "drier outlet temperature"),
        "the two are swapped, or the clamps disagree: hold both on one spot and compare",
    ),
    (
        "liquid line temperature",
        "metering inlet temperature",
        ("metering inlet temperature",),
        "the line runs through a hot attic or the sun, or the clamps disagree: hold both on one spot and compare",
    ),
    (
        "condenser leaving air temperature",
        "outdoor air temperature",
        ("condenser leaving air temperature",),
        "the probes are swapped, or the fan does not run",
    ),
)
# Readings by which the charge is judged.
_HOLD_CHARGE = {"return air wet bulb", "suction line temperature"}
_NOT_COOLING = (
    "return air dry bulb",
    "supply air dry bulb",
)  # the wrong way round: the machine may not be cooling at all


def _pairs(look: Look, pairs: tuple[_Pair, ...]) -> Iterator[Suspicion]:
    for warm, cold, aside, slip in pairs:
        by = look.above(cold, warm)
        if by is not None:
            aside = tuple(name for name in aside if name in look.visit.last.readings)
            yield Suspicion(
                f"The {cold} is {look.show(by, 'difference')} above the {warm}, which cannot be: {slip}. Not used: "
                f"{', '.join(aside)}.",
                set_aside=aside,
                holds_charge=(warm, cold) == _NOT_COOLING or not _HOLD_CHARGE.isdisjoint(aside),
            )


def _air(look: Look) -> Iterator[Suspicion]:
    supply, evaporating = look.value("supply air dry bulb"), look.quantity("evaporating temperature")
    if supply is not None and evaporating is not None:
        by = evaporating[0] - supply
        if by > evaporating[1] + look.error("supply air dry bulb") + SLACK:
            yield Suspicion(
                f"The supply air is {look.show(by, 'difference')} colder than the refrigerant that cools it: the "
                "suction pressure, the supply air probe or the refrigerant is wrong.",
                spoils=("air temperature split", "evaporator temperature difference"),
                holds_charge=True,
            )


def _frozen_wick(look: Look) -> Iterator[Suspicion]:
    for name in ("return air wet bulb", "supply air wet bulb"):
        wet = look.value(name)
        if wet is not None and abs(wet - 273.15) < 1.0:
            yield Suspicion(
                f"The {name} is within 2 °F (1 °C) of freezing, where a wet wick reads water or ice: it is not used.",
                set_aside=(name,),
            )
