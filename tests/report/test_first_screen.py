"""The first screen fits, says the most important first, and breaks no number, whatever the visit."""

from __future__ import annotations

import re

import pytest
import shared
import yaml
from doubtful import BASELINES, DOUBTS, VISITS, examined
from heats import ORIFICE
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine, report
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.report import as_markdown, as_text, first_screen
from diagnose.report.field import held_short
from diagnose.report.first_screen import LINES, _cut, short_answer
from diagnose.report.following import next_page
from diagnose.report.handover import handover_page
from diagnose.report.pages import diagnosis_page
from diagnose.report.repair import begin_of_repair
from diagnose.report.sentences import said
from diagnose.report.weighing import in_short
from diagnose.report.wording import likeliest

SOME = shared.PARTS[2]
OTHERS = [name for name in shared.PATHS if not name.startswith("demo/")][::3]


def screen(d: Diagnosis, width: int = 80) -> list[str]:
    return as_text(first_screen(d), width).splitlines()


def words(text: str) -> str:
    return " ".join(text.split())


def fits(d: Diagnosis) -> None:
    for units in ("us", "si"):
        lines = screen(d.told_in(units))
        assert len(lines) <= LINES
        assert all(len(text) <= 80 for text in lines)
        assert all(text.strip() for text in lines)


@pytest.mark.parametrize("name", [*(f"demo/{name}" for name in SOME), *OTHERS])
def test_every_shipped_visit_fits_one_screen(name: str) -> None:
    fits(shared.examined(name))


@pytest.mark.parametrize("code", VISITS)
def test_doubtful_visits_fit_too(code: str) -> None:
    fits(examined(code))


@pytest.mark.parametrize("code", BASELINES)
def test_a_good_day_that_is_not_used_at_all_is_told(code: str) -> None:
    d = examined(code)
    told = [text for text in screen(d) if text.startswith("Good day: The baseline is not used")]
    assert len(told) == (not d.good_day.used)


def test_a_good_day_without_a_reading_of_today_is_told_in_one_sentence() -> None:
    d = examine(visit(State()) | {"baseline": {"readings": {"compressor current": "9 A"}}})
    assert [text for text in screen(d) if text.endswith("could be compared.") or text == "  compared."]
    assert ".." not in "".join(screen(d))


FULL = visit(
    State(condensing=96, subcooling=15)
)  # its liquid line reads 1 °F over the outdoor air: doubted, held by nothing
BESIDE = {"suction_pressure": "13 psig", "return_air_wet_bulb": "75 F", "return_air_dry_bulb": "40 F"}


@pytest.mark.parametrize("name", [*DOUBTS, *BESIDE])
def test_readings_named_above_are_those_that_hold_the_charge(name: str) -> None:
    d = examined(name) if name in DOUBTS else examine(with_readings(FULL, **{name: BESIDE[name]}))
    text = words(as_text(first_screen(d)))
    if "the readings named above" in text:
        reasons = [said(d, reason) for reason in d.charge.reasons if reason in [doubt.reason for doubt in d.doubts]]
        assert any(words(f"Doubtful: {reason}")[:60] in text for reason in reasons)


@examples(12)
@given(states(), st.sampled_from(["us", "si"]), st.booleans(), st.integers(0, 2**20))
def test_any_visit_fits(state: object, system: str, extra: bool, dropped: int) -> None:
    data = visit(state, system, extra)
    taken = {name: text for i, (name, text) in enumerate(data["readings"].items()) if not dropped >> i & 1}
    fits(examine({**data, "readings": taken}))


