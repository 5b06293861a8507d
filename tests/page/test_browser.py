"""The page in a real browser: built, served, then used without a signal, killed and opened again.

Chromium is Debian's; the browser runtime comes from the npm registry. Both are started by .ci/run's machine. Nothing here is
judged by a clock: what is awaited is awaited until it is there.
"""

from __future__ import annotations

import functools
import http.server
import json
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any, ClassVar

import pytest
from shared import PATHS, case, told

from diagnose.page.build import build
from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import to_data

CHROMIUM = shutil.which("chromium")
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
LOOKS = 2400  # so often, 50 ms apart, it is looked whether something holds
TYPES = {".mjs": "text/javascript", ".wasm": "application/wasm", ".webmanifest": "application/manifest+json"}
TYPED = {
    "machine/refrigerant": "R-410A", "machine/rated subcooling": "10", "readings/minutes running": "20",
    "readings/suction pressure": "118", "readings/suction line temperature": "61", "readings/liquid pressure": "330",
    "readings/liquid line temperature": "101", "readings/outdoor air temperature": "85",
}  # fmt: skip


class Quiet(http.server.SimpleHTTPRequestHandler):
    extensions_map: ClassVar[dict[str, str]] = {**http.server.SimpleHTTPRequestHandler.extensions_map, **TYPES}

    def log_message(self, *args: object) -> None:
        pass


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, book: Rulebook) -> Iterator[Any]:
    folder = tmp_path_factory.mktemp("page")
    build(folder, book)
    with serving(folder) as server:
        yield server


@contextmanager
def serving(folder: Path) -> Iterator[Any]:
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=str(folder)))
    server.folder = folder  # type: ignore[attr-defined]
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def browser_type() -> Iterator[Any]:
    with playwright.sync_playwright() as p:
        yield p.chromium


def opened(browser_type: Any, kept: Path, width: int = 360) -> Any:
    return browser_type.launch_persistent_context(
        str(kept), executable_path=CHROMIUM, args=["--no-sandbox"], viewport={"width": width, "height": 740}
    )


def ready(context: Any, url: str) -> Any:
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(url)
    page.evaluate("window.shown")
    return page


def kept_visits(page: Any) -> list[dict[str, Any]]:
    """What lies in the browser's store, read past the page."""
    found: list[dict[str, Any]] = page.evaluate("""() => new Promise((ok) => {
      const asked = indexedDB.open("visits");
      asked.onsuccess = () => {
        const all = asked.result.transaction("visits").objectStore("visits").getAll();
        all.onsuccess = () => { asked.result.close(); ok(all.result); };
      };
    })""")
    return found


def typed(page: Any, path: str, value: str) -> None:
    """As with a keyboard: into the field, the value, out of the field."""
    page.locator(f'[data-path="{path}"] input').fill(value)
    page.locator(f'[data-path="{path}"] input').blur()


def until(page: Any, holds: str) -> None:
    """Waits until an expression holds; Playwright's own way would need `eval`, which the page forbids."""
    page.evaluate(f"""() => new Promise((ok, no) => {{
      let looks = 0;
      const look = () => ({holds}) ? ok(1) : ++looks > {LOOKS} ? no(new Error("it never held")) : setTimeout(look, 50);
      look();
    }})""")


def answered(page: Any, words: str) -> None:
    page.locator("#answer", has_text=words).wait_for(timeout=60000)


def test_a_visit_is_typed_without_a_signal_killed_and_nothing_is_lost(
    served: Any, browser_type: Any, tmp_path: Path
) -> None:
    url = f"http://127.0.0.1:{served.server_port}/"
    asked: list[str] = []
    wrong: list[str] = []
    context = opened(browser_type, tmp_path / "kept")
    context.on("request", lambda request: asked.append(request.url))
    page = ready(context, url)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    context.set_offline(True)
    page.reload()
    page.evaluate("window.shown")
    page.locator('[data-path="machine/metering"] select').select_option("TXV")
    for path, value in TYPED.items():
        typed(page, path, value)
    answered(page, "low refrigerant charge")
    assert {u for u in asked if not u.startswith((url, "data:", "blob:"))} == set()
    assert wrong == []
    context.close()

    context = opened(browser_type, tmp_path / "kept")
    context.set_offline(True)
    page = ready(context, url)
    answered(page, "low refrigerant charge")
    assert page.locator('[data-path="readings/liquid pressure"] input').input_value() == "330"
    page.click("#open-visits")
    page.locator("#kept li").first.wait_for()
    assert page.locator("#kept li").count() == 1
    context.close()


