"""Lessons as web pages: read by anybody, from anywhere, on paper and on a phone. `webpages.py` has the checks."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

import pytest
from webpages import (
    PAPERS,
    InBrowser,
    Page,
    contrast_is_enough,
    drawings_told_in_words,
    no_wider_than,
    sheets,
    stands_by_itself,
    tables_have_heads_and_can_be_scrolled,
)
from work import THOROUGH

from diagnose import examine, load_rules
from diagnose.lessons import fault_page, five_questions_page, glossary_page, lesson_page
from diagnose.report import Block, heading
from diagnose.report.html import slug
from diagnose.report.webpage import own_ids, web_page
from diagnose.shipped import shipped


def _visit(name: str) -> str:
    return web_page(lesson_page(examine(shipped("cases") / "demo" / f"{name}.yaml")))


MADE: dict[str, Callable[[], str]] = {
    "fault": lambda: web_page(fault_page("liquid-line-restriction", load_rules())),
    "nothing wrong": lambda: web_page(fault_page("nothing-wrong", load_rules())),
    "orifice": lambda: _visit("low-charge-orifice"),
    "valve, SI": lambda: _visit("si-low-charge"),
    "blend": lambda: _visit("r407c-nothing-wrong"),
    "two readings": lambda: _visit("only-two-readings"),
    "five questions": lambda: web_page(five_questions_page(load_rules())),
    "glossary": lambda: web_page(glossary_page(load_rules())),
}


@lru_cache(maxsize=16)
def made(name: str) -> str:
    return MADE[name]()


every = pytest.mark.parametrize("name", MADE)


@every
def test_a_page_by_itself(name: str) -> None:
    stands_by_itself(made(name))


def test_drawings_have_a_name_and_are_told_in_words() -> None:
    assert sum(drawings_told_in_words(made(name)) for name in MADE) >= 8


@every
def test_tables_have_heads_for_rows_and_columns(name: str) -> None:
    tables_have_heads_and_can_be_scrolled(made(name))


def test_contrast_by_day_by_night_and_on_paper() -> None:
    contrast_is_enough(made("orifice"))


def test_long_pages_begin_with_their_contents() -> None:
    heads = [b.text for b in fault_page("liquid-line-restriction", load_rules()) if b.kind == "heading"]
    for head in heads:
        assert f'<a href="#{slug(head)}">' in made("fault")
        assert f'<h2 id="{slug(head)}">' in made("fault")


def test_they_can_be_left_out() -> None:
    assert "<nav" in made("fault")
    assert "<nav" not in web_page(fault_page("liquid-line-restriction", load_rules()), contents=False)


def test_under_take_care_not_every_item_says_so() -> None:
    hot = Block("item", "hot", "!")
    said = [
        Page(web_page([Block("answer", "All"), head, hot])).said
        for head in (heading("Take care", "care"), heading("Next"))
    ]
    assert said == ["All Take care hot", "All Next Take care. hot"]


def test_what_a_visit_says_is_shown_as_text() -> None:
    visit = {
        "machine": {"name": "<script>alert(1)</script>", "refrigerant": "R-410A"},
        "readings": {"airflow": "900 cfm"},
    }
    text = web_page(lesson_page(examine(visit)))
    assert "<script" not in text
    assert "<script>alert(1)</script>" in Page(text).said


def test_two_drawings_of_a_kind_keep_their_own_ids() -> None:
    svg = '<svg aria-labelledby="a-title a-words"><title id="a-title">t</title><desc id="a-words">d</desc>'
    svg += '<g fill="url(#a)" id="a"/></svg>'
    text = web_page([Block("answer", "Two"), Block("figure", "w", "t", svg=svg), Block("figure", "w", "t", svg=svg)])
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids)) == 6
    assert own_ids(svg, "x-").count("x-") == 6


def test_lists_sums_and_terms_keep_their_order() -> None:
    blocks = [
        Block("answer", "All"),
        Block("item", "one", "1."),
        Block("deeper", "under one", level=1),
        Block("deeper", "under that", level=3),
        Block("deeper", "again under one", level=1),
        Block("item", "two", "2."),
        Block("item", "dash"),
        Block("item", "hot", "!"),
        Block("sum", "1 + 1 = 2", "US"),
        Block("term", "meaning", "word"),
        Block("foot", "the end"),
    ]
    text = web_page(blocks)
    assert (
        text.index("<ol>")
        < text.index("under one")
        < text.index("</ol>")
        < text.index("dash")
        < text.index("Take care.")
    )
    lines = re.sub(r"\s*\n\s*", "", text)
    assert "<li>under one<ul><li>under that</li></ul></li><li>again under one</li></ul></li><li>two</li>" in lines
    assert "<dt>word</dt>" in text
    assert Page(text).said.endswith("the end")


@pytest.mark.parametrize("width", [320, 360] if THOROUGH else [320])
def test_no_page_is_wider_than_a_phone(in_browser: InBrowser, width: int) -> None:
    no_wider_than(width, {name: made(name) for name in MADE}, in_browser)


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints(in_browser: InBrowser, paper: str) -> None:
    assert 3 <= sheets(made("fault"), paper, in_browser) <= 12
