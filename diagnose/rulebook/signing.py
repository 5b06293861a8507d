"""Who wrote what in a company's own files, what of it speaks (drafts only where they are asked for, the retired never), and
what entries were called in earlier books."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from diagnose.rulebook.entries import EntryStatus, Signed
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.known import Gathered, Placed, Spot
from diagnose.rulebook.models import Signable
from diagnose.rulebook.own_model import name_of


def speaks(status: EntryStatus | None, drafts: bool) -> bool:
    """Whether an entry of this status counts."""
    return status in (None, "in force") or (status == "draft" and drafts)


def speaking(read: Gathered, drafts: bool) -> Gathered:
    """The same without what does not count; the rules of a fault are left in its file."""

    def counts(entry: Signable) -> bool:
        return speaks(entry.status, drafts)

    kinds = ("findings", "states", "rules", "checks", "faults", "own", "changes")
    left: dict[str, Any] = {kind: [p for p in getattr(read, kind) if counts(p.entry)] for kind in kinds}
    return replace(read, **left, sources=[(key, p) for key, p in read.sources if counts(p.entry)])


class _Entry(NamedTuple):
    """at: its place below the spot. whole: the status of the fault in whose file it stands; a rule speaks no sooner than it."""

    kind: str
    name: str
    entry: Signable
    spot: Spot
    at: tuple[str | int, ...] = ()
    whole: EntryStatus | None = None


def entries_of(read: Gathered) -> list[_Entry]:
    """Every entry that can be signed or renamed."""
    kinds: Sequence[tuple[str, str, Sequence[Placed[Any]]]] = (
        ("finding", "finding", read.findings),
        ("state", "state", read.states),
        ("rule", "id", read.rules),
        ("check", "check", read.checks),
        ("fault", "fault", read.faults),
    )
    found = [_Entry(kind, getattr(p.entry, key), p.entry, p.spot) for kind, key, placed in kinds for p in placed]
    found += [_Entry("source", key, p.entry, p.spot) for key, p in read.sources]
    found += [_Entry("own", name_of(p.entry), p.entry, p.spot) for p in read.own]
    for p in read.faults:
        found += [
            _Entry("rule", rule.id, rule, p.spot, ("rules", i), p.entry.status) for i, rule in enumerate(p.entry.rules)
        ]
    return found


def signatures(entries: Sequence[_Entry]) -> dict[str, Signed]:
    """Every entry that says who wrote it, since when it holds, or whether it speaks."""
    return {
        name: Signed(entry.author, entry.since, own if own != "in force" or whole is None else whole)
        for _, name, entry, _, _, whole in entries
        if entry.status or entry.author or entry.since or whole
        for own in [entry.status or "in force"]
    }


def former_names(entries: Sequence[_Entry]) -> Iterator[tuple[str, str, str, Spot]]:
    """Of every entry that had another name in an earlier book: its kind, that name, the one it has now, where that is said."""
    for kind, name, entry, spot, at, _ in entries:
        for i, old in enumerate(entry.renamed):
            here = Spot(spot.document, (*spot.at, *at, "renamed", i))
            yield kind, old, name, here
            if isinstance(entry, WrittenFaultEntry):  # its rules carry its name
                yield from (("rule", r.id.replace(name, old, 1), r.id, here) for r in entry.rules)
