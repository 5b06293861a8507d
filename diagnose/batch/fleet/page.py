"""A fleet in words and pictures: how many machines are right, which faults where, whom to visit first, what drifts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from diagnose.batch.fleet.sums import (
    HOURS,
    NONE_SAID,
    UNTOLD,
    Electricity,
    FleetSums,
    Group,
    electricity,
    is_stop,
    open_ended,
    reached,
    stops,
    wrong,
)
from diagnose.batch.fleet.table import FleetVisit
from diagnose.evaluation.model import NOTHING_WRONG, wilson
from diagnose.report import dangers
from diagnose.report.blocks import Block, brief, heading, item, line
from diagnose.report.drawings.svg import (
    GRID,
    INK,
    SMALL,
    THIS,
    Drawing,
    drawing,
    element,
    group,
    path,
    text,
    text_width,
)
from diagnose.report.history import drift_text
from diagnose.report.illustrated import figure
from diagnose.report.wording import but_first, cite, counted, lower_first, name_of, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.judgement import DriftFigures
from diagnose.units import System

LISTED = 25  # worst machines that are listed unless all are asked for
GROUPS = 40  # rows of a table of groups
LEAST = 0.05  # machines; what is less likely, or less in all, is no row
_VERDICT_TEXT = {"right": "charge right", "low": "charge low", "high": "charge high", "do not judge": "not judged"}


def fleet_page(
    sums: FleetSums,
    rules: Rulebook,
    system: System = "us",
    full: bool = False,
    hours: float = HOURS,
    drawn: bool = False,
) -> list[Block]:
    """The page. full: every machine in the list; hours: a visit takes; drawn: with pictures."""
    return [
        *_stopped(sums, rules),
        Block("answer", summary(sums)),
        *(line(text) for text in _about(sums)),
        *_verdicts(sums, drawn),
        *_faults(sums, rules, drawn),
        *_worst(sums, rules, full),
        *_saved(sums, rules, hours),
        *_groups("By kind", "kind", sums.kinds, rules, drawn),
        *_groups("By refrigerant", "refrigerant", sums.refrigerants, rules, drawn),
        *_groups("By month", "month", sums.months, rules, drawn),
        *_drifts(sums, rules.judgement.drifts, system),
        *_unjudged(sums, full),
        Block("foot", _FOOT),
    ]


_FOOT = (
    "Shares are what the rules make of the readings. They were set on simulated machines and were never measured on real ones: "
    "judge each machine by its own visit, and repair nothing by this page."
)


def summary(sums: FleetSums) -> str:
    """`120 machines, 260 visits: about 41 are expected to have a fault.`"""
    whole = sums.whole
    visits = len(sums.table.visits)
    head = f"{counted(whole.machines, 'machine')}, {counted(visits, 'visit')}"
    if not whole.judged:
        return f"{head}: none could be judged."
    at_least = "at least " if UNTOLD in whole.faults else "about "
    if whole.judged == 1:
        return f"{head}: the one that could be judged is {at_least}{_percent(whole.wrong)} likely to have a fault."
    wrong = f"{whole.wrong:,.{0 if whole.wrong >= 10 else 1}f}"
    return f"{head}: {at_least}{wrong} of the {whole.judged:,} that could be judged are expected to have a fault."


def _stopped(sums: FleetSums, rules: Rulebook) -> Iterator[Block]:
    names = [_short(visit.machine) for visit in sums.worst if stops(visit, rules)]
    if names:
        more = f" and {len(names) - LISTED} more" if len(names) > LISTED else ""
        yield brief(
            "STOP:",
            f"{counted(len(names), 'machine')}, on the last visit: {'; '.join(names[:LISTED])}{more}. See “Worst first”.",
        )


def _short(name: str) -> str:
    """A machine's name with its ends, in which names differ."""
    return name if len(name) <= 60 else f"{name[:34].rstrip()}…{name[-24:].lstrip()}"


def _about(sums: FleetSums) -> Iterator[str]:
    yield (
        "Each machine counts once, by its last visit. Faults are counted by their shares: one that is 60 % likely counts as "
        "0.6 of a machine, and nothing doubtful as certain. The ± and the limits hold for 95 of 100; they are wide where "
        "machines are few: compare no two groups whose limits overlap."
    )
    table = sums.table
    if not table.all_shares:
        yield (
            "The table has only the share of each first fault. What falls to the others cannot be told, so other faults are "
            "counted too low: write the table with `diagnose batch --shares`."
        )
    if table.unnamed:
        yield f"{counted(table.unnamed, 'row')} without a machine’s name: each counts as a machine of its own."
    if table.undated:
        yield (
            f"{counted(table.undated, 'row')} without a date that can be read (`2026-07-14`): left out of the months and of "
            "what drifts, and taken as older than the dated ones."
        )
    if table.odd:
        yield f"{counted(table.odd, 'row')} with a share that is none, between 0 and 1: taken as far as it can be."


