"""A visit that is sent without a signal stays on the phone and arrives once, whatever happens on the way."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from offices import serving
from test_browser import CHROMIUM, TYPED, browser_type, kept_visits, opened, playwright, ready, typed, until

from diagnose.page.build import build
from diagnose.rulebook import Rulebook
from diagnose.store import add_person, arrived, latest, machine_named, machines, open_store, remove_person, visits_of

pytestmark = pytest.mark.skipif(CHROMIUM is None or playwright is None, reason="chromium is not installed")
__all__ = ["browser_type"]  # the fixture

LOST = """
const { fetch } = window;
window.fetch = async (...given) => {
  const answer = await fetch(...given);
  if (window.deaf && String(given[0]).includes("sent/")) throw new TypeError("the answer was lost");
  return answer;
};
"""

IN_ORDER = """
let made = 0;
crypto.randomUUID = () => `00000000-0000-4000-8000-00000000000${++made}`;
"""


def send(page: Any) -> None:
    page.click("#open-visits")
    page.click("#send")


def told(page: Any, words: str) -> None:
    page.locator("#kept li", has_text=words).first.wait_for()


def close(page: Any) -> None:
    page.click("#close-visits")


def test_kept_without_a_signal_it_arrives_once_and_its_versions_stand_beside_each_other(
    browser_type: Any, tmp_path: Path, book: Rulebook
) -> None:
    site, store = tmp_path / "site", tmp_path / "visits.db"
    build(site, book)
    with serving(store, str(site)) as office:
        context = opened(browser_type, tmp_path / "phone")
        context.add_init_script(LOST)
        page = ready(context, office.url)
        page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
        until(page, "!document.getElementById('office').hidden")
        send(page)
        page.locator("#sending", has_text="Give the machine a name first").wait_for()
        close(page)

        # The office is away: it is typed and sent all the same, and the browser is closed.
        office.kill()
        page.locator('[data-path="machine/metering"] select').select_option("TXV")
        for path, value in {"machine/name": "net loft, rooftop 2", **TYPED}.items():
            typed(page, path, value)
        page.locator("#answer", has_text="low refrigerant charge").wait_for()
        send(page)
        told(page, "Waiting to be sent")
        until(page, "document.getElementById('open-visits').textContent === 'Visits, 1 to send'")
        page.click("#send")  # twice is once
        (kept,) = kept_visits(page)
        assert len(kept["outbox"]) == 1
        context.close()

        # It is back, but its answer is lost on the way; the phone tells it again.
        office.again()
        context = opened(browser_type, tmp_path / "phone")
        context.add_init_script(f"window.deaf = true; {LOST}")
        page = ready(context, office.url)
        until(page, "document.getElementById('open-visits').textContent === 'Visits, 1 to send'")
        with open_store(str(store)) as opened_store:
            for _ in range(400):  # until the first telling has arrived
                if machines(opened_store):
                    break
                page.wait_for_timeout(50)
            assert len(visits_of(opened_store, machine_named(opened_store, "net loft, rooftop 2"))) == 1
        assert len(kept_visits(page)[0]["outbox"]) == 1
        page.evaluate("window.deaf = false, dispatchEvent(new Event('online')), 1")
        page.click("#open-visits")
        told(page, "The office has it")
        close(page)

        # Changed and sent again: both versions are kept, and the later one stands.
        typed(page, "readings/liquid pressure", "331")
        page.click("#open-visits")
        told(page, "Changed since it was sent")
        page.click("#send")
        told(page, "The office has it")
        (kept,) = kept_visits(page)
        assert not kept["outbox"]
        context.close()
    with open_store(str(store)) as opened_store:
        [machine] = machines(opened_store)
        first, second = visits_of(opened_store, machine)
        assert (machine.count, first.replaced, second.replaced) == (1, True, False)
        assert ("330 psig" in first.text, "331 psig" in second.text) == (True, True)
        [only] = latest(opened_store, 9)
        assert only.visit.id == second.id
        before = arrived(opened_store, first.id)
        assert before.later == (second.id,)


def test_who_is_removed_signs_in_again_and_what_waited_arrives(
    browser_type: Any, tmp_path: Path, book: Rulebook
) -> None:
    site, place = tmp_path / "site", tmp_path / "visits.db"
    build(site, book)
    with open_store(str(place)) as store:
        code = add_person(store, "Ana", "2026-07-14T10:00:00+00:00")
        with serving(place, str(site), "--listen", "127.0.0.1") as office:
            context = opened(browser_type, tmp_path / "phone")
            page = context.pages[0]
            page.goto(office.url)
            page.fill("#code", "1-wrong")
            page.click("button")
            page.get_by_text("This access code opens nothing.").wait_for()
            sign_in(page, code)
            until(page, "!document.getElementById('office').hidden")
            typed(page, "machine/name", "chandler")
            remove_person(store, "Ana")
            send(page)
            told(page, "Waiting to be sent")
            page.locator("#sign-in a").click()
            sign_in(page, add_person(store, "Ben", "2026-07-14T10:00:00+00:00"))
            page.click("#open-visits")
            told(page, "The office has it")
            [only] = latest(store, 9)
            assert [version.person for version in only.sent] == ["Ben"]
            page.goto(f"{office.url}/office/")
            page.click("text=Sign out")
            page.locator("#code").wait_for()
            page.goto(f"{office.url}/office/")
            page.locator("#code").wait_for()
            context.close()


def sign_in(page: Any, code: str) -> None:
    page.fill("#code", code)
    page.click("button")
    page.locator("#open-visits").wait_for()
    page.evaluate("window.shown")


def test_what_the_office_refuses_is_told_and_holds_up_nothing_else(
    browser_type: Any, tmp_path: Path, book: Rulebook
) -> None:
    site, store = tmp_path / "site", tmp_path / "visits.db"
    build(site, book)
    with serving(store, str(site)) as office:
        context = opened(browser_type, tmp_path / "phone", 320)
        context.add_init_script(IN_ORDER)
        page = ready(context, office.url)
        until(page, "!document.getElementById('office').hidden")
        typed(page, "machine/name", "chandler")
        typed(page, "readings/liquid pressure", "a lot")
        send(page)
        told(page, "The office did not take it")
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        page.click("#again")
        typed(page, "readings/liquid pressure", "330")
        send(page)
        told(page, "The office has it")
        told(page, "The office did not take it")

        # It fails on one visit: that one waits, the next one goes.
        context.route("**/office/sent/*3", lambda route: route.fulfill(status=500, json={"problems": ["Broken."]}))
        for name in ("odd", "even"):
            page.click("#again")
            typed(page, "machine/name", name)
            send(page)
        page.locator("#kept li", has_text="even").get_by_text("The office has it").wait_for()
        page.locator("#kept li", has_text="odd").get_by_text("Waiting to be sent").wait_for()
        context.close()
