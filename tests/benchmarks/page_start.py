"""How long the phone page takes to start: `python tests/benchmarks/page_start.py [TIMES]`.

Not a test: a measurement in headless Chromium, from the begin of the load until the form stands and the visit that was open is
answered. Cold: a browser that was never here, from a server on loopback. From cache: the same browser, started again without a
signal.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "page"))

from playwright.sync_api import sync_playwright
from test_browser import TYPED, answered, opened, serving, typed

from diagnose.page.build import build
from diagnose.rulebook import load_rules

SHOWN = "window.shown.then(() => performance.now())"
ANSWERED = """window.shown.then(() => new Promise((ok) => {
  const look = () => document.getElementById("answer").textContent.includes("low refrigerant charge") ? ok(performance.now())
    : setTimeout(look, 5);
  look();
}))"""


def main(times: int = 3) -> None:
    cold, cached, shares = [], [], []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as p:
        site = Path(folder) / "site"
        build(site, load_rules())
        for i in range(times):
            phone = Path(folder) / f"phone {i}"
            with serving(site) as server:
                url = f"http://127.0.0.1:{server.server_port}/"
                context = opened(p.chromium, phone)
                page = context.pages[0]
                page.goto(url)
                cold.append(page.evaluate(SHOWN))
                page.locator('[data-path="machine/metering"] select').select_option("TXV")
                for path, value in TYPED.items():
                    typed(page, path, value)
                answered(page, "low refrigerant charge")
                page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
                context.close()
            context = opened(p.chromium, phone)
            context.set_offline(True)
            page = context.pages[0]
            page.goto(url)
            cached.append(page.evaluate(ANSWERED))
            shares.append(page.evaluate("times.parts[0]") / cached[-1])
            context.close()
    for name, found in (("cold", cold), ("from cache, with an answer", cached)):
        print(f"{name}: {', '.join(f'{ms:.0f}' for ms in found)} ms, half within {statistics.median(found):.0f} ms")
    print(f"from cache, {statistics.median(shares):.2f} of it are the runtime that knows nothing of us")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
