"""From the rules that fired to a fault's score and its share of the odds, each step written out."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons.figures import add_up
from diagnose.report.blocks import Block, heading, item, line, subheading
from diagnose.report.evidence import evidence_block, looks_like, points_text, share_text, title_of
from diagnose.report.wording import lower_first, name_of

FAINT = 0.25  # points; what counts for less is not told, for its words hardly hold


def evidence(d: Diagnosis) -> Iterator[Block]:
    """The rules for and against the leading fault that count for a quarter of a point or more, and how they add up."""
    if not d.faults:
        return
    first = d.faults[0]
    yield heading(f"The rules about the leading fault: {name_of(first.fault, d.rules)}")
    yield line(
        "Each rule has points. It counts as far as it is sure: its points times the chance that its words hold. A rule that "
        "contains another one takes that one’s share, so nothing counts twice."
    )
    for title, told in (("For it", first.supporting), ("Against it", first.opposing)):
        large = [e for e in told if abs(e.weight) >= FAINT]
        yield subheading(title)
        if not large:
            yield line("None was found that counts for a quarter of a point or more." if told else "None was found.")
        for e in large:
            yield evidence_block(e, d)
            if e.counted > 0.995:
                continue
            shown, total = add_up([(e.rule.points, 1), (e.counted, 2)], (e.weight, 1), lambda t: t[0] * t[1])
            yield Block("sum", f"{shown[0]} points × {shown[1]} sure = {total}")
    yield from _score(first, d)


def _score(first: Ranked, d: Diagnosis) -> Iterator[Block]:
    usual = d.rules.faults[first.fault].usual
    weights = [e.weight for e in first.evidence if abs(e.weight) >= FAINT]
    small = [e.weight for e in first.evidence if abs(e.weight) < FAINT]
    last = [sum(small)] if abs(sum(small)) >= 5e-4 else []
    yield subheading("The score")
    shown, total = add_up(
        [(usual, 1), *((weight, 1) for weight in (*weights, *last))], (first.score, 1), lambda t: sum(t, Decimal(0))
    )
    parts = "".join(f" − {one[1:]}" if one.startswith("−") else f" + {one}" for one in shown[1:])
    rest = f"; last, {_count(len(small))} that count for less than a quarter of a point each" if last else ""
    yield line(f"How usual the fault is before anything is measured, plus the rules above{rest}:")
    yield Block("sum", f"{shown[0]}{parts} = {total}")


def shares(d: Diagnosis) -> Iterator[Block]:
    """Every fault's score, its odds against the leader's, and its share; and what the leader is confused with."""
    if not d.faults:
        return
    yield heading("From scores to shares")
    best = d.faults[0].score
    yield line(
        "One point doubles the odds, so a fault that is one point behind has half the odds of the leader. Odds are given here "
        "relative to the leader’s, and a share is the odds of one fault over those of all faults together. On simulated "
        "machines the share is about the chance of being right; it has not been measured on real ones."
    )
    rows = [("fault", "score", "odds", "share")]
    for fault in d.faults:
        odds = 2.0 ** (fault.score - best)
        shown = f"{odds:.3f}" if odds >= 0.001 else "under 0.001"
        rows.append((title_of(fault, d), points_text(fault.score), shown, share_text(fault.share)))
    yield Block("rows", rows=tuple(rows))
    for other in d.faults[1:4]:
        if alike := looks_like(d.faults[0].fault, other.fault, d):
            against = f" Here: {lower_first(other.opposing[0].rule.entry.title)}." if other.opposing else ""
            yield item(f"Not to be confused with {name_of(other.fault, d.rules)}. {alike}{against}")


def _count(number: int) -> str:
    return "one rule" if number == 1 else f"{number} rules"