@pytest.mark.parametrize("name", SOME)
def test_answer_charge_and_next_step_come_in_this_order(name: str) -> None:
    d = shared.examined(f"demo/{name}")
    text = "\n".join(screen(d))
    assert text.startswith("STOP: Switch the machine off") is d.stop
    if d.dangers:
        assert re.search("^(STOP|Danger):", "\n".join(screen(d)[:6]), re.MULTILINE)
    if d.stop:  # before all else
        answer = f"{held_short(d)} " if d.held else f"{likeliest(d)}."
        text = text[text.index(f"\n{answer}") + 1 :]
    elif d.held and d.dangers:  # a long answer comes after them
        text = text[text.index(f"\n{held_short(d)} ") + 1 :] if text.startswith("Danger: ") else text
    if d.held:
        assert text.startswith(f"{held_short(d)} ")
        by_weight = isinstance(d.charge, ChargeVerdict) or in_short(d)  # a scale tells it whatever else is held
        assert "\nCharge:" not in text or by_weight
    else:
        assert text.startswith(f"{likeliest(d)}.")
        assert "\nCharge:" in text
        if isinstance(d.charge, ChargeVerdict):
            assert re.search(f"Charge: {d.charge.verdict} by ({d.charge.method}|all readings)", text)
    order = [
        text.index(f"\n{part}") for part in ("Charge:", "Next:", "Because", "Care:", "More:") if f"\n{part}" in text
    ]
    assert order == sorted(order)
    assert bool(next_checks(d) or begin_of_repair(d)) is ("\nNext:" in text)


def test_where_no_check_pays_the_next_step_is_what_is_done_about_it() -> None:
    d = shared.examined("demo/weak-compressor-txv")
    assert next_checks(d) == ()
    assert "\nNext: Never condemn a compressor on gauge readings alone." in "\n".join(screen(d))


@pytest.mark.parametrize(
    ("name", "seen", "alike"),
    [
        ("heating-overfeeding-txv", {}, "leaking check valve"),
        ("heating-overfeeding-txv", {"bypass check valve": "closed"}, None),  # what parts the two was looked at
        ("heating-weak-compressor-gauges-only", {}, "leaking reversing valve"),
        ("non-condensables-eight-readings", {}, "refrigerant overcharge"),
    ],
)
def test_what_is_the_same_at_the_gauges_is_named_until_it_is_parted(
    name: str, seen: dict[str, str], alike: str | None
) -> None:
    found = yaml.safe_load(shared.PATHS[f"demo/{name}"].read_text(encoding="utf-8"))["visit"]
    text = words("\n".join(screen(examine({**found, "seen": {**found.get("seen", {}), **seen}}))[:2]))
    assert ("The same at the gauges:" in text) is (alike is not None)
    assert alike is None or f"evidence). The same at the gauges: {alike}." in text


def test_a_word_that_several_faults_have_together_names_them() -> None:
    """Neither of two that are one doubt has two fifths of the odds; both together have, and the screen says so."""
    backed_up = with_readings(ORIFICE, liquid_line_temperature="72 F", liquid_pressure="340 psig")
    d = examine(backed_up)
    assert [(one.fault, one.strength) for one in d.faults[:2]] == [
        ("liquid-line-restriction", "fair"),
        ("metering-underfeeding", "weak"),
    ]
    assert d.faults[0].share < d.rules.judgement.strengths.fair < d.faults[0].share + d.faults[1].share
    assert short_answer(d).endswith("(fair evidence). The same at the gauges: underfeeding metering device.")


@pytest.mark.parametrize(
    ("name", "near"), [("metering-overfeeding-orifice", "weak compressor"), ("low-charge-orifice", "")]
)
def test_what_is_nearly_as_likely_is_named(name: str, near: str) -> None:
    d = shared.examined(f"demo/{name}")
    assert (d.faults[0].share - d.faults[1].share < d.rules.charge.leads_by) is (near != "")
    assert short_answer(d).endswith(f"evidence).{' Also possible: ' + near + '.' if near else ''}")


def test_a_text_that_is_cut_ends_behind_a_sentence() -> None:
    assert _cut("One. " * 80) == "One. " * 59 + "One. …"
    assert _cut("one; " * 80) == "one; " * 59 + "one; …"
    assert _cut("one " * 80).endswith("one …")