# -- verdicts and faults -----------------------------------------------------------------------------------------------


def _verdicts(sums: FleetSums, drawn: bool) -> Iterator[Block]:
    yield heading("The charge")
    rows = [(_VERDICT_TEXT[verdict], float(count), f"{count}") for verdict, count in sums.verdicts.items()]
    yield from _counted(
        "verdict", "The charge, by the last visit of each machine", "machines", rows, sums.whole.machines, drawn
    )


def _faults(sums: FleetSums, rules: Rulebook, drawn: bool) -> Iterator[Block]:
    whole = sums.whole
    if not whole.judged:
        return
    yield heading("Faults")
    ranked = sorted(whole.faults.items(), key=lambda pair: -pair[1])
    rows = [(fault_name(fault, rules), count, f"{count:.1f}") for fault, count in ranked if count >= LEAST]
    over = f"machines, of {whole.judged} that could be judged"
    yield from _counted("fault", "Expected machines with each fault", over, rows, whole.judged, drawn)
    if rare := [fault_name(fault, rules) for fault, count in ranked if count < LEAST]:
        yield line(f"Below {LEAST:g} of a machine each: {', '.join(rare)}.")


def _counted(
    word: str, title: str, over: str, rows: Sequence[tuple[str, float, str]], of: int, drawn: bool
) -> Iterator[Block]:
    """Bars and a table of (name, count, count as text)."""
    limits = [wilson(count, of) for _, count, _ in rows]
    if drawn:
        shown = [Bar(n, c, low * of, high * of, told) for (n, c, told), (low, high) in zip(rows, limits, strict=True)]
        yield figure(bars(word, title, over, shown))
    table = [(n, told, _percent(c / of), _span(*both)) for (n, c, told), both in zip(rows, limits, strict=True)]
    yield Block("rows", rows=((word, "machines", "share", "limits"), *table))


def fault_name(fault: str, rules: Rulebook) -> str:
    """A fault's name; its id where the book has none of that id."""
    if fault == UNTOLD:
        return "not told which"
    return name_of(fault, rules) if fault in rules.faults else fault


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _span(low: float, high: float) -> str:
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def _groups(title: str, word: str, groups: Sequence[Group], rules: Rulebook, drawn: bool) -> Iterator[Block]:
    if all(each.label == NONE_SAID for each in groups):
        return
    yield heading(title)
    shown = groups[-GROUPS:] if word == "month" else groups[:GROUPS]
    judged = [each for each in shown if each.judged]
    if drawn and judged:
        latest = judged[-MOST:] if word == "month" else judged
        made = [Bar(e.label, e.share, *e.interval, f"{_percent(e.share)} of {e.judged}") for e in latest]
        over = "share of the machines judged, and its limits"
        yield figure(bars(word, f"{title}: how many have a fault", over, made, 1.0))
    head = (word, "machines", "judged", "with a fault", "limits", "likeliest")
    yield Block("rows", rows=(head, *(_group(each, rules) for each in shown)))
    if len(groups) > len(shown):
        yield line(f"And {len(groups) - len(shown)} more.")


def _group(each: Group, rules: Rulebook) -> tuple[str, ...]:
    if not each.judged:
        return each.label, f"{each.machines}", "0", "–", "–", "–"
    ill = {fault: count for fault, count in each.faults.items() if fault not in (NOTHING_WRONG, UNTOLD)}
    first = max(ill, key=ill.__getitem__, default=None)
    likeliest = "–" if first is None or ill[first] < LEAST else f"{fault_name(first, rules)} {ill[first]:.1f}"
    return (
        each.label, f"{each.machines}", f"{each.judged}", f"{each.wrong:.1f}", _span(*each.interval), likeliest,
    )  # fmt: skip


# -- whom to visit first -----------------------------------------------------------------------------------------------


