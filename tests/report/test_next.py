"""`diagnose next`: what to do, what each outcome would mean, what would change the answer."""

from __future__ import annotations

import json
import re
import sys
from functools import partial
from itertools import product
from pathlib import Path

import commands
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, visit, with_readings

from diagnose import examine
from diagnose.diagnosis.findings import spans
from diagnose.diagnosis.next_checks import next_checks
from diagnose.properties import refrigerant, saturation_temperature
from diagnose.report import as_text
from diagnose.report.following import BEST, covering, next_page
from diagnose.shipped import shipped
from diagnose.units import PSI
from diagnose.visit import visit_from

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from whole_visits import PAIRS, settled

DEMO = shipped("cases") / "demo"
ALIKE = str(DEMO / "restriction-or-device-eight-readings.yaml")
WEAK = str(DEMO / "low-charge-txv.yaml")

run = partial(commands.run, "next")


def flat(text: str) -> str:
    return " ".join(text.split())


# -- the command -----------------------------------------------------------------------------------------------------------


def test_it_says_what_to_do_with_what_how_long_and_what_each_outcome_means():
    code, out, _ = run(ALIKE)
    text = flat(out)
    assert code == 0
    assert text.startswith("Most likely: liquid line restriction (")
    assert "Also possible: underfeeding metering device" in text
    first = text.partition(" 1. ")[2].partition(" 2. ")[0]
    assert re.search(r"\(15 minutes, needs a service port", first)
    assert "liquid line pressure loss small (under 3.5 °F) → underfeeding metering device, strong" in first
    assert re.search(r"large \(over 6\.0 °F\) → liquid line restriction, strong", first)
    assert len(re.findall(r"^  \d\. ", out, re.M)) <= BEST


def test_a_conclusion_that_hangs_on_one_reading_says_so():
    text = flat(run(WEAK)[1])
    assert "This is not firm" in text
    assert re.search(
        r"If the \S.* were [\d.]+ \S+ instead of [\d.]+ \S+, nothing wrong would come first",
        text,
    )


def test_examine_says_it_too_and_says_nothing_where_nothing_is_near():
    weak, sound = (flat(commands.run("examine", path, "--full").stdout) for path in (WEAK, ALIKE))
    assert "Not firm: one reading, a little off, would change the answer" in weak
    assert "Not firm" not in sound


def test_json_has_the_outcomes_and_the_same_checks_as_examine():
    data = json.loads(run(ALIKE, "--as", "json")[1])
    whole = json.loads(commands.run("examine", ALIKE, "--as", "json").stdout)
    assert data["checks"] == whole["checks"]
    keys = {"format", "status", "dangers", "outside", "not_ready", "rulebook", "checks", "faults", "would_change"}
    assert keys == set(data)
    first = data["checks"][0]
    assert {"check", "ask", "why", "minutes", "needs", "worth", "saves_hours", "outcomes"} == set(first)
    assert first["worth"] > 0
    assert sum(o["chance"] for o in first["outcomes"]) == pytest.approx(1.0, abs=0.001)
    assert {o["fault"] for o in first["outcomes"]} == {"liquid-line-restriction", "metering-underfeeding"}


def test_other_forms_and_standard_input():
    text = Path(ALIKE).read_text(encoding="utf-8")
    known = json.dumps(yaml.safe_load(text)["visit"])
    assert run("-", stdin=known)[1].partition("\n")[0] == run(ALIKE)[1].partition("\n")[0]
    assert run(ALIKE, "--as", "markdown")[1].startswith("# Most likely: liquid line restriction")
    assert " K)" in run(ALIKE, "--units", "si")[1]


def test_a_visit_that_is_not_ready_says_what_must_be_done_first():
    early = json.dumps(with_readings(visit(State()), minutes_running=5))
    out = run("-", stdin=early).fine()
    assert flat(out).startswith("Not ready to judge. The machine has not run for 15 minutes.")
    assert "Let the machine run" in flat(out)
    assert "What would change the answer" not in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("no-such-visit.yaml",), "no-such-visit.yaml"),
        (("-",), "suction presure"),
        ((ALIKE, "--rules", "no-such-folder"), "no-such-folder"),
    ],
)
def test_bad_input_is_told_and_leaves_with_2(words, says):
    code, out, err = run(*words, stdin='{"readings": {"suction presure": "118 psig"}}')
    assert code == 2
    assert not out
    assert says in err
    assert "Traceback" not in err


# -- the checks themselves ---------------------------------------------------------------------------------------------------


def test_a_check_that_parts_the_two_leads_beats_one_that_only_confirms():
    d = examine(visit_from(yaml.safe_load(Path(ALIKE).read_text(encoding="utf-8"))["visit"]))
    ways = [{o.fault for o in c.outcomes if o.chance > 0.1} for c in next_checks(d)]
    assert {r.fault for r in d.ranked[:2]} <= ways[0]
    worths = [c.worth for c in next_checks(d)]
    assert worths == sorted(worths, reverse=True)