@pytest.mark.parametrize("name", SOME)
def test_a_narrow_terminal_breaks_no_number(name: str) -> None:
    for text in screen(shared.examined(f"demo/{name}"), 40):
        assert not re.search(r"(\d|±|−)$", text) or re.search(r"\b(R-\w+|\d\.)$", text), text
        assert not re.match(r"\s*(°F|K|%|psig|±)(\s|$)", text)


def test_the_whole_page_begins_with_the_readings_as_understood() -> None:
    d = shared.examined("demo/low-charge-orifice")
    text = report.text(d, full=True)
    assert text.index("The readings, as understood") < text.index("The charge\n")
    for name in d.visit.last.readings:
        assert f"  {name}  " in text


def test_markdown_and_terminal_tell_the_same() -> None:
    d = shared.examined("demo/low-charge-orifice")
    marks = re.sub(r"[*#]", "", as_markdown(first_screen(d)))
    assert " ".join(marks.split()) == " ".join(" ".join(screen(d)).split())


def test_each_figure_stands_once() -> None:
    for name in SOME:
        lines = re.split(r"\n(?! )", "\n".join(screen(shared.examined(f"demo/{name}"))))
        reasons = " ".join(text for text in lines if text.startswith(("Because", "But")))
        figures = re.findall(r"[(;] ?([a-z ]+) [−\d.,]+ ± ", reasons)
        assert len(figures) == len(set(figures)), (name, figures)


def test_a_danger_is_not_followed_by_nothing_wrong() -> None:
    """Liquid at the compressor, all else right: who reads no more than the answer must not leave the machine running."""
    d = examine(FLOODED)
    assert d.stop
    assert d.faults[0].fault == "nothing-wrong"
    for page in (first_screen(d), diagnosis_page(d), next_page(d)):
        assert "Most likely: nothing wrong" not in as_text(page)
        assert "Apart from the danger, most likely: nothing wrong" in " ".join(as_text(page).split())


FLOODED = {
    "machine": {"refrigerant": "R-410A", "metering": "TXV", "rated subcooling": "10 F", "nominal capacity": "3 ton"},
    "readings": {
        "minutes running": 20, "suction pressure": "130 psig", "liquid pressure": "380 psig",
        "suction line temperature": "25 F", "liquid line temperature": "150 F", "outdoor air temperature": "95 F",
        "return air dry bulb": "75 F", "supply air dry bulb": "90 F",
    },
}  # fmt: skip


def test_nobody_assumes_that_a_machine_that_stands_has_run() -> None:
    stands = {"machine": {"refrigerant": "R-22", "metering": "TXV"}, "seen": {"contactor": "open"}}
    d = examine({**stands, "readings": {"standing pressure": "150 psig", "standing air temperature": "80 F"}})
    assert "minutes running" not in as_text([*first_screen(d), *diagnosis_page(d)])
    rests = examine(
        {"machine": stands["machine"], "readings": {"standing pressure": "60 psig", "standing air temperature": "80 F"}}
    )
    assert rests.faults[0].fault == "low-charge"
    assert not re.search("minutes (running|the machine)", as_text(first_screen(rests)))
    runs = examine({"machine": stands["machine"], "readings": {"suction pressure": "70 psig"}})
    assert "15 minutes running" in as_text(first_screen(runs))


def test_a_fault_that_nothing_points_to_is_not_named() -> None:
    """A first place that comes of how usual a fault is would send somebody to the cylinder."""
    d = examine({"machine": {"refrigerant": "R-410A"}, "readings": {"suction pressure": "60 psig"}})
    assert d.faults[0].fault == "low-charge"
    texts = [as_text(page) for page in (first_screen(d), next_page(d), handover_page(d, "customer"))]
    assert [text.splitlines()[0] for text in texts] == [
        "Too little to tell: nothing read so far points to one fault.",
        "Too little to tell: nothing read so far points to one fault. Possible: low",
        "Too little was measured to say what is wrong, if anything is.",
    ]
    assert "refrigerant in the machine" not in texts[2]


