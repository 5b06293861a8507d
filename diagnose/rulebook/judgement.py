"""The figures of judgement.yaml, as the program uses them: one frozen group for each part that decides by them.

Each field is one figure: its kind, and between what it must lie. In the file `_` is a space: `second fault/firm`.
What each is, and why, stands in the file alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from typing import Any, NamedTuple, cast, get_type_hints

from diagnose import units
from diagnose.quantities.baseline import GoodDayFigures
from diagnose.quantities.judged import FigureRows, FigureSpec, figure
from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.start_up import StartUpFigures
from diagnose.quantities.steadiness import SteadinessFigures
from diagnose.rulebook.entries import FigureAsWritten, JudgedFigure
from diagnose.units import Kind


@dataclass(frozen=True, slots=True)
class Strengths:
    """Shares of the odds from which a fault is called strong, fair or weak; and what forbids to say so."""

    strong: float = figure("ratio", 0.01, 0.99)
    fair: float = figure("ratio", 0.01, 0.99)
    weak: float = figure("ratio", 0.01, 0.99)
    against: float = figure("ratio", 0, 20)
    scrap: float = figure("ratio", 0, 5)
    edge: tuple[float, float] = figure("ratio", 0, 0.5, 2)


@dataclass(frozen=True, slots=True)
class SecondFaultFigures:
    """When a second fault is named, and when nothing that is known fits: chances, shares, points."""

    firm: float = figure("ratio", 0.5, 1)
    sure: float = figure("ratio", 0.5, 1)
    net: float = figure("ratio", 0, 10)
    fair: float = figure("ratio", 0, 1)
    unplaced: int = figure("count", 1, 50)


@dataclass(frozen=True, slots=True)
class NextCheckFigures:
    """What a check and a wrong call cost, s, which checks are listed and how many, and how far readings are believed."""

    known: float = figure("ratio", 0, 1)
    trust: float = figure("ratio", 0.05, 1)
    shows: float = figure("ratio", 0.05, 0.9)
    strays: float = figure("ratio", 0.005, 0.09)
    turns: float = figure("ratio", 0, 0.5)
    begins: float = figure("ratio", 0, 5)
    listed: int = figure("count", 1, 20)
    long: float = figure("time", "10 min", "480 min")
    handling: float = figure("time", "0 min", "60 min")
    come_back: float = figure("time", "0 min", "480 min")
    otherwise: float = figure("time", "0 min", "2400 min")


@dataclass(frozen=True, slots=True)
class SensitivityFigures:
    """How far a reading is moved, in its limits of error, and the share from which nothing is tried."""

    reach: float = figure("ratio", 1, 10)
    close: float = figure("ratio", 0.5, 10)
    safe: float = figure("ratio", 0.5, 1)


@dataclass(frozen=True, slots=True)
class CostFigures:
    """What a fault costs: shares, factors, and the rated airflow where none is given, m³/(s·W)."""

    leads: float = figure("ratio", 0, 1)
    machines_differ: float = figure("ratio", 1, 5)
    orifices_differ: float = figure("ratio", 1, 5)
    most: float = figure("ratio", 0.05, 1)
    overcharge_costs: float = figure("ratio", 0, 1)
    rated: float = figure("airflow per capacity", "200 cfm/ton", "800 cfm/ton")
    rated_differs: float = figure("ratio", 0, 0.5)
    blower: float = figure("ratio", 0, 0.5)
    split_tells: float = figure("ratio", 0, 1)
    moisture: float = figure("ratio", 0, 0.5)


@dataclass(frozen=True, slots=True)
class ChargeRange:
    """The least and the most by which the charge is said to be off, shares of the right one; how machines differ; how much of
    a second sign of the same refrigerant counts; how far superheat stands above any target that the weather may have, K,
    where it says `low` without one; what is added to a charge called right; and how far the condenser, K, less the excess
    of subcooling, may stand above the air for no air to be suspected in it where its efficiency class is not known.
    """

    least: float = figure("ratio", 0.001, 0.2)
    most: float = figure("ratio", 0.2, 1)
    machines_differ: float = figure("ratio", 1, 3)
    shown_twice: float = figure("ratio", 0, 1)
    beyond_any_target: float = figure("difference", "5 F", "60 F")
    fits: float = figure("ratio", 0, 0.5)
    one_side: float = figure("ratio", 0, 1)
    without_air: float = figure("difference", "10 F", "30 F")


@dataclass(frozen=True, slots=True)
class RepairFigures:
    """When two visits compare: readings that are copied, limits of error by which one reading alone says something of the
    whole.
    """

    copied: int = figure("count", 2, 20)
    alone: float = figure("ratio", 1, 5)


@dataclass(frozen=True, slots=True)
class DriftFigures:
    """What drifts over a machine's visits: like weather (outdoor air, K), visits and days at the least, standard deviations
    from which it is told, how far a sound machine wanders from day to day where no law says so (K).
    """

    like: float = figure("difference", "5 F", "40 F")
    visits: int = figure("count", 3, 20)
    days: int = figure("count", 1, 366)
    told: float = figure("ratio", 1, 6)
    wander: float = figure("difference", "0.2 F", "10 F")


@dataclass(frozen=True, slots=True)
class LogFigures:
    """What a log shows, s and counts: what breaks it off, a sensor that is stuck, short cycling, how long a stretch is, and how
    long another answer must hold.
    """

    gap: float = figure("time", "10 s", "60 min")
    still: float = figure("time", "5 min", "480 min")
    still_air: float = figure("time", "15 min", "1440 min")
    short_run: float = figure("time", "1 min", "15 min")
    short_runs: int = figure("count", 2, 20)
    starts: int = figure("count", 3, 20)
    shortest: float = figure("time", "2 min", "30 min")
    longest: float = figure("time", "15 min", "240 min")
    stays: float = figure("time", "0 min", "120 min")


@dataclass(frozen=True, slots=True)
class Judgement:
    """All figures of judgement.yaml, SI."""

    strengths: Strengths
    second_fault: SecondFaultFigures
    next_checks: NextCheckFigures
    sensitivity: SensitivityFigures
    good_day: GoodDayFigures
    costs: CostFigures
    charge_range: ChargeRange
    steadiness: SteadinessFigures
    start_up: StartUpFigures
    after_repair: RepairFigures
    drifts: DriftFigures
    logs: LogFigures
    plausibility: PlausibilityLimits


# Of two figures of one group, which must be the larger: (smaller, larger).
ORDERED = (
    ("strengths/weak", "strengths/fair"),
    ("strengths/fair", "strengths/strong"),
    ("sensitivity/close", "sensitivity/reach"),
    ("start up/depth", "start up/stays"),
    ("logs/shortest", "logs/longest"),
    ("plausibility/eased", "plausibility/strained"),
)


class FigurePart(NamedTuple):
    """A field of a group: its name in the file, and either what figure it is or what table."""

    field: str
    name: str
    spec: FigureSpec | None
    rows: FigureRows | None


def written_name(field: str) -> str:
    """`come_back` as the file has it: `come back`."""
    return field.replace("_", " ")


@cache
def groups() -> dict[str, type]:
    """The groups of the file, by name."""
    return {written_name(name): kind for name, kind in get_type_hints(Judgement).items()}


@cache
def parts(group: type) -> tuple[FigurePart, ...]:
    """The figures and tables of a group or a row."""
    return tuple(
        FigurePart(f.name, written_name(f.name), f.metadata.get("spec"), f.metadata.get("rows")) for f in fields(group)
    )


# -- one figure --------------------------------------------------------------------------------------------------------


def value_of(written: FigureAsWritten, spec: FigureSpec) -> float:
    """A figure in SI. Raises ValueError, with `what` and `fix`, for another unit and for what lies out of range."""
    value = _si(written, spec)
    if not math.isfinite(value) or not _si(spec.low, spec) - 1e-12 <= value <= _si(spec.high, spec) + 1e-12:
        raise NotAFigure(f"`{written}` is out of range", f"From {spec.low} to {spec.high}.")
    return value


class NotAFigure(ValueError):  # noqa: N818 - it says what the figure is not
    """A figure that cannot stand here: what is wrong, and how to mend it."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def _si(written: FigureAsWritten, spec: FigureSpec) -> float:
    text = str(written)
    if spec.kind in ("ratio", "count"):
        whole = spec.kind == "count"
        if isinstance(written, str) or (whole and written != int(written)):
            wanted = "a whole number" if whole else "a plain number"
            raise NotAFigure(f"`{text}` is not {wanted}", f"It has no unit: {wanted} from {spec.low} to {spec.high}.")
        return float(written)
    if spec.kind == "share per kelvin":
        share, slash, per = text.partition("/")
        if not slash:
            raise NotAFigure(f"`{text}` is not a share a degree", "For example `1.2 %/F`.")
        return _parsed(share, "percent") / _parsed(f"1 {per.strip()}", "difference")
    if spec.kind == "airflow per capacity":
        flow, slash, per = text.partition("/")
        if not slash:
            raise NotAFigure(f"`{text}` is not an airflow per capacity", "For example `400 cfm/ton`.")
        return _parsed(flow, "airflow") / _parsed(f"1 {per.strip()}", "capacity")
    return _parsed(text, cast("Kind", spec.kind))


