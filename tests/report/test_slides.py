"""Lessons as slides: one idea a screen, answers hidden, nothing lost of what is taught."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

import pytest
from commands import run
from shared import DEMO
from webpages import InBrowser, Page, no_wider_than, stands_by_itself, tallest

from diagnose import examine, load_rules
from diagnose.lessons import fault_page, five_questions_page, heating_page, lesson_page
from diagnose.report import Block
from diagnose.report.slides import LETTERS, slides, slides_page

LESSONS = ("liquid-line-restriction", "overcharge", "compressor-not-running", "heating", "five questions", "visit")


@lru_cache(maxsize=8)
def blocks(name: str) -> list[Block]:
    rules = load_rules()
    if name == "heating":
        return heating_page(rules)
    if name == "five questions":
        return five_questions_page(rules)
    if name == "visit":
        return lesson_page(examine(DEMO / "low-charge-orifice.yaml", rules))
    return fault_page(name, rules)


def plain(text: str) -> str:
    """Without line breaks and spaces that do not break."""
    return " ".join(text.split())


every = pytest.mark.parametrize("name", LESSONS)


@every
def test_a_page_by_itself(name: str) -> None:
    text = slides_page(blocks(name))
    stands_by_itself(text)


@every
def test_nothing_that_is_taught_is_lost_and_every_idea_stands_whole(name: str) -> None:
    said = plain(Page(slides_page(blocks(name))).said)
    head = ""
    for block in blocks(name):
        head = block.mark if block.kind == "heading" else head
        if block.kind in ("line", "item", "deeper", "sum"):
            assert head == "reference" or plain(block.text) in said, block


@every
def test_one_slide_holds_no_more_than_can_be_read(name: str) -> None:
    for slide in slides(blocks(name)):
        assert slide.lines or slide.rows or slide.svg or slide.answer
        assert len(slide.lines) <= 10
        letters = sum(len(lead) + len(text) for lead, text in slide.lines)
        assert letters <= LETTERS or len(slide.lines) <= 2
        assert not (slide.lines and slide.lines[-1][1].endswith(":")) or slide.rows, slide.title


def test_answers_are_hidden_and_belong_to_their_question() -> None:
    entry = load_rules().faults["liquid-line-restriction"].lesson
    asked = [s for s in slides(blocks("liquid-line-restriction")) if s.title.startswith("Question")]
    assert [(plain(s.lines[0][1]), plain(s.answer)) for s in asked] == [
        (plain(q.ask), plain(q.answer)) for q in entry.questions
    ]
    text = slides_page(blocks("liquid-line-restriction"))
    assert text.count("<summary>Answer</summary>") == len(asked)
    outside = re.sub(r"<details>.*?</details>", "", text, flags=re.S)
    assert not any(s.answer[:40] in outside for s in asked)


def test_the_first_screen_is_the_title_with_what_the_fault_is() -> None:
    first = slides(blocks("overcharge"))[0]
    assert first.title == "Lesson: Refrigerant overcharge"
    assert first.lines[0][1].replace("\u00a0", " ") == plain(load_rules().faults["overcharge"].what)


def test_a_long_table_goes_on_under_its_head() -> None:
    rows = (("reading", "value"), *((f"reading {i}", "7") for i in range(20)))
    found = slides([Block("answer", "T"), Block("heading", "Readings"), Block("rows", rows=rows)])[1:]
    assert len(found) == 3
    assert all(s.rows[0] == rows[0] for s in found)
    assert [row for s in found for row in s.rows[1:]] == list(rows[1:])


def test_the_command_writes_them(tmp_path: Path) -> None:
    out = tmp_path / "slides.html"
    done = run("lesson", "overcharge", "--as", "slides", "-o", str(out))
    assert done.exit_code == 0, done.stderr
    assert out.read_text(encoding="utf-8").count('class="slide"') == len(slides(blocks("overcharge")))
    done = run("lesson", "overcharge", "--as", "slide")
    assert done.exit_code == 2


def test_each_fits_a_projector_and_a_phone(in_browser: InBrowser) -> None:
    """1280 by 720 is what most projectors and shared screens show at least; common practice, no source."""
    pages = {name: slides_page(blocks(name)) for name in LESSONS}
    no_wider_than(360, pages, in_browser)
    for name, high in tallest(1280, 720, ".slide", pages, in_browser).items():
        assert high <= 724, name
