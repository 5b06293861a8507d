"""Lessons as web pages: read by anybody, from anywhere, on paper and on a phone.

The checks are those of WCAG 2.2 that a program can make: language and title (3.1.1, 2.4.2), headings in order (1.3.1,
2.4.6), text for drawings (1.1.1), table heads (1.3.1), contrast (1.4.3), reflow at 320 px (1.4.10), focus for what
scrolls (2.1.1). Nothing is fetched.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest
from test_rulebook_page import Page, contrast

from diagnose import examine, load_rules
from diagnose.html import slug
from diagnose.lessons import fault_page, five_questions_page, glossary_page, lesson_page
from diagnose.report import Block
from diagnose.report.webpage import own_ids, web_page
from diagnose.shipped import shipped

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


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


@lru_cache(maxsize=16)
def page(name: str) -> Page:
    return Page(made(name))


every = pytest.mark.parametrize("name", MADE)


@every
def test_language_title_and_one_heading_above_all(name: str) -> None:
    assert ("html", {"lang": "en"}) in page(name).tags
    title = re.search(r"<title>(.+?)</title>", made(name))
    assert title
    assert title[1] in page(name).said
    levels = page(name).headings
    assert (levels[0], levels.count(1)) == (1, 1)
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert [tag for tag, _ in page(name).tags].count("main") == 1


@every
def test_nothing_comes_from_elsewhere_and_nothing_runs(name: str) -> None:
    tags = page(name).tags
    assert not {tag for tag, _ in tags} & {
        "script",
        "link",
        "iframe",
        "object",
        "embed",
        "form",
        "base",
        "image",
        "use",
    }
    for tag, attributes in tags:
        assert not {"src", "srcset", "xlink:href", "data"} & attributes.keys(), tag
        assert not any(key.startswith("on") for key in attributes), tag
        assert (attributes.get("href") or "#").startswith("#")
    without = made(name).replace("http://www.w3.org/2000/svg", "")  # a name, never fetched
    assert not re.search(r"https?:|@import|javascript:|url\((?!#)", without)


@every
def test_ids_are_unique_and_every_reference_leads_to_one(name: str) -> None:
    ids = [attributes["id"] for _, attributes in page(name).tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in page(name).tags:
        for key in ("href", "aria-labelledby", "aria-describedby"):
            for one in (attributes.get(key) or "").split():
                assert one.removeprefix("#") in ids, (tag, one)


def test_drawings_have_a_name_and_are_told_in_words() -> None:
    told = 0
    for name in MADE:
        drawn = [attributes for tag, attributes in page(name).tags if tag == "svg"]
        told += len(drawn)
        for attributes in drawn:
            assert attributes["role"] == "img"
            labels = (attributes.get("aria-labelledby") or "").split()
            assert len(labels) == 2
            for label in labels:
                words = re.search(rf'<(?:title|desc) id="{label}">(.+?)</(?:title|desc)>', made(name), re.S)
                assert words
                assert len(words[1]) > 10
        assert made(name).count("<figcaption>") == len(drawn)
    assert told >= 8


@every
def test_tables_have_heads_for_rows_and_columns(name: str) -> None:
    tables = re.findall(r"<table>(.*?)</table>", made(name), re.S)
    for table in tables:
        head, _, body = table.partition("</thead>")
        columns = head.count('<th scope="col">')
        assert columns >= 2
        for row in re.findall(r"<tr>(.*?)</tr>", body, re.S):
            assert row.count('<th scope="row">') == 1
            assert row.count("<td>") == columns - 1
    scrolling = [a for tag, a in page(name).tags if tag == "div" and a.get("class") == "wide"]
    assert len(scrolling) == len(tables)
    assert all(a.get("tabindex") == "0" and a.get("role") == "region" and a.get("aria-label") for a in scrolling)


def test_contrast_by_day_by_night_and_on_paper() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text, also on the ground of calculations."""
    themes = [dict(re.findall(r"--(\w+): (#\w+)", block)) for block in re.findall(r":root \{(.*?)\}", made("orifice"))]
    assert len(themes) == 3
    for theme in themes:
        for ink in ("ink", "soft", "link"):
            for ground in ("paper", "tint"):
                assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground, theme)


def test_long_pages_begin_with_their_contents() -> None:
    heads = [b.text for b in fault_page("liquid-line-restriction", load_rules()) if b.kind == "heading"]
    for head in heads:
        assert f'<a href="#{slug(head)}">' in made("fault")
        assert f'<h2 id="{slug(head)}">' in made("fault")


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
    assert "<dt>word</dt>" in text
    assert Page(text).said.endswith("the end")


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine: the checks above need none")
@pytest.mark.parametrize("width", [320, 360])
def test_no_page_is_wider_than_a_phone(tmp_path: Path, width: int) -> None:
    """WCAG 2.2, 1.4.10. Each page stands in a frame of that width; a script outside it measures, for they have none."""
    frames = []
    for i, name in enumerate(MADE):
        (tmp_path / f"{i}.html").write_text(made(name), encoding="utf-8")
        frames.append(f'<iframe id="f{i}" src="{i}.html" width="{width}" height="600" style="border:0"></iframe>')
    (tmp_path / "all.html").write_text(
        f"<!doctype html><body>{''.join(frames)}<p id=said></p><script>onload = () => {{"
        "document.getElementById('said').textContent = [...document.querySelectorAll('iframe')].map(f => f.id + '=' +"
        "f.contentDocument.documentElement.scrollWidth + '/' + f.contentDocument.documentElement.clientWidth).join(' ')"
        "}</script>",
        encoding="utf-8",
    )
    assert CHROMIUM is not None
    command = [CHROMIUM, "--headless=new", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files"]
    command += [f"--user-data-dir={tmp_path / 'profile'}", "--virtual-time-budget=5000", "--dump-dom"]
    done = subprocess.run(
        [*command, (tmp_path / "all.html").as_uri()], capture_output=True, text=True, timeout=120, check=False
    )
    measured = re.findall(r"f(\d+)=(\d+)/(\d+)", done.stdout)
    assert len(measured) == len(MADE), done.stderr[-2000:]
    for i, wide, room in measured:
        assert int(room) > width - 30
        assert int(wide) <= int(room), list(MADE)[int(i)]


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
@pytest.mark.parametrize(("paper", "size"), [("A4", "210mm 297mm"), ("Letter", "8.5in 11in")])
def test_it_prints(tmp_path: Path, paper: str, size: str) -> None:
    """On either paper: some pages, none of them wider than the sheet (the media box is the paper's)."""
    text = made("fault").replace("@page { margin: 14mm; }", f"@page {{ margin: 14mm; size: {size}; }}")
    assert text != made("fault")
    (tmp_path / "lesson.html").write_text(text, encoding="utf-8")
    assert CHROMIUM is not None
    command = [CHROMIUM, "--headless=new", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}"]
    command += ["--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'out.pdf'}", (tmp_path / "lesson.html").as_uri()]
    subprocess.run(command, capture_output=True, timeout=120, check=False)
    found = (tmp_path / "out.pdf").read_bytes()
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", found))
    assert len(boxes) == 1
    wide, high = (float(x) for x in boxes.pop())
    want = (595.3, 841.9) if paper == "A4" else (612.0, 792.0)
    assert abs(wide - want[0]) < 1.5
    assert abs(high - want[1]) < 1.5
    assert 3 <= len(re.findall(rb"/Type /Page\b", found)) <= 12
