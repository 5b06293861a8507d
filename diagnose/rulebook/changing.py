"""A company's changes laid over the shipped figures: each checked against what it was made for, none in silence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from diagnose import units
from diagnose.quantities import QuantityKind
from diagnose.rulebook import compiling
from diagnose.rulebook.book import Rule
from diagnose.rulebook.change_model import WrittenChange
from diagnose.rulebook.entries import JudgedFigure, OnSome, WordScale
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.fields import near
from diagnose.rulebook.finding_checks import sound_limits
from diagnose.rulebook.judgement import specs
from diagnose.rulebook.judging import compiled_figure, out_of_order
from diagnose.rulebook.known import Known, Placed
from diagnose.rulebook.limits import limits_of
from diagnose.rulebook.models import WrittenFindingEntry, WrittenPressureLimits, WrittenScale

# How far a high side limit may be moved, as a share of the shipped one, whoever answers for it. Judgement.
LEAST_PRESSURE, MOST_PRESSURE = 0.5, 1.25
# The groups of judgement.yaml by which verdicts are held back, each with what its figures decide.
_HOLDING = {
    "plausibility": "which readings hold a verdict, and whether the compressor runs",
    "steadiness": "whether a machine has settled enough to be judged",
    "start up": "whether a new circuit is called tight and dry",
}


@dataclass
class ChangedBook:
    """What the book is made of, as the changes go over it. loosened: those that tell a danger or a hold later."""

    known: Known
    findings: dict[str, Placed[WrittenFindingEntry]]
    faults: dict[str, Placed[WrittenFaultEntry]]
    rules: dict[str, Rule]
    pressures: WrittenPressureLimits | None
    figures: dict[str, JudgedFigure]
    guarding: Guarding
    loosened: list[WrittenChange] = field(default_factory=list)
    on_some: list[OnSome] = field(default_factory=list)
    shipped_findings: Mapping[str, WrittenFindingEntry] = field(init=False)
    shipped_pressures: Mapping[str, str] = field(init=False)

    def __post_init__(self) -> None:
        self.shipped_findings = {name: placed.entry for name, placed in self.findings.items()}
        self.shipped_pressures = self.pressures.limits if self.pressures else {}


@dataclass(frozen=True)
class Guarding:
    """What dangers and holds rest on: finding -> the words, each with the rule that asks for them; and all such rules."""

    words: Mapping[str, list[tuple[str, frozenset[str]]]]
    rules: frozenset[str]


def guarding(rules: Sequence[Rule]) -> Guarding:
    """Cautions and holds, and the rules of the states that they ask for."""
    words: dict[str, list[tuple[str, frozenset[str]]]] = {}
    found: set[str] = set()
    queue = [rule for rule in rules if rule.kind in ("caution", "readiness")]
    concluding = [(*rule.concludes, rule) for rule in rules if rule.concludes is not None]
    while queue:
        rule = queue.pop()
        if rule.id in found:
            continue
        found.add(rule.id)
        for name, allowed in rule.conditions:
            words.setdefault(name, []).append((rule.id, allowed))
            queue += [each for state, word, each in concluding if state == name and word in allowed]
    return Guarding(words, frozenset(found))


def apply_changes(now: ChangedBook, changes: Sequence[Placed[WrittenChange]]) -> None:
    """All of them; the order of the folders makes no difference, for no two may change the same figure of one thing.

    A change whose `was` is another's `now` comes after it: so a branch changes what its firm has changed. What is switched
    off is so last.
    """
    taken: dict[tuple[str, str, str], Placed[WrittenChange]] = {}
    waiting: list[Placed[WrittenChange]] = []
    for placed in changes:
        change = placed.entry
        on = str(sorted(change.applies.items())) if change.applies else ""
        key = (change.kind, change.target, f"{change.was}{on}")
        if key in taken:
            what = f"`{change.target}` is already changed in {taken[key].spot}"
            fix = "Agree on one of the two, and take one out."
            if placed.own != taken[key].own and change.kind != "off":
                fix = f"Agree on one of the two; or change the other one further, with `was: {_one(taken[key].entry.now)}`."
            now.known.bad(placed.spot / change.kind, what, fix)
            continue
        also = next((p for (kind, target, _), p in taken.items() if target == change.target and p.own == placed.own
                     and {kind, change.kind} == {"points", "off"}), None)  # fmt: skip
        if also is not None:
            what = f"`{change.target}` is already changed in {also.spot}"
            now.known.bad(placed.spot / change.kind, what, "Agree on one of the two, and take one out.")
            continue
        taken[key] = placed
        waiting.append(placed)
    waiting.sort(key=lambda placed: (bool(placed.entry.applies), placed.entry.kind == "off"))
    while waiting:
        ready = next((placed for placed in waiting if _fits(now, placed.entry)), waiting[0])
        waiting.remove(ready)
        if ready.entry.applies:
            _change_some(now, ready)
        else:
            _HOW.get(ready.entry.kind, _change_rule)(now, ready)
    figures = {target: placed for (kind, target, _), placed in taken.items() if kind == "judgement"}
    for name, what, fix in out_of_order(now.figures):
        for target, placed in figures.items():
            if target == name or target in fix:
                now.known.bad(placed.spot / "now", what, fix)
                break


def _change_some(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    """A change that holds on some machines only: made and checked on a copy of the book, and what comes out kept apart."""
    change = placed.entry
    told = len(now.known.problems)
    conditions = now.known.applies(placed.spot / "applies", change.applies)
    copy = replace(now, findings=dict(now.findings), faults=dict(now.faults), rules=dict(now.rules))
    copy.shipped_findings, copy.shipped_pressures = now.shipped_findings, now.shipped_pressures
    _HOW.get(change.kind, _change_rule)(copy, placed)
    if len(now.known.problems) > told:
        return
    points: float | None = None
    scales: tuple[WordScale, ...] = ()
    if change.kind == "points":
        points = copy.rules[change.target].points
    elif change.kind == "usual":
        points = copy.faults[change.target].entry.usual
    elif change.kind == "limits":
        scales = compiling.finding(copy.findings[change.target].entry, now.known.kinds).scales
    now.on_some.append(OnSome(conditions, change.kind, change.target, points, scales))


def _fits(now: ChangedBook, change: WrittenChange) -> bool:
    """Whether the figure to be changed is what the change was made for."""
    target = change.target
    if change.kind == "points":
        return target in now.rules and now.rules[target].points == change.was
    if change.kind == "usual":
        return target in now.faults and now.faults[target].entry.usual == change.was
    if change.kind == "pressure_limit":
        return now.pressures is not None and now.pressures.limits.get(target) == change.was
    if change.kind == "limits":
        return target in now.findings and any(s.limits == change.was for s in now.findings[target].entry.scales)
    if change.kind == "judgement":
        was = tuple(change.was) if isinstance(change.was, list) else (change.was,)
        return target in now.figures and now.figures[target].written == was
    return True


def _one(figure: object) -> object:
    return _listed(figure) if isinstance(figure, list) else figure


def _loosen(now: ChangedBook, placed: Placed[WrittenChange], what: str) -> None:
    """A danger or a hold that is told later or not at all: only where somebody answers for it."""
    now.loosened.append(placed.entry)
    if placed.entry.approved_by is None:
        fix = "Dangers and holds may only be made stricter, unless `approved_by:` says who answers for it."
        now.known.bad(placed.spot / placed.entry.kind, what, fix)


def _change_pressure(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    change, spot = placed.entry, placed.spot
    limits = now.pressures.limits if now.pressures else {}
    if change.target not in limits:
        what = f"`{change.target}` has no pressure limit in the shipped book"
        now.known.bad(spot / "pressure_limit", what, near(change.target, list(limits)))
        return
    shipped = limits[change.target]
    if change.was != shipped:
        what = f"`{change.target}`: the shipped book has moved on, its limit is now {shipped}, not {change.was}"
        fix = f"Check whether the change is still wanted, then write `was: {shipped}`."
        now.known.bad(spot / "was", what, fix)
        return
    limit = now.known.gauge_pressure(spot / "now", str(change.now))
    if limit is None or now.pressures is None:
        return
    unchanged = now.shipped_pressures.get(change.target, shipped)
    usual = units.parse(unchanged, "pressure").value
    if not LEAST_PRESSURE * usual <= limit <= MOST_PRESSURE * usual:
        what = f"a limit of {change.now} cannot be right for {change.target}; the shipped one is {unchanged}"
        fix = f"From {LEAST_PRESSURE:g} to {MOST_PRESSURE:g} times the shipped one. The machine's own: `high pressure cut-out`."
        now.known.bad(spot / "now", what, fix)
        return
    if limit > usual:
        _loosen(now, placed, f"a limit of {change.now} instead of {unchanged} tells a danger later")
    changed = {**limits, change.target: str(change.now)}
    now.pressures = now.pressures.model_copy(update={"limits": changed})


def _change_rule(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    change = placed.entry
    rule = now.rules.get(change.target)
    spot = placed.spot / change.kind
    if rule is None:
        now.known.missing(spot, change.target, "a rule", now.rules)
    elif change.kind == "off":
        del now.rules[rule.id]
        if rule.kind in ("caution", "readiness") or (rule.concludes is not None and rule.id in now.guarding.rules):
            _loosen(now, placed, f"`{rule.id}` guards against harm, and would be switched off")
    elif rule.kind != "evidence":
        now.known.bad(spot, f"`{rule.id}` has no points", "Only rules for or against a fault have.")
    elif _still(now, placed, rule.points):
        points = change.now
        if not isinstance(points, float | int) or not -4 <= points <= 4 or points == 0:
            what = f"{points:g} points are out of range" if isinstance(points, float | int) else "these are no points"
            fix = "From -4 to 4 and not 0; to silence a rule write `off`."
            now.known.bad(placed.spot / "now", what, fix)
        else:
            now.rules[rule.id] = replace(rule, points=float(points))


def _change_usual(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    change = placed.entry
    fault = now.faults.get(change.target)
    if fault is None:
        now.known.missing(placed.spot / "usual", change.target, "a fault", now.faults)
    elif _still(now, placed, fault.entry.usual):
        usual = change.now
        if not isinstance(usual, float | int) or not -4 <= usual <= 4:
            what = f"`usual` cannot be {usual:g}" if isinstance(usual, float | int) else "this is no number"
            now.known.bad(placed.spot / "now", what, "From -4 to 4.")
        else:
            now.faults[change.target] = replace(fault, entry=fault.entry.model_copy(update={"usual": float(usual)}))


def _still(now: ChangedBook, placed: Placed[WrittenChange], shipped: float) -> bool:
    """Whether the shipped figure is the one that the change was made for."""
    change = placed.entry
    if change.was == shipped:
        return True
    moved = f"the shipped book has moved on, `{change.kind}` is now {shipped:g}, not {change.was:g}"
    fix = f"Check whether the change is still needed, then write `was: {shipped:g}`."
    now.known.bad(placed.spot / "was", f"`{change.target}`: {moved}", fix)
    return False


def _change_limits(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    change, spot = placed.entry, placed.spot
    finding = now.findings.get(change.target)
    if finding is None:
        now.known.missing(spot / "limits", change.target, "a finding", now.findings)
        return
    entry = finding.entry
    fitting = [i for i, scale in enumerate(entry.scales) if scale.limits == change.was]
    if len(fitting) != 1:
        has = "; ".join(_listed(scale.limits) for scale in entry.scales if scale.limits) or "none"
        moved = "two scales have these limits" if fitting else "the shipped book has moved on"
        fix = f"Its limits are {has}. Check whether the change is still needed, and write them into `was`."
        now.known.bad(spot / "was", f"`{change.target}`: {moved}", fix)
        return
    old = entry.scales[fitting[0]]
    new = old.model_copy(update={"limits": change.now})
    if not sound_limits(now.known, entry, new, spot / "now"):
        return
    shipped = now.shipped_findings[change.target].scales[fitting[0]]
    rule = _silenced(now.guarding, entry, now.known.kinds[entry.quantity or ""], shipped, new)
    if rule is not None:
        _loosen(now, placed, f"with these limits `{rule}` speaks later, or less often")
    scales = [new if i in fitting else each for i, each in enumerate(entry.scales)]
    now.findings[change.target] = replace(finding, entry=entry.model_copy(update={"scales": scales}))


def _silenced(
    guards: Guarding, entry: WrittenFindingEntry, kind: QuantityKind, old: WrittenScale, new: WrittenScale
) -> str | None:
    """The danger or hold that would now be silent at some figure at which it spoke; None where there is none."""
    before, after = (limits_of(kind, scale) for scale in (old, new))
    edges = sorted({*before, *after})
    tried = [edges[0] - 1.0, *((a + b) / 2 for a, b in pairwise(edges)), edges[-1] + 1.0]
    for rule, words in guards.words.get(entry.finding, ()):
        for x in tried:
            was, is_now = (entry.words[sum(limit <= x for limit in limits)] for limits in (before, after))
            if was in words and is_now not in words:
                return rule
    return None


def _change_judgement(now: ChangedBook, placed: Placed[WrittenChange]) -> None:
    change, spot = placed.entry, placed.spot
    figure = now.figures.get(change.target)
    if figure is None:
        now.known.missing(spot / "judgement", change.target, "a figure", now.figures)
        return
    was, new = (tuple(f) if isinstance(f, list) else (f,) for f in (change.was, change.now))
    if was != figure.written:
        one = figure.written[0] if len(figure.written) == 1 else _listed(figure.written)
        what = f"`{change.target}`: the shipped book has moved on, it is now {one}"
        now.known.bad(spot / "was", what, f"Check whether the change is still wanted, then write `was: {one}`.")
        return
    spec = specs(now.figures)[change.target]
    changed = compiled_figure(figure, new, spec, lambda what, fix: now.known.bad(spot / "now", what, fix))  # type: ignore[arg-type]
    if changed is not None:
        now.figures[change.target] = changed
        if (decides := _HOLDING.get(change.target.partition("/")[0])) is not None:
            _loosen(now, placed, f"`{change.target}` decides {decides}")


def _listed(items: Sequence[object]) -> str:
    """As it stands in the file."""
    return f"[{', '.join(map(str, items))}]"


_HOW = {
    "limits": _change_limits,
    "usual": _change_usual,
    "pressure_limit": _change_pressure,
    "judgement": _change_judgement,
}
