"""Figures for a class: US and SI side by side, and calculations that add up as they are printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, localcontext

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import QuantityKind
from diagnose.quantities.uncertainty import absolute
from diagnose.report.blocks import Block
from diagnose.report.wording import in_units, number, plus_minus
from diagnose.visit import System

Calculation = Callable[[Sequence[Decimal]], Decimal]
MORE = 6  # decimals beyond the usual ones that may be needed until a calculation adds up


@dataclass(frozen=True, slots=True)
class BothSystems:
    """How figures are printed: in one system of units, or in that one with the other beside it."""

    system: System = "us"
    both: bool = True

    @property
    def systems(self) -> tuple[System, ...]:
        """The reader's own first."""
        other: System = "si" if self.system == "us" else "us"
        return (self.system, other) if self.both else (self.system,)

    def label(self, system: System) -> str:
        """What stands before a calculation in these units; nothing where the lesson has no others."""
        return system.upper() if self.both else ""

    def value(self, value: float, kind: QuantityKind) -> str:
        """`61.0 °F (16.1 °C)`; once where both systems have the same unit."""
        return beside([number(value, kind, system) for system in self.systems])

    def gauge(self, value: float) -> str:
        """A pressure above that of the air: `114 psig (786 kPa gauge)`."""
        return beside([units.show(value, "pressure", units.unit_for("pressure", system)) for system in self.systems])

    def plus_minus(self, value: float, sigma: float, kind: QuantityKind) -> str:
        """`24.9 ± 1.5 °F (13.8 ± 0.8 K)`."""
        return beside([plus_minus(value, sigma, kind, system) for system in self.systems])

    def sums(
        self,
        pattern: str,
        terms: Sequence[tuple[float, QuantityKind]],
        result: tuple[float, QuantityKind],
        rule: Calculation,
        bare: bool = False,
    ) -> list[Block]:
        """A calculation in each system. pattern: `{0} − {1}`; the terms (SI) come with their units unless `bare`.

        rule: the same calculation on the printed terms. As many decimals are printed as it takes for a pupil who
        calculates with the printed terms to get the printed result.
        """
        texts = []
        for system in self.systems:
            shown = [in_units(value, kind, system) for value, kind in terms]
            answer, unit, decimals = in_units(*result, system)
            printed, total = add_up([(v, d) for v, _, d in shown], (answer, decimals), rule)
            parts = [
                text if bare else f"{text} {one_unit}".strip()
                for text, (_, one_unit, _) in zip(printed, shown, strict=True)
            ]
            texts.append((system, f"{pattern.format(*parts)} = {total} {unit}".strip()))
        if len({text for _, text in texts}) == 1:
            return [Block("sum", texts[0][1])]
        return [Block("sum", text, self.label(system)) for system, text in texts]


def add_up(terms: Sequence[tuple[float, int]], result: tuple[float, int], rule: Calculation) -> tuple[list[str], str]:
    """Terms and result (value, usual decimals) as text, with as many decimals as it takes for `rule` to hold.

    rule: works on the printed terms; what it gives must round to the printed result, and not be a tie. The usual decimals
    first, then one more for the terms, for all, and still more for the terms.
    """
    tries = [(0, 0), (1, 0), (1, 1), *((extra, 0) for extra in range(2, MORE + 1))]
    printed: list[Decimal] = []
    answer = Decimal(0)
    for extra, of_result in tries:
        printed = [_rounded(value, decimals + extra) for value, decimals in terms]
        answer = _rounded(result[0], result[1] + of_result)
        with localcontext() as context:
            context.prec = 40
            if abs(rule(printed) - answer) < Decimal(5).scaleb(-result[1] - of_result - 1):
                break
    return [signed(one) for one in printed], signed(answer)


def worked(
    pattern: str, terms: Sequence[tuple[float, int]], result: tuple[float, int], rule: Calculation, label: str = ""
) -> Block:
    """A calculation written out, as `add_up` prints it. pattern: `{0} − {1} = {total} °F`."""
    printed, total = add_up(terms, result, rule)
    return Block("sum", pattern.format(*printed, total=total), label)


def _rounded(value: float | Decimal, decimals: int) -> Decimal:
    exact = value if isinstance(value, Decimal) else Decimal(repr(value))
    found = exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    return abs(found) if found == 0 else found


def signed(value: Decimal) -> str:
    """With a true minus sign."""
    return f"{value:f}".replace("-", "−")


def beside(texts: Sequence[str]) -> str:
    """`61.0 °F (16.1 °C)`; once where they are alike."""
    first, *others = dict.fromkeys(texts)
    return f"{first} ({others[0]})" if others else first


def term(name: str, d: Diagnosis) -> float | None:
    """A reading (a pressure absolute), or what was worked out under that name, SI."""
    reading = d.visit.last.readings.get(name)
    if reading is not None:
        return absolute(reading, d.visit.machine)
    found = d.estimates.get(name)
    return None if found is None else found.value
