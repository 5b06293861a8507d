"""Two visits of one machine: each reading judged by where the repair should send it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import commands
import pytest
from judged import JUDGEMENT
from shared import DEMO, examined
from strategies import State, visit

from diagnose import examine
from diagnose.diagnosis.after_repair import Comparison, Movement, _clearly, compare, directions
from diagnose.report import as_text
from diagnose.report.after_repair import both_cycles, compare_page, comparison, illustrated_comparison, outcome_text
from diagnose.report.field import weighed_text
from diagnose.report.householder import AFTER
from diagnose.rulebook import Rulebook
from diagnose.visit import System, Visit, VisitError
from diagnose.yamlfile import InputProblems

# Case -> what came of it, one reading and how it is judged.
PAIRS: dict[str, tuple[str, str, Movement]] = {
    "low-charge-orifice": ("repaired", "superheat", "as it should"),
    "low-indoor-airflow-txv": ("repaired", "airflow per ton", "as it should"),
    "liquid-line-restriction-txv": ("repaired", "subcooling", "as it should"),
    "non-condensables-txv": ("repaired", "condensing over ambient", "as it should"),
    "overcharge-orifice": ("repaired", "subcooling", "as it should"),
    "metering-overfeeding-orifice": ("repaired", "superheat", "as it should"),
    "weak-compressor-txv": ("repaired", "current ratio", "as it should"),
    "compressor-not-running-capacitor": ("repaired", "air temperature split", "as it should"),
    "low-charge-txv": ("too far", "subcooling", "too far"),
    "liquid-line-restriction-orifice": ("not reached", "superheat", "did not move"),
    "si-low-charge": ("on its way", "superheat", "short of it"),
    "two-faults-dirty-coil-and-low-charge": ("second fault", "subcooling", "did not move"),
}


def pair(name: str, units: System | None = None) -> Comparison:
    return compare(examined(f"demo/{name}", units), examined(f"demo/{name}-after", units))


def seen_as(c: Comparison, name: str) -> str:
    return next(shift.judged for shift in c.shifts if shift.name == name)


@pytest.mark.parametrize("name", PAIRS)
def test_each_pair_of_the_demo(name: str) -> None:
    outcome, reading, judged = PAIRS[name]
    found = pair(name)
    assert (found.outcome, seen_as(found, reading)) == (outcome, judged)


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("units", ["us", "si"])
def test_the_first_screen_fits(name: str, units: System) -> None:
    lines = as_text(compare_page(pair(name), units, more="diagnose compare a.yaml b.yaml --full")).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert any(line.startswith("Before you leave: valve caps") for line in lines)


def written(day: int = 0, **state: float) -> dict[str, Any]:
    """A visit of one machine, on days of different weather."""
    return visit(State(metering="fixed orifice", outdoor=82 + 8 * day, condensing=99 + 8 * day, **state))  # type: ignore[arg-type]


def compared(before: Mapping[str, Any], after: Mapping[str, Any], fault: str | None = None) -> Comparison:
    return compare(examine(before), examine(after), fault)


LOW = {"superheat": 26.0, "subcooling": 1.0}
SOUND = {"superheat": 13.5, "subcooling": 10.0}


def test_weather_alone_is_no_repair() -> None:
    one, other = written(**LOW), written(1, **{**LOW, "superheat": 22.5})
    found = compared(one, other)
    assert found.fault == "low-charge"
    assert found.outcome == "not reached"
    assert seen_as(found, "superheat") == "did not move"
    assert "does not show: " in outcome_text(found)


def test_a_reading_that_stayed_off_is_told_beside_a_repair() -> None:
    """Its split stays low while all that shows the charge comes right."""
    found = compared(written(**LOW, split=14), written(**SOUND, split=14))
    assert (found.outcome, seen_as(found, "air temperature split")) == ("repaired", "did not move")
    assert "but air temperature split did not move" in outcome_text(found)
    assert "did not move" not in outcome_text(compared(written(**LOW, split=15), written(**SOUND, split=19)))


def test_what_moves_the_wrong_way_is_worse() -> None:
    found = compared(written(superheat=22.0, subcooling=5.5), written(superheat=38.0, subcooling=-1.0))
    assert found.outcome == "worse"
    assert {"superheat", "subcooling"} <= set(found.judged("wrong way"))
    assert outcome_text(found).startswith("Worse: ")


def test_small_changes_cannot_be_told() -> None:
    found = compared(written(superheat=14.0, subcooling=9.0), written(superheat=13.0, subcooling=9.5), "low-charge")
    assert found.outcome == "right now"
    assert not found.judged("as it should", "did not move", "wrong way", "too far")


def test_a_machine_that_must_be_stopped_is_not_repaired() -> None:
    """Whatever went where it should: a gauge over the cut-out's pressure is no sound machine."""
    after = written(**SOUND)
    assert compared(written(**LOW), after).outcome == "repaired"
    after["machine"] |= {"high pressure cut-out": "200 psig"}
    found = compared(written(**LOW), after)
    assert found.after.stop
    assert found.outcome == "dangerous"
    assert outcome_text(found).startswith("Not done: ")
    assert "the work is not done" in AFTER[found.outcome]


