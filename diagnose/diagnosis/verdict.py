"""The charge verdict as a value: what was judged, by what, and why; or why nothing was."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from diagnose.diagnosis.amount import Expectation
from diagnose.visit.reason import Reason

ChargeWord = Literal["low", "high", "right"]

Method = Literal["superheat", "subcooling", "weight"]

NO_VERDICT: Literal["do not judge"] = "do not judge"


class ChargeReading(NamedTuple):
    """The quantity by which the charge is judged, K; by weight kg.

    target: the protocol's, with its tolerance (None: there is none in this weather). own: what the machine's own good day
    expects; the verdict then goes by it.
    """

    method: Method
    value: float
    sigma: float
    target: float | None
    tolerance: float | None
    own: float | None = None


class ChargeVerdict(NamedTuple):
    """Low, right or high, and what to do about it.

    chance: how sure the protocol is of it, 0 to 1. percent, mass (kg): how far the charge is off (negative: missing), as a
    range; None where that cannot be told. at_least: its near end alone is meant, the far end is as far as anybody would go.
    caveats: what nobody has confirmed and the verdict leans on.
    """

    verdict: ChargeWord
    by: ChargeReading
    chance: float
    reasons: tuple[Reason, ...]
    percent: tuple[int, int] | None = None
    at_least: bool = False
    mass: tuple[float, float] | None = None
    expect_after: Mapping[str, Expectation] = {}
    caveats: tuple[Reason, ...] = ()

    @property
    def method(self) -> Method:
        """Superheat, subcooling or weight."""
        return self.by.method


class NoVerdict(NamedTuple):
    """No word on the charge, and why.

    method: superheat or subcooling, weight where no temperature tells; None where the metering device is not known.
    leaning: what the protocol alone would have said (None: nothing), and its chance. improve: the reading that adds most
    to the doubt.
    """

    method: Method | None
    reasons: tuple[Reason, ...]
    by: ChargeReading | None = None
    leaning: ChargeWord | None = None
    chance: float | None = None
    improve: str | None = None

    @property
    def verdict(self) -> Literal["do not judge"]:
        """The word that stands where a verdict would."""
        return NO_VERDICT

    @property
    def caveats(self) -> tuple[Reason, ...]:
        """None: nothing is leaned on."""
        return ()


Charge = ChargeVerdict | NoVerdict
