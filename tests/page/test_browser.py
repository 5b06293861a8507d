"""The page in a real browser: built, served, then used without a signal, killed and opened again.

Chromium is Debian's; the browser runtime comes from the npm registry. Both are started by .ci/run's machine. Nothing here is
judged by a clock: what is awaited is awaited until it is there.
"""

from __future__ import annotations

import functools
import http.server
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import pytest
from shared import PATHS, case, told

from diagnose.page.build import build
from diagnose.rulebook import Rulebook

CHROMIUM = shutil.which("chromium")
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
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
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=str(folder)))
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


def typed(page: Any, path: str, value: str) -> None:
    """As with a keyboard: into the field, the value, out of the field."""
    page.locator(f'[data-path="{path}"] input').fill(value)
    page.locator(f'[data-path="{path}"] input').blur()


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
    context.close()
