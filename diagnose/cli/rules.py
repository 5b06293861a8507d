"""rules: the senior technician's workshop."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diagnose.cli.shared import (
    DraftsOption,
    OutOption,
    PageOption,
    RulesOption,
    columns,
    form,
    group,
    json_text,
    put,
    put_blocks,
    put_page,
    refuse_to_write,
    sound_book,
    stop,
    to_file,
)
from diagnose.yamlfile import InputProblems, Problem

if TYPE_CHECKING:
    from diagnose.rulebook import Rulebook

rules_app = group("Write, check, try, show and compare the rules.")


@rules_app.command("check")
def rules_check(
    folders: Annotated[
        list[Path] | None,
        typer.Argument(help="Folders of your own rules, laid over the shipped ones; or a whole book."),
    ] = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
) -> None:
    """Reads every rule file and lists every mistake.

    Then what is not filled in yet, or does nothing; what is less strict than the shipped rules; what counts twice or the wrong
    way round; and of faults of your own, whether each can come first, whether a check tells it from every other, and what it
    takes from them in the shipped cases.
    """
    from diagnose.rulebook.load import given_folders
    from diagnose.workshop import advice

    laid = [*(folders or ()), *(rules or ())]
    book = sound_book(laid, drafts)
    waiting = [name for name, signed in book.signed.items() if signed.status == "draft"]
    if waiting and not drafts:
        sound_book(laid, True)  # drafts are checked as well
    put(
        f"Rule book {book.name}: {len(book.rules)} rules, {len(book.findings)} findings, {len(book.states)} states, "
        f"{len(book.faults)} faults, {len(book.checks)} checks, {len(book.sources)} sources. No mistakes.\n"
    )
    if waiting:
        count = f"{len(waiting)} draft{'s' if len(waiting) > 1 else ''}"
        put(f"{count}, speaking {'as well' if drafts else 'only with --drafts'}: {', '.join(waiting)}.\n")
    _note(advice.begun_notes(given_folders(laid)))
    for notes in (advice.idle_notes, advice.loosened_notes, advice.left_over_notes, advice.design_notes):
        _note(notes(book))
    _note(advice.rival_notes(book))
    _note(advice.share_notes(book))


def _note(notes: Iterable[str]) -> None:
    from diagnose.report import as_text, item

    if blocks := [item(note, "!") for note in notes]:
        put(as_text(blocks, columns()))


@rules_app.command("test")
def rules_test(
    only: Annotated[str | None, typer.Argument(metavar="[RULE|FAULT|FILE|FOLDER]", help="only these")] = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    mutate: Annotated[
        bool,
        typer.Option(
            "--mutate", help="what no example needs: change every rule by one thing, and list what nobody notices"
        ),
    ] = False,
    watch: Annotated[bool, typer.Option("--watch", help="again whenever a rule file is saved; Ctrl-C ends")] = False,
) -> None:
    """Runs the examples beside the rules, through the real matcher with the whole book loaded.

    Then each example is changed one finding at a time: a condition that no example needs is named. Without RULE it also
    lists rules that no shipped case fires, and words that no rule asks for.
    """
    if watch:
        _watch(only, rules, drafts)
        return
    from diagnose.workshop.coverage import idle_conditions
    from diagnose.workshop.showing import not_there
    from diagnose.workshop.trials import rule_trials, run_rule_trial

    book = sound_book(rules, drafts)
    only = Path(only).resolve().name if only and Path(only).is_dir() else only  # quay/ and . are folders as well
    results = [run_rule_trial(trial, book) for trial in rule_trials(book, only)]
    if not results:
        names = [*book.by_id, *book.faults]
        what = f"no rule with examples is called `{only}`, nor its fault, file or folder"
        raise not_there(
            only or "",
            book,
            what,
            names,
            "Without a name, every example of the book is run; those of drafts with `--drafts`.",
        )
    left_out = "" if only or mutate else _left_out(book)
    failed = [result for result in results if not result.passed]
    put("".join(f"failed: {result.name}: {result.why}\n" for result in failed))
    put("".join(f"idle: {idle}.\n" for idle in idle_conditions(book, only)))
    put(left_out)
    if mutate:
        _survivors(book, only)
    put(f"{len(results) - len(failed)} passed, {len(failed)} failed\n")
    if failed:
        raise typer.Exit(1)


def _survivors(book: Rulebook, only: str | None) -> None:
    """What no example needs, and the share of the changes that some example noticed."""
    from diagnose.workshop.coverage import mutants

    tried = list(mutants(book, only))
    killed = sum(mutant.killed for mutant in tried)
    put("".join(f"unnoticed: {mutant}.\n" for mutant in tried if not mutant.killed))
    if tried:
        share = f"{killed / len(tried):.0%}"
        put(f"{killed} of {len(tried)} changes of one word or one condition are noticed by an example ({share}).\n")


def _left_out(book: Rulebook) -> str:
    """For information: what no case fires and what no rule asks for."""
    from diagnose.report import as_text, deeper, item
    from diagnose.workshop.coverage import never_fired, unused_words

    lists = (
        ("No shipped case fires these rules", never_fired(book)),
        (
            "No rule asks for these words, which is right where they only fill the range between others",
            [f"{name} {' or '.join(words)}" for name, words in unused_words(book).items()],
        ),
    )
    blocks = []
    for title, names in lists:
        if names:
            blocks += [item(f"{title} ({len(names)}):"), deeper(", ".join(names))]
    return as_text(blocks) if blocks else ""


def _watch(only: str | None, rules: list[Path] | None, drafts: bool) -> None:
    from diagnose.rulebook.load import given_folders
    from diagnose.shipped import shipped

    folders = given_folders(rules or ())
    missing = [folder for folder in folders if not folder.is_dir()]
    if missing:
        stop(
            InputProblems(
                [Problem(str(f), 0, 0, "there is no such folder of rules", "Check the name.") for f in missing]
            )
        )
    arguments = ["rules", "test", *([only] if only else []), *(["--drafts"] if drafts else [])]
    for folder in rules or ():
        arguments += ["--rules", str(folder)]
    _rerun(arguments, [shipped("rules"), *folders])


def _stamps(folders: Iterable[Path]) -> dict[Path, tuple[int, int]]:
    """When each file below the folders was written, and how long it is; a file that is just being replaced is left out."""
    found: dict[Path, tuple[int, int]] = {}
    for folder in folders:
        for path in (*folder.glob("*.yaml"), *folder.glob("faults/*.yaml"), *folder.glob("rules/*.yaml")):
            try:
                stat = path.stat()
            except OSError:
                continue
            found[path] = (stat.st_mtime_ns, stat.st_size)
    return found


def _rerun(arguments: Sequence[str], folders: Sequence[Path]) -> None:
    """Runs the command now and after each save. A process of its own each time, so that nothing is left of the last run."""
    import subprocess

    from diagnose.cli.logs import unread
    from diagnose.cli.standard import Interrupted

    try:
        while True:
            seen = _stamps(folders)
            subprocess.run([sys.executable, "-m", "diagnose", *arguments], check=False)
            typer.echo("Waiting for a file to be saved; Ctrl-C ends.", err=True)
            while _stamps(folders) == seen:
                if unread():
                    return
                time.sleep(0.5)
            typer.echo("", err=True)
    except Interrupted:
        return


@rules_app.command("show")
def rules_show(
    name: Annotated[str, typer.Argument(help="a rule, fault, finding, state, check or source")],
    how: PageOption = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
) -> None:
    """One entry of the rule book, and everything that uses it."""
    from diagnose.workshop.showing import show_entry

    blocks, data = show_entry(name, sound_book(rules, drafts))
    put_blocks(blocks, how, data, output)


@rules_app.command("new")
def rules_new(
    folder: Annotated[Path, typer.Argument(help="your own folder; it is made if it is not there")],
    rule: Annotated[str, typer.Argument(metavar="ID", help="a name for the rule, for example salt-on-the-fins")],
    fault: Annotated[str, typer.Option("--fault", help="the fault that it is about")] = "",
    new_fault: Annotated[str, typer.Option("--new-fault", help="or the id of a fault of your own")] = "",
    like: Annotated[
        str,
        typer.Option(
            "--like", help="with --new-fault: the fault that it looks like; the findings then tell the two apart"
        ),
    ] = "",
    finding: Annotated[
        list[str] | None, typer.Option("--finding", help="a finding that it asks for; may be given several times")
    ] = None,
    new_finding: Annotated[
        list[str] | None, typer.Option("--new-finding", help="something seen that the rule book does not know yet")
    ] = None,
) -> None:
    """Begins a rule of your own: a commented example to fill in, which passes `rules check` as it stands."""
    from diagnose.workshop.skeleton import Wanted, start

    wanted = Wanted(rule, fault, new_fault, tuple(finding or ()), tuple(new_finding or ()), like)
    started = start(folder, wanted)
    put("".join(f"Written: {path}\n" for path in started.written))
    put("".join(f"Added to: {path}\n" for path in started.added_to))
    put(
        f"Written: {folder / 'schema'}, by which an editor completes and checks what you type\n"
        if started.schemas
        else ""
    )
    for contained in started.contains:
        put(f"It asks for all that {contained.id} ({contained.points:+g}) asks for; its points replace those.\n")
    put(
        f"Now change what stands below each FILL IN, and then:\n"
        f"  diagnose rules check {folder}\n"
        f"  diagnose rules test {started.rule} --rules {folder}\n"
        f"  diagnose rules compare shipped {folder}\n"
    )


@rules_app.command("upgrade")
def rules_upgrade(
    folder: Annotated[Path, typer.Argument(help="your own folder")],
    to: Annotated[
        Path | None, typer.Option("--to", metavar="BOOK", help="a whole book; the shipped one unless said")
    ] = None,
    rules: RulesOption = None,
    write: Annotated[bool, typer.Option("--write", help="write the proposals into your files")] = False,
) -> None:
    """Brings your own rules to another version of the book: what was renamed, which changes fit no longer, what clashes.

    It shows every line that it would write, and keeps your comments. Leaves with 1 where something is left to mend by hand.
    """
    import difflib

    from diagnose.report import as_text, heading, item
    from diagnose.workshop.own_folder import upgrade

    found = upgrade(folder, to, rules or ())
    put(f"Checked against {found.book}.\n")
    for path, notes in found.notes.items():
        put(as_text([heading(f"{folder / path}"), *(item(note) for note in notes)], columns()))
        before, after = found.texts.get(path, ("", ""))
        put(
            "".join(
                line + "\n"
                for line in [*difflib.unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm="")][2:]
            )
        )
    if write:
        found.write()
    if found.texts:
        put("\nWritten.\n" if write else "\nNothing is written yet; `--write` does it.\n")
    elif not found.notes and not found.left:
        put("Everything fits.\n")
    before = f"before/{folder.name}" if found.texts else f"{folder}"
    copied = f", with a copy of your folder as it was in {before}" if found.texts else ""
    put(f"What it changes in the answers{copied}: diagnose rules compare OLD+{before} {to or 'shipped'}+{folder}\n")
    if found.left:
        stop(InputProblems(found.left))


@rules_app.command("table")
def rules_table(
    how: PageOption = None,
    rules: RulesOption = None,
    drafts: DraftsOption = False,
    output: OutOption = None,
) -> None:
    """What each word of each finding says for or against each fault, in points."""
    from diagnose import report
    from diagnose.workshop.matrix import matrix, matrix_markdown, table_text, title

    how = form(how, output)
    book = sound_book(rules, drafts)
    m = matrix(book)
    if how == "json":
        text = json_text(m.to_dict(), output)
    elif how == "markdown":
        text = matrix_markdown(m)
    elif how == "html":
        from diagnose.workshop.bookpage import table_page

        text = table_page(m, book)
    else:
        width = columns(output)
        text = report.as_text([report.Block("answer", title(m))], width) + table_text(m, width)
    put_page(text, how, output)


@rules_app.command("compare")
def rules_compare(
    old: Annotated[
        str,
        typer.Argument(
            metavar="OLD",
            help="`shipped`, a folder of your own rules, a whole book, or several with + between: `book-2027+harbour-cooling`",
        ),
    ],
    new: Annotated[
        str | None, typer.Argument(metavar="NEW", help="the same; the rules in DIAGNOSE_RULES unless said")
    ] = None,
    cases: Annotated[
        Path | None, typer.Option("--cases", help="case file or folder; the shipped cases unless said")
    ] = None,
    drafts: DraftsOption = False,
    how: PageOption = None,
    output: OutOption = None,
) -> None:
    """Runs every case with both books: which answers change, how scores move, and what differs in the books.

    Leaves with 1 where a case that passed with OLD fails with NEW.
    """
    from diagnose.workshop.comparing import book_named, compare, comparison_page

    refuse_to_write(output)
    found = compare(book_named(old, drafts), book_named(new, drafts), cases)
    put_blocks(comparison_page(found), how, found.to_dict(), output)
    if found.broken:
        raise typer.Exit(1)


@rules_app.command("book")
def rules_book(
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="FILE.html", help="where to write it; - prints it", callback=to_file),
    ],
    rules: RulesOption = None,
    drafts: DraftsOption = False,
) -> None:
    """The whole rule book as one page, to be read in class or on a phone; it needs no network."""
    from diagnose.workshop.bookpage import book_page

    put_page(book_page(sound_book(rules, drafts)), "html", output)
