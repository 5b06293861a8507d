"""What the READMEs quote of shipped files stands there, line for line, and the points they speak of are those of the book.

A block below a line that ends with "From `file`:" is a quote of that file of rules/ or cases/: its lines stand there in this
order and at this depth. A line of dots stands for lines left out, and a line that breaks off with … for its beginning.
Any other block is an example of its writer's own, and may not show a rule under the id of a shipped one.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from shared import examined

from diagnose.lessons import lesson_page
from diagnose.report import as_text
from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped

ROOT = Path(__file__).parent.parent
TEXTS = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "rules/README.md", "cases/README.md", "DEVELOPERS.md")
}
BLOCK = re.compile(r"^(?:[^\n]*\b[Ff]rom `([\w/.-]+\.yaml)`:\n+)?```yaml\n(.*?)^```$", re.M | re.S)
BLOCKS = [(name, *found) for name, text in TEXTS.items() for found in BLOCK.findall(text)]
QUOTES = [(name, file, block) for name, file, block in BLOCKS if file]
EXAMPLES = [(name, block) for name, file, block in BLOCKS if not file]
WORTH = re.compile(r"`([a-z-]+/[a-z-]+)`\)?\s+(?:is worth|has|gives)\s+(−?[\d.]+\d|\d)\s+points?")


def missing(block: str, text: str) -> str | None:
    """The first line of a quote that does not come next in the text; None where all do."""
    lines, at, gap = text.splitlines(), 0, True
    for quoted in block.splitlines():
        if quoted.strip() in ("...", "…"):
            gap = True
            continue
        whole = not quoted.rstrip('"}').endswith("…")
        wanted = quoted if whole else quoted.rstrip('"}').removesuffix("…").rstrip()
        places = range(at, len(lines) if gap else min(at + 1, len(lines)))
        found = next((i for i in places if (lines[i] == wanted if whole else lines[i].startswith(wanted))), None)
        if found is None:
            return quoted
        at, gap = found + 1, False
    return None


@pytest.mark.parametrize(("name", "file", "block"), QUOTES, ids=[f"{name} {file}" for name, file, _ in QUOTES])
def test_a_quote_stands_in_its_file(name: str, file: str, block: str) -> None:
    places = [path for path in (shipped("rules") / file, shipped("cases") / file, ROOT / file) if path.is_file()]
    assert places, f"{name}: there is no {file}"
    assert missing(block, places[0].read_text(encoding="utf-8")) is None


def test_there_are_quotes() -> None:
    assert {name for name, _, _ in QUOTES} >= {"rules/README.md"}


@pytest.mark.parametrize(("name", "block"), EXAMPLES, ids=range(len(EXAMPLES)))
def test_a_shipped_rule_is_shown_only_as_a_quote(name: str, block: str, book: Rulebook) -> None:
    assert not set(re.findall(r"\bid: ([a-z/-]+)", block)) & set(book.by_id)


@pytest.mark.parametrize("name", TEXTS)
def test_points_that_are_spoken_of_are_those_of_the_book(name: str, book: Rulebook) -> None:
    for rule, points in WORTH.findall(TEXTS[name]):
        assert book.by_id[rule].points == float(points.replace("−", "-")), rule


def test_the_lesson_shown_is_part_of_one() -> None:
    shown = re.search(r"```text\n(.*?)```", TEXTS["cases/README.md"], re.S)
    assert shown[1] in as_text(lesson_page(examined("demo/low-charge-orifice")))


@pytest.mark.parametrize(
    ("block", "first"),
    [
        ("a: 1\nb: 2\n", None),
        ("b: 2\n", None),
        ("a: 2\n", "a: 2"),
        ("a: 1\nc: a long text\n", "c: a long text"),
        ("a: 1\n…\nc: a long text\n", None),
        ("b: 2\nc: a long …\n", None),
        ("b: 2\n…\na: 1\n", "a: 1"),
    ],
)
def test_lines_stand_in_their_order(block: str, first: str | None) -> None:
    assert missing(block, "a: 1\nb: 2\nc: a long text\n") == first