def _worst(sums: FleetSums, rules: Rulebook, full: bool) -> Iterator[Block]:
    if not sums.worst:
        return
    yield heading("Worst first")
    likely = sum(wrong(visit) >= LEAST or stops(visit, rules) for visit in sums.worst)
    shown = sums.worst if full else sums.worst[: min(likely, LISTED)]
    rows = [
        (
            f"{place}",
            _short(each.machine),
            each.day or "–",
            _percent(wrong(each)) if each.judged else "–",
            reason(each, rules),
        )
        for place, each in enumerate(shown, 1)
    ]
    if rows:
        yield Block("rows", rows=(("no.", "machine", "visit", "any fault", "why"), *rows))
    if len(shown) < len(sums.worst):
        rest = len(sums.worst) - likely
        below = f", {rest:,} of them less than {_percent(LEAST)} likely to have any fault" if rest else ""
        yield line(f"And {len(sums.worst) - len(shown):,} more{below}: --full lists all of them.")
    yield line("First what had to be stopped, then by how likely any fault is, then by how far the charge is off.")


def reason(visit: FleetVisit, rules: Rulebook) -> str:
    """`Stop: high side pressure over its limit. Low refrigerant charge 81 %; charge low, −20 to −5 %.`"""
    parts = []
    if stops(visit, rules):
        titles = [lower_first(_danger(code, rules)) for code in visit.dangers if is_stop(code, rules)]
        parts.append(f"STOP: {'; '.join(titles)}.")
    named = sorted(visit.shares.items(), key=lambda pair: -pair[1])[:2]
    told = ", ".join(f"{fault_name(fault, rules)} {_percent(share)}" for fault, share in named if share >= 0.1)
    second = f"; perhaps also {fault_name(visit.second, rules)}" if visit.second else ""
    charge = f"; {_VERDICT_TEXT.get(visit.verdict, 'not judged')}" if visit.verdict in ("low", "high") else ""
    if charge and visit.estimate is not None:
        least, most = sorted(map(abs, visit.estimate))
        charge += f" by at least {least:.0f} %" if open_ended(visit, rules) else f" by {least:.0f} to {most:.0f} %"
    charge += but_first(visit.check) if charge else ""
    parts += [f"{upper_first(told)}{second}{charge}."] if told else []
    return " ".join(parts)


def _danger(code: str, rules: Rulebook) -> str:
    if code in rules.by_id:
        return rules.by_id[code].entry.title
    return dangers.SENTENCES[code][0] if code in dangers.SENTENCES else code


def _saved(sums: FleetSums, rules: Rulebook, hours: float) -> Iterator[Block]:
    found = reached(sums.worst)
    if not found or len(sums.worst) < 2:
        return
    yield heading("What this order saves")
    rows = [
        (
            _percent(each.share),
            f"{each.faults:.1f}",
            f"{each.in_order}",
            f"{each.anyhow:.1f}",
            f"{max(each.anyhow - each.in_order, 0.0) * hours:.0f}",
        )
        for each in found
    ]
    head = ("of the faults", "machines", "visits, worst first", "in any order", "hours saved")
    yield Block("rows", rows=(head, *rows))
    yield line(f"A visit is taken as {hours:g} hours, driving included (our judgement; --hours changes it).")
    yield from _electricity(electricity(sums.worst, rules), rules, len(sums.worst))


def _electricity(found: Electricity | None, rules: Rulebook, count: int) -> Iterator[Block]:
    if found is None:
        yield line(
            "What the faults cost in electricity cannot be told: that takes charge estimates with two ends, more than an "
            "“at least” (columns `charge estimate low [%]` and `charge estimate high [%]`)."
        )
        return
    machines = found.machines
    yield line(
        f"Electricity: on {counted(machines, 'machine')} the charge is off by a known amount. Counted by how likely that is, "
        f"{'it uses' if machines == 1 else 'they use'} {found.low / machines:.0f} to {found.high / machines:.0f} % more for "
        f"the same cooling than if it were right. Half of that is reached after {found.half} visits, in any order after "
        f"{count / 2:g}. All machines count alike, for the table has no sizes; other faults cost as well, and are not in it. "
        f"Source: {cite(found.source, rules)}; how far machines differ from it is our judgement."
    )


# -- drifts, and what could not be judged ------------------------------------------------------------------------------


def _drifts(sums: FleetSums, figures: DriftFigures, system: System) -> Iterator[Block]:
    yield heading("What drifts")
    if not sums.followed:
        yield line(
            f"No drift can be told: that takes {figures.visits} dated visits of a machine over {figures.days} days or more, in "
            "like weather (columns `condensing temperature` and `condensing over ambient`, which say how warm it was outdoors, "
            "and `subcooling`, `superheat` and others with their ±)."
        )
        return
    machines = [(name, drift) for name, each in sums.drifting.items() for drift in each]
    count = len(sums.drifting)
    yield line(
        f"{counted(sums.followed, 'machine')} with {figures.visits} visits or more in like weather; {count or 'none'} of them "
        f"drift{'s' if count == 1 else ''} beyond what instruments and days scatter. Quantities are followed as they were "
        "read, because the table does not say what they should be: the machine’s own history (`diagnose history`) tells more."
    )
    for name, drift in machines:
        yield item(drift_text(drift, system, as_read=True), lead=f"{upper_first(_short(name))}:")