def test_without_a_reading_the_first_step_is_to_take_one() -> None:
    d = examine({"machine": {"refrigerant": "R-22", "metering": "TXV"}})
    assert "note-the-minutes" not in [check.check for check in next_checks(d)]


@pytest.mark.parametrize(
    ("state", "surer"),
    [
        (State(), True),
        (State(metering="TXV", superheat=10), False),
        (State(minutes=16, superheat=30, subcooling=2), False),
    ],
)
def test_on_a_machine_on_which_nothing_is_doubtful_a_check_only_makes_surer(state: State, surer: bool) -> None:
    """The second is called sound as well, but not strongly."""
    d = examine(visit(state))
    assert next_checks(d)
    for told in (words(as_text(first_screen(d))), words(as_text(next_page(d)))):
        assert ("Nothing more is needed. To be surer: " in told) == surer


def test_a_leader_of_whose_reasons_none_is_likely_is_told_with_one_that_may_be() -> None:
    """In a house at 50 °F each reading of this machine stands within its limits, and yet together they point to one fault."""
    cold = {"suction pressure": "100 psig", "suction line temperature": "42 F", "liquid pressure": "235 psig",
            "liquid line temperature": "60 F", "outdoor air temperature": "45 F", "return air dry bulb": "50 F",
            "supply air dry bulb": "74 F", "minutes running": 25}  # fmt: skip
    machine = {"mode": "heating", "refrigerant": "R-410A", "metering": "TXV", "nominal capacity": "3 ton"}
    told = screen(examine({"machine": machine, "readings": cold}))
    assert [line for line in told if line.startswith("Perhaps because suction pressure is high")]
    assert not [line for line in told if line.startswith("Because")]


LOW = State(superheat=25, subcooling=3, condensing=93, split=15)
HIGH = State(superheat=3, subcooling=18, condensing=100, split=18)


@pytest.mark.parametrize(("state", "told"), [(LOW, "Never add to"), (HIGH, "Never trim"), (State(), "")])
def test_a_machine_that_is_charged_by_weight_alone_is_trimmed_by_no_temperature(state: State, told: str) -> None:
    d = examine(with_machine(visit(state), metering="capillary tube"))
    assert d.charge.verdict == {LOW: "low", HIGH: "high"}.get(state, "right")
    found = re.findall("Never (?:add to|trim)", words(" ".join(screen(d))))
    assert found == ([told] if told else [])


@pytest.mark.parametrize(("state", "told"), [(LOW, "Add nothing yet"), (HIGH, "Take out nothing yet"), (State(), "")])
def test_nobody_acts_on_a_machine_of_which_nobody_noted_how_long_it_ran(state: State, told: str) -> None:
    """A machine that was just started looks undercharged."""
    d = examine(with_readings(visit(state), minutes_running=None))
    assert (d.faults[0].strength, next_checks(d)[0].check) == ("fair", "note-the-minutes")
    assert re.findall("(?:Add|Take out) nothing yet", words(" ".join(screen(d)))) == ([told] if told else [])


@pytest.mark.parametrize("read", ["liquid pressure", "liquid line temperature"])
def test_of_what_is_half_read_the_missing_half_is_named(read: str) -> None:
    """A check that asks for both says which is missing; where neither was read, it says nothing."""
    whole = visit(State(metering="TXV", superheat=10))
    (other,) = {"liquid pressure", "liquid line temperature"} - {read}
    for dropped in ({other}, {other, read}):
        kept = {name: value for name, value in whole["readings"].items() if name not in dropped}
        text = words(as_text(next_page(examine({**whole, "readings": kept}))))
        half = f"at the liquid service valve. Only the {other} is missing."
        assert (half in text) == (dropped == {other})
        assert "at the liquid service valve." in text