@lru_cache(maxsize=1024)
def _parsed(text: str, kind: Kind) -> float:
    """What is written, SI. Kept: most bounds are written the same for many figures, and all are read at every start."""
    return units.parse(text, kind).value


def values_of(written: tuple[FigureAsWritten, ...], spec: FigureSpec) -> tuple[float, ...]:
    """One figure or several, SI; nothing for a word. Raises ValueError with `what` and `fix`."""
    if spec.kind == "word":
        if len(written) != 1 or written[0] not in spec.words:
            raise NotAFigure(f"`{', '.join(map(str, written))}` cannot stand here", f"One of: {', '.join(spec.words)}.")
        return ()
    if len(written) != spec.count:
        some = "one figure" if spec.count == 1 else f"{spec.count} figures"
        raise NotAFigure(f"{some} must stand here, not {len(written)}", f"Each from {spec.low} to {spec.high}.")
    values = tuple(value_of(one, spec) for one in written)
    if spec.rising and list(values) != sorted(set(values)):
        raise NotAFigure("the figures do not rise", "Write the lower one first.")
    return values


# -- all of them -------------------------------------------------------------------------------------------------------


def specs(figures: Mapping[str, JudgedFigure]) -> dict[str, FigureSpec]:
    """Every figure that must be there, by name, with the rows that are there; and what each may be."""
    found: dict[str, FigureSpec] = {}
    for group, kind in groups().items():
        for part in parts(kind):
            path = f"{group}/{part.name}"
            if part.spec is not None:
                found[path] = part.spec
            elif part.rows is not None:
                for row in part.rows.names or _rows(figures, path):
                    found |= {f"{path}/{row}/{name}": spec for name, spec in _row(figures, path, row, part.rows)}
    return found


