"""The rule book as a page: whole, self-contained, in order, and readable by anybody."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from commands import run
from overlay import NEW_POINTS, POINTS, overlay
from webpages import InBrowser, Page, contrast_is_enough

from diagnose.report.html import slug
from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.workshop.bookpage import WORDS, book_page, table_page
from diagnose.workshop.matrix import matrix


@cache
def text() -> str:
    return book_page(load_rules())


PAGES = {"book": text, "table": cache(lambda: table_page(matrix(load_rules()), load_rules()))}


@pytest.mark.parametrize("name", PAGES)
def test_headings_go_down_one_step_at_a_time(name: str) -> None:
    levels = Page(PAGES[name]()).headings
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@pytest.mark.parametrize("name", PAGES)
def test_nothing_comes_from_elsewhere_and_only_the_search_runs(name: str) -> None:
    page = Page(PAGES[name]())
    scripts = [attributes for tag, attributes in page.tags if tag == "script"]
    assert scripts == ([{}] if name == "book" else [])
    assert not {tag for tag, _ in page.tags} & {"link", "img", "iframe", "object", "embed", "form", "base"}
    for tag, attributes in page.tags:
        assert not {"src", "srcset", "style", "data"} & attributes.keys(), tag
        assert not any(key.startswith("on") for key in attributes), tag
        assert (attributes.get("href") or "#").startswith("#")
    assert not re.search(r"https?:|url\(|@import|javascript:", PAGES[name]())
    assert ("html", {"lang": "en"}) in page.tags
    assert any(tag == "meta" and attributes.get("name") == "viewport" for tag, attributes in page.tags)


def test_without_a_script_an_index_leads_to_every_fault_finding_state_and_check() -> None:
    book, index = load_rules(), text().partition("<summary>Index")[2].partition("</nav>")[0]
    for kind, names in (
        ("fault", book.faults),
        ("finding", book.findings),
        ("state", book.states),
        ("check", book.checks),
    ):
        assert not [name for name in names if f'href="#{kind}-{slug(name)}"' not in index]


def test_every_link_leads_somewhere_and_ids_are_unique() -> None:
    page = Page(text())
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in page.tags:
        for key in ("href", "aria-labelledby"):
            target = (attributes.get(key) or "").removeprefix("#")
            assert not target or target in ids, (tag, target)


def test_every_fault_rule_finding_state_check_and_source_is_in_it(book: Rulebook) -> None:
    page = Page(text())
    said = page.said
    ids = {attributes.get("id") for _, attributes in page.tags}
    for kind, names in (
        ("rule", book.by_id), ("fault", book.faults), ("finding", book.findings), ("state", book.states),
        ("check", book.checks), ("source", book.sources),
    ):  # fmt: skip
        assert {f"{kind}-{slug(name)}" for name in names} <= ids
    for fault in book.faults.values():
        assert fault.what in said
        assert fault.name in said
        for alike in fault.looks_like.values():
            assert alike in said
    for rule in book.rules:
        assert rule.entry.title in said
        assert re.sub(r"[{}]", "", rule.entry.why) in said
    assert said.count("It stays quiet on") == sum(t.quiet is not None for r in book.rules for t in r.entry.tests)


def test_limits_stand_in_it_with_their_si(book: Rulebook) -> None:
    said = Page(text()).said
    assert re.search(r"below −\d+ °F \(−\d+\.\d K\)", said)
    assert re.search(r"\d °F \(\d+\.\d K\) and above", said)
    assert "Judged by its value (metering TXV or EEV)" in said
    for scale in (scale for finding in book.findings.values() for scale in finding.scales):
        for limit in scale.limits_written:
            assert str(limit).replace("-", "−").replace(" F", " °F") in said


def test_the_nine_words_are_those_of_the_readme() -> None:
    readme = (shipped("rules") / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\w+) \| (.+) \|$", readme, re.M)
    listed = {word: meaning.replace('"nothing wrong"', "“nothing wrong”") for word, meaning in rows}
    assert len(WORDS) == 9
    for word, meaning in WORDS:
        assert listed[word] == meaning


def test_it_can_be_read_by_day_by_night_and_on_paper() -> None:
    contrast_is_enough(text())
    assert "prefers-color-scheme: dark" in text()
    assert "@media print" in text()


def test_what_a_company_writes_is_shown_as_text(tmp_path: Path) -> None:
    folder = overlay(tmp_path)
    rules = folder / "rules.yaml"
    rules.write_text(
        rules.read_text(encoding="utf-8").replace(
            "The fins are eaten", "<script>alert(1)</script> & the fins are eaten"
        ),
        encoding="utf-8",
    )
    page = book_page(load_rules(folder))
    assert page.count("<script") == 1  # the search
    said = Page(page).said
    assert "<script>alert(1)</script> & the fins are eaten by salt" in said
    assert "Added by harbour-cooling." in said
    assert (
        f"Points changed by harbour-cooling on 2026-05-01 from {POINTS:g} to {NEW_POINTS:g}: many long lines here."
        in said
    )
    assert "Changes to the shipped book" in said


def test_the_command(tmp_path: Path) -> None:
    target = tmp_path / "book.html"
    done = run("rules", "book", "-o", str(target))
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith(f"Written: {target}, ")
    assert target.read_text(encoding="utf-8") == text()
    assert target.stat().st_size < 1_600 * len(load_rules().rules)


def test_chapters_are_folded_and_each_rule_says_which_it_contains() -> None:
    page = text()
    assert page.count('<details class="chapter">') == 8
    assert "open" not in re.findall(r"<details[^>]*>", page)
    box = page[page.index('id="rule-non-condensables-hot-and-full"') :].partition("</article>")[0]
    assert 'Contains, and its points replace theirs: <a href="#rule-non-condensables-hot">' in box
    other = page[page.index('id="rule-non-condensables-hot"') :].partition("</article>")[0]
    assert '<a href="#rule-non-condensables-hot-and-full">' in other.partition("Contained in")[2]
    assert page.count("<details") == page.count("</details>")


def test_the_search_and_the_links_on_a_phone(tmp_path: Path, in_browser: InBrowser) -> None:
    (tmp_path / "book.html").write_text(text(), encoding="utf-8")
    (tmp_path / "table.html").write_text(PAGES["table"](), encoding="utf-8")
    wrong: list[object] = []

    def look(page: Any) -> None:
        page.set_viewport_size({"width": 360, "height": 740})
        page.on("pageerror", lambda error: wrong.append(error))
        page.goto((tmp_path / "book.html").as_uri())
        size = "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
        wide, high = page.evaluate(size)
        assert wide <= 360
        assert high < 4000
        page.fill("#sought", "standing pressure saturation")
        assert re.match(r"[1-9]\d* rules have all of these words", page.inner_text("#found"))
        assert page.locator("article:visible").count() > 0
        assert not page.locator("#rule-low-charge-oil").is_visible()
        page.fill("#sought", "zzz")
        assert page.inner_text("#found").startswith("0 rules")
        assert page.locator("article:visible").count() == 0
        page.fill("#sought", "")
        assert page.evaluate(size)[1] == high
        page.evaluate("location.hash = '#rule-low-charge-oil'")
        page.locator("#rule-low-charge-oil").wait_for(state="visible")
        page.goto((tmp_path / "table.html").as_uri())
        assert page.evaluate(size)[0] <= 360
        cell = page.locator("td.figure").first.bounding_box()
        assert cell["x"] + cell["width"] <= 360  # the first figures are not cut off

    in_browser(look)
    assert not wrong