def test_every_shipped_case_is_answered_as_on_the_desk(served: Any, browser_type: Any, tmp_path: Path) -> None:
    context = opened(browser_type, tmp_path / "kept")
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    for name in PATHS:
        desk = told(name)
        visit = case(name).document.data["visit"]  # type: ignore[index]
        phone = page.evaluate("visit => window.ask('result', visit)", visit)
        if "error" in phone:
            assert desk["status"] != "diagnosed" or "baseline" in visit, name
            continue
        assert [f["fault"] for f in phone["faults"]] == [f["fault"] for f in desk["faults"]], name
        assert phone["charge"]["verdict"] == desk["charge"]["verdict"], name
        assert phone["dangers"] == desk["dangers"], name
    context.close()


def test_it_fits_narrow_and_wide_and_fields_are_large_enough(served: Any, browser_type: Any, tmp_path: Path) -> None:
    context = opened(browser_type, tmp_path / "kept", 320)
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    for width in (320, 360, 768, 1280):
        page.set_viewport_size({"width": width, "height": 740})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, input:not(.away), summary')]"
        ".filter(e => e.offsetParent && e.getBoundingClientRect().height < 48).map(e => e.id || e.textContent)"
    )
    assert small == []
    unnamed = page.evaluate(
        "[...document.querySelectorAll('input, select, textarea, button')]"
        ".filter(e => !(e.labels?.length || e.getAttribute('aria-label') || e.textContent.trim())).length"
    )
    assert unnamed == 0
    typed(page, "machine/name", "W" * 300)
    page.evaluate("scrollTo(0, 0)")
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.getElementById('answer').getBoundingClientRect().top") < 90
    context.close()


STOPPED = {**TYPED, "machine/metering": "TXV", "readings/liquid pressure": "640"}


def test_the_answer_is_shown_whole_and_follows_in_two_lines(served: Any, browser_type: Any, tmp_path: Path) -> None:
    context = opened(browser_type, tmp_path / "kept")
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    page.locator('[data-path="machine/metering"] select').select_option("TXV")
    for path, value in STOPPED.items():
        if path != "machine/metering":
            typed(page, path, value)
    answered(page, "STOP:")
    typed(page, "readings/liquid pressure", "330")
    page.locator("#changed", has_text="Liquid pressure").wait_for()
    typed(page, "readings/liquid pressure", "640")
    answered(page, "STOP:")
    assert page.evaluate("(e => e.scrollHeight <= e.clientHeight + 1)(document.getElementById('answer'))")
    page.evaluate("scrollTo(0, 0)")
    page.locator("#bar").wait_for(state="hidden")
    page.evaluate("scrollTo(0, 2500)")
    page.locator("#bar", has_text="STOP: Switch the machine off").wait_for()
    assert page.locator("#bar").bounding_box()["height"] < 740 / 4
    page.locator("#complaint").scroll_into_view_if_needed()  # far below the form
    page.locator("#bar").wait_for(state="hidden")
    page.evaluate("scrollTo(0, 2500)")
    page.click("#bar")
    assert page.evaluate("scrollY") == 0
    page.click("#open-visits")
    page.click("#new")
    answered(page, "Not ready")
    page.locator("#changed").wait_for(state="hidden")  # another visit is no change of this one
    context.close()


def test_the_next_step_and_what_failed_are_seen_without_a_touch(served: Any, browser_type: Any, tmp_path: Path) -> None:
    context = opened(browser_type, tmp_path / "kept")
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    for name, place, words in (
        ("heating-restriction-drier", "#next", "open the service valves fully"),  # the repair begins
        ("swapped-clamps", "#next button", "Suction line temperature"),
        ("start-up-moisture", "#answer p", "Failed, decay test: Moisture"),
    ):
        page.click("#open-visits")
        page.set_input_files("#import", PATHS[f"demo/{name}"])
        page.locator(place, has_text=words).wait_for()
        assert page.locator(place, has_text=words).is_visible()
        assert page.locator("#answer", has_text="Next:").count() == 0  # it is told once
    context.close()


def test_a_newer_rule_book_is_told_and_waits_until_it_is_wanted(
    served: Any, browser_type: Any, tmp_path: Path, book: Rulebook
) -> None:
    folder = shutil.copytree(served.folder, tmp_path / "site")
    with serving(folder) as server:
        context = opened(browser_type, tmp_path / "kept")
        page = ready(context, f"http://127.0.0.1:{server.server_port}/")
        page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
        until(page, "navigator.serviceWorker.controller")
        typed(page, "machine/name", "bakery, harbor street 7")
        newer = replace(book, name="the newer one", rules=book.rules[:-2])
        (folder / "book.json").write_text(json.dumps(to_data(newer)))
        worker = folder / "sw.js"
        worker.write_text(worker.read_text().replace('VERSION = "', 'VERSION = "n'))
        page.evaluate("navigator.serviceWorker.ready.then((one) => one.update()).then(() => 1)")
        page.locator("#news", has_text="rules gone: 2").wait_for()
        page.click("#news summary")
        assert "the newer one" in page.locator("#news").inner_text()
        assert "the newer one" not in page.locator("#book").inner_text()  # what runs goes on
        page.click("text=Use it now")
        page.locator("#book", has_text="the newer one").wait_for()
        assert page.locator('[data-path="machine/name"] input').input_value() == "bakery, harbor street 7"
        context.close()


