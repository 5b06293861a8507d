"""What a learner gets next; practice in heating and in SI."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest
from test_practice import run

from diagnose import Rulebook, examine, load_rules
from diagnose.practice.asking import opened, playable
from diagnose.practice.exercise import EVERY, GIVEN, Exercise, converted, new
from diagnose.practice.feedback import judged
from diagnose.practice.files import as_file, read_exercise
from diagnose.practice.results import COLUMNS, DAYS, HARD_FROM, Result, add_result, all_turns, next_turn, read_results
from diagnose.practice.scenario import SAID
from diagnose.practice.worksheet import key_page, make_set
from diagnose.simulator import FAULTS, HEATING_FAULTS
from diagnose.yamlfile import InputProblems

DAY = date(2026, 5, 4)


def result(fault: str, answer: str, on: date = DAY, **more: object) -> Result:
    plain = Result(on, "Ada", "v.yaml", 1, fault, answer, fault == answer, 0, 5.0, "leave", False)
    return replace(plain, **more)  # type: ignore[arg-type]


def boxes(results: list[Result]) -> dict[str, tuple[int, int]]:
    """Fault → box, and in how many days it comes again."""
    return {turn.fault: (turn.box, (turn.due - DAY).days) for turn in all_turns(results, "ada", DAY, FAULTS)}


def test_what_is_right_comes_later_and_harder_and_what_is_wrong_comes_soon() -> None:
    assert set(boxes([]).values()) == {(0, 0)}
    once = boxes([result("low-charge", "low-charge")])
    assert once["low-charge"] == (1, 2)
    often = [result("low-charge", "low-charge", DAY - timedelta(days=30 - i)) for i in range(9)]
    assert boxes(often)["low-charge"][0] == len(DAYS) - 1
    assert boxes([*often, result("low-charge", "overcharge")])["low-charge"] == (0, 1)


def test_what_it_was_taken_for_comes_again_too() -> None:
    known = [result("overcharge", "overcharge", DAY - timedelta(days=1)), result("low-charge", "overcharge")]
    found = boxes(known)
    assert found["overcharge"] == found["low-charge"] == (0, 1)


@pytest.mark.parametrize("more", [{"harmful": True}, {"sound": False}])
def test_right_by_harm_or_by_luck_is_not_known(more: dict[str, object]) -> None:
    assert boxes([result("low-charge", "low-charge", **more)])["low-charge"] == (0, 1)


def test_the_longest_due_comes_first() -> None:
    late = [result(fault, fault, DAY - timedelta(days=9 + i)) for i, fault in enumerate(FAULTS)]
    for chance in range(5):
        turn = next_turn(late, "Ada", DAY, FAULTS, random.Random(chance))
        assert turn.fault == FAULTS[-1]
        assert not turn.hard
    fresh = {next_turn([], "Ada", DAY, FAULTS, random.Random(i)).fault for i in range(40)}
    assert len(fresh) > 5
    assert HARD_FROM > 1
    other = next_turn(late, "Bob", DAY, FAULTS, random.Random(1))
    assert other.box == 0


def test_chosen_for_a_learner(tmp_path: Path) -> None:
    table, visit = tmp_path / "class.csv", tmp_path / "v.yaml"
    for fault in FAULTS:
        if fault != "overcharge":
            add_result(table, result(fault, fault, DAY + timedelta(days=2000)))
    code, out, err = run("new", "--name", "ada", "--results", table, "--seed", 1, "-o", visit)
    assert code == 0, err
    assert "Level 1 of 6 for ada." in err
    assert read_exercise(visit).exercise.truth == "overcharge"
    assert "overcharge" not in out
    assert run("new", "--name", "Ada")[0] == run("new", "--results", table)[0] == 2
    assert "does not go with `--name`" in run("new", "--name", "Ada", "--results", table, "--fault", "overcharge")[2]


@pytest.mark.parametrize(
    "begin",
    [
        "",
        ",".join(COLUMNS) + "\n",
        ";".join(COLUMNS),
        "name," + ",".join(c for c in COLUMNS if c != "name") + ",note\n",
    ],
)
def test_a_row_goes_under_the_columns_that_are_there(begin: str, tmp_path: Path) -> None:
    table = tmp_path / "class.csv"
    table.write_text(begin, encoding="utf-8")
    add_result(table, result("low-charge", "overcharge", sound=False))
    add_result(table, result("low-charge", "low-charge", sound=True))
    found = read_results([table])
    assert [(one.name, one.answer) for one in found] == [("Ada", "overcharge"), ("Ada", "low-charge")]
    assert [one.sound for one in found] == ([False, True] if not begin else [None, None])


def test_a_reason_column_that_says_nonsense_is_told(tmp_path: Path) -> None:
    table = tmp_path / "class.csv"
    add_result(table, result("low-charge", "low-charge", sound=True))
    table.write_text(table.read_text(encoding="utf-8").replace("sound", "splendid"), encoding="utf-8")
    with pytest.raises(InputProblems, match="`reason`: `splendid` is not known"):
        read_results([table])


# -- heating -----------------------------------------------------------------------------------------------------------


@cache
def winter(seed: int, fault: str | None = None) -> Exercise:
    return new(seed, load_rules(), fault, mode="heating")


@pytest.mark.parametrize("fault", ["reversing-valve-leaking", "low-charge"])
def test_a_visit_in_heating(fault: str, book: Rulebook, tmp_path: Path) -> None:
    one = winter(3, fault)
    assert one.truth == fault
    assert one.machine["mode"] == one.mode == "heating"
    assert set(one.given) == set(GIVEN["heating"]["basic"]) <= set(EVERY["heating"])
    d = examine(one.visit(), book)
    assert d.status == "diagnosed"
    assert not {"condensing over ambient", "superheat expected"} & d.findings.keys()
    names = {action.name for action in playable(one, book)}
    assert {"valve tube temperature", "supplementary heat", "airflow"} <= names
    (tmp_path / "v.yaml").write_text(as_file(one), encoding="utf-8")
    assert read_exercise(tmp_path / "v.yaml").exercise == one
    told = judged(one, ("valve tube temperature",), fault, book, because="suction is low")
    assert told.right
    assert told.minutes > 0
    assert any(block.kind == "rows" for block in told.blocks)
    entry = book.faults[fault]
    if entry.in_heating is not None:  # the coils have changed places, and the lesson says so
        lines = {block.text for block in told.blocks}
        assert entry.in_heating.what in lines
        assert entry.what not in lines


def test_what_is_complained_of_in_winter_gives_no_fault_away() -> None:
    for complaint in SAID["heating"]:
        assert len(set(complaint.faults)) >= 4
        assert set(complaint.faults) <= set(HEATING_FAULTS)
    for fault in HEATING_FAULTS:
        assert sum(fault in complaint.faults for complaint in SAID["heating"]) >= 2, fault


def test_a_set_in_heating_has_a_key_that_says_how_the_charge_is_found(book: Rulebook) -> None:
    made = make_set(5, 2, book, ["reversing-valve-leaking", "low-indoor-airflow"], mode="heating")
    text = " ".join(key_page(made, book, "text").split())
    assert "In heating no table gives a target" in text
    assert "Target superheat depends" not in text
    assert "leaking reversing valve" in text


def test_faults_of_one_mode_are_not_drawn_in_the_other() -> None:
    assert "no fault `defrost-fault`" in run("new", "--fault", "defrost-fault")[2]
    assert run("set", "--mode", "heating", "--faults", "defrost", "--count", 1)[0] == 2


# -- SI ----------------------------------------------------------------------------------------------------------------


def test_a_visit_in_si_says_the_same(book: Rulebook, tmp_path: Path) -> None:
    one = new(7, book, "overcharge")
    metric = converted(one, "si")
    text = as_file(metric)
    assert not any(f" {unit}\n" in text for unit in ("F", "psig", "ton", "cfm", "ft"))
    assert "kPa gauge" in text
    (tmp_path / "v.yaml").write_text(text, encoding="utf-8")
    assert read_exercise(tmp_path / "v.yaml").exercise == metric
    us, si = (examine(each.judged(opened(each, ["airflow"], book)), book) for each in (one, metric))
    assert si.system == "si"
    for name, e in us.estimates.items():
        assert si.estimates[name].value == pytest.approx(e.value, rel=0.02, abs=0.12), name
    assert [f.fault for f in us.faults[:2]] == [f.fault for f in si.faults[:2]]
    assert converted(converted(one, "si"), "si") == metric


def test_new_in_si_from_the_command_line() -> None:
    out = run("new", "--seed", 7, "--units", "si").fine()
    assert "°C" in out
    assert "psig" not in out