def _row(
    figures: Mapping[str, JudgedFigure], path: str, row: str, table: FigureRows
) -> Iterator[tuple[str, FigureSpec]]:
    have = {part.name: figures.get(f"{path}/{row}/{part.name}") for part in parts(table.of)}
    words = {name: str(one.written[0]) for name, one in have.items() if one is not None and len(one.written) == 1}
    for part in parts(table.of):
        assert part.spec is not None
        if part.spec.absent is ... or have[part.name] is not None:
            yield part.name, table.spec(row, part.name, part.spec, words)


def _rows(figures: Mapping[str, JudgedFigure], path: str) -> list[str]:
    """The rows of a table, in the order of the file."""
    return list(dict.fromkeys(name.split("/")[2] for name in figures if name.startswith(f"{path}/")))


def judgement_of(figures: Mapping[str, JudgedFigure]) -> Judgement:
    """The figures as the program uses them."""
    return Judgement(*(_group(kind, name, figures) for name, kind in groups().items()))


def _group(kind: type, path: str, figures: Mapping[str, JudgedFigure]) -> Any:
    made: dict[str, Any] = {}
    for part in parts(kind):
        here = f"{path}/{part.name}"
        if part.rows is not None:
            of = part.rows.of
            made[part.field] = {row: _group(of, f"{here}/{row}", figures) for row in _rows(figures, here)}
        elif part.spec is not None:
            made[part.field] = _value(figures.get(here), part.spec)
    return kind(**made)


def _value(one: JudgedFigure | None, spec: FigureSpec) -> Any:
    if one is None:
        return spec.absent
    if spec.kind == "word":
        return one.written[0]
    if spec.kind == "count":
        return int(one.value[0])
    return one.value[0] if spec.count == 1 else one.value