def test_where_the_answer_is_all_but_certain_no_check_is_asked_for_its_worth():
    """Far too little charge behind a valve, with everything cheap measured: only the leak is to be looked for."""
    d = examine(visit(State(metering="TXV", superheat=40, subcooling=0.5, evaporating=30, split=10), extra=True))
    assert d.ranked[0].share > 0.9
    assert all(c.worth < 0.5 for c in next_checks(d))


def test_the_same_visit_gives_the_same_checks():
    one, two = (next_checks(examine(visit(State(superheat=30, subcooling=17)))) for _ in range(2))
    assert one == two


@pytest.mark.parametrize("pair", PAIRS, ids=" or ".join)
def test_the_first_advice_settles_faults_that_look_alike(pair):
    """The measurement of tests/benchmarks/whole_visits.py, small: right then in 11 of 13 of the worst pair."""
    count = settled(18, 77, pair, steps=1)
    assert count["all"] >= 5
    assert count[1] >= 0.8 * count["all"]


# -- what an outcome is called ---------------------------------------------------------------------------------------------


def test_spans_are_absolute_figures_of_this_machine(book):
    """Target superheat 13.5 °F (table RA3.2-2, from memory): high is 5 to 12 °F above it."""
    found = spans("superheat", visit_from(visit(State())), book)
    target = examine(visit(State())).estimates["superheat"].target
    high = found["high"]
    assert (high.low - target.value) * 1.8 == pytest.approx(5.0)
    assert (high.high - target.value) * 1.8 == pytest.approx(12.0)
    assert found["very low"].low is None
    assert spans("air filter", visit_from(visit(State())), book) == {}


def test_spans_and_examine_agree_on_the_word(book):
    d = examine(visit(State(superheat=22, subcooling=4), extra=True))
    for name, finding in d.findings.items():
        lie = spans(name, d.visit, book).get(finding.word)
        if lie is not None and finding.words[finding.word] > 0.9:
            value = finding.estimate.value
            assert lie.low is None or value >= lie.low - 1e-6, name
            assert lie.high is None or value <= lie.high + 1e-6, name


WORDS = {"drier": ("none", "slight", "marked"), "line": ("none", "marked"), "feel": ("even", "cold")}
ALL = [dict(zip(WORDS, words, strict=True)) for words in product(*WORDS.values())]


@given(st.lists(st.integers(0, 2), min_size=len(ALL), max_size=len(ALL)))
def test_a_description_fits_every_outcome_it_is_for_and_no_other(marks):
    these = [o for o, mark in zip(ALL, marks, strict=True) if mark == 0]
    others = [o for o, mark in zip(ALL, marks, strict=True) if mark == 1]
    if not these:
        return
    ways = covering(these, others)

    def fits(outcome) -> bool:
        return any(all(outcome[name] in words for name, words in way.items()) for way in ways)

    assert all(map(fits, these))
    assert not any(map(fits, others))


def test_a_description_is_short():
    these = [o for o in ALL if o["drier"] == "marked" or o["feel"] == "cold"]
    others = [o for o in ALL if o not in these]
    found = covering(these, others)
    assert sorted(map(dict, found), key=str) == [{"drier": ("marked",)}, {"feel": ("cold",)}]


# -- the pressure before the metering device -------------------------------------------------------------------------------


@pytest.mark.parametrize("gas", ["R-410A", "R-22", "R-407C"])
def test_pressure_loss_is_told_in_degrees_of_saturation(gas):
    """By its definition, with the saturation table, which test_properties holds against CoolProp."""
    state = State(gas=gas, condensing=105)
    lost = 40.0  # psi
    arriving = f"{(state.liquid - state.station) / PSI - lost:.4f} psig"
    d = examine(with_readings(visit(state), metering_inlet_pressure=arriving))
    wanted = [saturation_temperature(refrigerant(gas), "bubble", state.liquid - x * PSI) for x in (0.0, lost)]
    assert d.estimates["liquid line pressure loss"].value == pytest.approx(wanted[0] - wanted[1], abs=0.01)
    assert d.findings["liquid line pressure loss"].word == "large"


def test_pressure_loss_of_r410a_against_a_pressure_temperature_chart():
    """R-410A boils at 105 °F under 340 psig and at 95 °F under 295 psig (printed charts, within 2 psi; from memory)."""
    data = visit(State(condensing=105)) | {}
    data = with_readings(data, liquid_pressure="340 psig", metering_inlet_pressure="295 psig")
    assert examine(data).estimates["liquid line pressure loss"].value * 1.8 == pytest.approx(10.0, abs=0.6)


def test_where_too_little_was_read_the_next_step_is_to_read_more():
    machine = {"mode": "heating", "refrigerant": "R-410A", "metering": "TXV"}
    readings = {"minutes running": 20, "outdoor air temperature": "40 F"}
    text = as_text(next_page(examine({"machine": machine, "readings": readings})))
    assert "Take the readings named above first." in text
    assert "No check would save" not in text
