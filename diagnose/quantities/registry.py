"""How a quantity is declared: a pure function whose parameters name what it needs.

`superheat(suction_line_temperature, evaporating_temperature)` needs the reading "suction line temperature" and the
quantity "evaporating temperature". A parameter with the default None may be missing. A function returns None where
its formula does not hold. Functions are declared below what they need, so that the list is also the order of work.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from operator import itemgetter, pos, sub
from typing import Any, Literal, NamedTuple, ParamSpec

from diagnose.properties.targets import NoTarget, Target
from diagnose.units import Kind
from diagnose.units.columns import choose, is_column, over
from diagnose.visit.own import OwnQuantity

QuantityKind = (
    Kind | Literal["ratio", "airflow per capacity", "drift", "share drift", "small percent", "humidity", "energy"]
)
Inputs = dict[str, Any]
P = ParamSpec("P")


class Step(NamedTuple):
    """One piece of work: what it is called, what it must have, what it may have, and the function.

    by: the reading from which it makes another reading that was not taken; where `by` is not there, that reading is left alone.
    mode: what the machine must be doing, `cooling` or `heating`; empty where it holds in both.
    """

    name: str
    needs: tuple[str, ...]
    may_use: tuple[str, ...]
    work: Callable[..., Any]
    kind: QuantityKind
    formula: str
    source: str
    shown: bool
    take: Callable[[Mapping[str, Any]], tuple[Any, ...]]  # what it must have, out of the values; KeyError if not there
    by: str = ""
    mode: str = ""

    @property
    def reads(self) -> tuple[str, ...]:
        """Everything it looks at."""
        return self.needs + self.may_use


STEPS: list[Step] = []
EXPECTED = "expected "  # "expected superheat" is what superheat should be


def _declare(
    name: str,
    work: Any,
    kind: QuantityKind,
    formula: str,
    source: str,
    shown: bool,
    by: str = "",
    mode: str = "",
) -> None:
    code = work.__code__  # inspect.signature says the same, in a hundred times the time
    words = ["SEER" if name == "seer" else name.replace("_", " ") for name in code.co_varnames[: code.co_argcount]]
    optional = len(words) - len(work.__defaults__ or ())
    needs, may_use = words[:optional], words[optional:]
    STEPS.append(Step(name, tuple(needs), tuple(may_use), work, kind, formula, source, shown, _taking(needs), by, mode))


def _taking(needs: list[str]) -> Callable[[Mapping[str, Any]], tuple[Any, ...]]:
    if len(needs) > 1:
        return itemgetter(*needs)
    return lambda values: tuple([values[word] for word in needs])


def quantity(
    kind: QuantityKind, formula: str, source: str, shown: bool = True, by: str = "", mode: str = ""
) -> Callable[[Callable[P, float | None]], Callable[P, float | None]]:
    """Declare a quantity named like the function. `formula`, `source`: what `diagnose why` prints; by, mode: as in `Step`."""

    def declare(work: Callable[P, float | None]) -> Callable[P, float | None]:
        _declare(work.__name__.replace("_", " "), work, kind, formula, source, shown, by, mode)
        return work

    return declare


def of_two(
    name: str, formula: str, source: str, kind: QuantityKind = "difference", shown: bool = True, mode: str = ""
) -> None:
    """Declare a quantity of which the formula says all, `first - second` or `first / second`; the rest as in `quantity`."""
    sign, work = (" - ", sub) if " - " in formula else (" / ", over)
    needs = formula.split(sign)
    STEPS.append(Step(name, tuple(needs), (), work, kind, formula, source, shown, _taking(needs), "", mode))


def expected(
    of: str, mode: str = ""
) -> Callable[[Callable[P, Target | NoTarget | None]], Callable[P, Target | NoTarget | None]]:
    """Declare what the quantity `of` should be on a healthy machine; mode: as in `Step`, so that each mode may have its own."""

    def declare(work: Callable[P, Target | NoTarget | None]) -> Callable[P, Target | NoTarget | None]:
        kind = next(step.kind for step in STEPS if step.name == of)
        _declare(EXPECTED + of, work, kind, "", "", shown=False, mode=mode)
        return work

    return declare


@lru_cache(maxsize=64)
def own_steps(quantities: tuple[OwnQuantity, ...]) -> tuple[Step, ...]:
    """The quantities that a company has added, in the order of work: they come after all of STEPS."""
    waiting, done = list(quantities), list[Step]()
    names = {one.name for one in quantities}
    while waiting:
        ready = next((q for q in waiting if not names & {q.first, q.second} - {s.name for s in done}), None)
        if ready is None:
            raise ValueError(f"{waiting[0].name} needs itself")
        waiting.remove(ready)
        needs = [name for name in (ready.first, ready.second) if name]
        how, of = _OWN_WORK[ready.how], ready.formula
        done.append(Step(ready.name, tuple(needs), (), how, ready.kind, of, ready.source, True, _taking(needs)))
    return tuple(done)


def _ratio(first: float, second: float) -> float | None:
    if is_column(first) or is_column(second):
        return choose(abs(second) > 1e-9, first / second, None)
    return first / second if abs(second) > 1e-9 else None


_OWN_WORK: Mapping[str, Callable[..., float | None]] = {"is": pos, "difference": sub, "ratio": _ratio}


def run(steps: Sequence[Step], values: Inputs) -> None:
    """Do the steps in order, each where its needs are there; results go into `values` by name, None is left out."""
    get = values.get
    for step in steps:
        if step.mode and step.mode not in values:
            continue
        try:
            arguments = step.take(values)
        except KeyError:
            if not step.by or step.by in values:
                values.pop(step.name, None)
            continue
        result = step.work(*arguments, *map(get, step.may_use))
        if result is None:
            values.pop(step.name, None)
        else:
            values[step.name] = result


@lru_cache
def of_other_mode(mode: str) -> frozenset[str]:
    """The quantities that are worked out in another mode than this one, and not in both."""
    here = {step.name for step in STEPS if step.mode in ("", mode)}
    return frozenset(step.name for step in STEPS) - here


def dependents(steps: Sequence[Step]) -> Mapping[str, list[Step]]:
    """For every name that a step reads: the steps, in order, that change when it changes."""
    reads: dict[str, set[str]] = {}
    found: dict[str, list[Step]] = {}
    for step in steps:
        deep = set(step.reads)
        for word in step.reads:
            deep |= reads.get(word, set())
        reads[step.name] = deep
        for word in deep:
            found.setdefault(word, []).append(step)
    return found


def leaves(steps: Sequence[Step], values: Mapping[str, Any]) -> Mapping[str, tuple[str, ...]]:
    """For every step that has a value: the readings and machine facts it came from.

    A reading stands for itself, also where a step would make it from another.
    """
    found: dict[str, tuple[str, ...]] = {}
    for step in steps:
        if step.name in values and (not step.by or step.by in values) and (not step.mode or step.mode in values):
            words: dict[str, None] = {}
            for word in step.reads:
                if word in values:
                    words.update(dict.fromkeys(found.get(word, (word,))))
            found[step.name] = tuple(words)
    return found