def test_nothing_found_before_gives_no_direction() -> None:
    found = compared(written(**SOUND), written(1, superheat=9.5, subcooling=9.5))
    assert (found.fault, found.outcome) == (None, "nothing to repair")
    later = compared(written(**SOUND), written(**LOW, split=14.0))
    assert seen_as(later, "superheat") == "wrong way"
    assert later.outcome == "other fault"
    assert (
        outcome_text(later)
        == "Before it nothing clear was found; now low refrigerant charge comes first (strong evidence)."
    )


def test_a_visit_that_is_not_ready_is_said_so() -> None:
    early = written(**SOUND)
    early["readings"]["minutes running"] = 3
    found = compared(written(**LOW), early)
    assert found.outcome == "not comparable"
    assert outcome_text(found).startswith("The repair cannot be judged yet. After it: Not ready to judge. ")


def test_what_was_repaired_can_be_said() -> None:
    found = compare(examined("demo/low-charge-orifice"), examined("demo/low-charge-orifice-after"), "overcharge")
    assert (found.fault, found.said) == ("overcharge", True)
    assert [note.code for note in found.notes] == ["added-without-need"]
    assert "refrigerant overcharge" in outcome_text(found)
    with pytest.raises(InputProblems, match=r"Did you mean `low-charge`"):
        compare(examined("demo/low-charge-orifice"), examined("demo/low-charge-orifice-after"), "low-chrge")


def test_too_little_to_judge_is_said_so() -> None:
    after = written(1, **SOUND)
    after["readings"] = {"minutes running": 20, "suction pressure": "118 psig"}
    found = compared(written(**LOW), after)
    assert found.outcome == "too little read"
    assert outcome_text(found).startswith("Too little was read after the repair to judge it; ")
    standing = written(1, **SOUND) | {"seen": {"compressor sound": "silent"}}
    standing["readings"] = {"standing pressure": "200 psig", "standing air temperature": "70 F"}
    assert compared(written(**LOW), standing).outcome == "too little read"
    with pytest.raises(InputProblems, match="is nothing that is repaired"):
        compared(written(**LOW), written(1, **SOUND), "nothing-wrong")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"refrigerant": "R-22"}, "the refrigerant: `R-410A`, then `R-22`"),
        ({"mode": "heating"}, "the mode: `cooling`, then `heating`"),
        ({"metering": "TXV"}, "the metering device"),
        ({"nominal capacity": "5 ton"}, "`nominal capacity`: 3.0 ton, then 5.0 ton"),
        ({"name": "another"}, "the machine's name: `one`, then `another`"),
    ],
)
def test_two_machines_or_modes_are_refused(change: dict[str, str], told: str) -> None:
    one, other = written(**LOW), written(1, **SOUND)
    one["machine"]["name"] = other["machine"]["name"] = "one"
    other["machine"] = {**other["machine"], **change}
    with pytest.raises(InputProblems, match="the two visits differ in") as raised:
        compared(one, other)
    assert told in str(raised.value.problems[0])
    assert raised.value.problems[0].fix


def test_a_copy_and_a_wrong_order_are_refused() -> None:
    with pytest.raises(InputProblems, match="the very same readings"):
        compared(written(**LOW), written(**LOW))
    with pytest.raises(InputProblems, match="is dated 2026-07-01, before the first, 2026-07-03"):
        compared({**written(**LOW), "date": "2026-07-03"}, {**written(1, **SOUND), "date": "2026-07-01"})


@pytest.mark.parametrize(("plate", "refused"), [("3.29 ton", False), ("3.31 ton", True)])
def test_a_plate_may_be_off_by_as_much_as_that_of_a_good_day(plate: str, refused: bool) -> None:
    one, other = written(**LOW), written(1, **SOUND)
    other["machine"] = {**other["machine"], "nominal capacity": plate}
    if refused:
        with pytest.raises(InputProblems, match="the two visits differ in `nominal capacity`"):
            compared(one, other)
    else:
        compared(one, other)


