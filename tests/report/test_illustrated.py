"""A diagnosis as a web page: the same words as on a terminal, with the drawings that the readings allow."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from commands import run
from shared import DEMO, PARTS, blocks, examined
from webpages import (
    PAPERS,
    InBrowser,
    Page,
    contrast_is_enough,
    drawings_told_in_words,
    every_reference_leads_to_one_id,
    fetches_nothing_and_runs_nothing,
    has_language_title_and_headings_in_order,
    no_wider_than,
    sheets,
    tables_have_heads_and_can_be_scrolled,
)
from work import THOROUGH

from diagnose import examine
from diagnose.diagnosis.pipeline import Diagnosis
from diagnose.report import Block, first_screen
from diagnose.report.drawings import NoDrawing, pressure_enthalpy, schematic, superheat_chart
from diagnose.report.field import held_short
from diagnose.report.following import next_page
from diagnose.report.illustrated import illustrated_page
from diagnose.report.layout import together
from diagnose.report.sentences import said
from diagnose.report.trace import why_page
from diagnose.report.webpage import web_page

SOME = PARTS[2]
LOW = DEMO / "low-charge-orifice.yaml"


def demo(name: str) -> Diagnosis:
    return examined(f"demo/{name}")


@cache
def blocks_of(name: str) -> list[Block]:
    return illustrated_page(demo(name))


@cache
def _page(name: str) -> str:
    return web_page(blocks_of(name), contents=False)


MADE: dict[str, Callable[[], str]] = {
    "orifice": lambda: _page("low-charge-orifice"),
    "valve, SI": lambda: _page("si-low-charge"),
    "blend": lambda: _page("r407c-nothing-wrong"),
    "not ready": lambda: _page("swapped-pressures"),
    "two readings": lambda: _page("only-two-readings"),
    "heating": lambda: _page("heating-mode"),
    "baseline": lambda: _page("baseline-overcharge-orifice"),
    "why": lambda: web_page(why_page(demo("low-charge-orifice"), "low-charge"), contents=False),
    "next": lambda: web_page(next_page(demo("low-charge-orifice")), contents=False),
}


@cache
def made(name: str) -> str:
    return MADE[name]()


# -- the page ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MADE)
def test_it_can_be_read_by_anybody(name: str) -> None:
    text = made(name)
    has_language_title_and_headings_in_order(text)
    fetches_nothing_and_runs_nothing(text)
    every_reference_leads_to_one_id(text)
    tables_have_heads_and_can_be_scrolled(text)
    contrast_is_enough(text)
    drawings_told_in_words(text)


@pytest.mark.parametrize("name", SOME)
def test_it_says_all_that_the_terminal_says(name: str) -> None:
    d = demo(name)
    page = Page(_page(name)).said
    for block in blocks(f"demo/{name}"):
        wanted = [cell for row in block.rows for cell in row] or [block.text]
        if block.kind == "answer":
            wanted = [part.text for part in first_screen(d)[:-1] if not (d.held and part.kind == "answer")]
            wanted += [held_short(d), said(d, d.held[0])] if d.held else []
        for text in wanted:
            assert " ".join(together(text).replace("`", "").split()) in page


@pytest.mark.parametrize("name", SOME)
def test_every_drawing_that_the_readings_allow_and_no_other(name: str) -> None:
    """The charge goes by target superheat only where the drawing can be made; a visit that is not ready has no charge."""
    d = demo(name)
    drawn = [block.svg for block in blocks_of(name) if block.kind == "figure"]
    possible = [superheat_chart(d)] if d.status == "diagnosed" else []
    possible += [schematic(d), pressure_enthalpy(d)]
    assert drawn == [one.svg for one in possible if not isinstance(one, NoDrawing)]


def test_some_demo_has_each_number_of_drawings() -> None:
    assert {drawings_told_in_words(_page(name)) for name in SOME} == {1, 2, 3}


def test_no_heading_where_there_is_nothing_to_draw() -> None:
    d = examine({"machine": {"mode": "heating"}, "seen": {"air filter": "dirty"}})
    assert not [block for block in illustrated_page(d) if block.kind == "figure" or block.text == "Drawings"]


def test_drawings_stand_where_they_are_needed() -> None:
    heads: dict[str, list[str]] = {}
    for block in blocks_of("low-charge-orifice"):
        if block.kind == "heading":
            now = heads.setdefault(block.text, [])
        elif block.kind == "figure":
            now.append(block.mark)
    with_drawings = {head: titles for head, titles in heads.items() if titles}
    assert list(with_drawings) == ["The charge", "Drawings"]
    assert len(with_drawings["Drawings"]) == 2
    order = list(heads)
    assert order[order.index("Drawings") + 1].startswith("The figures")
    assert order.index("Take care") < order.index("Drawings")


def test_the_machine_stands_under_the_answer() -> None:
    page = illustrated_page(examine({"machine": {"name": "fish <b>shop</b>"}, "readings": {"airflow": "900 cfm"}}))
    assert [block.text for block in page[:2]] == ["Not ready to judge.", "Fish <b>shop</b>."]
    text = web_page(page)
    assert "<b>" not in text
    assert "Fish <b>shop</b>." in Page(text).said


@pytest.mark.parametrize("width", [320, 360] if THOROUGH else [320])
def test_no_page_is_wider_than_a_phone(in_browser: InBrowser, width: int) -> None:
    no_wider_than(width, {name: made(name) for name in MADE}, in_browser)


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints(in_browser: InBrowser, paper: str) -> None:
    assert 2 <= sheets(made("orifice"), paper, in_browser) <= 7  # three of them for drawings at text width


# -- the commands --------------------------------------------------------------------------------------------------


VISIT_COMMANDS = [("examine", LOW), ("why", LOW, "low-charge"), ("next", LOW)]


@pytest.mark.parametrize("words", VISIT_COMMANDS, ids=lambda words: words[0])
def test_a_file_holds_what_would_be_printed_in_the_form_of_its_ending(
    words: tuple[object, ...], tmp_path: Path
) -> None:
    endings = {"html": "html", "htm": "html", "md": "markdown", "json": "json", "txt": "text"}
    for ending, how in (endings if words[0] == "examine" else {"html": "html", "md": "markdown"}).items():
        target = tmp_path / f"page.{ending}"
        code, out, err = run(*words, "-o", target)
        assert (code, err) == (0, "")
        text = target.read_text(encoding="utf-8")
        assert out == f"Written: {target}, {max(1, round(len(text.encode()) / 1024))} kB.\n"
        assert run(*words, "--as", how) == (0, text, "")
    code, _, _ = run(*words, "--as", "markdown", "-o", tmp_path / "page.html")
    assert (tmp_path / "page.html").read_text(encoding="utf-8") == (tmp_path / "page.md").read_text(encoding="utf-8")


def test_text_and_markdown_stay_without_drawings() -> None:
    for how in ("text", "markdown"):
        assert "Drawing" not in run("examine", LOW, "--as", how)[1]


def test_ask_writes_a_page_as_well(tmp_path: Path) -> None:
    target = tmp_path / "page.html"
    code, out, _ = run("ask", "-o", target, stdin="R-410A\nfixed orifice\n")
    assert (code, out.startswith("Written: ")) == (0, True)
    assert Page(target.read_text(encoding="utf-8")).said.startswith("Not ready to judge.")


def test_the_visit_is_never_written_over(tmp_path: Path) -> None:
    visit = tmp_path / "visit.yaml"
    visit.write_bytes(LOW.read_bytes())
    link = tmp_path / "link.html"
    link.symlink_to(visit)
    for words in (("examine",), ("why",), ("next",), ("draw",), ("lesson",)):
        fault = ("low-charge",) if words == ("why",) else ()
        for target in (visit, link):
            code, out, err = run(*words, visit, *fault, "-o", target)
            assert (code, out) == (2, "")
            assert err == f"{target}: this is the visit itself\n      Name another file: it would be lost.\n"
    assert visit.read_bytes() == LOW.read_bytes()
    code, _, err = run("ask", "--keep", tmp_path / "new.yaml", "-o", tmp_path / "new.yaml", stdin="R-410A\n")
    assert code == 2
    assert "the visit and the page have the same name" in err
    assert not (tmp_path / "new.yaml").exists()


@pytest.mark.parametrize(
    ("target", "says"),
    [
        ("x" * 300, "this file cannot be written (file name too long)"),
        ("none/page.html", "this file cannot be written: there is no such folder"),
        ("", "there is a folder of this name"),
    ],
)
@pytest.mark.parametrize(
    "words",
    [
        *VISIT_COMMANDS,
        ("ask",),
        ("draw", LOW),
        ("lesson", "low-charge"),
        ("rules", "book"),
        ("rules", "table"),
        ("rules", "show", "low-charge"),
    ],
    ids=lambda w: " ".join(w[:2] if w[0] == "rules" else w[:1]),
)
def test_a_file_that_cannot_be_written_is_told_alike(
    words: tuple[object, ...], target: str, says: str, tmp_path: Path
) -> None:
    code, out, err = run(*words, "-o", tmp_path / target, stdin="")
    assert (code, out) == (2, "")
    assert err.startswith(f"{tmp_path / target}: ")
    assert says in err
    assert "Refrigerant" not in err  # nothing was asked


@pytest.mark.parametrize(
    "words",
    [
        ("lookup", "saturation", "R-410A", "130 psig"),
        ("rules", "show", "low-charge"),
        ("rules", "table"),
        ("cases", "run", "--simulated", "2", "--train", "0", "--readings", "basic"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_what_prints_pages_prints_them_as_html_as_well(words: tuple[str, ...]) -> None:
    code, out, err = run(*words, "--as", "html")
    assert (code, err) == (0, "")
    fetches_nothing_and_runs_nothing(out)
    if words[1] != "table":
        has_language_title_and_headings_in_order(out)


def test_practice_writes_the_form_of_the_ending_and_nothing_over_another(tmp_path: Path) -> None:
    visit, page = tmp_path / "visit.yaml", tmp_path / "lesson.html"
    assert run("practice", "new", "--seed", 3, "--fault", "low-charge", "-o", visit)[0] == 0
    assert run("practice", "answer", visit, "low-charge", "-o", page)[0] == 0
    before = page.read_text(encoding="utf-8")
    assert before.startswith("<!doctype html>")
    code, _, err = run("practice", "reveal", visit, "-o", page)
    assert code == 2
    assert err == f"{page}: there is a file of this name already\n      Name another: nothing is written over.\n"
    assert page.read_text(encoding="utf-8") == before


# -- what it costs -------------------------------------------------------------------------------------------------


NOT_TO_EXAMINE = {
    "CoolProp", "numpy", "pydantic", "sqlalchemy", "alembic", "diagnose.store", "diagnose.report.history",
    *(f"diagnose.rulebook.{part}" for part in ("models", "reading", "checking", "limits")),
}  # fmt: skip


def test_only_a_web_page_loads_templates_and_drawings() -> None:
    """None opens the store of visits, nor the door of the rule files; what typer is given is looked at without pydantic."""
    code = (
        "from diagnose.cli import app\nimport json, sys\nfor how in ('text', 'json', 'markdown', 'html'):\n"
        f"    sys.argv = ['diagnose', 'examine', {str(LOW)!r}, '--as', how]\n"
        "    try: app()\n    except SystemExit as end: assert not end.code\n"
        "    print(json.dumps(list(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    told = done.stderr.splitlines()
    assert len(told) == 4
    for loaded, drawn in zip(map(json.loads, told), [False] * 3 + [True], strict=True):
        assert {"jinja2" in loaded, "diagnose.report.drawings" in loaded} == {drawn}
        assert not NOT_TO_EXAMINE & set(loaded)


def test_a_page_printed_without_utf8_is_the_same_page() -> None:
    for encoding in ("ascii", "cp1252"):
        text = run("examine", LOW, "--as", "html", charset=encoding).fine()
        assert text.isascii()
        assert Page(text).said == Page(made("orifice")).said


def test_what_stands_between_backticks_is_set_as_code_and_all_is_escaped() -> None:
    html = web_page([Block("answer", "x"), Block("text", "Write `rated <airflow>` & `SEER`.")])
    assert "<p>Write <code>rated &lt;airflow&gt;</code> &amp; <code>SEER</code>.</p>" in html


def test_a_refrigerant_and_a_date_are_not_broken_and_headings_show_no_backticks() -> None:
    head = Block("heading", "State `compressor` on R-410A")
    page = web_page([Block("answer", "Visits since 2026-01-05"), *[head, Block("line", "said")] * 4])
    assert '<span class="whole">2026-01-05</span></h1>' in page
    assert page.count('State <code>compressor</code> on <span class="whole">R-410A</span>') == 8
    assert "`" not in Page(page).said


def test_fingers_in_gloves_can_open_a_section(in_browser: InBrowser) -> None:
    def heights(page: Any) -> list[float]:
        page.set_viewport_size({"width": 360, "height": 740})
        page.set_content(web_page(blocks_of("low-charge-orifice"), contents=False, fold=True))
        found: list[float] = page.evaluate(
            "[...document.querySelectorAll('summary')].map(e => e.getBoundingClientRect().height)"
        )
        return found

    assert min(in_browser(heights)) >= 40
