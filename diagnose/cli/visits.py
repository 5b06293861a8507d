"""examine, why, next, ask, draw: the commands about one visit; compare, report: about it and one before."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from diagnose.cli.shared import (
    As,
    DraftsOption,
    MachineOption,
    OutOption,
    PageOption,
    RulesOption,
    UnitsOption,
    VisitFile,
    book_of,
    form,
    put,
    put_blocks,
    put_markup,
    refuse_to_write,
    written,
)
from diagnose.yamlfile import did_you_mean, files, refusal

if TYPE_CHECKING:
    from diagnose.diagnosis.record import Diagnosis
    from diagnose.report import Block
    from diagnose.rulebook import Rulebook
    from diagnose.store import KeptVisit
    from diagnose.visit import Visit


def examine(
    visit: VisitFile,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
    full: Annotated[bool, typer.Option("--full", help="everything, not only the first screen")] = False,
    machine: MachineOption = None,
    follow: Annotated[bool, typer.Option("--follow", help="of a log that grows: tell when the answer changes")] = False,
) -> None:
    """What is wrong, what can hurt, the charge, the next step and why, on one screen; --full shows everything.

    VISIT may be a log as well, a .csv file of a data logger: each steady stretch of it is examined.
    """
    from diagnose.cli import logs
    from diagnose.diagnosis.pipeline import examine as run

    if logs.is_log(visit) or machine is not None or follow:
        if follow:
            logs.refuse_with_follow(how, output, full)
            logs.follow_log(visit, machine, units, rules)
        else:
            logs.examine_log(visit, machine, how, units, rules, output, full)
        return

    refuse_to_write(output, visit=visit)
    more = f"diagnose examine {'FILE' if visit == '-' else visit} --full"
    _put_diagnosis(run(visit, book_of(rules, drafts, told=True)).told_in(units), how, output, full, more)


def _put_diagnosis(
    d: Diagnosis, how: As | None, output: Path | None, full: bool, more: str, closing: bool = False
) -> None:
    """Prints or writes it: the first screen, or all; a web page has both, and the drawings. Raises InputProblems.

    closing: with what to do before leaving.
    """
    how = form(how, output)

    def blocks() -> list[Block]:
        from diagnose.report.first_screen import closing_brief

        last = list(closing_brief(d)) if closing else []
        if how == "html":
            from diagnose.report.illustrated import illustrated_page

            return [*illustrated_page(d), *last]
        if full:
            from diagnose.report.pages import diagnosis_page

            return diagnosis_page(d)
        from diagnose.report import first_screen

        return first_screen(d, more=more, last=last)

    put_blocks(blocks, how, d.to_dict, output, fold=True)


def why(
    visit: VisitFile,
    fault: Annotated[str, typer.Argument(metavar="FAULT", help="A fault, for example low-charge.")],
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
) -> None:
    """Everything for and against one fault, down to the readings; also one that did not win."""
    from diagnose.diagnosis.pipeline import examine as run
    from diagnose.report.trace import why_page

    refuse_to_write(output, visit=visit)
    book = book_of(rules, drafts, told=True)
    d = run(visit, book).told_in(units)
    fault = _fault_of(fault, d.rules, book)
    blocks = why_page(d, fault)
    lines = [{"kind": b.kind, "level": b.level, "mark": b.mark, "text": b.text} for b in blocks]
    put_blocks(lambda: blocks, how, lambda: {"fault": fault, "lines": lines}, output)


def _fault_of(word: str, known: Rulebook, book: Rulebook) -> str:
    """Its id. known: the book of this machine. Raises InputProblems."""
    if (found := known.fault_called(word)) is not None:
        return found
    if (other := book.fault_called(word)) is not None:
        from diagnose.rulebook.facts import in_order

        only = " and ".join(f"`{name}: {' or '.join(w)}`" for name, w in in_order(book.faults[other].applies).items())
        fix = f"It is looked for where a visit says {only}."
        raise refusal(f"`{other}` is no fault that this machine can have as it runs", fix)
    fix = did_you_mean(word, known.faults) or f"Known: {', '.join(known.faults)}."
    raise refusal(f"`{word}` is not a fault of this rule book", fix)


def next_(
    visit: VisitFile,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
) -> None:
    """What to measure next, and what each outcome would mean; which reading, if off, would change the answer."""
    from diagnose.diagnosis.pipeline import examine as run
    from diagnose.report.following import next_page
    from diagnose.report.result import next_result

    refuse_to_write(output, visit=visit)
    d = run(visit, book_of(rules, drafts, told=True)).told_in(units)
    put_blocks(lambda: next_page(d), how, lambda: next_result(d), output)


def ask(
    how: PageOption = None,
    units: UnitsOption = None,
    keep: Annotated[
        Path | None, typer.Option("--keep", metavar="FILE", help="write the visit to this file as well")
    ] = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
    start_up: Annotated[bool, typer.Option("--start-up", help="ask for what is done at a start-up as well")] = False,
) -> None:
    """The same, question by question, no file needed."""
    from diagnose import report
    from diagnose.cli import questions
    from diagnose.diagnosis.pipeline import examine as run

    def shown(text: str) -> str:
        return report.plain(text, sys.stderr.encoding or "ascii")

    def answer(text: str) -> str:
        typer.echo(f"{shown(text)}: ", nl=False, err=True)
        return sys.stdin.readline()  # an empty text, as at the end of the input, leaves the question out

    def say(text: str) -> None:
        typer.echo(shown(text), err=True)

    if keep is not None:  # before the first question, not after the last
        questions.refuse_to_keep(keep)
        if output is not None and keep.resolve() == output.resolve():
            raise refusal("the visit and the page have the same name", "Keep them apart.", keep)
    refuse_to_write(output)
    book = book_of(rules, drafts, told=True)
    visit = questions.interview(answer, say, book, units, start_up)
    if keep is not None:
        questions.keep(visit, keep)
    kept = f"diagnose examine {keep} --full" if keep else "keep the visit with --keep FILE, then examine it with --full"
    _put_diagnosis(run(visit, book).told_in(units), how, output, False, kept, closing=True)


def compare(
    before: Annotated[str, typer.Argument(metavar="BEFORE", help="The visit before the repair.")],
    after: Annotated[str, typer.Argument(metavar="AFTER", help="The visit after it; - reads standard input.")],
    fault: Annotated[
        str | None, typer.Option("--fault", help="what was repaired; what BEFORE found unless said")
    ] = None,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    output: OutOption = None,
    full: Annotated[bool, typer.Option("--full", help="every reading, not only the first screen")] = False,
) -> None:
    """Did the repair send every reading where it should; what is left, and what to do before you leave."""
    from diagnose.diagnosis import after_repair
    from diagnose.diagnosis.pipeline import examine as run
    from diagnose.report.after_repair import compare_page, comparison, illustrated_comparison

    _refuse_both(before, after, output)
    book = book_of(rules, told=True)
    found = after_repair.compare(run(before, book), run(after, book), fault)
    how = form(how, output)

    def blocks() -> list[Block]:
        if how == "html":
            return illustrated_comparison(found, units)
        return compare_page(found, units, full, f"diagnose compare {before} {after} --full")

    put_blocks(blocks, how, lambda: comparison(found), output)


def _refuse_both(before: str, after: str, output: Path | None) -> None:
    """Raises InputProblems where two visits cannot be read, or the page not be written."""
    if before == after == files.STANDARD_OUTPUT:
        raise refusal("both visits cannot come from standard input", "Write one of them to a file.")
    for visit in (before, after):
        refuse_to_write(output, visit=visit)


def _told_of(name: str, store: str | None, book: Rulebook) -> str | Visit:
    """The file of this name; with a store, the visit that is kept there: of a machine its last. Raises InputProblems."""
    if store is None:
        return name
    from diagnose.cli.keeping import opened_store

    with opened_store(store) as (opened, room):
        _, kept = room.meant(opened, name)
        last: KeptVisit = ([visit for visit in kept if not visit.replaced] or kept)[-1]
        found: Visit = room.as_kept(last.text, last.id, book.own)
        return found


def report(
    visit: VisitFile,
    whose: Annotated[
        Literal["customer", "office"],
        typer.Option("--for", help="customer: in plain words; office: with all it rests on"),
    ] = "customer",
    before: Annotated[
        str | None, typer.Option("--before", metavar="EARLIER", help="the visit before the repair, to compare with")
    ] = None,
    how: PageOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
    store: Annotated[
        str | None,
        typer.Option(
            "--store", metavar="URL", help="the visits are kept there: a machine's name means its last, an id that one"
        ),
    ] = None,
    output: OutOption = None,
) -> None:
    """A report to hand over, one or two printed pages: what was found, what was done, what is next, room to sign."""
    from diagnose.diagnosis import after_repair
    from diagnose.diagnosis.pipeline import examine as run
    from diagnose.report.blocks import as_data
    from diagnose.report.handover import TEMPLATES, handover_page

    if store is None:
        _refuse_both(before or "", visit, output)
    else:
        refuse_to_write(output)
    book = book_of(rules, told=whose == "office")
    d = run(_told_of(visit, store, book), book)
    compared = after_repair.compare(run(_told_of(before, store, book), book), d) if before is not None else None
    d, how = d.told_in(units), form(how, output)

    def blocks() -> list[Block]:
        return handover_page(d, whose, compared, drawn=how == "html")

    def data() -> dict[str, object]:
        return {"for": whose, "blocks": [as_data(block) for block in blocks()]}

    put_blocks(blocks, how, data, output, template=TEMPLATES[whose])


_MEND = {
    "cycle": "Add or correct it in the visit, or draw the circuit with `--what circuit`.",
    "circuit": "The other drawings are `--what cycle` and `--what target`.",
    "target": "The other drawings are `--what cycle` and `--what circuit`.",
}


def draw(
    visit: VisitFile,
    what: Annotated[
        Literal["cycle", "circuit", "target"],
        typer.Option(
            "--what",
            help="cycle: pressure against enthalpy; circuit: the readings at their places; target: target superheat",
        ),
    ] = "cycle",
    output: OutOption = None,
    units: UnitsOption = None,
    rules: RulesOption = None,
) -> None:
    """Pressure-enthalpy diagram of the visit, its circuit with the readings, or its target superheat; as SVG."""
    from diagnose.diagnosis.pipeline import examine
    from diagnose.report import drawings as diagram

    drawn_by = {
        "cycle": diagram.pressure_enthalpy,
        "circuit": diagram.schematic,
        "target": diagram.superheat_chart,
    }
    refuse_to_write(output, visit=visit)
    found = drawn_by[what](examine(visit, book_of(rules)).told_in(units))
    if isinstance(found, diagram.NoDrawing):
        raise refusal(found.why.rstrip("."), _MEND[what])
    text = found.svg + "\n"
    if output is not None:
        files.write(output, text, visit=visit)
        put(written(output, text))
    else:
        put_markup(text)
