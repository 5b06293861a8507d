"""Files made or broken to do harm: each gives one clear message, after little work, wherever a file is read."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from commands import run
from small_book import written
from work import THOROUGH, counting

from diagnose import yamlfile
from diagnose.rulebook import RuleError, load_rules

MOST_CALLS = 1_000_000  # 2,000 unknown names, each with its nearest known one, take half; a good book a fifth


def laughs(path: Path) -> None:
    """Nine lists, each of nine times the one before: three billion entries if anybody wrote them out."""
    lines = ["a0: &a0 [lol]"] + [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 10)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def many_aliases(path: Path) -> None:
    path.write_text("a: &a [x]\nb:\n" + "  - *a\n" * 140_000, encoding="utf-8")


def itself(path: Path) -> None:
    path.write_text("rules: &a [*a]\n", encoding="utf-8")


def hundred_megabytes(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(100_000_000)


def hundred_megabytes_of_text(path: Path) -> None:
    with path.open("wb") as file:
        file.write(b"rules:\n" + b"  - x\n" * 200_000)
        file.truncate(100_000_000)


def text(content: str | bytes) -> Callable[[Path], None]:
    data = content.encode() if isinstance(content, str) else content
    return lambda path: path.write_bytes(data) and None  # type: ignore[func-returns-value]


def link_to_itself(path: Path) -> None:
    path.symlink_to(path)


def two_links(path: Path) -> None:
    other = path.with_suffix(".other")
    other.symlink_to(path)
    path.symlink_to(other)


def link_to_nowhere(path: Path) -> None:
    path.symlink_to(path.parent / "nowhere")


def link_without_end(path: Path) -> None:
    path.symlink_to("/dev/zero")


HOSTILE: dict[str, tuple[Callable[[Path], None], str]] = {
    "anchors in anchors": (laughs, "anchors are not used in these files"),
    "an anchor used very often": (many_aliases, "anchors are not used in these files"),
    "an anchor in itself": (itself, "anchors are not used in these files"),
    "100 MB of nothing": (hundred_megabytes, "the file is larger than 2 MB"),
    "100 MB that begin as text": (hundred_megabytes_of_text, "the file is larger than 2 MB"),
    "a device without end": (link_without_end, "the file is larger than 2 MB"),
    "lists in lists": (text("a: " + "[" * 100_000), "lists and groups are nested deeper than 40"),
    "lists in lists, closed": (text("a: " + "[" * 5000 + "]" * 5000), "lists and groups are nested deeper than 40"),
    "groups in groups": (text("a: " + "{b: " * 100_000), "lists and groups are nested deeper than 40"),
    "groups by indentation": (
        text("".join(" " * i + "a:\n" for i in range(1500))),
        "lists and groups are nested deeper than 40",
    ),
    "lists by hyphens": (text("- " * 100_000), "lists and groups are nested deeper than 40"),
    "names of names": (text("? " * 100_000), "a group stands where a name is expected"),
    "NULs": (text(b"rules:\0\0\0"), "this is not a text file"),
    "a program": (text(b"\x7fELF\x02\x01\x01" + bytes(range(256)) * 100), "is not UTF-8"),
    "UTF-16": (text("rules: []".encode("utf-16")), "the file is saved as UTF-16"),
    "UTF-16 without its mark": (text("rules: []".encode("utf-16-le")), "this is not a text file"),
    "UTF-32": (text("rules: []".encode("utf-32")), "the file is saved as UTF-16"),
    "Latin-1": (text("rules: Kältemittel".encode("latin-1")), "byte 9 of the file is not UTF-8"),
    "half a character": (text("rules: ä".encode()[:-1]), "is not UTF-8"),
    "a bell and a cursor": (text("rules: \x07\x1b[2J"), "a character that cannot be printed stands here (U+0007)"),
    "text that runs backwards": (text('rules: "\\u202e"'), ""),
    "a very long line": (text("rules: " + "x" * 950_000 + ": y"), "this colon cannot stand here"),
    "a great gap": (text("rules:" + " " * 950_000 + "x"), ""),
    "a very long number": (text("rules: " + "9" * 500_000), "this number is too long"),
    "a program in a tag": (
        text("rules: !!python/object/apply:os.system ['touch HARM']"),
        "tags are not used in these files",
    ),
    "many tags": (text("rules:\n" + "  - !!int x\n" * 50_000), "tags are not used in these files"),
    "a merge": (text("rules: {<<: *a}"), "anchors are not used in these files"),
    "many names": (text("".join(f"a{i}: 1\n" for i in range(60_000))), "the file holds more than 20,000 names"),
    "thousands of names": (text("".join(f"a{i}: 1\n" for i in range(1_950))), ""),
    "one name many times": (text("a: 1\n" * 150_000), "`a` is written twice here"),
    "a link to itself": (link_to_itself, "this is a link that leads back to itself"),
    "two links in a ring": (two_links, "this is a link that leads back to itself"),
    "a link to nowhere": (link_to_nowhere, "there is no such file"),
    "a folder": (lambda path: path.mkdir(), "this is a folder"),
}

# Every file is read by `yamlfile.read`, which `test_read` gives them all; the doors to it differ only in what they make of a
# refusal, so each of them meets one file of each kind: no file, a link, too long, not text, read with one problem, with many.
KINDS = [
    "anchors in anchors", "100 MB of nothing", "a device without end", "UTF-16", "text that runs backwards",
    "a very long line", "many tags", "a link to itself", "a link to nowhere", "a folder",
]  # fmt: skip
MOST = "thousands of names"  # the most work, where names are looked up
DOOR = list(HOSTILE) if THOROUGH else [*KINDS, MOST]


@pytest.fixture(autouse=True)
def after_little_work(request: pytest.FixtureRequest) -> Iterator[None]:
    """Counted in function calls, and told where a file is read on and on: no clock, so no busy machine fails it.

    Counting doubles the work, so of the doors that are no other reading those with the most to do are counted.
    """
    if THOROUGH or request.function is test_read or MOST in request.node.name:
        with counting() as count:
            yield
        assert count.calls < MOST_CALLS
    else:
        yield


def command(*arguments: str) -> tuple[int, str]:
    code, out, err = run(*arguments)
    return code, out + err


def one_message(said: str, what: str, file: Path | str) -> None:
    """What is said begins with the file, names the reason, and is short enough to read."""
    assert what in said
    assert str(file) in said
    assert len(said) < 60_000
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f\u202e]", said)
    assert "Traceback" not in said
    assert "a mistake in the program" not in said


@pytest.mark.parametrize("name", HOSTILE)
def test_read(tmp_path: Path, name: str) -> None:
    make, what = HOSTILE[name]
    make(tmp_path / "x.yaml")
    try:
        yamlfile.read(tmp_path / "x.yaml")
    except yamlfile.InputProblems as error:
        one_message(str(error), what, tmp_path / "x.yaml")
        problems = error.problems
    else:
        problems = ()
        assert not what, "this was to be refused"
    if not name.startswith(("many tags", "one name")):  # there each place is to be mended
        assert len(problems) <= 1


@pytest.mark.parametrize("name", DOOR)
def test_examine(tmp_path: Path, name: str) -> None:
    HOSTILE[name][0](tmp_path / "visit.yaml")
    code, said = command("examine", str(tmp_path / "visit.yaml"))
    assert code == 2
    one_message(said, HOSTILE[name][1], tmp_path / "visit.yaml")


@pytest.mark.parametrize(
    ("file", "name"),
    [
        *(("rules.yaml", name) for name in DOOR),
        *(("faults/harbour-salt.yaml", name) for name in (HOSTILE if THOROUGH else KINDS[::4])),
    ],
)
def test_rules_check(tmp_path: Path, file: str, name: str) -> None:
    folder = tmp_path / "harbour"
    (folder / "faults").mkdir(parents=True)
    HOSTILE[name][0](folder / file)
    with pytest.raises(RuleError) as caught:
        load_rules(written(tmp_path / "rules"), folder)
    one_message(str(caught.value), HOSTILE[name][1], f"harbour/{file}")
    if file == "rules.yaml" and name in ("many tags", "a folder", "a very long line"):  # as the command tells it
        code, said = command("rules", "check", str(folder))
        assert code == 2
        one_message(said, HOSTILE[name][1], f"harbour/{file}")


@pytest.mark.parametrize("name", DOOR)
def test_a_whole_book(tmp_path: Path, name: str) -> None:
    """One file of it is hostile; nothing is said about what the others miss in it."""
    book = written(tmp_path / "rules")
    (book / "findings.yaml").unlink()
    HOSTILE[name][0](book / "findings.yaml")
    with pytest.raises(RuleError) as caught:
        load_rules(book)
    assert {problem.file for problem in caught.value.problems} == {"rules/findings.yaml"}
    one_message(str(caught.value), HOSTILE[name][1], "rules/findings.yaml")


@pytest.mark.parametrize("name", DOOR)
def test_cases_run(tmp_path: Path, name: str) -> None:
    (tmp_path / "demo").mkdir()
    HOSTILE[name][0](tmp_path / "demo" / "case.yaml")
    for where in (tmp_path, tmp_path / "demo" / "case.yaml"):
        code, said = command("cases", "run", str(where))
        assert code == 2
        if not (where.is_dir() and name == "a folder"):  # a folder of cases may be called anything
            one_message(
                said, "" if name.startswith(("a link", "two links", "a device")) else HOSTILE[name][1], "case.yaml"
            )


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a refusal of ours, because root may read anything."""
    (tmp_path / "harbour").mkdir()
    (tmp_path / "harbour" / "rules.yaml").write_text("rules: []\n", encoding="utf-8")
    real = open

    def refuse(path: object, *rest: object, **more: object) -> object:
        if str(path).endswith(("harbour/rules.yaml", "visit.yaml")):
            raise PermissionError(13, "Permission denied")
        return real(path, *rest, **more)  # type: ignore[call-overload]

    monkeypatch.setattr("builtins.open", refuse)
    code, said = command("rules", "check", str(tmp_path / "harbour"))
    assert (code, said) == (
        2,
        "harbour/rules.yaml: you may not read this file\n      Ask for the right to read it, or copy it.\n",
    )
    assert command("examine", "visit.yaml") == (
        2,
        "visit.yaml: you may not read this file\n      Ask for the right to read it, or copy it.\n",
    )


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read anything")
def test_a_file_without_the_right_to_read_it(tmp_path: Path) -> None:
    path = tmp_path / "visit.yaml"
    path.write_text("machine: {}\n", encoding="utf-8")
    path.chmod(0)
    code, said = command("examine", str(path))
    assert code == 2
    assert "you may not read this file" in said


def test_a_link_around_the_folder_of_cases(tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "again").symlink_to(tmp_path)
    code, said = command("cases", "run", str(tmp_path))
    assert code == 2
    assert "there is no case here" in said


def test_a_link_around_a_folder_of_rules(tmp_path: Path) -> None:
    (tmp_path / "harbour").symlink_to(tmp_path / "harbour")
    code, said = command("rules", "check", str(tmp_path / "harbour"))
    assert code == 2
    assert "there is no such folder of rules" in said


def test_a_pipe_nobody_writes_to_is_not_waited_for(tmp_path: Path) -> None:
    (tmp_path / "harbour").mkdir()
    os.mkfifo(tmp_path / "harbour" / "rules.yaml")
    code, said = command("rules", "check", str(tmp_path / "harbour"))
    assert code == 2
    assert said.startswith("harbour/rules.yaml: this is not a file\n")
