"""What the figures in findings.yaml mean: limits and spreads with units, turned into the SI of their quantity."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from diagnose import units
from diagnose.quantities import STEPS, QuantityKind
from diagnose.quantities.uncertainty import BESIDE_STEPS
from diagnose.rulebook.models import WrittenScale
from diagnose.units import Kind
from diagnose.yamlfile import Mistake

KINDS: dict[str, QuantityKind] = {step.name: step.kind for step in STEPS if not step.name.startswith("expected ")}
KINDS.update(BESIDE_STEPS)
MADE_IN = {step.name: step.mode for step in STEPS if step.mode}
"""The mode in which a quantity is worked out, where that is one alone."""


# What a limit of each kind of figure may be at all: far outside of what is measured on an air conditioner a word would never,
# or always, be said. Judgement.
_PLAUSIBLE: dict[QuantityKind, tuple[str, str]] = {
    "temperature": ("-80 F", "400 F"),
    "difference": ("-150 F", "250 F"),
    "drift": ("-50 F", "50 F"),
    "share drift": ("-100 %", "100 %"),
    "small percent": ("-100 %", "300 %"),
    "percent": ("-100 %", "300 %"),
    "small pressure": ("0 inH2O", "6 inH2O"),
    "time": ("0 min", "24 h"),
    "voltage": ("0 V", "700 V"),
    "current": ("0 A", "500 A"),
    "airflow per capacity": ("20 cfm/ton", "2000 cfm/ton"),
}
SEA_LEVEL = 101325.0
"""Pa. A limit written as a gauge pressure is taken there: quantities are absolute, and a rule book knows no site."""
_PLAUSIBLE_RATIO = (-10.0, 20.0)


@cache
def _plausible(kind: QuantityKind) -> tuple[float, float, str] | None:
    """The lowest and highest limit of a kind, SI, and both in words; None where any may be."""
    if kind == "ratio":
        low, high = _PLAUSIBLE_RATIO
        return low, high, f"{low:g} and {high:g}".replace("-", "−")
    if kind not in _PLAUSIBLE:
        return None
    low, high = (_figure(written, kind) for written in _PLAUSIBLE[kind])
    return low, high, " and ".join(_PLAUSIBLE[kind]).replace("-", "−")


def implausible(
    kind: QuantityKind, scale: WrittenScale, limits: Sequence[float]
) -> tuple[str | int | float, str] | None:
    """The first limit of a scale that no machine comes near, and the range it should lie in; None where all may be.

    kind: of the quantity. limits: the same in SI, rising.
    """
    range_of = _plausible(kind_of(kind, scale))
    if range_of is None or not limits or (range_of[0] <= limits[0] and limits[-1] <= range_of[1]):
        return None
    low, high, told = range_of
    return next(w for w, limit in zip(scale.limits, limits, strict=True) if not low <= limit <= high), told


def limits_of(kind: QuantityKind, scale: WrittenScale) -> tuple[float, ...]:
    """The limits of a scale of such a quantity, SI. Raises ValueError with `what` and `fix`."""
    return tuple(_figure(limit, kind_of(kind, scale)) for limit in scale.limits)


def spread_of(kind: QuantityKind, scale: WrittenScale) -> float | None:
    """The scale's own spread of healthy machines, SI; None where the expected value brings its own."""
    kind = kind_of(kind, scale)  # how far healthy ones scatter is a difference, also of a temperature
    return None if scale.spread is None else _figure(scale.spread, "difference" if kind == "temperature" else kind)


def kind_of(kind: QuantityKind, scale: WrittenScale) -> QuantityKind:
    """What kind of figure the limits of a scale of such a quantity are."""
    if scale.by == "share":
        return "ratio"
    if scale.by in ("difference", "nearest") and kind == "temperature":
        return "difference"
    return kind


def _figure(written: str | int | float, kind: QuantityKind) -> float:
    if kind == "ratio":
        if isinstance(written, str):
            raise Mistake(f"`{written}` is not a plain number", "A ratio has no unit, for example 0.8.")
        return float(written)
    if kind == "airflow per capacity":
        text = str(written)
        flow, slash, per = text.partition("/")
        if not slash:
            raise Mistake(f"`{text}` is not an airflow per capacity", "For example `300 cfm/ton`.")
        return units.parse(flow, "airflow").value / units.parse(f"1 {per.strip()}", "capacity").value
    as_kind: dict[QuantityKind, Kind] = {"drift": "difference", "share drift": "percent", "small percent": "percent"}
    figure = units.parse(written, as_kind.get(kind, kind))  # type: ignore[arg-type]
    return figure.value + SEA_LEVEL if kind == "pressure" and figure.gauge else figure.value
