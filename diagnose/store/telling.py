"""What is told of kept visits: as it was said, or by today's book, which is then kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.diagnosis.story import Look
from diagnose.report.history import FAILED, Changed
from diagnose.rulebook import Rulebook, digest_of
from diagnose.store.database import Store
from diagnose.store.entry import examined
from diagnose.store.keeping import KeptVisit, keep_result
from diagnose.yamlfile import InputProblems


def looks_of(
    store: Store, visits: Sequence[KeptVisit], book_of: Callable[[], Rulebook], again: bool = False
) -> tuple[list[Look], list[Changed], list[Changed]]:
    """What is told of each visit; with `again`, or where nothing was, by today's book, which is then kept. Also what differs,
    and the visits that this version cannot read. book_of: called where a visit must be examined. Raises InputProblems.
    """
    looks, changed, untold = [], [], []
    book, digest = None, ""
    for visit in visits:
        before = Look(visit.id, visit.date, visit.story) if visit.story else None
        if before is not None and not again:
            looks.append(before)
            continue
        if book is None:
            book = book_of()
            digest = digest_of(book)
        try:
            entry = examined(visit.text, visit.id, book, digest)
        except Exception as error:  # one visit on which the program itself fails must not hide all others
            why = f"{error.problems[0].what}." if isinstance(error, InputProblems) else FAILED
            each = Changed(before, None, visit.id, visit.date, why)
            if before is not None:
                looks.append(before)
            else:
                untold.append(each)
        else:
            keep_result(store, visit.number, entry)
            now = Look(visit.id, visit.date, entry.story)
            looks.append(now)
            each = Changed(before, now, visit.id, visit.date)
        changed.append(each)
    return looks, changed, untold
