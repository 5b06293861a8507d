"""keep, history, export, import, forget: visits kept. What needs the extra `store` is imported when a command runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diagnose import yamlfile
from diagnose.cli.shared import (
    OutOption,
    PageOption,
    RulesOption,
    UnitsOption,
    VisitFile,
    book_of,
    form,
    put,
    put_blocks,
    refuse_to_write,
    written,
)
from diagnose.yamlfile import files, refusal

if TYPE_CHECKING:
    from diagnose.diagnosis.story import Look
    from diagnose.report import Block
    from diagnose.store import KeptVisit, Store

StoreOption = Annotated[
    str | None,
    typer.Option(
        "--store", metavar="URL", help="a file, or postgresql://user@host/name; DIAGNOSE_STORE or your own unless said"
    ),
]


@contextmanager
def opened_store(place: str | None, make: bool = False) -> Iterator[tuple[Store, Any]]:
    """The open store, and the room that knows it. Raises InputProblems, also where its packages are not installed."""
    try:
        import diagnose.store as room
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("sqlalchemy", "alembic"):
            raise
        fix = "Install them: `pip install 'diagnose[store]'`."
        raise refusal("keeping visits needs SQLAlchemy and Alembic", fix) from None
    with room.open_store(place, make) as store:
        yield store, room


def keep(visit: VisitFile, store: StoreOption = None, rules: RulesOption = None) -> None:
    """Keeps a visit whole, with what is said of it today; twice is once. It needs a machine's name and a date."""
    from diagnose.report.history import kept_text
    from diagnose.rulebook import digest_of

    with opened_store(store, make=True) as (opened, room):
        book = book_of(rules)
        name = yamlfile.STANDARD_INPUT if visit == "-" else visit
        entry = room.entry_of(yamlfile.content_of(visit), name, book, digest_of(book))
        kept = room.keep(opened, [entry])[0]
        count = room.machine_named(opened, kept.machine).count
    put(kept_text(kept.machine, kept.date, kept.id, kept.new, count, entry.result))


def history(
    machine: Annotated[
        str | None, typer.Argument(metavar="[MACHINE]", help="its name; without one all are listed")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="examine old visits with today's book, tell what differs")
    ] = False,
    good_day: Annotated[
        bool, typer.Option("--good-day", help="write the visit that can be the next one's baseline")
    ] = False,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    store: StoreOption = None,
    output: OutOption = None,
) -> None:
    """A machine's visits, what drifts slowly, its good day; as HTML with a chart."""
    from diagnose.report import history as told

    if not good_day:
        refuse_to_write(output)
    with opened_store(store) as (opened, room):
        if machine is None:
            all_machines = room.machines(opened)
            listed = [(each.name, each.count, each.last) for each in all_machines]
            data = {"machines": [{"name": name, "visits": count, "last": last} for name, count, last in listed]}
            put_blocks(lambda: told.machines_page(listed), how, data, output)
            return
        found = room.machine_named(opened, machine)
        visits = [visit for visit in room.visits_of(opened, found) if not visit.replaced]
        book = book_of(rules)
        looks, changed, untold = room.looks_of(opened, visits, lambda: book, again)
    if good_day:
        _put_good_day(visits, looks, output)
        return
    shown_again, drift = changed if again else None, book.judgement.drifts

    def blocks() -> list[Block]:
        drawn: list[Block] = []
        if form(how, output) == "html" and looks:
            from diagnose.report.drawings import Drawing
            from diagnose.report.drawings.over_visits import over_visits
            from diagnose.report.illustrated import figure

            chart = over_visits(found.name, looks, units or looks[-1].story.system)
            drawn = [figure(chart)] if isinstance(chart, Drawing) else []
        return told.history_page(found.name, looks, drift, units, shown_again, untold, drawn)

    put_blocks(blocks, how, lambda: told.history_data(found.name, looks, drift, shown_again, untold), output)


def _put_good_day(visits: list[KeptVisit], looks: list[Look], output: Path | None) -> None:
    from diagnose.diagnosis.story import good_day

    best = good_day(looks)
    if best is None:
        what = "no visit of this machine found nothing wrong and the charge right"
        raise refusal(what, "Keep one after the repair, when all is right.")
    text = next(visit.text for visit in visits if visit.id == best.id)
    if output is None:
        put(text)
        return
    files.write(output, text, over=False)
    put(written(output, text))


def export(
    folder: Annotated[Path, typer.Argument(help="each visit as a file, a folder a machine; nothing there is replaced")],
    store: StoreOption = None,
) -> None:
    """Every visit as it was entered, as files; again writes only what is new."""
    from diagnose.report.history import exported_text

    with opened_store(store) as (opened, room):
        done = room.export_folder(opened, folder)
    put(exported_text(str(folder), done.visits, done.written))


def import_(
    folder: Annotated[Path, typer.Argument(help="a folder of visit files, as `export` writes it or your own")],
    store: StoreOption = None,
    rules: RulesOption = None,
) -> None:
    """Keeps every visit in a folder, or none if one of them cannot be kept; twice changes nothing."""
    from diagnose.report.history import imported_text

    with opened_store(store, make=True) as (opened, room):
        done = room.import_folder(opened, folder, book_of(rules))
    put(imported_text(len(done), sum(each.new for each in done)))


def forget(
    what: Annotated[str, typer.Argument(metavar="MACHINE|VISIT", help="a machine's name, or the id of a visit")],
    yes: Annotated[bool, typer.Option("--yes", help="do it: nothing brings it back")] = False,
    store: StoreOption = None,
) -> None:
    """Takes a machine with all its visits, or one visit, out of the store for good."""
    from diagnose.report.history import forgotten_text, would_forget_text

    with opened_store(store) as (opened, room):
        machine, visits = room.meant(opened, what)
        if not yes:
            whole = len(visits) == len(room.visits_of(opened, machine))
            would = would_forget_text(machine.name, len(visits), whole)
            raise refusal(would, "Give it again with `--yes`.")
        room.forget(opened, machine, visits)
    put(forgotten_text(machine.name, len(visits)))
