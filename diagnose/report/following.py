"""The page of `next`: the best three checks, what each outcome would mean, and what would change the answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from diagnose.diagnosis.findings import spans
from diagnose.diagnosis.next_checks import NextCheck, next_checks
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.sensitivity import TurningPoint, sensitivity, would_change
from diagnose.diagnosis.value_of_information import Outcome
from diagnose.report.blocks import Block, deeper, heading, item, line
from diagnose.report.dangers import danger_blocks, opening
from diagnose.report.field import held_text
from diagnose.report.pages import TURNING, turning_point_text
from diagnose.report.repair import begin_of_repair, lacking, only_surer
from diagnose.report.start_up import start_up_steps, summary
from diagnose.report.wording import counted, likeliest, listed, name_of, points_nowhere, span_text, upper_first

BEST = 3
TOLD = 0.02  # outcomes less likely than this are not told
IN_DOUBT = 0.10  # faults with at least this share are named as in doubt


def next_page(d: Diagnosis) -> list[Block]:
    """What to do next, with what it would mean, and which readings would change the answer."""
    if d.start_up is not None and not d.visit.last.readings:
        return [*opening(d, summary(d)), *danger_blocks(d), *start_up_steps(d)]
    blocks = [*opening(d, _answer(d)), *danger_blocks(d), *start_up_steps(d)]
    blocks.append(heading("Next"))
    if checks := next_checks(d):
        for i, check in enumerate(checks[:BEST]):
            blocks += _check(check, f"{i + 1}.", d)
    else:
        blocks += [item(step) for step in begin_of_repair(d)]
        little = "nothing-to-judge" in [reason.code for reason in d.not_ready]
        none = "Take the readings named above first." if little else "No check would save more time than it takes."
        blocks.append(item(none))
    return [*blocks, *_turning_points(sensitivity(d), d)]


def _answer(d: Diagnosis) -> str:
    if d.held:
        return held_text(d)
    blind = points_nowhere(d)
    others = [f for f in d.faults[0 if blind else 1 :] if f.share >= IN_DOUBT]
    head = f"{likeliest(d)}."
    if not others:
        return f"{head} Nothing else is likely."
    rest = "; ".join(f"{name_of(f.fault, d.rules)} ({f.strength})" for f in others)
    return f"{head} {'Possible' if blind else 'Also possible'}: {rest}."


def _check(check: NextCheck, mark: str, d: Diagnosis) -> Iterator[Block]:
    minutes = counted(check.minutes, "minute")
    needs = f", needs {check.needs}" if check.needs else ""
    yield item(f"{only_surer(d, check)}{check.ask}{lacking(d, check)} ({minutes}{needs}.)", mark)
    yield deeper(check.why)
    told = [o for o in check.outcomes if o.chance >= TOLD]
    parted = list(dict.fromkeys(o.fault for o in told))
    if check.worth > 0 and len(parted) > 1:
        names = [name_of(fault, d.rules) for fault in parted]
        yield deeper(f"This tells apart: {listed(names)}.")
    elif not told:
        return
    groups: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in told:
        groups.setdefault((outcome.fault, outcome.strength), []).append(outcome)
    if len(groups) == 1 and check.check in d.first:
        return  # it is asked because a reading may be wrong, with which no outcome reckons
    for (fault, strength), outcomes in groups.items():
        others = [o.words for o in told if (o.fault, o.strength) != (fault, strength)]
        ways = "; or ".join(_way(way, d) for way in covering([o.words for o in outcomes], others))
        yield deeper(f"{ways} → {name_of(fault, d.rules)}, {strength}")


OutcomeWay = Mapping[str, tuple[str, ...]]


def covering(these: Sequence[Mapping[str, str]], others: Sequence[Mapping[str, str]]) -> list[OutcomeWay]:
    """As few and as short descriptions as can be of `these` outcomes that fit none of the `others`.

    Each is finding -> words, all of which must hold; an outcome that neither list has may fit or not.
    """
    found: list[OutcomeWay] = []
    left = list(these)
    for size in range(len(these[0]) + 1):
        while True:
            ways = [way for one in left for way in _ways(one, size) if not any(_fits(way, other) for other in others)]
            if not ways:
                break
            wide = [_widened(way, these, others) for way in ways]
            best = max(wide, key=lambda way: sum(_fits(way, one) for one in left))  # the first of the longest
            found.append(best)
            left = [one for one in left if not _fits(best, one)]
    return found


def _ways(outcome: Mapping[str, str], size: int) -> Iterator[OutcomeWay]:
    """All descriptions of an outcome by so many of its findings."""
    for names in combinations(outcome, size):
        yield {name: (outcome[name],) for name in names}


def _widened(way: OutcomeWay, these: Sequence[Mapping[str, str]], others: Sequence[Mapping[str, str]]) -> OutcomeWay:
    wide = dict(way)
    for name in way:
        for word in dict.fromkeys(one[name] for one in these):
            more = {**wide, name: (*wide[name], word)}
            if word not in wide[name] and not any(_fits(more, other) for other in others):
                wide = more
    return wide


def _fits(way: OutcomeWay, outcome: Mapping[str, str]) -> bool:
    return all(outcome[name] in words for name, words in way.items())


def _way(way: OutcomeWay, d: Diagnosis) -> str:
    parts = []
    for name, words in way.items():
        ordered = [word for word in d.rules.findings[name].words if word in words]
        lie = spans(name, d.visit, d.rules)
        parts.append(f"{name} {' or '.join(_word(word, lie, d) for word in ordered)}")
    return " and ".join(parts) or "Whatever is found"


def _word(word: str, lie: Mapping[str, object], d: Diagnosis) -> str:
    span = lie.get(word)
    return f"{word} ({span_text(span, d.system)})" if span is not None else word  # type: ignore[arg-type]


def _turning_points(points: Sequence[TurningPoint], d: Diagnosis) -> Iterator[Block]:
    if d.held:
        return
    yield heading("What would change the answer")
    if points and points[0].close:
        yield line("This is not firm: a reading off by no more than twice its limit of error turns it.")
    elif points:
        yield line("No single reading, off by up to twice its limit of error, puts another fault first.")
    else:
        yield line("No single reading puts another fault first, even if it is off by three times its limit of error.")
    for t in points[:TURNING]:
        yield item(turning_point_text(t, d))


# -- what a new value changed -----------------------------------------------------------------------------------------

MOVED = 0.05  # of a share, from which a fault is told as moved
MOST = 2  # faults told


def changed_text(before: Diagnosis, now: Diagnosis, line: str) -> str:
    """`Return air wet bulb: liquid line restriction 0.40 → 0.10, low refrigerant charge 0.35 → 0.71.`

    line: the one line of the visit that differs; empty where several do. Nothing where no share moved.
    """
    if not (before.faults and now.faults):
        if before.faults or now.faults:
            return f"{upper_first(line) or 'The last entries'}: {'now judged' if now.faults else 'no longer judged'}."
        return ""
    was = {place.fault: place.share for place in before.faults}
    moved = [(place.fault, was.get(place.fault, 0.0), place.share) for place in now.faults]
    moved = sorted((m for m in moved if abs(m[2] - m[1]) >= MOVED), key=lambda m: -abs(m[2] - m[1]))[:MOST]
    if not moved:
        return ""
    told = ", ".join(f"{name_of(fault, now.rules)} {a:.2f} → {b:.2f}" for fault, a, b in moved)
    return f"{upper_first(line) or 'The last entries'}: {told}."


def sensitivity_page(d: Diagnosis) -> list[Block]:
    """The readings that, a little off, would put another fault first; said too where there are none."""
    if not d.faults:
        return []
    if found := would_change(d):
        return [line(turning_point_text(t, d)) for t in found[:TURNING]]
    return [line("No single reading, off by little more than its error, would put another fault first.")]