@pytest.mark.parametrize(("many", "refused"), [(3, False), (4, True)])
def test_four_readings_that_are_equal_to_the_last_digit_were_copied(many: int, refused: bool) -> None:
    one = written(**LOW)
    one["readings"] = dict([(name, said) for name, said in one["readings"].items() if name != "minutes running"][:many])
    if refused:
        with pytest.raises(InputProblems, match="the very same readings"):
            compared(one, one)
    else:
        compared(one, one)


def test_one_reading_alone_says_something_beyond_one_and_a_half_limits_of_error() -> None:
    near, far = (SimpleNamespace(surely=surely) for surely in (1.5, 1.51))
    alone = JUDGEMENT.after_repair.alone
    assert [_clearly(shifts, alone) for shifts in ([], [near], [far], [near, near])] == [False, False, True, True]  # type: ignore[arg-type, list-item]


# -- directions ------------------------------------------------------------------------------------------------------

# What the sentences of `repair.expect` say: quantity, 1 it rises, -1 it falls.
EXPECT = [
    ("low-charge", "fixed orifice", "superheat", -1),
    ("low-charge", "TXV", "subcooling", 1),
    ("low-charge", "TXV", "condensing over ambient", 1),
    ("low-charge", "fixed orifice", "evaporator temperature difference", -1),
    ("overcharge", "fixed orifice", "superheat", 1),
    ("overcharge", "TXV", "subcooling", -1),
    ("overcharge", "TXV", "condensing over ambient", -1),
    ("overcharge", "TXV", "liquid line approach", 1),
    ("low-indoor-airflow", "fixed orifice", "superheat", 1),
    ("low-indoor-airflow", "TXV", "air temperature split", -1),
    ("low-indoor-airflow", "TXV", "evaporator temperature difference", -1),
    ("low-outdoor-airflow", "TXV", "condensing over ambient", -1),
    ("low-outdoor-airflow", "TXV", "current ratio", -1),
    ("liquid-line-restriction", "TXV", "superheat", -1),
    ("liquid-line-restriction", "fixed orifice", "subcooling", -1),
    ("liquid-line-restriction", "TXV", "liquid line drop", -1),
    ("metering-underfeeding", "TXV", "air temperature split", 1),
    ("metering-overfeeding", "TXV", "superheat", 1),
    ("metering-overfeeding", "TXV", "subcooling", 1),
    ("non-condensables", "TXV", "subcooling", -1),
    ("non-condensables", "TXV", "standing pressure excess", -1),
    ("weak-compressor", "TXV", "evaporator temperature difference", 1),
    ("weak-compressor", "TXV", "condensing over ambient", 1),
    ("weak-compressor", "TXV", "current ratio", 1),
    ("weak-compressor", "TXV", "superheat", 1),
    ("compressor-not-running", "TXV", "air temperature split", 1),
]


@pytest.mark.parametrize(("fault", "metering", "quantity", "way"), EXPECT)
def test_the_repair_undoes_what_the_fault_does(
    fault: str, metering: str, quantity: str, way: int, book: Rulebook
) -> None:
    found = directions(book.faults[fault], book, {"metering": metering, "mode": "cooling"})
    assert found[quantity] == way


def test_a_fault_without_a_lesson_is_undone_by_what_it_brings(book: Rulebook) -> None:
    fault = book.faults["low-charge"]._replace(lesson=None)
    found = directions(fault, book, {"metering": "fixed orifice"})
    assert (found["superheat"], found["subcooling"], found["air temperature split"]) == (-1, 1, 1)


# -- told ------------------------------------------------------------------------------------------------------------


def test_the_refrigerant_log_adds_up_both_visits() -> None:
    before, after = written(**LOW), written(1, **SOUND)
    before["machine"]["factory charge"] = after["machine"]["factory charge"] = "6 lb 4 oz"
    assert "refrigerant" not in examine(after).to_dict()["visit"]
    before["refrigerant"] = {"removed": "4 oz"}
    after["refrigerant"] = {"added": ["12 oz", "0.5 lb"], "recovered": None}
    found = compared(before, after)
    assert found.weighed == pytest.approx({"added": 20 * 0.0283495, "recovered": 4 * 0.0283495}, rel=1e-4)
    assert (
        weighed_text(found.weighed, found.after.visit.machine, "us")
        == "1 lb 4 oz of R-410A added, 4 oz of R-410A recovered (in all 1 lb more, 16 % of the factory charge)."
    )