FAILING = """
window.dbs = [];
const { open } = IDBFactory.prototype;
IDBFactory.prototype.open = function (...given) {
  const asked = open.apply(this, given);
  asked.addEventListener("success", () => window.dbs.push(asked.result));
  return asked;
};
const { put } = IDBObjectStore.prototype;
IDBObjectStore.prototype.put = function (...given) {
  if (window.full) throw new DOMException("full", "QuotaExceededError");
  return put.apply(this, given);
};
"""


def test_full_storage_is_told_and_two_tabs_and_a_closed_store_lose_nothing(
    served: Any, browser_type: Any, tmp_path: Path
) -> None:
    url = f"http://127.0.0.1:{served.server_port}/"
    context = opened(browser_type, tmp_path / "kept")
    context.add_init_script(FAILING)
    page = ready(context, url)
    typed(page, "machine/name", "chandler")
    until(page, "dbs.length")
    page.evaluate("window.full = true")
    typed(page, "machine/SEER", "14")
    page.locator("#banner", has_text="storage of this phone is full").wait_for()
    page.evaluate("window.full = false")
    typed(page, "readings/suction pressure", "118")
    page.locator("#banner").wait_for(state="hidden")
    assert kept_visits(page)[0]["visit"]["machine"] == {"name": "chandler", "SEER": "14"}
    before = page.evaluate("dbs.forEach((db) => db.close()), dbs.length")
    typed(page, "readings/liquid pressure", "330")
    until(page, f"dbs.length > {before}")

    other = context.new_page()
    other.goto(url)
    other.evaluate("window.shown")
    typed(page, "readings/outdoor air temperature", "85")
    typed(other, "readings/suction line temperature", "61")
    for tab in (page, other):  # each shows what the other one typed
        until(
            tab,
            "['outdoor-air', 'suction-line'].every((name) => document.getElementById(`f-readings-${name}-temperature`).value)",
        )
    (kept,) = kept_visits(page)
    assert kept["visit"]["readings"] == {
        "suction pressure": "118 psig", "liquid pressure": "330 psig", "outdoor air temperature": "85 F",
        "suction line temperature": "61 F",
    }  # fmt: skip
    context.close()


def test_what_is_typed_while_something_else_is_written_is_kept_too(
    served: Any, browser_type: Any, tmp_path: Path
) -> None:
    context = opened(browser_type, tmp_path / "kept")
    context.add_init_script("""
      const { put } = IDBObjectStore.prototype;
      IDBObjectStore.prototype.put = function (...given) {
        const request = put.apply(this, given);
        const meanwhile = window.meanwhile?.shift();
        if (meanwhile) meanwhile();
        return request;
      };
      window.type = (id, text) => () => {
        const input = document.getElementById(id);
        input.value = text;
        input.dispatchEvent(new Event("input"));
        input.dispatchEvent(new Event("blur"));
      };
    """)
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    page.evaluate("""window.meanwhile = [type("f-machine-SEER", "14"), type("f-readings-suction-pressure", "118"),
      () => { document.getElementById("again").click(); type("f-readings-liquid-pressure", "330")(); }], 1""")
    typed(page, "machine/name", "chandler")
    until(page, "!meanwhile.length && document.getElementById('f-readings-suction-pressure').value === ''")
    typed(page, "readings/outdoor air temperature", "85")
    answered(page, "Not ready")
    first, second = sorted(kept_visits(page), key=lambda kept: kept["created"])
    assert first["visit"]["machine"] == {"name": "chandler", "SEER": "14"}
    assert first["visit"]["readings"] == {"suction pressure": "118 psig", "liquid pressure": "330 psig"}
    assert second["visit"]["readings"] == {"outdoor air temperature": "85 F"}
    context.close()


def test_a_window_that_keeps_nothing_says_so_before_anything_is_typed(
    served: Any, browser_type: Any, tmp_path: Path
) -> None:
    context = opened(browser_type, tmp_path / "kept")
    context.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('not here', 'SecurityError'); };"
        "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('not here', 'SecurityError'); } });"
    )
    page = context.pages[0]
    page.goto(f"http://127.0.0.1:{served.server_port}/")
    page.locator("#banner", has_text="This window keeps nothing").wait_for()
    assert page.locator("#form .field").count() == 0
    context.close()


