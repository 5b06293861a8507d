"""Names of refrigerants: which are covered, how technicians spell them, which are refused and why.

Belongs here: what the table of properties cannot know. Numbers live in ``refrigerants``.
"""

from __future__ import annotations

import difflib
import re
from functools import lru_cache
from typing import Literal, NamedTuple

FluidKind = Literal["pure", "pseudo-pure", "blend"]


class Facts(NamedTuple):
    """What the table of properties cannot know about a refrigerant."""

    kind: FluidKind
    safety: str
    phase_down: str | None


# ASHRAE 34 safety classes, and whether the refrigerant is being phased out for ozone (HCFC) or phased down for a global
# warming potential above 700 (the US limit for new air conditioners, 40 CFR 84.54; potentials of the fourth IPCC
# report): both from memory, not checked against the printed standard.
FACTS: dict[str, Facts] = {
    "R-410A": Facts("pseudo-pure", "A1", "high GWP"),
    "R-22": Facts("pure", "A1", "ozone"),
    "R-32": Facts("pure", "A2L", None),
    "R-454B": Facts("blend", "A2L", None),
    "R-407C": Facts("pseudo-pure", "A1", "high GWP"),
    "R-134a": Facts("pure", "A1", "high GWP"),
    "R-404A": Facts("pseudo-pure", "A1", "high GWP"),
    "R-507A": Facts("pseudo-pure", "A1", "high GWP"),
    "R-290": Facts("pure", "A3", None),
    "R-600a": Facts("pure", "A3", None),
    "R-1234yf": Facts("pure", "A2L", None),
    "R-513A": Facts("blend", "A1", None),
    "R-448A": Facts("blend", "A1", "high GWP"),
    "R-449A": Facts("blend", "A1", "high GWP"),
    "R-452B": Facts("blend", "A2L", None),
    "R-407A": Facts("blend", "A1", "high GWP"),
    "R-427A": Facts("blend", "A1", "high GWP"),
    "R-422D": Facts("blend", "A1", "high GWP"),
    "R-421A": Facts("blend", "A1", "high GWP"),
    "R-422B": Facts("blend", "A1", "high GWP"),
    "R-417A": Facts("blend", "A1", "high GWP"),
    "R-466A": Facts("blend", "A1", "high GWP"),
    "R-452A": Facts("blend", "A1", "high GWP"),
    "R-454A": Facts("blend", "A2L", None),
    "R-454C": Facts("blend", "A2L", None),
    "R-455A": Facts("blend", "A2L", None),
    "R-450A": Facts("blend", "A1", None),
    "R-407F": Facts("blend", "A1", "high GWP"),
    "R-407H": Facts("blend", "A1", "high GWP"),
}

REFRIGERANTS: tuple[str, ...] = tuple(FACTS)
"""Every refrigerant there is a table for."""

_NO_MODEL = "its blend has no published mixture model for every pair of its components, and a guess is 1 to 3 K off"
# fmt: off
_NOT_FOR_IT = (
    "11", "13", "23", "113", "114", "123", "500", "503", "236FA", "245FA", "1233ZD", "1234ZE", "1234ZEE", "403B", "413A",
    "416A", "426A", "428A", "434A", "442A", "444B", "447A", "457A", "468A", "471A", "508B", "514A", "515B",
)
# fmt: on
_REFUSED = {
    "438A": "the mixture model lacks its isopentane pairs, and a guess at them is up to 3 K off",
    **dict.fromkeys(("401A", "402A", "408A", "409A", "424A", "437A", "453A"), _NO_MODEL),
    "22A": "the name is used for flammable propane mixtures sold in place of R-22, and no table covers those",
    **dict.fromkeys(
        ("170", "1270", "432A", "433A", "436A", "436B", "441A", "443A", "600", "601", "601A", "E170"),
        "it burns readily (class A3): no flame, spark or switching near it, and none of the rules were made for it",
    ),
    "744": "it runs above 1,000 psi (70 bar), which bursts ordinary hoses and gauges, and it does not condense on a warm day",
    "717": "it poisons and burns the lungs (class B2L), and only those trained for it work on it",
    "764": "it poisons (class B1), and only those trained for it work on it",
    **dict.fromkeys(_NOT_FOR_IT, "none of the rules were made for machines that use it"),
    "12": "it has been out of production since 1996 and none of the rules were made for machines that use it",
    "502": "it has been out of production since 1996 and none of the rules were made for machines that use it",
}
_COMMON_NAMES = {
    "PROPANE": "290", "ISOBUTANE": "600A", "PROPYLENE": "1270", "BUTANE": "600", "CO2": "744", "CARBONDIOXIDE": "744",
    "AMMONIA": "717", "NH3": "717",
}  # fmt: skip
_PREFIX = re.compile(r"^(?:REFRIGERANT|HCFC|HCFO|HFC|HFO|CFC|HC|R)+(?=\d)")