def test_what_a_scale_showed_of_the_whole_charge_is_in_the_log() -> None:
    before, after = written(**LOW), written(1, **SOUND)
    before["machine"]["recovered charge"] = "4 lb"
    after["machine"]["weighed in"] = "5 lb"
    after["refrigerant"] = {"recovered": "0.5 lb"}
    assert compared(before, after).weighed == pytest.approx(
        {"added": 5 * 0.453592, "recovered": 4.5 * 0.453592}, rel=1e-4
    )


def test_a_log_that_does_not_fit_the_fault_is_told() -> None:
    vain = pair("liquid-line-restriction-orifice")
    assert [note.code for note in vain.notes] == ["added-without-need"]
    assert "although liquid line restriction does not ask for any" in " ".join(as_text(compare_page(vain)).split())
    none = {**written(1, **SOUND), "refrigerant": {"added": "0 oz"}}
    found = compared(written(**LOW), none)
    assert [note.code for note in found.notes] == ["nothing-added"]
    assert "no refrigerant was added, although low refrigerant charge asks for some" in " ".join(
        as_text(compare_page(found)).split()
    )


@pytest.mark.parametrize(
    ("log", "told"),
    [
        ("R-410A", "Write which refrigerant it is under `machine:`"),
        ({"added": "12"}, "has no unit"),
        ({"added": "-3 oz"}, "is negative, and a weight cannot be"),
        ({"lost": "3 oz"}, "is not a line of the refrigerant log"),
        (["12 oz"], "For example `refrigerant: {added: 12 oz, recovered: 4 oz}`"),
    ],
)
def test_a_log_that_cannot_be_read_is_explained(log: object, told: str) -> None:
    with pytest.raises(VisitError) as raised:
        Visit.parse({"machine": {"refrigerant": "R-410A"}, "refrigerant": log})
    assert told in str(raised.value.problems[0])


def test_only_a_good_day_is_kept_as_one() -> None:
    assert any("next good day" in each for each in comparison(pair("low-charge-orifice"))["closing"])
    assert not any("next good day" in each for each in comparison(pair("low-charge-txv"))["closing"])


def test_both_cycles_are_drawn_and_pages_without_pressures_do_without() -> None:
    found = pair("low-charge-orifice")
    drawn = both_cycles(found)
    assert "after the repair" in drawn.title
    assert sum(block.kind == "figure" for block in illustrated_comparison(found)) == 1
    before, after = written(**LOW), written(1, **SOUND)
    for each in (before, after):
        del each["readings"]["liquid pressure"]
    assert both_cycles(compared(before, after)) is None


def test_the_command_writes_all_four_forms() -> None:
    files = [str(DEMO / f"low-charge-orifice{end}.yaml") for end in ("", "-after")]

    def run(*words: str) -> str:
        return commands.run("compare", *files, *words).fine()

    assert run().startswith("Repaired (low refrigerant charge): ")
    assert json.loads(run("--as", "json"))["outcome"] == "repaired"
    assert "| superheat, K |" in run("--as", "markdown", "--units", "si")
    assert "<svg" in run("--as", "html")
    assert "“Unrepaired” is what the earlier figure would be" in " ".join(run("--full").split())
    assert commands.run("compare", files[0], files[0]).exit_code == 2
    assert "both visits cannot come from standard input" in commands.run("compare", "-", "-").stderr


def test_a_charge_that_hangs_on_a_check_is_told_so_after_a_repair_too() -> None:
    """On a cool day so much superheat is right behind a valve, and too little behind an orifice."""
    after = visit(State(metering="fixed orifice", outdoor=65, condensing=84, superheat=13, subcooling=10))
    found = compared(written(**LOW), after)
    assert found.after.charge.verdict == "high"
    assert "Take out nothing yet" in " ".join(as_text(compare_page(found)).split())


@pytest.mark.parametrize(
    "name", ["low-charge-txv", "two-faults-dirty-coil-and-low-charge", "liquid-line-restriction-orifice"]
)
def test_what_to_do_now_stands_before_the_table_and_the_answer_once(name: str) -> None:
    blocks = compare_page(pair(name))
    (step,) = [place for place, block in enumerate(blocks) if block.lead == "Next:"]
    assert step < [block.kind for block in blocks].index("rows")
    assert " ".join(as_text(blocks).split()).count("evidence)") == 1
