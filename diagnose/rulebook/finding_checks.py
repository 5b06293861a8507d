"""Whether the limits of a finding fit its words, its quantity and the good day."""

from __future__ import annotations

from itertools import pairwise

from diagnose.rulebook.known import Known, Placed, Spot
from diagnose.rulebook.limits import KINDS, implausible, limits_of, spread_of
from diagnose.rulebook.models import WrittenFindingEntry, WrittenScale
from diagnose.yamlfile import did_you_mean


def check_finding(known: Known, placed: Placed[WrittenFindingEntry]) -> None:
    """Seen, or worked out with scales that can be used."""
    entry, spot = placed.entry, placed.spot
    if entry.seen:
        if entry.quantity or entry.scales:
            what = f"`{entry.finding}` is seen, so it has no quantity and no scales"
            known.bad(spot / "seen", what, "Take out `quantity` and `scales`, or `seen`.")
        return
    if entry.quantity is None:
        what = f"`{entry.finding}` is neither seen nor worked out"
        known.bad(spot / "finding", what, "Write `seen: true`, or `quantity:` and its `scales:`.")
        return
    if known.told_of_own(entry.quantity):  # of which kind it is meant to be, nobody knows
        return
    if entry.quantity not in known.kinds:
        fix = "What is looked at is `seen: true`; a figure of your own is declared in own.yaml."
        what = f"`{entry.quantity}` is not a quantity"
        known.bad(spot / "quantity", what, did_you_mean(entry.quantity, known.kinds) or fix)
        return
    if not entry.scales:
        known.bad(spot / "finding", f"`{entry.finding}` has no scale", "Give its limits under `scales:`.")
    for i, scale in enumerate(entry.scales):
        here = spot / "scales" / i
        known.applies(here / "applies", scale.applies)
        known.cited(here / "source", scale.source)
        _spread(known, entry, scale, here / "spread")
        if entry.quantity not in KINDS and (scale.by != "value" or scale.target is not None):
            what = f"nothing says what `{entry.quantity}` should be"
            known.bad(
                here / ("by" if scale.by != "value" else "target"),
                what,
                "Write limits of the figure itself, `by: value`.",
            )
        elif scale.target == "baseline":
            _by_baseline(known, entry, scale, here)
        if scale.by != "target":
            sound_limits(known, entry, scale, here / "limits")


def sound_limits(known: Known, entry: WrittenFindingEntry, scale: WrittenScale, spot: Spot) -> bool:
    """Whether the limits of a scale can be used."""
    wanted = len(entry.words) - 1
    if len(scale.limits) != wanted:
        what = f"{len(entry.words)} words have {wanted} limits between them, not {len(scale.limits)}"
        fix = f"The words are [{', '.join(entry.words)}]: one limit between each two of them."
        known.bad(spot, what, fix)
        return False
    try:
        limits = limits_of(known.kinds[entry.quantity or ""], scale)
    except ValueError as error:
        known.bad(spot, str(getattr(error, "what", error)), str(getattr(error, "fix", "")))
        return False
    if any(a >= b for a, b in pairwise(limits)):
        known.bad(spot, "the limits do not rise", "Write them from low to high.")
        return False
    if (found := implausible(known.kinds[entry.quantity or ""], scale, limits)) is not None:
        limit, told = found
        what = f"no machine comes near `{limit}`, so a word of `{entry.finding}` would never be said"
        known.bad(spot, what, f"Limits of this kind lie between {told}.")
        return False
    return True


def _spread(known: Known, entry: WrittenFindingEntry, scale: WrittenScale, spot: Spot) -> None:
    try:
        spread = spread_of(known.kinds[entry.quantity or ""], scale)
    except ValueError as error:
        known.bad(spot, str(getattr(error, "what", error)), str(getattr(error, "fix", "")))
        return
    if spread is not None and spread < 0:
        known.bad(spot, f"a spread of `{scale.spread}` is negative", "Leave out the minus sign.")


def _by_baseline(known: Known, entry: WrittenFindingEntry, scale: WrittenScale, spot: Spot) -> None:
    """A scale for machines whose good day is known: only where it is known how the good day moves with the weather."""
    if known.figures and f"good day/laws/{entry.quantity}/by" not in known.figures:
        what = f"nothing says how `{entry.quantity}` of a good day moves with the weather"
        known.bad(spot / "target", what, "Without it the limits hold with a baseline as well.")
    if scale.by not in ("difference", "share"):
        what = f"`by: {scale.by}` does not compare with the good day"
        known.bad(spot / "by", what, "Write `by: difference` or `by: share`.")
    if scale.spread is not None:
        what = "the spread about a good day is worked out from its readings and the weather"
        known.bad(spot / "spread", what, "Take `spread` out; the limits may be set wider.")
