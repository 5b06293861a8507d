"""The `start-up:` of a visit: what may stand in it, and what is said about every mistake."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose import examine
from diagnose.units import IN_H2O, MICRON, PSI
from diagnose.visit import StartUp, VisitError, visit_from
from diagnose.visit.fields import Field, Word
from diagnose.visit.start_up_fields import GROUP_WORDS, GROUPS, ROWS, START_UP_FIELDS, TOLD, lines_of


def read(start_up: Any, **more: Any) -> StartUp:
    return visit_from({"start-up": start_up, **more}).start_up


def told(start_up: Any) -> list[tuple[str, str]]:
    with pytest.raises(VisitError) as caught:
        visit_from({"start-up": start_up})
    return [(problem.what, problem.fix) for problem in caught.value.problems]


@pytest.mark.parametrize("line", START_UP_FIELDS, ids=lambda line: f"{line.section}/{line.name}")
def test_every_example_and_every_word_can_be_read(line: Field | Word) -> None:
    if line.section in ROWS:
        return
    group = str(line.section)
    for text in (*line.examples, *(line.choices if isinstance(line, Word) else ())):
        found = read({group: {line.name: text}})
        assert line.name in (found.looks(group) if isinstance(line, Word) else found.of(group))
    if isinstance(line, Field) and line.instrument:
        assert read({group: {line.name: line.examples[0]}}).of(group)[line.name].error > 0


@pytest.mark.parametrize("part", GROUPS, ids=lambda part: part.name)
def test_the_example_of_every_group_is_one(part: Any) -> None:
    import yaml

    visit_from({"start-up": {part.name: yaml.safe_load(part.example)}})
    for name, group in GROUP_WORDS.items():
        if group == part.name:
            assert read({name: yaml.safe_load(part.example)}) == read({part.name: yaml.safe_load(part.example)})


@pytest.mark.parametrize(
    "written",
    [
        "0 min 300 microns, 5 min 1,390 microns", "0 min: 300 microns; 5 min: 1390 micron",
        ["0 min 300 microns", {"minutes": 5, "pressure": "1390 microns"}],
        [{"time": 0, "microns": "300 microns"}, "5 1390 microns"],
        {"0 min": "300 microns", "5 min": "1390 microns"}, "0 min 0.3 torr, 5 min 1.39 torr",
    ],
)  # fmt: skip
def test_rows_may_be_written_in_many_ways(written: Any) -> None:
    rows = read({"vacuum": written}).pairs("vacuum")
    assert [time.value for time, _ in rows] == [0.0, 300.0]
    assert [pressure.value / MICRON for _, pressure in rows] == pytest.approx([300, 1390])


def test_a_single_reading_is_the_one_at_the_valve() -> None:
    ((time, pressure),) = read({"vacuum": "420 microns"}).pairs("vacuum")
    assert (time.value, pressure.value) == (0.0, pytest.approx(420 * MICRON))
    assert pressure.error == pytest.approx(52 * MICRON)  # 10 % and 10 microns


def test_a_blower_table_is_put_in_order() -> None:
    rows = read({"blower table": "0.5 inH2O 1180 cfm, 0.3 inH2O 1280 cfm"}).pairs("blower table")
    assert [static.value / IN_H2O for static, _ in rows] == pytest.approx([0.3, 0.5])


def test_own_instruments_count() -> None:
    found = read({"pressure test": {"start pressure": "400 psig"}}, instruments={"gauges": "0.5 %"})
    assert found.of("pressure test")["start pressure"].error == pytest.approx(2 * PSI)


def test_si_is_seen_from_what_was_written() -> None:
    test = {
        "start pressure": "38 bar",
        "start temperature": "24 C",
        "end pressure": "37 bar",
        "end temperature": "20 C",
    }
    found = visit_from({"start-up": {"pressure test": test, "vacuum": "0 min 300 microns"}})
    assert found.system == "si"
    assert [note.code for note in found.notes] == ["taken-as-gauge"]


MISTAKES: list[tuple[Any, str, str]] = [
    ([], "`start-up` must hold what was done", "For example `start-up: {pressure test:"),
    ("done", "`start-up` must hold what was done", "For example `start-up:"),
    ({"presure test": {}}, "`presure test` is not a part of a start-up", "Did you mean `pressure test`?"),
    ({"vacuum": "300 microns", "evacuation": "300 microns"}, "are the same part", "Keep one of them."),
    ({"pressure test": "450 psig"}, "must be a list of `name: value` lines", "For example `pressure test: {gas: nitrogen"),
    ({"pressure test": {"pressure": "450 psig"}}, "`pressure` can mean two things",
     "Write `start pressure` (when the test began) or `end pressure` (when it ended)."),
    ({"pressure test": {"start pressure": "450"}}, "`450` has no unit", "`450 psig`"),
    ({"pressure test": {"start pressure": "9000 psig"}}, "cannot be right", "Look at the number and its unit."),
    ({"pressure test": {"start temperature": "70"}}, "`70` has no unit", "`70 F`"),
    ({"pressure test": {"gas": "neon tube"}}, "`neon tube` is not known", "nitrogen, oxygen"),
    ({"pressure test": {"held": "14:00"}}, "can mean hours or minutes", "`15 min`"),
    ({"pressure test": {"start pressure": "450 psig", "test pressure": "450 psig"}}, "are the same line", "Keep one"),
    ({"vacuum": "29.9 inHg vacuum"}, "what a compound gauge shows", "Read an electronic vacuum gauge"),
    ({"vacuum": [{"minutes": 0, "pressure": "29 inHg"}]}, "what a compound gauge shows", "Read an electronic vacuum gauge"),
    ({"vacuum": [{"minutes": 0, "pressure": 300}]}, "`300` has no unit", "`300 microns`"),
    ({"vacuum": [{"minutes": 0}]}, "is no row of `vacuum`: it needs `minutes` and `pressure`", "For example `vacuum: 0 min"),
    ({"vacuum": [300, 400]}, "`300` is no row of `vacuum`", "For example `vacuum: 0 min"),
    ({"vacuum": "300 microns, 400 microns"}, "`300 microns` is no row", "For example `vacuum: 0 min"),
    ({"vacuum": 7}, "`vacuum` must be a list of rows", "For example `vacuum: 0 min"),
    ({"vacuum": "0 min 300 microns 5 min 400 microns"}, "holds more than one row", "Put a comma between rows."),
    ({"vacuum": "0 min 300 microns, 10 min 400 microns, 5 min 350 microns"}, "the minutes do not rise from row 2 to row 3",
     "in the order they were read"),
    ({"vacuum": "0 min 300 microns, 0 min 400 microns"}, "the minutes do not rise", "each with its own minute"),
    ({"vacuum": "0 min 0 microns"}, "cannot be right", "Look at the number"),
    ({"blower table": "0.3 inH2O 1180 cfm, 0.5 inH2O 1280 cfm"}, "the airflow rises", "of one speed"),
    ({"blower table": "0.3 inH2O 1180 cfm, 0.3 inH2O 1100 cfm"}, "two rows have the same", "one speed only"),
    ({"blower table": "0.3 1180, 0.5 1080"}, "`0.3` has no unit", "`0.3 inH2O`"),
    ({"electric heat": {"power": "9.6"}}, "`9.6` has no unit", "`9.6 kW`"),
    ({"static": {"measured": "40 inH2O"}}, "cannot be right", "Duct pressures are small: for example `0.45 inH2O`"),
    ({"static": {"measured": "0.5 psi"}}, "a duct pressure is expected", "`0.45 inH2O`"),
    ({"charge": {"added": "-6 oz"}}, "`-6 oz` is negative", "Write `removed: 6 oz`."),
    ({"charge": {"weighed in": "6 lb"}}, "can mean two things", "`added` (beyond the factory charge) or `whole` (all of it)"),
    ({"charge": {"added": "6 oz", "whole": "6 lb"}}, "`whole` is all of the charge", "Write `whole` alone"),
    ({"lines": {"slope": "odd"}}, "`odd` is not known", "Write one of: as it should be, sags."),
    ({"lines": {"suction pressure": "118 psig"}}, "is not a line of `lines`", "It belongs under `readings:`"),
    ({TOLD: {"a": 1}}, "must be a text", "For example `told the customer:"),
    ({TOLD: "x" * 2001}, "is longer than 2000", "Shorten it."),
]  # fmt: skip


@pytest.mark.parametrize(("written", "what", "fix"), MISTAKES)
def test_every_mistake_says_how_to_correct_it(written: Any, what: str, fix: str) -> None:
    found = told(written)
    assert len(found) == 1, found
    assert what in found[0][0]
    assert fix in found[0][1]


def test_what_is_left_empty_is_left_out() -> None:
    found = read({"pressure test": None, "vacuum": None, "static": {"filter": None}, TOLD: ["no", None, ""]})
    assert found == read({"static": {}})
    assert visit_from({"start-up": None, "notes": "x"}).start_up is None


ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
    | st.sampled_from(["0 min 300 microns", "450 psig", "5 min", "nitrogen", "-1 F", "1e9 cfm", "0.3 inH2O 1200 cfm"]),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["minutes", "pressure", "gas", "0 min"]), inner),
    max_leaves=6,
)  # fmt: skip


def refused(start_up: dict[str, Any]) -> VisitError | None:
    """Why it cannot be read; None where it was examined, with all its items."""
    try:
        found = examine({"start-up": start_up})
    except VisitError as error:
        return error
    assert len(found.start_up.items) == 9
    return None


@given(st.sampled_from([part.name for part in GROUPS] + [TOLD]), ANY)
def test_nothing_that_is_written_breaks_it(group: str, written: Any) -> None:
    said = refused({group: written})
    assert said is None or all(problem.what for problem in said.problems)


@given(st.sampled_from([one for one in START_UP_FIELDS if one.section not in ROWS]), ANY)
def test_nor_does_a_line(line: Field | Word, written: Any) -> None:
    said = refused({str(line.section): {line.name: written}})
    assert said is None or all(problem.what for problem in said.problems)


def test_a_line_has_one_place() -> None:
    assert sum(len(lines_of(part.name)) for part in GROUPS) == len(START_UP_FIELDS)  # type: ignore[arg-type]
