"""What own.yaml adds, checked against the lines and quantities there are, and compiled."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Literal, get_args

from diagnose import units
from diagnose.quantities import QuantityKind
from diagnose.rulebook.fields import near
from diagnose.rulebook.known import Known, Placed, Spot
from diagnose.rulebook.own_model import WrittenOwnFact, WrittenOwnQuantity, WrittenOwnReading, name_of
from diagnose.units import Kind
from diagnose.visit.fields import INSTRUMENTS, MACHINE, READINGS, Field, Instrument, Word
from diagnose.visit.own import NOTHING_OWN, Own, OwnQuantity
from diagnose.visit.trade_words import meant

_NAME = re.compile(r"[a-z0-9][a-z0-9 '-]*")
_SIGNS: Mapping[str, Literal["difference", "ratio"]] = {" - ": "difference", " − ": "difference", " / ": "ratio"}
# Kinds whose difference has a kind of its own, or none that could be shown.
_DIFFERENCE: Mapping[str, str] = {"temperature": "difference", "pressure": "", "vacuum": "", "station pressure": ""}


def check_own(known: Known, entries: Sequence[Placed[Any]]) -> Own:
    """All of them; what they add is known to every check after this one."""
    if not entries:
        return NOTHING_OWN
    there: dict[str, Placed[Any]] = {}
    for placed in entries:
        if _free(known, placed, there):
            there[name_of(placed.entry)] = placed
    words, sizes, readings = [], [], []
    for placed in there.values():
        entry, spot = placed.entry, placed.spot
        if isinstance(entry, WrittenOwnFact) and entry.words is not None:
            known.facts[entry.fact] = tuple(entry.words)
            about = _sentence(entry.about)
            words.append(Word("machine", entry.fact, about, (entry.words[0],), entry.fact, 0, tuple(entry.words)))
        elif isinstance(entry, WrittenOwnFact) and (size := _size(known, entry, spot)) is not None:
            sizes.append(size)
        elif isinstance(entry, WrittenOwnReading) and (reading := _reading(known, entry, spot)) is not None:
            readings.append(reading)
    kinds: dict[str, QuantityKind] = {f.name: f.kind for f in (*MACHINE.values(), *READINGS.values())}
    kinds |= known.kinds | {field.name: field.kind for field in (*sizes, *readings)}
    known.kinds |= {field.name: field.kind for field in readings}
    lines = {name for name, p in there.items() if not isinstance(p.entry, WrittenOwnQuantity)}
    known.unsure |= lines - kinds.keys() - known.facts.keys()
    quantities: list[OwnQuantity] = []
    waiting = [placed for placed in there.values() if isinstance(placed.entry, WrittenOwnQuantity)]
    while waiting:  # each after those that it is made of
        names = {placed.entry.quantity for placed in waiting}
        ready = next((p for p in waiting if not names & set(_parts(p.entry.formula)[1])), waiting[0])
        waiting.remove(ready)
        known.cited(ready.spot / "source", ready.entry.source)
        made = _quantity(known, ready, kinds, names)
        if made is not None:
            quantities.append(made)
            kinds[made.name] = known.kinds[made.name] = made.kind
        else:
            known.unsure |= {ready.entry.quantity}
            known.kinds[ready.entry.quantity] = "ratio"  # told already
    return Own(tuple(readings), tuple(sizes), tuple(words), tuple(quantities))


def _free(known: Known, placed: Placed[Any], there: Mapping[str, Placed[Any]]) -> bool:
    """Whether the name of an entry can be one."""
    entry, name = placed.entry, name_of(placed.entry)
    key = next(k for k in ("fact", "reading", "quantity") if k in type(entry).model_fields)
    spot = placed.spot / key
    if not _NAME.fullmatch(name):
        known.bad(spot, f"`{name}` is not a name", "Small letters, digits and spaces: `shell temperature`.")
    elif name in there:
        known.bad(spot, f"`{name}` is already declared in {there[name].spot}", "Agree on one of the two.")
    elif found := meant("machine", name) or meant("readings", name):
        fix = f"Use it under that name: `{found[0]}`." if found[0] != name else "Take it out, or choose another name."
        known.bad(spot, f"`{name}` is a line of a visit already", fix)
    elif name in known.kinds:
        known.bad(spot, f"`{name}` is a quantity of the program already", "Choose another name.")
    else:
        return True
    return False


def _size(known: Known, entry: WrittenOwnFact, spot: Spot) -> Field | None:
    assert entry.kind is not None
    assert entry.between is not None
    assert entry.example is not None
    limits = _between(known, entry.kind, entry.between, entry.example, spot)
    if limits is None:
        return None
    examples = tuple(map(str, entry.example))
    return Field("machine", entry.fact, entry.kind, _sentence(entry.about), examples, *limits, entry.fact)


def _reading(known: Known, entry: WrittenOwnReading, spot: Spot) -> Field | None:
    limits = _between(known, entry.kind, entry.between, entry.example, spot)
    default = _instrument(known, entry, spot)
    if limits is None or (default is None and entry.instrument not in INSTRUMENTS):
        return None
    about, question = f"Measured {entry.where.rstrip('.')}.", f"{entry.reading}, {entry.where.rstrip('.')}"
    examples = tuple(map(str, entry.example))
    where = entry.where.rstrip(".")
    return Field(
        "readings", entry.reading, entry.kind, about, examples, *limits, question, 0, entry.instrument, where, default
    )  # fmt: skip


def _instrument(known: Known, entry: WrittenOwnReading, spot: Spot) -> Instrument | None:
    """Of an instrument that the program does not know, how far it may be off; else None."""
    there = INSTRUMENTS.get(entry.instrument)
    if there is not None:
        if entry.error is not None:
            fix = f"A visit says it under `instruments: {{{entry.instrument}: …}}`; take `error` out."
            known.bad(spot / "error", f"how exact `{entry.instrument}` are is known", fix)
        elif (entry.kind == "pressure") != (there.kind == "pressure") and not there.share:
            known.bad(
                spot / "instrument",
                f"`{entry.instrument}` do not read a {entry.kind}",
                "Give `error` and another name.",
            )
        return None
    if entry.error is None:
        fix = f"Add for example `error: 2 %`, or name one of: {', '.join(INSTRUMENTS)}."
        known.bad(spot / "instrument", f"how exact is `{entry.instrument}`?", fix)
        return None
    as_error: Kind = "difference" if entry.kind == "temperature" else entry.kind
    if re.fullmatch(r"\s*[\d.]+\s*%\s*", str(entry.error)) and entry.kind != "percent":
        if entry.kind in ("temperature", "difference"):
            known.bad(spot / "error", "degrees do not count from a true zero", "Give the error in degrees: `2 F`.")
            return None
        return Instrument(units.parse(entry.error, "percent").value, 0.0, entry.kind, "")
    try:
        return Instrument(0.0, abs(units.parse(entry.error, as_error).value), as_error, "")
    except units.UnitError as error:
        known.bad(spot / "error", error.what, error.fix)
        return None


def _between(
    known: Known, kind: Kind, written: Sequence[object], examples: Sequence[object], spot: Spot
) -> tuple[float, float] | None:
    """The limits in SI, gauge pressures as gauge, with the examples between them."""
    found: list[float] = []
    for key, values in (("between", written), ("example", examples)):
        for i, value in enumerate(values):
            here = spot / key / i if (*spot.at, key, i) in spot.document.marks else spot / key
            try:
                figure = units.parse(value, kind)
            except units.UnitError as error:
                known.bad(here, f"`{value}`: {error.what}", error.fix)
                return None
            at = figure.value - 101325.0 if kind == "pressure" and not figure.gauge else figure.value
            if key == "example" and not found[0] <= at <= found[1]:
                known.bad(here, f"the example `{value}` does not lie between the two limits", "Correct one of them.")
                return None
            found.append(at)
    if found[0] >= found[1]:
        known.bad(spot / "between", "the second limit is not above the first", "Write the lower one first.")
        return None
    return found[0], found[1]


def _parts(formula: str) -> tuple[Literal["is", "difference", "ratio"], list[str]]:
    for sign, how in _SIGNS.items():
        if sign in formula:
            return how, [part.strip() for part in formula.split(sign)]
    return "is", [formula.strip()]


def _quantity(
    known: Known,
    placed: Placed[WrittenOwnQuantity],
    kinds: Mapping[str, QuantityKind],
    loop: set[str],
) -> OwnQuantity | None:
    """loop: those that still wait for one another, this one among them."""
    entry, spot = placed.entry, placed.spot / "formula"
    how, names = _parts(entry.formula)
    if len(names) > 2:
        known.bad(spot, "a formula has one sign", "Give the first part a name of its own, as another quantity.")
        return None
    for name in names:
        if name not in kinds:
            if name not in known.unsure:
                fix = "It needs itself, perhaps by way of another." if name in loop else near(name, sorted(kinds))
                known.bad(spot, f"`{name}` is neither a reading, nor a machine fact with a unit, nor a quantity", fix)
            return None
    kind = _kind(known, spot, how, names, kinds)
    if kind is None:
        return None
    first, second = (*names, "")[:2]
    formula = entry.formula.replace(" − ", " - ")
    return OwnQuantity(entry.quantity, entry.what, kind, formula, how, first, second, entry.source[0])


def _kind(known: Known, spot: Spot, how: str, names: Sequence[str], kinds: Mapping[str, QuantityKind]) -> Any:
    """What kind of figure comes out; None where none can, which is told."""
    of = [kinds[name] for name in names]
    if any(kind not in (*get_args(Kind), "ratio") for kind in of):
        bad = next(name for name, kind in zip(names, of, strict=True) if kind not in get_args(Kind))
        known.bad(spot, f"`{bad}` is itself worked out of several kinds of figures", "Use the readings it comes from.")
    elif len(set(of)) > 1:
        told = " and ".join(f"`{name}` is a {kind}" for name, kind in zip(names, of, strict=True))
        known.bad(spot, told, "Both must be of one kind.")
    elif how == "ratio" and of[0] == "temperature":
        fix = "Write it as a difference, or as the ratio of two differences."
        known.bad(spot, "degrees do not count from a true zero, so their ratio says nothing", fix)
    elif how == "difference" and _DIFFERENCE.get(of[0], of[0]) == "":
        known.bad(
            spot,
            f"the difference of two figures of the kind {of[0]} cannot be shown",
            "Write it as a ratio, `A / B`: both count from a perfect vacuum.",
        )
    else:
        return "ratio" if how == "ratio" else _DIFFERENCE.get(of[0], of[0]) if how == "difference" else of[0]
    return None


def _sentence(text: str) -> str:
    return f"{text.rstrip('.')}."