def test_by_keyboard_alone_and_the_verdict_is_said_once(served: Any, browser_type: Any, tmp_path: Path) -> None:
    context = opened(browser_type, tmp_path / "kept", 640)  # 1280 at 200 %
    page = ready(context, f"http://127.0.0.1:{served.server_port}/")
    page.set_viewport_size({"width": 640, "height": 370})
    page.evaluate("""() => {
      window.said = [];
      const spoken = document.getElementById("spoken");
      new MutationObserver(() => said.push(spoken.textContent)).observe(spoken, { childList: true });
    }""")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # to the readings
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    order = page.evaluate("[...document.querySelectorAll('.field')].map(e => e.dataset.path)")
    given = {"machine/metering": "TXV", **TYPED}
    for path in sorted(given, key=order.index):
        place = page.locator(f'[data-path="{path}"]').locator("input, select").first
        for _ in range(60):
            if place.evaluate("e => e === document.activeElement"):
                break
            page.keyboard.press("Tab")
        assert place.evaluate("e => e === document.activeElement"), path
        assert place.evaluate("e => getComputedStyle(e).outlineStyle") == "solid"
        assert place.evaluate(
            "e => e.getBoundingClientRect().top >= document.getElementById('bar').getBoundingClientRect().bottom - 1"
        ), path
        page.keyboard.type(given[path])
    page.locator("#spoken", has_text="Most likely: low refrigerant charge").wait_for(state="attached")
    said = page.evaluate("said")
    assert [text for text, after in pairwise(said) if text == after] == []
    assert "low refrigerant charge" in said[-1]
    assert page.locator("#answer[aria-live]").count() == 0
    assert page.evaluate("document.querySelector('label[for=f-readings-suction-pressure]').textContent").endswith(
        "in psig"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 640
    more_about_the_answer(page)
    a_practice_visit(page)
    before_and_after(page)
    context.close()


def more_about_the_answer(page: Any) -> None:
    """Every page on demand, what a reading a little off would change, and the lesson that leads to what-if."""
    page.click("#answer summary")
    page.locator("#turning", has_text="come first").or_(page.locator("#turning", has_text="No single")).wait_for()
    page.click("#answer summary")
    for what in ("full", "next", "pictures", "lesson"):
        page.click(f'[data-page="{what}"]')
        until(page, "document.querySelectorAll('#told > *').length > 1")
        tall = (
            "[...document.querySelectorAll('#told .mark')].filter((e) => e.getBoundingClientRect().height > 40).length"
        )
        assert page.evaluate(tall) == 0, what  # points and "Care" are not broken into two lines
    page.click("#why")
    page.locator("#told", has_text="Score").wait_for()
    page.click("#teach")
    page.click(".turn-to >> nth=1")
    assert page.locator("#device").input_value() == "TXV"
    assert page.locator("#knob-charge").input_value() == "78"
    page.click("text=Show me")
    page.locator("#outcome", has_text="Predict first").wait_for()
    page.locator("#guess-subcooling").select_option("falls")
    page.click("text=Show me")
    page.locator("#outcome", has_text="falls: right").wait_for()
    page.evaluate("location.hash = '#what-if/metering-underfeeding/fixed%20orifice'")  # as the lesson on paper names it
    until(page, "document.getElementById('knob-metering-device-size').value === '85'")
    assert page.locator("#device").input_value() == "fixed orifice"
    assert page.locator("#outcome *").count() == 0


def a_practice_visit(page: Any) -> None:
    page.click("#practice summary")
    page.click("text=A plain one")
    page.locator("#practice-ask").wait_for()
    page.locator("#practice-ask").select_option(index=1)
    page.locator("#practice-told", has_text="Had:").wait_for()
    page.locator("#practice-answer").select_option("low-charge")
    page.fill("#practice-because", "superheat is high")
    page.click("text=This is my answer")
    page.locator("#practice-judged", has_text="Your answer: low refrigerant charge").wait_for()


def before_and_after(page: Any) -> None:
    """The same machine again, charged: the visit before is chosen already."""
    page.click("#open-visits")
    page.click("#again")
    page.locator("#visits").wait_for(state="hidden")
    after = {
        "suction pressure": "128",
        "suction line temperature": "53",
        "liquid pressure": "345",
        "liquid line temperature": "94",
    }
    for path, value in TYPED.items():
        name = path.removeprefix("readings/")
        if path.startswith("readings"):
            typed(page, path, after.get(name, value))
    page.click("#compare")
    page.locator("#told", has_text="Before you leave").wait_for()
    assert "low refrigerant charge" in page.locator("#told h2").inner_text()
