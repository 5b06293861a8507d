"""Checks of any web page that the program makes, for the tests of each of them.

They are those of WCAG 2.2 that a program can make: language and title (3.1.1, 2.4.2), headings in order (1.3.1, 2.4.6),
text for drawings (1.1.1), table heads (1.3.1), contrast (1.4.3), reflow at 320 px (1.4.10), focus for what scrolls (2.1.1).
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Mapping
from functools import lru_cache
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
ELSEWHERE = {"script", "link", "iframe", "object", "embed", "form", "base", "image", "use", "img"}
VOID = {"meta", "link", "br", "img", "hr", "input"}


@lru_cache(40)  # of one page many things are asked
class Page(HTMLParser):
    """Tags, headings, ids and references of a page; refuses tags that do not close in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[int] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "title"):
            self.words.append(data)

    @property
    def said(self) -> str:
        return " ".join("".join(self.words).split())


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""

    def light(colour: str) -> float:
        digits = colour[1:] if len(colour) == 7 else "".join(2 * d for d in colour[1:])
        parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((light(one), light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def has_language_title_and_headings_in_order(text: str) -> None:
    page = Page(text)
    assert ("html", {"lang": "en"}) in page.tags
    title = re.search(r"<title>(.+?)</title>", text)
    assert title
    assert " ".join(Page(f"<p>{title[1]}</p>").said.split()) in page.said
    levels = page.headings
    assert (levels[0], levels.count(1)) == (1, 1)
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert [tag for tag, _ in page.tags].count("main") == 1


def fetches_nothing_and_runs_nothing(text: str) -> None:
    tags = Page(text).tags
    assert not {tag for tag, _ in tags} & ELSEWHERE
    for tag, attributes in tags:
        assert not {"src", "srcset", "xlink:href", "data"} & attributes.keys(), tag
        assert not any(key.startswith("on") for key in attributes), tag
        assert (attributes.get("href") or "#").startswith("#")
    without = text.replace("http://www.w3.org/2000/svg", "")  # a name, never fetched
    assert not re.search(r"https?:|@import|javascript:|url\((?!#)", without)


def every_reference_leads_to_one_id(text: str) -> None:
    tags = Page(text).tags
    ids = [attributes["id"] for _, attributes in tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in tags:
        for key in ("href", "aria-labelledby", "aria-describedby"):
            for one in (attributes.get(key) or "").split():
                assert one.removeprefix("#") in ids, (tag, one)


def stands_by_itself(text: str) -> None:
    """A page that anybody can read from anywhere."""
    has_language_title_and_headings_in_order(text)
    fetches_nothing_and_runs_nothing(text)
    every_reference_leads_to_one_id(text)


def drawings_told_in_words(text: str) -> int:
    """How many drawings there are; each has a name, and says in words what it shows."""
    drawn = [attributes for tag, attributes in Page(text).tags if tag == "svg"]
    for attributes in drawn:
        assert attributes["role"] == "img"
        labels = (attributes.get("aria-labelledby") or "").split()
        assert len(labels) == 2
        for label in labels:
            words = re.search(rf'<(?:title|desc) id="{label}">(.+?)</(?:title|desc)>', text, re.S)
            assert words
            assert len(words[1]) > 10
    assert text.count("<figcaption>") == len(drawn)
    return len(drawn)


def tables_have_heads_and_can_be_scrolled(text: str) -> None:
    tables = re.findall(r"<table>(.*?)</table>", text, re.S)
    for table in tables:
        head, _, body = table.partition("</thead>")
        columns = head.count('<th scope="col">')
        assert columns >= 2
        for row in re.findall(r"<tr>(.*?)</tr>", body, re.S):
            assert row.count('<th scope="row"') == 1
            assert row.count("<td") == columns - 1
    scrolling = [a for tag, a in Page(text).tags if tag == "div" and a.get("class") == "wide"]
    assert len(scrolling) == len(tables)
    assert all(a.get("tabindex") == "0" and a.get("role") == "region" and a.get("aria-label") for a in scrolling)


def contrast_is_enough(text: str) -> None:
    """By day, by night and on paper. WCAG 2.2, 1.4.3: 4.5 to 1 for text, also on the ground of calculations."""
    themes = [dict(re.findall(r"--(\w+): (#\w+)", block)) for block in re.findall(r":root \{(.*?)\}", text)]
    assert len(themes) == 3
    for theme in themes:
        for ink in ("ink", "soft", "link"):
            for ground in ("paper", "tint"):
                assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground, theme)


InBrowser = Callable[[Callable[[Any], Any]], Any]
"""Calls what it is given with the one page of Playwright (`in_browser` of tests/conftest.py)."""


def _measured(wide: int, high: int, what: str, pages: Mapping[str, str], in_browser: InBrowser) -> dict[str, Any]:
    """The value of a script on a screen of that size, page by page."""

    def measure(page: Any) -> dict[str, Any]:
        page.set_viewport_size({"width": wide, "height": high})
        found = {}
        for name, text in pages.items():
            page.set_content(text)
            found[name] = page.evaluate(what)
        return found

    return in_browser(measure)


def no_wider_than(width: int, pages: Mapping[str, str], in_browser: InBrowser) -> None:
    """WCAG 2.2, 1.4.10."""
    what = "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    for name, (wide, room) in _measured(width, 600, what, pages, in_browser).items():
        assert width - 30 < room <= width
        assert wide <= room, name


def tallest(wide: int, high: int, what: str, pages: Mapping[str, str], in_browser: InBrowser) -> dict[str, int]:
    """Height in px of the tallest of the parts that a selector finds, on a screen of that size, page by page."""
    script = f"Math.max(...[...document.querySelectorAll('{what}')].map(e => e.scrollHeight))"
    return _measured(wide, high, script, pages, in_browser)


PAPERS = {"A4": ("210mm 297mm", 595.3, 841.9), "Letter": ("8.5in 11in", 612.0, 792.0)}


def sheets(text: str, paper: str, in_browser: InBrowser) -> int:
    """How many sheets it prints on, none of them wider than the paper (the media box is the paper's)."""
    size, wide, high = PAPERS[paper]
    sized = text.replace("@page { margin: 14mm; }", f"@page {{ margin: 14mm; size: {size}; }}")
    assert sized != text

    def printed(page: Any) -> bytes:
        page.set_content(sized)
        found: bytes = page.pdf(prefer_css_page_size=True)
        return found

    found = in_browser(printed)
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", found))
    assert len(boxes) == 1
    there = [float(x) for x in boxes.pop()]
    assert abs(there[0] - wide) < 1.5
    assert abs(there[1] - high) < 1.5
    return len(re.findall(rb"/Type /Page\b", found))
