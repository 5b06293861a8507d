"""A start-up as it is told: on one screen, in full, as JSON, in US and SI units."""

from __future__ import annotations

import datetime
import json
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import shared
from start_ups import MACHINE, READINGS, SHOWN, TEST, Shown
from test_drawings import check, tree

from diagnose import examine, load_rules
from diagnose.diagnosis.start_up_items import ITEMS
from diagnose.report import as_markdown, as_text, first_screen
from diagnose.report.drawings import Drawing, vacuum_chart
from diagnose.report.following import next_page
from diagnose.report.illustrated import illustrated_page
from diagnose.report.pages import diagnosis_page
from diagnose.report.start_up import LINES, baseline_text, found_text, start_up_dict, to_do
from diagnose.units import System
from diagnose.workshop.casefiles import KnownAnswer, acceptable, case_from
from diagnose.workshop.trials import run_case


def screen(d: Any) -> list[str]:
    return as_text(first_screen(d)).splitlines()


@pytest.mark.parametrize("shown", SHOWN, ids=lambda shown: f"{shown.code}-{SHOWN.index(shown)}")
@pytest.mark.parametrize("units", ["us", "si"])
def test_every_code_is_told_and_what_is_wrong_says_what_to_do(shown: Shown, units: System) -> None:
    d = examine(shown.visit).told_in(units)
    item = next(item for item in d.start_up.items if item.item == shown.item)
    found, doing = found_text(d, item), to_do(d, item)
    assert (found == "") == (item.status == "left out")
    if item.status in ("failed", "cannot be told") and shown.code != "running-held":
        assert doing.endswith(".")
    other = re.compile(
        r"psi|°F|cfm|inH2O|\boz\b|\bft\b" if units == "si" else r"kPa|°C|\bL/s|\bkg\b|[0-9] Pa\b|[0-9] m\b"
    )
    told = found + doing if shown.code not in ("test-out-of-range", "static-no-limit") else ""
    assert not other.search(told.replace("(125 Pa)", "").replace("6 in (15 cm)", "")), told
    assert "{" not in told.replace("{measured: …}", "")
    lines = screen(d)
    assert len(lines) <= LINES
    assert all(line.strip() and len(line) <= 80 for line in lines)
    page = as_text(diagnosis_page(d))
    assert "The start-up, step by step" in page
    assert found[:30] in " ".join(page.split()) or not found


@pytest.mark.parametrize("name", shared.STARTS)
def test_the_shipped_start_ups_fit_one_screen(name: str) -> None:
    for units in ("us", "si"):
        d = shared.examined(f"demo/{name}", units)  # type: ignore[arg-type]
        lines = screen(d)
        assert len(lines) <= LINES
        assert sum(line.startswith("Start-up: ") for line in lines) == 1
        assert lines[0].startswith("STOP: ") is d.stop
        assert any(line.startswith(("STOP:", "Danger:")) for line in lines[:3]) is bool(d.dangers)


def test_danger_then_what_failed_then_what_is_done_then_what_was_left_out() -> None:
    bad = {"pressure test": {**TEST, "start pressure": "560 psig"}, "vacuum": "0 min 300 microns, 5 min 310 microns"}
    d = examine({"machine": {**MACHINE, "refrigerant": "R-32"}, "start-up": bad, "readings": READINGS})
    text = "\n".join(screen(d))
    order = [
        "Start-up: ",
        "Danger: ",
        "Failed, pressure test:",
        "Cannot be told, decay test:",
        "Done",
        "Left out:",
        "Care:",
        "More:",
    ]
    places = [text.index(each) for each in order]
    assert places == sorted(places)
    assert "never oxygen" in text
    assert "no flame or spark" in text  # R-32 can burn
    assert "no flame or spark" not in "\n".join(screen(examine({"machine": MACHINE, "start-up": {}})))


def test_the_worst_start_up_still_fits() -> None:
    worst: dict[str, Any] = {}
    for code in ("line-set-wrong", "test-leaks", "vacuum-rises", "airflow-contradicts", "charge-otherwise"):
        worst |= next(shown.visit["start-up"] for shown in SHOWN if shown.code == code)
    worst["static"] = next(shown.visit["start-up"]["static"] for shown in SHOWN if shown.code == "static-over")
    worst["told the customer"] = ["word " * 300]
    low = next(shown.visit["readings"] for shown in SHOWN if shown.code == "running-wrong")
    for refrigerant in ("R-410A", "R-32"):
        d = examine({"machine": {**MACHINE, "refrigerant": refrigerant}, "start-up": worst, "readings": low})
        for units in ("us", "si"):
            lines = screen(d.told_in(units))
            assert len(lines) <= LINES
            for item in d.start_up.having("failed"):  # type: ignore[union-attr]
                assert any(line.startswith(f"Failed, {item.item}:") for line in lines)


