"""Whatever JSON calls a danger is told within the first six lines of every front end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from importlib import import_module

import pytest
import shared
from commands import run
from doubtful import VISITS, examined
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, states, visit, with_machine, with_readings
from webpages import Page
from work import THOROUGH, examples

from diagnose import Diagnosis, examine
from diagnose.lessons import lesson_page
from diagnose.report import Block, as_markdown, as_text, first_screen
from diagnose.report.following import next_page
from diagnose.report.illustrated import illustrated_page
from diagnose.report.pages import diagnosis_page
from diagnose.report.trace import why_page
from diagnose.report.webpage import web_page

LINES = 6
READ = 80 * LINES  # characters of a web page that fill so many lines


def fronts(d: Diagnosis) -> Iterator[tuple[str, str]]:
    """The first six lines of each front end; `examine` and the end of `ask` are one page."""
    fault = d.ranked[-1].fault if d.ranked else next(iter(d.rules.faults))
    pages: dict[str, list[Block]] = {
        "first screen": first_screen(d), "full": diagnosis_page(d), "next": next_page(d), "why": why_page(d, fault),
        "lesson": lesson_page(d),
    }  # fmt: skip
    for name, blocks in pages.items():
        yield name, "\n".join(as_text(blocks[:12]).splitlines()[:LINES])
        written = [line for line in as_markdown(blocks[:12]).splitlines() if line]
        yield f"{name}, Markdown", "\n".join(written[:LINES])
        yield f"{name}, HTML", Page(web_page(blocks[:12])).said[:READ]
    yield "HTML", Page(web_page(illustrated_page(d)[:12], fold=True)).said[:READ]


@pytest.fixture(autouse=True, scope="module")
def _without_what_stands_far_below_and_takes_long() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for page in ("first_screen", "pages", "following", "result"):
            patch.setattr(import_module(f"diagnose.report.{page}"), "next_checks", lambda _: ())
        patch.setattr("diagnose.report.following.sensitivity", lambda _: ())
        for page in ("pages", "result"):
            patch.setattr(import_module(f"diagnose.report.{page}"), "would_change", lambda _: ())
        everywhere = "diagnose.report.drawings.figures.placed"
        patch.setattr(everywhere, lambda labels, *_: [(label, label.places[0]) for label in labels])
        yield


alike: Counter[object] = Counter()


def told_first(d: Diagnosis) -> None:
    """Of each kind of answer, with the same dangers, status and charge, one is looked at."""
    alike[kind := (tuple(danger.code for danger in d.dangers), d.status, d.charge.verdict)] += 1
    if alike[kind] > 1 and not THOROUGH:
        return
    dangers = d.to_dict()["dangers"]
    if not dangers:
        return
    for name, lines in fronts(d):
        plain = " ".join(lines.replace("*", "").lower().split())
        for danger in dangers:
            assert danger["title"].lower() in plain, name
        if any(danger["level"] == "stop" for danger in dangers):
            assert "stop: switch the machine off, and leave it off" in plain, name


ALL_AT_ONCE = with_machine(
    with_readings(
        visit(State(gas="R-32", superheat=1)), liquid_pressure="660 psig", discharge_line_temperature="320 F",
        compressor_current="50 A", metering_inlet_pressure="3 inHg vacuum",
    ),
    rated_current="5 A",
)  # fmt: skip


@pytest.mark.parametrize("name", shared.PATHS)
def test_of_every_shipped_visit(name: str) -> None:
    told_first(shared.examined(name))


@pytest.mark.parametrize("code", VISITS)
def test_of_doubtful_visits(code: str) -> None:
    told_first(examined(code))


def test_of_one_with_every_danger() -> None:
    told_first(examine(ALL_AT_ONCE))


@examples(4)
@given(
    states(), st.sampled_from(["120 psig", "600 psig", "700 psig"]), st.sampled_from(["160 F", "232 F", "310 F"]),
    st.sampled_from(["2 inHg vacuum", "118 psig"]), st.sampled_from([5, 20]),
)  # fmt: skip
def test_of_any_visit_that_may_have_some(state: State, head: str, hot: str, low: str, minutes: int) -> None:
    taken = {"liquid_pressure": head, "discharge_line_temperature": hot, "suction_pressure": low}
    told_first(examine(with_readings(visit(state), **taken, minutes_running=minutes)))


def test_at_the_end_of_the_questions_it_is_the_same_page(monkeypatch: pytest.MonkeyPatch) -> None:
    data = with_readings(visit(State()), liquid_pressure="700 psig", minutes_running=5)
    monkeypatch.setattr("diagnose.cli.questions.interview", lambda *_: data)
    done = run("ask")
    assert done.stdout.splitlines()[:LINES] == as_text(first_screen(examine(data))).splitlines()[:LINES]
    assert done.stdout.startswith("STOP: Switch the machine off")