class UnknownRefrigerant(LookupError):  # noqa: N818 - it reads as what it says
    """A name no table exists for: ``what`` is wrong, without a full stop, and a sentence how to ``fix`` it."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(f"{what}. {fix}")
        self.what = what
        self.fix = fix

    def __reduce__(self) -> tuple[type[UnknownRefrigerant], tuple[str, str]]:
        return type(self), (self.what, self.fix)


class NotCovered(UnknownRefrigerant):
    """A refrigerant there is, but no table for it here."""


def _key(name: str) -> str:
    """What is left of a spelling when case, punctuation and the family prefix are taken away: "410A"."""
    bare = re.sub(r"[^0-9A-Z]", "", name.upper())
    bare = _PREFIX.sub("", bare)
    return _COMMON_NAMES.get(bare, bare)


_BY_KEY = {_key(name): name for name in REFRIGERANTS}


@lru_cache(maxsize=256)
def canonical(name: str) -> str:
    """Spelling to table name."""
    key = _key(name)
    if key in _BY_KEY:
        return _BY_KEY[key]
    said = name.strip()[:40]
    if key in _REFUSED:
        proper = f"R-{key}"
        raise NotCovered(
            f"{proper} is not covered: {_REFUSED[key]}", "Work from the printed pressure chart of that refrigerant."
        )
    if len(re.split(r"[/+&,]|\band\b", said)) > 1:
        raise UnknownRefrigerant(
            f"{said!r} is more than one refrigerant",
            "Name the one that is in the machine; a mixture has no table: recover it all, and weigh in what the plate says.",
        )
    close = _closest(key)
    if close:
        raise UnknownRefrigerant(
            f"There is no refrigerant {said!r} in the table", f"Did you mean {' or '.join(close)}?"
        )
    held = f"The table holds {', '.join(REFRIGERANTS)}."
    if not key[:1].isdigit():  # a trade name; which refrigerant it is, nobody here guesses
        raise UnknownRefrigerant(
            f"{said!r} is not the number of a refrigerant", f"Write the number that the rating plate gives. {held}"
        )
    raise UnknownRefrigerant(f"There is no refrigerant {said!r} in the table", held)


def _closest(key: str) -> list[str]:
    """Names one slip away: a missing or wrong letter first (407 -> 407C, 407A …), else what difflib finds near."""
    if len(key) < 2:
        return []
    same_digits = [name for known, name in _BY_KEY.items() if known.rstrip("ABCDEFHYZ") == key.rstrip("ABCDEFHYZ")]
    if same_digits:
        return same_digits[:3]
    if key.replace("O", "0") in _BY_KEY:  # the letter for the figure
        return [_BY_KEY[key.replace("O", "0")]]
    swapped = [
        name for known, name in _BY_KEY.items() if sorted(known) == sorted(key)
    ]  # two figures in each other's place
    return swapped or [_BY_KEY[found] for found in difflib.get_close_matches(key, _BY_KEY, n=1, cutoff=0.7)]
