"""What the page asks of the program, on the desk: the same calls as the browser's worker makes, JSON in and out."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from shared import case

from diagnose.lessons.example import DEVICES, TAUGHT, example
from diagnose.page import engine
from diagnose.page.build import ALL_THE_SAME, LEFT_OUT
from diagnose.page.engine import Engine
from diagnose.report import first_screen
from diagnose.report.layout import as_page
from diagnose.report.wording import number
from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import to_data
from diagnose.visit import Visit
from diagnose.visit.fields import FIELDS, MACHINE, ROUND

VISIT: dict[str, Any] = {
    "machine": {"refrigerant": "R-410A", "metering": "TXV", "mode": "cooling", "rated subcooling": "10 F"},
    "readings": {
        "minutes running": "20 min", "suction pressure": "118 psig", "liquid pressure": "330 psig",
        "suction line temperature": "61 F", "liquid line temperature": "101 F", "outdoor air temperature": "85 F",
        "return air dry bulb": "75 F",
    },
}  # fmt: skip


@pytest.fixture
def page(book: Rulebook) -> Engine:
    return Engine(book)


def changed(**readings: str) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(json.dumps(VISIT))
    made["readings"] |= {name.replace("_", " "): value for name, value in readings.items()}
    return made


def test_the_form_has_every_field_of_a_visit_and_everything_that_is_seen(page: Engine, book: Rulebook) -> None:
    paths = [field["path"] for group in page.form()["groups"] for field in group["fields"]]
    assert len(paths) == len(set(paths))
    expected = {f"{f.section}/{f.name}" for f in FIELDS if f.section in ("machine", "readings")}
    assert expected <= set(paths)
    assert {f"seen/{name}" for name in book.seen} <= set(paths)


def test_every_unit_that_the_form_offers_can_be_read(page: Engine) -> None:
    for group in page.form()["groups"]:
        for field in group["fields"]:
            section, _, name = field["path"].partition("/")
            spec = (MACHINE if section == "machine" else ROUND).get(name)
            if field.get("units") and spec is not None:
                for unit in field["units"]:
                    low = {"temperature": 300.0, "pressure": 5e5}.get(
                        spec.kind, (spec.low + min(spec.high, 4 * spec.low + 1)) / 2
                    )
                    shown = engine.units.from_si(low, unit, spec.kind)
                    assert engine.units.parse(f"{shown:.4g} {unit}", spec.kind).value == pytest.approx(low, rel=1e-2)


def test_the_answer_is_that_of_the_desk(page: Engine, book: Rulebook) -> None:
    from diagnose import examine

    told = page.look(VISIT, "us")
    desk = examine(VISIT, book)
    assert told["screen"] == as_page(first_screen(desk)[:-1])
    assert told["first"] == desk.faults[0].fault
    assert page.result(VISIT) == desk.to_dict()


def test_what_cannot_be_read_is_told_at_its_place_and_the_rest_is_answered(page: Engine) -> None:
    told = page.look(changed(supply_air_dry_bulb="56 Fx", liquid_line_temperature="101 F"), "us")
    assert list(told["problems"]) == ["readings/supply air dry bulb"]
    assert "not a unit" in told["problems"]["readings/supply air dry bulb"]
    assert told["first"] == page.look(VISIT, "us")["first"]


def test_an_empty_page_has_an_answer_too(page: Engine) -> None:
    told = page.look({"machine": {}, "readings": {}, "seen": {}}, "us")
    assert told["status"] == "not ready"
    headline, why = told["screen"][:2]
    assert headline["text"] == "Not ready to judge."
    assert "too little to go on" in why["text"]


def test_figures_stay_with_their_units(page: Engine) -> None:
    charge = next(block for block in page.look(VISIT, "us")["screen"] if block.get("lead") == "Charge:")
    assert re.search(r"\d\xa0±\xa0\d\.\d\xa0°F", charge["text"])


def test_what_only_a_standing_compressor_asks_for_stands_apart(page: Engine) -> None:
    groups = {group["title"]: [f["path"] for f in group["fields"]] for group in page.form()["groups"]}
    standing = groups["If the compressor is not running"]
    assert {"seen/contactor", "seen/windings", "seen/breaker"} <= set(standing)
    assert {"seen/air filter", "seen/outdoor fan", "seen/leak"} <= set(groups["What is seen"])


def test_lines_that_cannot_be_right_together_are_told(page: Engine) -> None:
    visit = changed()
    visit["machine"] |= {"altitude": "5000 ft", "station pressure": "29.9 inHg"}
    assert "contradict" in page.look(visit, "us")["wrong"][0]


def test_the_last_value_is_told_with_what_it_moved(page: Engine) -> None:
    page.look(VISIT, "us")
    told = page.look(changed(liquid_line_temperature="95 F"), "us")["changed"]
    assert told.startswith("Liquid line temperature: ")
    assert "low refrigerant charge" in told
    assert "→" in told
    assert page.look(changed(liquid_line_temperature="95 F"), "us")["changed"] == ""


def test_the_next_step_names_the_fields_that_it_fills(page: Engine) -> None:
    visit = changed()
    del visit["readings"]["liquid line temperature"]
    checks = page.look(visit, "us")["checks"]
    assert any("readings/liquid line temperature" in check["fields"] for check in checks)
    known = {field["path"] for group in page.form()["groups"] for field in group["fields"]}
    assert {path for check in checks for path in check["fields"]} <= known


def test_the_next_step_leads_to_what_it_names_and_to_what_is_doubted(page: Engine) -> None:
    assert page.look({"readings": {"suction pressure": "118 psig"}}, "us")["checks"][0]["fields"] == [
        "machine/refrigerant"
    ]
    doubted = page.look(case("demo/swapped-clamps").document.data["visit"], "us")["checks"][0]  # type: ignore[index]
    assert doubted["fields"] == ["readings/suction line temperature", "readings/liquid line temperature"]


def test_one_switch_converts_what_was_typed_and_back(page: Engine) -> None:
    si = page.in_system(VISIT, "si")
    assert si["readings"]["suction line temperature"] == "16.1 C"
    assert si["machine"]["rated subcooling"] == "5.6 K"
    back = Visit.parse(page.in_system(si, "us"))
    for name, reading in Visit.parse(VISIT).last.readings.items():
        assert back.last.readings[name].value == pytest.approx(reading.value, rel=2e-3)
    assert page.in_system(changed(supply_air_dry_bulb="56 Fx"), "si")["readings"]["supply air dry bulb"] == "56 Fx"


def test_rounds_are_a_list_and_the_last_one_is_typed(page: Engine) -> None:
    rounds = [{**VISIT["readings"], "minutes running": "15 min"}, {**VISIT["readings"], "liquid line temperature": "x"}]
    told = page.look({**VISIT, "readings": rounds}, "us")
    assert list(told["problems"]) == ["readings/liquid line temperature"]


def test_a_visit_goes_out_and_comes_back_as_the_file_of_the_command_line(page: Engine) -> None:
    text = engine.as_yaml(VISIT)
    assert engine.from_yaml(text) == VISIT
    pasted = engine.from_yaml("refrigerant: R-410A\nsuction pressure: 118 psig\n")  # each line in its field
    assert pasted == {"machine": {"refrigerant": "R-410A"}, "readings": {"suction pressure": "118 psig"}}
    engine._ENGINE[:] = [page]
    refused = json.loads(engine.call("from_yaml", json.dumps(["machine: {refrigerant: R-1}"])))
    assert "R-1" in refused["error"][0]


@pytest.mark.parametrize(
    "what",
    ["full", "next", "pictures", "sensitivity", "lesson", "why low-charge", "lesson low-charge", "lesson heating"],
)
def test_every_page_on_demand_has_blocks(page: Engine, what: str) -> None:
    blocks = page.told(what, VISIT, "si")["blocks"]
    assert blocks
    assert all(block["kind"] and (block["text"] or block.get("rows") or block.get("svg")) for block in blocks)


def test_the_worker_starts_with_the_stored_book(book: Rulebook) -> None:
    engine.start(json.dumps(to_data(book)))
    told = json.loads(engine.call("look", json.dumps([VISIT, "us"])))
    assert told["first"] == "low-charge"
    assert "error" not in told


def test_what_only_one_mode_uses_is_marked(page: Engine) -> None:
    modes = {field["path"]: field["modes"] for group in page.form()["groups"] for field in group["fields"]}
    assert modes["readings/valve tube temperature"] == ["heating"]
    assert modes["readings/condenser leaving air temperature"] == ["cooling"]
    assert modes["readings/suction pressure"] == ["cooling", "heating"]
    assert modes["seen/outdoor coil frost"] == ["heating"]


# Signs: Rossi and Braun 1997, table 1-1, as in tests/reference; for the drier and the valve machine the physics of the cycle.
@pytest.mark.parametrize(
    ("turned", "first", "ways"),
    [
        ({}, "nothing wrong", dict.fromkeys(["superheat", "subcooling"], "stays")),
        ({"charge": 80}, "low refrigerant charge", {"subcooling": "falls", "condensing temperature": "falls"}),
        ({"charge": 130}, "refrigerant overcharge", {"subcooling": "rises"}),
        (
            {"indoor airflow": 50},
            "low indoor airflow",
            {"evaporating temperature": "falls", "air temperature split": "rises"},
        ),
        ({"outdoor airflow": 40}, "low outdoor airflow", {"condensing temperature": "rises"}),
        ({"drier closed": 60}, "liquid line restriction", {"superheat": "rises", "evaporating temperature": "falls"}),
        ({"gas leaking back in the compressor": 30}, "weak compressor", {"evaporating temperature": "rises"}),
    ],
)
def test_what_if_moves_every_figure_its_way_and_the_program_finds_it(
    page: Engine, turned: dict[str, float], first: str, ways: dict[str, str]
) -> None:
    told = page.what_if("TXV", turned, "us")
    moved = {figure["name"]: figure["way"] for figure in told["figures"]}
    assert {name: moved[name] for name in ways} == ways
    assert first in next(block["text"] for block in told["screen"] if block["kind"] == "answer")


def test_what_if_says_where_nothing_runs_steadily(page: Engine) -> None:
    assert "ice" in page.what_if("TXV", {"drier closed": 90, "indoor airflow": 40, "outdoor air": 65}, "us")["why"]


def test_knobs_are_kept_within_what_they_can_be(page: Engine) -> None:
    assert page.what_if("TXV", {"charge": 1e9}, "si") == page.what_if("TXV", {"charge": 140}, "si")
    assert {knob["name"] for knob in page.knobs()["knobs"]} >= {"charge", "indoor airflow", "outdoor air"}


# -- what a newer rule book says otherwise -----------------------------------------------------------------------------------


def stored(book: Rulebook) -> str:
    return json.dumps(to_data(book))


def told_news(page: Engine, newer: Rulebook) -> dict[str, list[str]]:
    """The entries told, by their headings; the first line under an empty one."""
    found: dict[str, list[str]] = {"": []}
    title = ""
    for block in page.news(stored(newer))["blocks"]:
        if block["kind"] == "heading":
            title = block["text"]
        found.setdefault(title, []).append(block["text"].replace("\xa0", " "))
    return {title: texts[1:] if title else texts for title, texts in found.items()}


def test_the_same_book_is_no_news(page: Engine, book: Rulebook) -> None:
    assert told_news(page, book) == {"": ["The rules decide as before; only the program or its texts are newer."]}


def test_a_newer_book_is_told_with_what_it_says_otherwise(page: Engine, book: Rulebook) -> None:
    heavier = next(rule for rule in book.rules if rule.kind == "evidence" and rule.fault == "low-charge")
    gone = next(rule for rule in book.rules if rule.kind == "evidence" and rule.fault == "overcharge")
    name, finding = next((n, f) for n, f in book.findings.items() if f.scales)
    scale = finding.scales[0]._replace(limits_written=tuple(f"{n} F" for n in range(len(finding.scales[0].limits))))
    newer = replace(
        book,
        name="the newer one",
        rules=tuple(replace(r, points=r.points + 1) if r is heavier else r for r in book.rules if r is not gone),
        findings={**book.findings, name: finding._replace(scales=(scale, *finding.scales[1:]))},
        faults={**book.faults, "new-fault": book.faults["low-charge"]._replace(fault="new-fault", name="Leaking cap")},
    )
    told = told_news(page, newer)
    assert "rules gone: 1" in told[""][0]
    assert "the newer one" in told[""][1]
    assert told["Faults new"] == ["Leaking cap"]
    assert told["Rules gone"][0].startswith(gone.entry.title)
    assert told["Rules that weigh otherwise"] == [
        f"{heavier.entry.title}: {heavier.points:+g} → {heavier.points + 1:+g} points for low refrigerant charge".replace(
            "-", "−"
        )
    ]
    assert told["Limits changed"][0].partition("→ ")[2].startswith("0 F, 1 F")
    back = {title for title in told_news(Engine(newer), book) if title}
    assert back == {"Faults gone", "Rules new", "Rules that weigh otherwise", "Limits changed"}


def test_a_long_list_of_news_is_cut_and_counted(page: Engine, book: Rulebook) -> None:
    told = told_news(page, replace(book, rules=book.rules[: len(book.rules) // 2]))["Rules gone"]
    assert told[-1] == f"and {len(book.rules) - len(book.rules) // 2 - 12} more"


def test_a_book_for_a_newer_program_is_no_mishap(page: Engine) -> None:
    assert page.news("{}")["why"].startswith("It is written for a newer program")


# -- a repair, sensitivity, practice ------------------------------------------------------------------------------------------


def test_a_repair_is_told_with_the_visit_before_it(page: Engine) -> None:
    after = changed(
        suction_pressure="128 psig", liquid_pressure="345 psig", suction_line_temperature="53 F",
        liquid_line_temperature="94 F",
    )  # fmt: skip
    blocks = page.told("compare", after, "us", VISIT)["blocks"]
    assert "low refrigerant charge" in blocks[0]["text"]
    assert "Before you leave" in [block["text"] for block in blocks]
    drawn = next(block["svg"] for block in blocks if block.get("svg"))
    assert "was 1.5 °F" in drawn
    assert "should be" not in drawn


def test_a_repair_of_another_machine_is_refused(page: Engine) -> None:
    engine._ENGINE[:] = [page]
    other = {**VISIT, "machine": {**VISIT["machine"], "refrigerant": "R-22"}}
    told = json.loads(engine.call("told", json.dumps(["compare", VISIT, "us", other])))
    assert "R-22" in told["error"][0]


def test_what_a_reading_a_little_off_would_change_is_told(page: Engine) -> None:
    sure = page.told("sensitivity", VISIT, "us")["blocks"]
    assert sure[0]["text"].startswith("No single reading")
    doubtful = page.told("sensitivity", changed(liquid_line_temperature="95 F"), "us")
    assert any("would come first" in block["text"] for block in doubtful["blocks"])


def test_the_what_if_of_a_lesson_is_its_own_machine(page: Engine, book: Rulebook) -> None:
    """Every figure, and what is said of it, as in the example of the lesson; every lesson with an example."""
    knobs = page.knobs()
    grid = {knob["name"]: (knob["low"], knob["high"], knob["step"]) for knob in knobs["knobs"]}
    reached = {(fault, device) for fault, devices in knobs["presets"].items() for device in devices}
    assert set(product(TAUGHT, DEVICES)) <= reached
    for fault, device in sorted(reached):
        turned = knobs["presets"][fault][device]
        for name, value in turned.items():
            low, high, step = grid[name]
            assert low <= value <= high
            assert (value - low) % step == 0  # a slider rests only there
        told = page.what_if(device, turned, "us")
        assert "why" not in told
        if fault == "nothing-wrong":
            assert {f["way"] for f in told["figures"]} == {"stays"}
            continue
        lesson = example(fault, device, book, "us")
        for figure in told["figures"]:
            e = lesson.faulty.estimates[figure["name"]]
            assert figure["value"] == number(e.value, e.kind, "us")
        first = next(b["text"] for b in told["screen"] if b["kind"] == "answer")
        assert book.faults[lesson.faulty.faults[0].fault].name.lower() in first.lower() or lesson.faulty.held


def test_a_practice_visit_is_asked_and_answered(page: Engine) -> None:
    begin = page.practice(7, False, [], "us")
    assert begin["minutes"] == 0
    action = begin["actions"][0]
    then = page.practice(7, False, [action["name"]], "si")
    assert then["minutes"] == action["minutes"] > 0
    assert len(then["known"]) > len(begin["known"])
    assert action["name"] not in {a["name"] for a in then["actions"]}
    truth = page._exercise(7, False).truth
    right = page.practice_answer(7, False, [action["name"]], truth, "superheat is high", "us")
    assert right["right"]
    assert right["minutes"] == then["minutes"]
    wrong = next(name for name, _ in begin["answers"] if name != truth)
    assert not page.practice_answer(7, False, [], wrong, "", "us")["right"]
    assert page.practice_answer(7, False, [], "gave up", "", "us")["blocks"][0]["text"].startswith("Opened")


USES = """
import json, sys
from diagnose.page.engine import Engine
from diagnose.rulebook.data import from_data
page = Engine(from_data(json.loads(sys.stdin.read())))
visit = {"machine": {"refrigerant": "R-410A"}, "readings": {"suction pressure": "118 psig"}}
for what in ("full", "next", "pictures", "lesson", "lesson low-charge", "lesson heating", "sensitivity", "report customer"):
    page.told(what, visit, "us")
page.form(), page.knobs(), page.what_if("TXV", {"charge": 80}, "us"), page.practice(7, False, [], "us")
page.practice_answer(7, False, [], "low-charge", "superheat is high", "us")
names = (module.__file__ for name, module in sys.modules.items() if name.partition(".")[0] == "diagnose" and module.__file__)
print(json.dumps([name.rpartition("/diagnose/")[2] for name in names]))
"""


def test_what_the_page_uses_is_in_its_folder(book: Rulebook) -> None:
    told = subprocess.run(
        [sys.executable, "-c", USES], input=json.dumps(to_data(book)), capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr
    used = json.loads(told.stdout)
    assert "lessons/what_if.py" in used
    assert [name for name in used if name.startswith(LEFT_OUT) and name not in ALL_THE_SAME] == []
