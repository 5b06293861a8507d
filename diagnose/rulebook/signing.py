"""Who wrote what in a company's own files, and what of it speaks: drafts only where they are asked for, the retired never."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from diagnose.rulebook.entries import Signed, Status
from diagnose.rulebook.gathered import Gathered, Placed
from diagnose.rulebook.models import Signable


def speaks(status: Status | None, drafts: bool) -> bool:
    """Whether an entry of this status counts."""
    return status in (None, "in force") or (status == "draft" and drafts)


def speaking(read: Gathered, drafts: bool) -> Gathered:
    """The same without what does not count; the rules of a fault are left in its file."""

    def left(entries: Sequence[Placed[Any]]) -> list[Any]:
        return [p for p in entries if p.entry.status is None or speaks(p.entry.status, drafts)]

    return replace(
        read,
        findings=left(read.findings),
        states=left(read.states),
        rules=left(read.rules),
        checks=left(read.checks),
        sources=[(key, placed) for key, placed in read.sources if speaks(placed.entry.status, drafts)],
        faults=left(read.faults),
        changes=left(read.changes),
    )


def signatures(read: Gathered) -> dict[str, Signed]:
    """Every entry that says who wrote it, since when it holds, or whether it speaks."""
    kinds: Sequence[tuple[str, Sequence[Placed[Any]]]] = (
        ("finding", read.findings),
        ("state", read.states),
        ("id", read.rules),
        ("check", read.checks),
        ("fault", read.faults),
    )
    found = {
        getattr(p.entry, key): _signed(p.entry, None)
        for key, entries in kinds
        for p in entries
        if p.entry.status or p.entry.author or p.entry.since
    }
    found |= {
        key: _signed(p.entry, None) for key, p in read.sources if p.entry.status or p.entry.author or p.entry.since
    }
    return found | {
        rule.id: _signed(rule, fault.entry.status)
        for fault in read.faults
        for rule in fault.entry.rules
        if rule.status or rule.author or rule.since or fault.entry.status
    }


def _signed(entry: Signable, whole: Status | None) -> Signed:
    """whole: the status of the fault in whose file it stands; a rule speaks no sooner than its fault."""
    own = entry.status or "in force"
    return Signed(entry.author, entry.since, whole if own == "in force" and whole is not None else own)
