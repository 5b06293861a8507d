"""An evaluation as a page of 80 columns. The JSON result is `Evaluation.to_dict`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from diagnose.evaluation.model import (
    ALIKE,
    FEWEST,
    FURTHEST,
    SHOWN_AS,
    SIZES,
    Bin,
    Detail,
    Evaluation,
    Measurement,
    Score,
    readings_text,
)
from diagnose.report.blocks import Block, heading, item, line
from diagnose.report.wording import counted
from diagnose.simulator import faults_of

_LABELS: Mapping[str, str] = {
    "first": "true fault first",
    "first_two": "true fault in first two",
    "no_answer": "no answer",
    "false_alarm": "false alarm",
    "firm_false_alarm": "false alarm strong or fair",
    "missed": "missed",
    "misdiagnosis": "another fault first",
    "harmful": "harmful charge advice",
    "right_charge": "right advice, charge off",
    "right_advice": "right advice, healthy too",
    "undecided": "advice held back",
}
FAMILIES_TEXT: Mapping[str, str] = {
    "plain": "",
    "seen": " of seen families",
    "unseen": " of unseen families",
    "all": " of all families",
}
HEATING_TEXT = " in heating"
_ADVICE = ("harmful", "right_charge", "right_advice", "undecided")


def evaluation_page(e: Evaluation) -> list[Block]:
    """The figures that matter most first, then where they come from, then how the shares hold."""
    return [
        Block(
            "answer",
            f"{e.cases} simulated machines{FAMILIES_TEXT[e.families]}{HEATING_TEXT if _heating(e) else ''}, seed {e.seed}. "
            f"Rule book {e.rulebook}, matcher {e.matcher}.",
        ),
        *_key(e),
        *_rules(e),
        *_yardsticks(e),
        *_by_fault(e),
        *_told(e),
        *_pairs(e),
        *_slips(e),
        *(block for m in e.measured for block in _one_set(m)),
        Block("foot", "The machines come from this project’s own simulator. No figure here is about real machines."),
    ]


def _heating(e: Evaluation) -> bool:
    return e.mode == "heating"


def _key(e: Evaluation) -> Iterator[Block]:
    yield line("What was measured:" if len(e.measured) == 1 else "The columns are what was measured:")
    for m in e.measured:
        yield item(f"{m.name}: {readings_text(e.mode)[m.name]}")
    yield line("What is counted, as a share ± two sigma:")
    drawn = faults_of(e.mode)
    for fault, one in ((fault, one) for fault, one in ALIKE.items() if fault in drawn):
        yield item(f"{one} and {fault} count as one fault.")
    yield item("false alarm: of the healthy machines, those on which a fault comes first.")
    yield item(
        "missed: of the faults that show, those where nothing wrong comes first. A fault shows if it moves at least one "
        "quantity by more than its uncertainty."
    )
    yield item("harmful charge advice: told to add when the charge is not low, or to remove when it is not high.")
    yield item(
        "right advice: the verdict agrees, of machines with low charge or overcharge, and of these and healthy ones."
    )


def _head(e: Evaluation, *first: str) -> tuple[str, ...]:
    return ("", *first, *(m.name for m in e.measured))


def _side_by_side(
    e: Evaluation, keys: Iterable[str], scores: Sequence[Score | None], known: Sequence[Score | None]
) -> Block:
    """One row a figure; below it the same with a baseline, where that was measured."""
    rows = [_head(e)]
    for key in keys:
        rows.append((_LABELS[key], *(str(getattr(one, key)) for one in scores)))
        if all(one is not None for one in known):
            rows.append(("  with baseline", *(str(getattr(one, key)) for one in known)))
    return Block("rows", rows=tuple(rows))


def _rules(e: Evaluation) -> Iterator[Block]:
    yield heading("The rules")
    scores = [m.rules.score for m in e.measured]
    known = [m.with_baseline.score if m.with_baseline else None for m in e.measured]
    yield _side_by_side(e, _LABELS, scores, known)
    yield line("Out of how many:")
    rows = [_head(e), ("faults that show", *(f"{one.shows.count} of {one.shows.of}" for one in scores))]
    rows.append(("healthy machines", *(str(one.false_alarm.of) for one in scores)))
    rows.append(("machines with charge off", *(str(one.right_charge.of) for one in scores)))
    yield Block("rows", rows=tuple(rows))
    if _heating(e):
        return
    yield line("Where the weather is in the chart (elsewhere the protocol forbids a verdict):")
    rows = [_head(e), (_LABELS["right_charge"], *(str(m.right_on_chart) for m in e.measured))]
    yield Block("rows", rows=tuple(rows))


def _yardsticks(e: Evaluation) -> Iterator[Block]:
    alone = "subcooling of 10 ± 5 °F" if _heating(e) else "superheat or subcooling"
    yield heading(f"Floor: {alone} alone says low, right or high")
    rows = [_head(e)]
    rows += [(_LABELS[key], *(str(getattr(m.protocol, key)) for m in e.measured)) for key in _ADVICE]
    if not _heating(e):
        rows.append(("weather not in the chart", *(str(m.off_chart) for m in e.measured)))
    yield Block("rows", rows=tuple(rows))
    if not _heating(e):
        yield line("Where the chart has no figure for the weather, the nearest one is used.")
    yield heading("Ceiling: a classifier trained on other machines of the simulator")
    if e.classifier_note:
        yield line(f"Not measured: {e.classifier_note}.")
        return
    keys = [key for key in _LABELS if key not in ("no_answer", "undecided")]
    yield _side_by_side(e, keys, [m.classifier for m in e.measured], [m.classifier_with_baseline for m in e.measured])
    taught = ", all of seen families" if e.families == "unseen" else ""
    yield line(
        f"It learned from {e.trained} machines{taught}. Its charge advice is that of the fault it puts first, and none "
        "where that is not of the charge."
    )
    if e.families == "unseen":
        yield heading("The best that is possible: the same, trained on unseen families")
        yield _side_by_side(e, keys, [m.at_home for m in e.measured], [m.at_home_with_baseline for m in e.measured])


def _by_fault(e: Evaluation) -> Iterator[Block]:
    details = [m.rules for m in e.measured]
    devices = list(next(iter(details[0].by_fault.values())))
    for device in devices:
        yield heading(f"True fault first, {device}")
        rows = [_head(e, "cases")]
        for fault in details[0].by_fault:
            rates = [one.by_fault[fault][device].first for one in details]
            rows.append((fault, str(rates[0].of), *map(str, rates)))
        yield Block("rows", rows=tuple(rows))
    yield heading(f"Harmful charge advice, in how many cases: {' + '.join(devices)}")
    rows = [_head(e, "cases")]
    for fault in details[0].by_fault:
        harmful = [[one.by_fault[fault][device].harmful for device in devices] for one in details]
        cases = " + ".join(str(rate.of) for rate in harmful[0])
        rows.append((fault, cases, *(" + ".join(str(rate.count) for rate in part) for part in harmful)))
    yield Block("rows", rows=tuple(rows))


def _told(e: Evaluation) -> Iterator[Block]:
    yield heading("What is told beside the ranking, one fault or none")
    rows = [_head(e)]
    for label, key in (
        ("a second fault named in vain", "second_in_vain"),
        ("true charge in its range", "amount"),
        ('  of these "at least"', "at_least"),
        ("cooling lost in its range", "cooling"),
        ("efficiency lost in its range", "efficiency"),
    )[: 3 if _heating(e) else None]:  # no cost is told in heating
        rows.append((label, *(str(getattr(m.rules.told, key)) for m in e.measured)))
    widths = [m.rules.told.width for m in e.measured]
    rows.append(("mean width of the charge's range", *("-" if w is None else f"{w:.0f} %" for w in widths)))
    yield Block("rows", rows=tuple(rows))


def _pairs(e: Evaluation) -> Iterator[Block]:
    if not e.pairs:
        return
    yield heading(f"Two faults at once: {e.pairs[0].one_first.of} machines")
    rows = [_head(e)]
    for label, key in (
        ("one of the two first", "one_first"),
        ("both in the first two", "both_first_two"),
        ("both named, first or also", "both_named"),
        ("both in first two or named", "both_told"),
        ("no answer", "no_answer"),
        ("harmful charge advice", "harmful"),
    ):
        rows.append((label, *(str(getattr(p, key)) for p in e.pairs)))
        if e.pairs_with_baseline:
            rows.append(("  with baseline", *(str(getattr(p, key)) for p in e.pairs_with_baseline)))
    yield Block("rows", rows=tuple(rows))


def _slips(e: Evaluation) -> Iterator[Block]:
    if not e.slips:
        return
    yield heading("Slips of the hand: named, and named though nobody slipped")
    names = list(dict.fromkeys(s.name for s in e.slips))
    rows: list[tuple[str, ...]] = [("", *(cell for name in names for cell in (name, "no slip")))]
    for slip in dict.fromkeys(s.slip for s in e.slips):
        found = {s.name: s for s in e.slips if s.slip == slip}
        rows.append((slip, *(str(rate) for name in names for rate in (found[name].named, found[name].false))))
    yield Block("rows", rows=tuple(rows))


# -- one set of readings -------------------------------------------------------------------------------------------


def _one_set(m: Measurement) -> Iterator[Block]:
    yield heading(f"{m.name}: true fault first, by size of the fault")
    rows: list[tuple[str, ...]] = [("", "cases", *SIZES)]
    for fault, sizes in m.rules.by_size.items():
        cases = sum(sizes[size].first.of for size in SIZES)
        rows.append((fault, str(cases), *(str(sizes[size].first) for size in SIZES)))
    yield Block("rows", rows=tuple(rows))
    yield from _confusions(m)
    yield from _reliability(f"{m.name}: how often a share was true", m.rules)
    if m.with_baseline is not None:
        yield from _reliability(f"{m.name} with baseline: how often a share was true", m.with_baseline)


def _confusions(m: Measurement) -> Iterator[Block]:
    yield heading(f"{m.name}: the commonest wrong pairs")
    found = m.rules.confusions
    if not found:
        yield line("None.")
        return
    devices = list(found[0].by_metering)
    rows = [(*devices, "truth -> what came first")]
    for one in found:
        pair = f"{shown(one.truth)} -> {shown(one.first) if one.first else 'no answer'}"
        rows.append((*(str(one.by_metering[device]) for device in devices), pair))
    yield Block("rows", rows=tuple(rows))


def shown(fault: str) -> str:
    """The name of a fault as it is counted."""
    return SHOWN_AS.get(fault, fault)


def _reliability(title: str, d: Detail) -> Iterator[Block]:
    yield heading(title)
    rows = [("share", "first", "mean", "true", "off", "all", "mean", "true", "off")]
    for first, every in zip(d.reliability_first, d.reliability_all, strict=True):
        rows.append((f"{first.low:.1f}-{first.high:.1f}", *_bin(first), *_bin(every)))
    yield Block("rows", rows=tuple(rows))
    bad = sum(one.bad for one in (*d.reliability_first, *d.reliability_all))
    if bad:
        yield line(f"!: {FEWEST} or more, and off by more than {FURTHEST:.2f}: {counted(bad, 'bin')}.")
    else:
        yield line(f"No bin with {FEWEST} or more is off by more than {FURTHEST:.2f}.")


def _bin(one: Bin) -> tuple[str, str, str, str]:
    if one.mean is None or one.off is None:
        return "0", "-", "-", "-"
    off = f"{one.off:+.2f}".replace("-0.00", "0.00").replace("+0.00", "0.00")
    return str(one.true.of), f"{one.mean:.2f}", str(one.true), f"{off}{'!' if one.bad else ''}"
