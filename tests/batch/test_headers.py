"""What a head means: names as in a visit file, units in brackets, the trade's other words; what is asked and not guessed."""

from __future__ import annotations

import pytest

from diagnose.batch.headers import Layout, layout_of
from diagnose.rulebook import Rulebook
from diagnose.visit.fields import FIELDS, Field


def told(layout: Layout) -> dict[str, str]:
    return {column.header: f"{column.part}: {column.name} [{column.unit}]" for column in layout.columns}


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("suction pressure [psig]", "readings: suction pressure [psig]"),
        ("Suction Pressure [ bar gauge ]", "readings: suction pressure [bar gauge]"),
        ("low side (psi)", "readings: suction pressure [psi]"),
        ("HEAD PRESSURE [kPa]", "readings: liquid pressure [kPa]"),
        ("supply_air_dry_bulb [C]", "readings: supply air dry bulb [C]"),
        ("return air (dry bulb) [F]", "readings: return air dry bulb [F]"),
        ("OAT [°F]", "readings: outdoor air temperature [°F]"),
        ("minutes running", "readings: minutes running []"),
        ("SEER", "machine: SEER []"),
        ("tonnage [ton]", "machine: nominal capacity [ton]"),
        ("machine", "machine: name []"),
        ("metering device", "machine: metering []"),
        ("seen: air filter", "seen: air filter []"),
        ("Seen : Air Filter", "seen: air filter []"),
        ("line set: length [ft]", "line set: length [ft]"),
        ("instruments: gauges [%]", "instruments: gauges [%]"),
        ("baseline: suction pressure [psig]", "baseline: suction pressure [psig]"),
        ("machine: superheat [F]", "machine: rated superheat [F]"),
        ("readings: superheat [F]", "readings: gauge superheat [F]"),
    ],
)
def test_a_header_is_understood(book: Rulebook, header: str, wanted: str) -> None:
    assert told(layout_of([header], book)) == {header: wanted}


def test_every_reading_and_machine_fact_is_a_column_in_the_unit_of_its_examples(book: Rulebook) -> None:
    fields = [
        one
        for one in FIELDS
        if isinstance(one, Field) and one.section in ("machine", "readings") and one.kind != "time"
    ]
    assert len(fields) > 50
    for one in fields:
        for text in one.examples:
            unit = text.partition(" ")[2]
            if one.kind != "number" and " " not in unit.replace(" gauge", ""):
                layout = layout_of([f"{one.name} [{unit}]"], book)
                assert [column.name for column in layout.columns] == [one.name], (one.name, unit, layout.left_out)


@pytest.mark.parametrize(
    ("headers", "code", "what"),
    [
        (["suction pressure [furlong]"], "left-out/suction-pressure", "`furlong` is not a unit of a pressure"),
        (["suction pressure [F]"], "left-out/suction-pressure", "`F` is a temperature"),
        (["suction pressure [mPa]"], "left-out/suction-pressure", "thousandth of a pascal"),
        (["SEER [kW]"], "left-out/seer", "is not expected after the number"),
        (["superheat [F]"], "left-out/superheat", "can mean 2 things"),
        (["pressure [psig]"], "left-out/pressure", "can mean 2 things"),
        (["refrigerant [psig]"], "left-out/refrigerant", "a word has no unit"),
        (["low side [psig]", "suction pressure [bar]"], "left-out/suction-pressure", "(column 1) and"),
        (["instruments: gauges [furlong]"], "left-out/gauges", "furlong"),
    ],
)
def test_what_cannot_be_used_is_left_out_with_a_reason(
    book: Rulebook, headers: list[str], code: str, what: str
) -> None:
    layout = layout_of([*headers, "liquid pressure [psig]"], book)
    assert [column.name for column in layout.columns] == ["liquid pressure"]
    assert layout.codes == (code,)
    assert what in layout.left_out[0].what
    assert layout.left_out[0].fix
    assert [name for _, name in layout.passed] == headers  # nothing is lost


def test_a_reading_without_any_unit_is_left_out_before_every_row_is(book: Rulebook) -> None:
    bare = layout_of(["suction pressure"], book, first={0: "118"})
    assert bare.left_out[0].fix == "Write the unit in brackets: `suction pressure [psig]`."
    assert layout_of(["suction pressure"], book, first={0: 118.0}).left_out
    assert not layout_of(["suction pressure"], book, first={0: "118 psig"}).left_out


@pytest.mark.parametrize(
    ("header", "hint"),
    [
        ("suction presure [psig]", "Did you mean `suction pressure`?"), ("temperature split [F]", "It is worked out here"),
        ("air filter", "Write `seen: air filter`."), ("notes", "Free text"), ("serial number", ""), ("customer", ""),
        ("", ""), ("x" * 5000, ""), ("seen: air filtre", "Did you mean `air filter`?"),
    ],
)  # fmt: skip
def test_what_is_none_of_ours_is_passed_on_with_a_hint(book: Rulebook, header: str, hint: str) -> None:
    layout = layout_of([header], book)
    assert not layout.columns
    assert not layout.left_out
    assert len(layout.passed) == 1
    assert (layout.hints or {}).get(0, "").startswith(hint)


def test_foreign_headers_are_renamed_and_what_is_named_nothing_is_passed_on(book: Rulebook) -> None:
    renamed = {"Saugdruck": "suction pressure [bar]", "type": "", "Hochdruck": "liquid pressure [bar]"}
    layout = layout_of([" Saugdruck ", "type"], book, renamed=renamed)
    assert told(layout) == {" Saugdruck ": "readings: suction pressure [bar]"}
    assert layout.passed == ((1, "type"),)
    assert layout.unmet == ("Hochdruck",)