def _unjudged(sums: FleetSums, full: bool) -> Iterator[Block]:
    if not sums.unjudged:
        return
    yield heading("Not judged")
    shown = sums.unjudged if full else sums.unjudged[:LISTED]
    yield line(
        f"{counted(len(sums.unjudged), 'machine')}: not ready, outside what the rules were written for, or unreadable. They "
        "are in no sum of faults. Look at what their rows say, and read them again."
    )
    rows = [
        (_short(visit.machine), visit.day or "–", visit.status or "–", ", ".join(visit.problems[:3]) or "–")
        for visit in shown
    ]
    yield Block("rows", rows=(("machine", "visit", "status", "problems"), *rows))
    if len(shown) < len(sums.unjudged):
        yield line(f"And {len(sums.unjudged) - len(shown):,} more: --full lists all of them.")


# -- pictures ---------------------------------------------------------------------------------------------------------

NARROW = 400  # px, as wide as a phone shows it whole
_LEFT, _RIGHT = 12.0, 388.0
_ROW = 44.0
MOST = 16  # bars of one picture


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its name, how long it is, between what the true value lies, and what is written behind the name."""

    label: str
    value: float
    low: float
    high: float
    told: str


def bars(kind: str, title: str, over: str, rows: Sequence[Bar], most: float | None = None) -> Drawing:
    """Bars from the left, each with a line between its limits. over: what the axis counts; most: its end, where it is known."""
    shown = rows[:MOST]
    end = most or max([row.high for row in shown] + [1.0])
    step = _step(end)
    top = 62.0
    end = end if most else ceil(end / step - 1e-9) * step

    def across(value: float) -> float:
        return _LEFT + min(max(value, 0.0), end) / end * (_RIGHT - _LEFT)

    bottom = top + _ROW * len(shown)
    body = [text(_LEFT, 24, title, SMALL, class_="bold"), text(_LEFT, 46, over, SMALL, class_="soft")]
    for i in range(int(end / step + 1e-9) + 1):
        x = across(i * step)
        body.append(path(((x, top), (x, bottom)), stroke=GRID, class_="grid"))
        label = f"{round(100 * i * step)} %" if most == 1.0 else f"{i * step:g}"
        anchor = "start" if i == 0 else "end" if x > _RIGHT - 12 else "middle"
        body.append(text(x, bottom + 18, label, SMALL, anchor, "soft"))
    for place, row in enumerate(shown):
        y = top + _ROW * place + 31
        name = _fitting(row.label, _RIGHT - _LEFT - text_width(f"  {row.told}", SMALL))
        body.append(text(_LEFT, y - 13, f"{name}: {row.told}", SMALL))
        wide = max(across(row.value) - _LEFT, 0.5)
        body.append(
            element("rect", x=_LEFT, y=y - 7, width=wide, height="14", fill=THIS, class_="dot", fill_opacity="0.5")
        )
        ends = ((across(row.low), y), (across(row.high), y))
        body.append(path(ends, stroke=INK, class_="ink", stroke_width="2"))
        body += [path(((x, y - 5), (x, y + 5)), stroke=INK, class_="ink", stroke_width="2") for x, _ in ends]
    more = len(rows) - len(shown)
    words = "; ".join(f"{row.label} {row.told}" for row in shown) + (f"; and {more} more" if more else "")
    told = f"{upper_first(words)}. The table below has every figure."
    return drawing(kind, title, told, NARROW, round(bottom + 30), [group(body, fill=INK)])


def _fitting(label: str, room: float) -> str:
    """As much of a name as there is room for."""
    if text_width(label, SMALL) <= room:
        return label
    while label and text_width(f"{label}…", SMALL) > room:
        label = label[:-1]
    return f"{label.rstrip()}…"


def _step(most: float) -> float:
    """1, 2 or 5 of a tenfold, so that at most six steps lead to the end."""
    tenfold = 10.0 ** floor(log10(most / 6)) if most > 0 else 1.0
    return next(side * tenfold for side in (1, 2, 5, 10) if side * tenfold * 6 >= most)