def test_json_lists_every_item_and_other_visits_have_none() -> None:
    told = examine({"machine": MACHINE, "start-up": {"pressure test": {**TEST, "end pressure": "440 psig"}}}).to_dict()
    assert [item["item"] for item in told["start_up"]] == list(ITEMS)
    test = told["start_up"][1]
    assert (test["status"], test["code"]) == ("failed", "test-leaks")
    assert test["figures"]["lost"] == pytest.approx(68_948, rel=1e-4)  # Pa
    assert test["text"].startswith("Leaks: 440 psig where 450 psig is expected")
    assert "virial" in test["source"]
    assert told["keeps_as_baseline"] is False
    json.dumps(told, allow_nan=False)
    plain = examine({"machine": MACHINE, "readings": READINGS})
    assert not {"start_up", "keeps_as_baseline"} & plain.to_dict().keys()
    assert start_up_dict(plain) == {}


def test_what_the_baseline_line_says() -> None:
    good = {"machine": MACHINE, "start-up": {"pressure test": TEST}, "readings": READINGS}
    assert baseline_text(examine(good)).startswith("found right. Keep this file")
    bad = {**good, "start-up": {"pressure test": {**TEST, "end pressure": "400 psig"}}}
    assert baseline_text(examine(bad)) == "not yet: pressure test must come right first."
    assert "no running readings" in baseline_text(examine({"machine": MACHINE, "start-up": {}}))


def test_next_says_what_comes_next_in_the_order_of_the_work() -> None:
    moist = as_text(next_page(shared.examined("demo/start-up-moisture")))
    assert moist.startswith(
        "Start-up: 2 of 9 done, 1 failed, 6 left out.\n\nNext in the start-up\n  1. Decay test. Break the vacuum"
    )
    assert "Left out so far: line set; airflow" in moist
    whole = as_text(next_page(shared.examined("demo/start-up-all-right")))
    assert "Nothing: every step was done." in whole
    assert "What would change the answer" in whole
    assert "start-up" not in as_text(next_page(shared.examined("demo/settled")))


def test_a_case_may_expect_statuses_or_codes() -> None:
    case = shared.case("demo/start-up-moisture")
    expect = case.entry.expect

    def wrong(**start_up: str) -> tuple[str, ...]:
        told = {name.replace("_", " "): word for name, word in start_up.items()}
        entry = case.entry.model_copy(update={"expect": expect.model_copy(update={"start_up": told})})
        return run_case(replace(case, entry=entry)).wrong

    assert wrong(decay_test="failed", evacuation="vacuum-deep") == ()
    assert wrong(decay_test="vacuum-climbs") == ("decay test is failed (vacuum-levels-off), not vacuum-climbs",)
    assert wrong(decoy="done")[0].startswith("`decoy` is no item of a start-up (line set, pressure test")


def test_a_case_is_made_of_a_start_up_and_its_change_accepted(tmp_path: Path) -> None:
    visit = tmp_path / "visit.yaml"
    visit.write_text("start-up: {vacuum: 0 min 300 microns}\n", encoding="utf-8")
    known = KnownAnswer("nothing-wrong", "made up", "A vacuum.")
    path = tmp_path / "own" / "vacuum.yaml"
    made = case_from(visit, path, known, load_rules(), datetime.date(2026, 11, 26))
    assert made.case.entry.expect.start_up["decay test"] == "cannot be told"
    path.write_text(
        path.read_text(encoding="utf-8").replace("decay test: cannot be told", "decay test: done"), encoding="utf-8"
    )
    found = acceptable(path, "one reading shows no decay", load_rules(), datetime.date(2026, 11, 27))
    assert found.changed == ("start_up decay test was done, is cannot be told",)


def test_markdown_and_the_web_page_have_it_too() -> None:
    d = shared.examined("demo/start-up-all-right")
    assert "**Done, pressure test:**" in as_markdown(first_screen(d))
    assert any(block.text == "The start-up, step by step" for block in illustrated_page(d))
    assert illustrated_page(shared.examined("demo/start-up-moisture"))


@pytest.mark.parametrize("units", ["us", "si"])
def test_the_vacuum_is_drawn_where_there_are_two_readings(units: System) -> None:
    for shown in SHOWN:
        d = examine(shown.visit).told_in(units)
        drawn = vacuum_chart(d)
        rows = d.visit.start_up.pairs("vacuum") if d.visit.start_up else ()
        assert isinstance(drawn, Drawing) == (len(rows) > 1)
        if isinstance(drawn, Drawing):
            check("vacuum", drawn)
            assert sum(element.tag.endswith("circle") for element in tree(drawn).iter()) == len(rows)
            assert found_text(d, next(item for item in d.start_up.items if item.item == "decay test")) in drawn.words  # type: ignore[union-attr]
    page = illustrated_page(shared.examined("demo/start-up-moisture", units))
    assert [block.mark for block in page if block.kind == "figure"] == ["The vacuum after the pump was valved off"]


def test_a_leak_is_drawn_as_a_straight_line() -> None:
    drawn = vacuum_chart(shared.examined("demo/start-up-vacuum-climbs"))
    assert isinstance(drawn, Drawing)
    places = [(float(e.get("cx", "")), float(e.get("cy", ""))) for e in tree(drawn).iter() if e.tag.endswith("circle")]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(places)]
    assert max(slopes) - min(slopes) < 0.1 * abs(slopes[0])
