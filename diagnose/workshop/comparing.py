"""Two rule books side by side on every case: what a change of the rules changes elsewhere."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.diagnosis.record import Diagnosis
from diagnose.report import Block, deeper, heading, item, line
from diagnose.report.evidence import points_text
from diagnose.report.wording import signed
from diagnose.rulebook import Rule, Rulebook, load_rules
from diagnose.rulebook.data import as_written
from diagnose.rulebook.load import VARIABLE
from diagnose.shipped import shipped
from diagnose.workshop.trials import Case, CaseResult, case_paths, read_case, run_case
from diagnose.yamlfile import InputProblems, Problem, refusal

LISTED_MOVES = 12
LEAST_MOVE = 0.05  # points
EMPTY = "nothing"


@dataclass(frozen=True, slots=True)
class Standing:
    """How a case comes out with one book."""

    passed: bool
    first: str
    strength: str
    charge: str
    scores: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class CaseChange:
    """One case with both books."""

    case: Case
    old: Standing
    new: Standing

    @property
    def differs(self) -> bool:
        """Whether what a technician is told differs: the first fault, how strong it is, or the charge verdict."""
        old, new = self.old, self.new
        return (old.first, old.strength, old.charge) != (new.first, new.strength, new.charge)

    @property
    def broken(self) -> bool:
        """Whether it passed before and fails now."""
        return self.old.passed and not self.new.passed

    @property
    def mended(self) -> bool:
        """Whether it failed before and passes now."""
        return self.new.passed and not self.old.passed


@dataclass(frozen=True, slots=True)
class Move:
    """How far a case moved the score of a fault, points."""

    case: str
    fault: str
    old: float
    new: float

    @property
    def by(self) -> float:
        """New minus old."""
        return self.new - self.old


@dataclass(frozen=True, slots=True)
class Difference:
    """One entry that was added, removed or changed. what: rule, finding …"""

    what: str
    name: str
    how: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BookComparison:
    """Both books, every case with both, and what differs between the books themselves."""

    old: Rulebook
    new: Rulebook
    cases: tuple[CaseChange, ...]
    moves: tuple[Move, ...]
    differences: tuple[Difference, ...]

    @property
    def broken(self) -> tuple[CaseChange, ...]:
        """Cases that passed with the old book and fail with the new one."""
        return tuple(change for change in self.cases if change.broken)

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "old": self.old.name,
            "new": self.new.name,
            "cases": len(self.cases),
            "changed": [
                {"case": c.case.name, "old": _standing(c.old), "new": _standing(c.new)} for c in self.cases if _told(c)
            ],
            "moves": [{"case": m.case, "fault": m.fault, "old": m.old, "new": m.new} for m in self.moves],
            "differences": [
                {"what": d.what, "name": d.name, "how": d.how, "details": list(d.details)} for d in self.differences
            ],
        }


def book_named(name: str | None, drafts: bool = False) -> Rulebook:
    """`shipped`, or one or several folders with `+` between: of a company's own, to be laid over the shipped book or over the
    whole book among them. None: what DIAGNOSE_RULES names. Raises InputProblems."""
    if name is None:
        if not os.environ.get(VARIABLE, "").strip():
            fix = f"Give both OLD and NEW, or set {VARIABLE}."
            raise refusal("nothing says what to compare with", fix)
        return load_rules(drafts=drafts)
    parts = [name] if Path(name).is_dir() else [part.strip() for part in name.split("+")]
    folders = [shipped("rules") if part == "shipped" else Path(part) for part in parts]
    fix = "Write `shipped`, a folder of your own rules, or a folder with a whole rule book; several with `+` between."
    missing = [folder for folder in folders if not folder.is_dir()]
    if missing:
        raise InputProblems([Problem(str(folder), 0, 0, "there is no such folder of rules", fix) for folder in missing])
    return load_rules(*folders, drafts=drafts)


def compare(old: Rulebook, new: Rulebook, cases: Path | None = None) -> BookComparison:
    """Every case with both books. Raises InputProblems where a case file cannot be read."""
    read = [read_case(path) for path in case_paths(cases)]
    if not read:
        raise refusal("there is no case here", "Case files end in .yaml.", cases)
    changes = tuple(CaseChange(case, _stand(run_case(case, old)), _stand(run_case(case, new))) for case in read)
    moves = [
        Move(change.case.name, fault, score, change.new.scores[fault])
        for change in changes
        for fault, score in change.old.scores.items()
        if fault in change.new.scores and abs(change.new.scores[fault] - score) >= LEAST_MOVE
    ]
    moves.sort(key=lambda move: -abs(move.by))
    return BookComparison(old, new, changes, tuple(moves), tuple(differences(old, new)))


def _stand(result: CaseResult) -> Standing:
    d: Diagnosis | None = result.diagnosis
    if d is None:
        return Standing(result.passed, EMPTY, "visit refused", EMPTY, {})
    scores = {place.fault: round(place.score, 4) for place in d.ranked}
    if not d.faults:
        return Standing(result.passed, EMPTY, d.status, d.charge.verdict, scores)
    return Standing(result.passed, d.faults[0].fault, d.faults[0].strength, d.charge.verdict, scores)


def _standing(s: Standing) -> dict[str, Any]:
    return {"passed": s.passed, "first": s.first, "strength": s.strength, "charge": s.charge}


# -- the books themselves ------------------------------------------------------------------------------------------


def differences(old: Rulebook, new: Rulebook) -> Iterator[Difference]:
    """Entries added, removed and changed, rules first."""
    yield from _between("rule", old.by_id, new.by_id)
    for what, before, after in (
        ("finding", old.findings, new.findings),
        ("state", old.states, new.states),
        ("fault", old.faults, new.faults),
        ("check", old.checks, new.checks),
        ("source", old.sources, new.sources),
        ("figure", old.figures, new.figures),
    ):
        yield from _between(what, before, after)
    if old.charge != new.charge:
        yield Difference("charge", "charge", "changed", tuple(_fields(as_written(old.charge), as_written(new.charge))))


def _between(what: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Difference]:
    for name in [*old, *(name for name in new if name not in old)]:
        if name not in new:
            yield Difference(what, name, "removed")
        elif name not in old:
            yield Difference(what, name, "added", tuple(_new(new[name])))
        elif details := tuple(_fields(as_written(old[name]), as_written(new[name]))):
            yield Difference(what, name, "changed", details)


def _new(entry: Any) -> Iterator[str]:
    if isinstance(entry, Rule) and entry.kind == "evidence":
        yield f"{signed(entry.points)} points for {entry.fault}: {entry.entry.title}"


def _fields(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    for name in [*old, *(name for name in new if name not in old)]:
        before, after = old.get(name), new.get(name)
        if before == after:
            continue
        if name == "scales" and isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
            for one, other in zip(before, after, strict=True):
                yield from _fields(one, other)
        elif _short(before) and _short(after):
            yield f"{name} {_said(before)} → {_said(after)}"
        else:
            yield f"{name} rewritten"


def _short(value: object) -> bool:
    """Whether both versions fit into a line; longer texts are only named."""
    return len(_said(value)) <= 60


def _said(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} {_said(one)}" for name, one in value.items()) or EMPTY
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value) or EMPTY
    return EMPTY if value is None else f"{value:g}" if isinstance(value, float) else str(value)


# -- on paper ------------------------------------------------------------------------------------------------------


def comparison_page(c: BookComparison) -> list[Block]:
    """The cases first, then how scores moved, then what differs between the books."""
    told = [change for change in c.cases if _told(change)]
    broken, mended = len(c.broken), sum(change.mended for change in c.cases)
    blocks = [
        Block("answer", f"{len(told)} of {len(c.cases)} cases change; {broken} passed and fail now."),
        line(f"Old: {c.old.name}. New: {c.new.name}." + (f" {mended} failed and pass now." if mended else "")),
    ]
    if told:
        blocks.append(heading("Cases that change"))
        for change in told:
            blocks += _case(change)
    if c.moves:
        blocks.append(heading("Largest moves of a score"))
        for move in c.moves[:LISTED_MOVES]:
            blocks.append(
                item(
                    f"{move.case}: {move.fault} from {points_text(move.old)} to {points_text(move.new)}",
                    points_text(move.by),
                )
            )
        if len(c.moves) > LISTED_MOVES:
            blocks.append(item(f"and {len(c.moves) - LISTED_MOVES} smaller ones", "…"))
    blocks.append(heading("What differs in the books"))
    if not c.differences:
        blocks.append(line("Nothing."))
    for difference in c.differences:
        blocks.append(item(f"{difference.what} {difference.name}: {difference.how}"))
        blocks += [deeper(detail) for detail in difference.details]
        blocks += [deeper(reason) for reason in _reasons(difference, c.new)]
    return blocks


def _told(change: CaseChange) -> bool:
    return change.differs or change.broken or change.mended


def _case(change: CaseChange) -> list[Block]:
    passed = ": passed, fails now" if change.broken else ": failed, passes now" if change.mended else ""
    blocks = [item(f"{change.case.name}{passed}", "!" if change.broken else "-")]
    old, new = change.old, change.new
    if (old.first, old.strength) != (new.first, new.strength):
        blocks.append(deeper(f"first: {old.first} ({old.strength}) → {new.first} ({new.strength})"))
    if old.charge != new.charge:
        blocks.append(deeper(f"charge: {old.charge} → {new.charge}"))
    blocks.append(deeper(f"truth: {change.case.entry.truth}"))
    return blocks


def _reasons(difference: Difference, new: Rulebook) -> Sequence[str]:
    """Who changed it and why, where the book says so."""
    return [f"{own}, {change.date}: {change.because}" for own, change in new.changes_of(difference.name)]
