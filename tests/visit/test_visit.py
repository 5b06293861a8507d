"""The visit file: what may stand in it, and what is said about every mistake. The messages are a public interface."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from strategies import F, State, kelvin, visit, with_machine, with_readings

from diagnose import units
from diagnose.units import INCH, PSI, TON
from diagnose.visit import INSTRUMENTS, READINGS, LineSet, Visit, VisitError, read_visit, visit_from
from diagnose.visit.fields import FIELDS, INSTRUMENT_FIELDS, MACHINE, Field, Word

# A value that can be right for every kind of reading, and its SI value.
GOOD = {
    "temperature": ("61 F", kelvin(61)),
    "difference": ("12 F", 12 * F),
    "pressure": ("130 psig", 130 * PSI),
    "percent": ("50 %", 0.5),
    "airflow": ("1200 cfm", 1200 * 0.3048**3 / 60),
    "small pressure": ("0.5 inH2O", 0.5 * 249.08891),
    "current": ("12 A", 12.0),
    "capacity": ("2.3 kW", 2300.0),
    "voltage": ("25 V", 25.0),
    "capacitance": ("45 uF", 45e-6),
}


def problems(data) -> list[tuple[str, str]]:
    with pytest.raises(VisitError) as caught:
        visit_from(data)
    return [(p.what, p.fix) for p in caught.value.problems]


@pytest.fixture
def of_text(tmp_path):
    def write(text: str):
        path = tmp_path / "visit.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


# -- what may stand in it --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", READINGS)
def test_every_reading_name_is_understood(name):
    text, value = GOOD[READINGS[name].kind]
    mode = {"mode": "heating"} if name.startswith("vapour line") else {}  # in cooling it is the suction line
    reading = visit_from({"machine": mode, "readings": {name: text}}).last.readings[name]
    assert reading.value == pytest.approx(value)
    assert reading.error > 0
    assert reading.gauge == (READINGS[name].kind == "pressure")


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("nominal capacity", "3 ton", 3 * TON),
        ("SEER", 14, 14.0),
        ("rated subcooling", "10 F", 10 * F),
        ("rated subcooling", "5 K", 5.0),
        ("rated superheat", "12 F", 12 * F),
        ("rated heating subcooling", "15 F", 15 * F),
        ("rated current", "17 A", 17.0),
        ("rated airflow", "1200 cfm", 1200 * 0.3048**3 / 60),
        ("factory charge", "6 lb 4 oz", 6.25 * 0.45359237),
        ("altitude", "250 ft", 76.2),
        ("rated voltage", "230 V", 230.0),
        ("control voltage", "24 V", 24.0),
        ("capacitor rating", "45 uF", 45e-6),
        ("fan capacitor rating", "5 uF", 5e-6),
        ("capacitor tolerance", "6 %", 0.06),
        ("recovered charge", "4 lb 2 oz", 4.125 * 0.45359237),
        ("weighed in", "3.06 kg", 3.06),
        ("high pressure cut-out", "610 psig", 610 * PSI),
        ("high pressure cut-out", "610 psia", 610 * PSI - 101325.0),
    ],
)
def test_machine_facts(name, text, value):
    assert visit_from({"machine": {name: text}}).machine.fact(name) == pytest.approx(value)


def test_every_machine_fact_is_covered_here():
    assert set(MACHINE) == {
        "nominal capacity", "SEER", "rated subcooling", "rated superheat", "rated current", "rated airflow",
        "factory charge", "altitude", "station pressure", "high pressure cut-out", "SEER2", "rated heating subcooling",
        "rated voltage", "control voltage", "capacitor rating", "fan capacitor rating", "capacitor tolerance",
        "recovered charge", "weighed in",
    }  # fmt: skip


@pytest.mark.parametrize("name", ["R-410A", "R410A", "r410a", "410A", "r-410a"])
def test_a_refrigerant_may_be_spelled_in_many_ways(name):
    gas = visit_from({"machine": {"refrigerant": name}}).machine.refrigerant
    assert gas.name == "R-410A"


@pytest.mark.parametrize(
    ("word", "means"),
    [("fixed orifice", "fixed orifice"), ("Piston", "fixed orifice"), ("cap tube", "fixed orifice"), ("txv", "TXV"),
     ("TEV", "TXV"), ("exv", "EEV"), ("  Fixed   Orifice ", "fixed orifice")],
)  # fmt: skip
def test_metering_words(word, means):
    assert visit_from({"machine": {"metering": word}}).machine.metering == means


def test_line_set():
    line = visit_from(
        {"machine": {"line set": {"liquid line": "3/8 in", "length": "35 ft", "included": "15 ft"}}}
    ).machine.line_set
    assert (line.liquid_line, line.length, line.included) == pytest.approx((0.375 * INCH, 35 * 0.3048, 15 * 0.3048))


def test_what_a_line_set_does_not_say_is_not_made_up():
    line = visit_from({"machine": {"line set": {"liquid line": "1/4 in", "length": "10 m"}}}).machine.line_set
    assert line == LineSet(0.25 * INCH, 10.0)
    assert line.included is None


def test_all_of_a_line_set():
    given = {"liquid line": "3/8", "length": "35'", "included": "15 ft", "included line": "5/16", "vapor line": '3/4"',
             "suction line length": "36 ft", "oz per foot": "0.60 oz/ft", "evaporator coil": "8 oz", "filter drier": "3 oz",
             "rise": "-20 ft"}  # fmt: skip
    line = visit_from({"machine": {"lineset": given}}).machine.line_set
    ounce, foot = 0.45359237 / 16, 0.3048
    assert (line.suction_line, line.suction_length) == pytest.approx((0.75 * INCH, 36 * foot))
    assert (line.allowance, line.indoor_coil, line.drier) == pytest.approx((0.6 * ounce / foot, 8 * ounce, 3 * ounce))
    assert (line.included_liquid_line, line.lift) == pytest.approx((0.3125 * INCH, -20 * foot))


@pytest.mark.parametrize(
    ("more", "what", "fix"),
    [
        ({"suction line": "1/4"}, "the suction line is thinner than the liquid line", "may have changed places"),
        ({"lift": "40 ft"}, "the lift is more than the length of the line", "the whole length of pipe"),
        ({"allowance": "0.6 oz"}, "`allowance`: `oz` is a weight; a weight per length is expected here", "`0.60 oz/ft`"),
        ({"allowance": "60 oz/ft"}, "`allowance`: `60 oz/ft` is not possible here", "its unit"),
        ({"drier": "-3 oz"}, "`drier`: `-3 oz` is negative, and a weight cannot be", "minus sign"),
    ],
)  # fmt: skip
def test_what_no_line_set_can_be(more, what, fix):
    ((said, how),) = problems({"machine": {"line set": {"liquid line": "3/8", "length": "35 ft"} | more}})
    assert said == what
    assert fix in how


@pytest.mark.parametrize("word", ["recovered", "Recovered refrigerant", "refrigerant recovered", "charge recovered"])
def test_what_was_recovered(word):
    assert visit_from({"machine": {word: "4# 2oz"}}).machine.fact("recovered charge") == pytest.approx(
        4.125 * 0.45359237
    )


@pytest.mark.parametrize("word", ["weighed in", "weighed-in charge", "charge weighed in", "Weighed in charge"])
def test_what_was_weighed_in(word):
    assert visit_from({"machine": {word: "3 kg"}}).machine.fact("weighed in") == 3.0


@pytest.mark.parametrize("word", ["recovered charge", "weighed in"])
def test_a_scale_does_not_show_many_times_the_plate(word):
    ((what, fix),) = problems({"machine": {"factory charge": "6 lb", word: "60 lb"}})
    assert (what, fix) == (f"`{word}` is 10 times the `factory charge`", "Look at both numbers and their units.")
    assert visit_from({"machine": {"factory charge": "6 lb", word: "29 lb"}}).machine.fact(word) is not None


@pytest.mark.parametrize(("plate", "holds"), [("6 lb", True), ("0.3 kg", True), ("96 lb", False), ("6 oz", False)])
def test_a_plate_in_another_unit_is_asked_about(plate, holds):
    """Sixteen times as much, or as little, as a machine of its size holds; a kilogram written as a pound is not told."""
    visit = {"machine": {"factory charge": plate, "nominal capacity": "3 ton"}}
    if holds:
        assert visit_from(visit).machine.fact("factory charge")
    else:
        ((what, fix),) = problems(visit)
        told = "32 lb (15 kg)" if plate == "96 lb" else "0.13 lb (0.057 kg)"
        assert what == f"`factory charge` is {told} per ton, which no air conditioner or heat pump has"
        assert fix == "Look at it and at `nominal capacity`, and at their units."


def test_a_value_that_names_another_line_is_sent_there():
    ((what, fix),) = problems({"machine": {"SEER": "13.4 SEER2"}})
    assert (what, fix) == ("`SEER`: `SEER2` is not expected after the number here", "Write `SEER2: 13.4`.")


def test_the_scale_of_today_says_nothing_of_the_good_day():
    machine = {"refrigerant": "R-410A", "factory charge": "6 lb", "recovered charge": "4 lb"}
    found = visit_from({"machine": machine, "baseline": {"readings": {"suction pressure": "118 psig"}}})
    assert found.machine.fact("recovered charge") is not None
    assert found.baseline.machine.fact("recovered charge") is None
    assert found.baseline.machine.fact("factory charge") is not None


def test_station_pressure_goes_before_altitude_and_sea_level_is_assumed():
    measured = visit_from({"machine": {"station pressure": "29.6 inHg", "altitude": "250 ft"}}).machine
    by_altitude = visit_from({"machine": {"altitude": "5000 ft"}}).machine
    assumed = visit_from({}).machine
    assert measured.station_pressure == pytest.approx(29.6 * 3386.389, rel=1e-6)  # NIST SP 811, B.8
    # 12.228 psia at 5,000 ft: standard atmosphere, ASHRAE Fundamentals 2017, ch. 1, table 1 (from memory).
    assert by_altitude.station_pressure / PSI == pytest.approx(12.228, abs=0.01)
    assert assumed.station_pressure == pytest.approx(101325)
    assert [m.station_from for m in (measured, by_altitude, assumed)] == ["measured", "altitude", "assumed"]
    assert measured.station_error < by_altitude.station_error < assumed.station_error


def test_instruments_default_and_own():
    default = visit_from({"readings": {"suction pressure": "130 psig", "suction line temperature": "61 F"}}).last
    own = visit_from(
        {
            "instruments": {"gauges": "2 psi", "pipe clamps": "0.5 K", "humidity meter": "5 %"},
            "readings": {
                "suction pressure": "130 psig", "suction line temperature": "61 F", "return air relative humidity": "50 %",
            },
        }
    ).last  # fmt: skip
    assert default.readings["suction pressure"].error == pytest.approx(1.30 * PSI)  # 1 % of reading
    # 0.1 % of reading + 1.3 °F is the protocol's thermometer: 1.36 °F at 61 °F; CEC RA3-10, as used in tests/reference
    assert default.readings["suction line temperature"].error == pytest.approx(1.4 * F)
    assert own.readings["suction pressure"].error == pytest.approx(2 * PSI)
    assert own.readings["suction line temperature"].error == pytest.approx(0.5)
    assert own.readings["return air relative humidity"].error == pytest.approx(
        0.05
    )  # percent of humidity, not of the reading


def test_every_instrument_may_be_named():
    text = {"pressure": "2 psig", "difference": "1 F", "percent": "3 %", "airflow": "5 %", "small pressure": "2 %",
            "current": "2 %", "voltage": "1 V", "capacitance": "0.5 uF", "capacity": "2 %", "vacuum": "10 %",
            "mass": "1 oz"}  # fmt: skip
    visit_from({"instruments": {name: text[i.kind] for name, i in INSTRUMENTS.items()}})


def test_the_time_since_a_defrost_is_noted_with_each_round():
    found = visit_from(
        {"machine": {"mode": "heating"}, "readings": [
            {"minutes running": 30, "minutes since defrost": "16 min"}, {"minutes running": 34, "time since defrost": 20},
            {"minutes running": 40},
        ]}
    )  # fmt: skip
    assert [r.defrosted for r in found.rounds] == [16, 20, None]
    assert problems({"readings": {"minutes since defrost": "9999 h"}}) == [
        ("`minutes since defrost`: `9999 h` is not possible", "Write minutes since the defrost ended.")
    ]


def test_rounds_are_put_in_order_and_the_last_is_judged():
    found = visit_from(
        {"readings": [
            {"minutes running": 20, "suction pressure": "130 psig"},
            {"minutes running": "10 min", "suction pressure": "120 psig"},
            {"minutes running": 15, "suction pressure": "125 psig"},
        ]}
    )  # fmt: skip
    assert [r.minutes for r in found.rounds] == [10, 15, 20]
    assert found.last.readings["suction pressure"].value == pytest.approx(130 * PSI)


def test_units_of_the_answer_are_those_of_most_readings(right):
    assert visit_from(right).system == "us"
    assert visit_from(visit(State(), "si")).system == "si"
    mixed = with_readings(visit(State(), "si"), suction_pressure="130 psig")
    assert visit_from(mixed).system == "si"


def test_lines_left_empty_say_nothing(of_text):
    """A form printed with all names, filled in here and there, is a visit."""
    text = "machine:\n" + "".join(
        f"  {n}:\n" for n in ("name", "mode", "refrigerant", "metering", "line set", *MACHINE)
    )
    text += "instruments:\n" + "".join(f"  {n}:\n" for n in INSTRUMENTS)
    text += "readings:\n  minutes running:\n" + "".join(f"  {n}:\n" for n in READINGS)
    text += "seen:\n  air filter:\nbaseline:\n"
    found = read_visit(of_text(text))
    assert found.machine.name == "unnamed machine"
    assert found.machine.refrigerant is found.machine.metering is found.machine.mode is None
    assert not found.last.readings
    assert not found.seen


def test_an_empty_mapping_is_a_visit_with_nothing_in_it():
    assert visit_from({}).last.readings == {}


def test_a_pressure_without_gauge_or_absolute_is_taken_as_the_gauge_shows_it_and_that_is_said():
    found = visit_from({"readings": {"suction pressure": "9 bar"}})
    assert found.last.readings["suction pressure"].gauge
    (note,) = found.notes
    assert note.code == "taken-as-gauge"
    assert note.figures == {"readings": ("suction pressure",), "written": "9 bar"}


def test_all_pressures_without_a_mark_are_told_in_one_note():
    readings = {"suction pressure": "118 psi", "liquid pressure": "306#", "suction line temperature": "61 F"}
    (note,) = visit_from({"readings": [{"minutes running": 15, **readings}, {"minutes running": 20, **readings}]}).notes
    assert note.figures == {"readings": ("suction pressure", "liquid pressure"), "written": "118 psi"}


# -- what is said about mistakes ---------------------------------------------------------------------------------------------

WRONG = """machine:
  refrigerant: R-410
  metering: piston valve
  nominal capacity: 3
  rated subcooling: 90 F
  line set: {liquid line: 3/8 in}
instrument: {}
instruments: {gauges: 0 %, clamps: 1 F}
readings:
  suction presure: 130 psig
  liquid pressure: 20 inHg
  suction line temperature: 61
  liquid line temperature: 890 F
  return air dry bulb: cold
  airflow: 1200 F
  minutes running: -5
seen: {air filter: 3, indoor coil: [dirty]}
baseline: 7
"""
SAID = [
    (2, 16, "There is no refrigerant 'R-410' in the table", "Did you mean R-410A?"),
    (3, 13, "`metering`: `piston valve` is not known", "Write one of: fixed orifice, TXV, EEV."),
    (4, 21, "`nominal capacity`: `3` has no unit", "Write the unit, for example `3 ton`."),
    (5, 21, "`rated subcooling`: `90 F` is not possible here", "Look at the number and its unit."),
    (6, 13, "`line set` lacks length", "For example `line set: {liquid line: 3/8 in, length: 35 ft, included: 15 ft}`."),
    (7, 1, "`instrument` is not a part of a visit", "Did you mean `instruments`?"),
    (8, 23, "`gauges`: `0 %` is no limit of error: no instrument is without error", "For example `gauges: 1 %`."),
    (8, 28, "`clamps` can mean two things",
     "Write `pipe clamps` (under `instruments:`) or `current clamp` (under `instruments:`)."),
    (10, 3, "`suction presure` is not a reading", "Did you mean `suction pressure`?"),
    (11, 20, "`liquid pressure`: `inHg` can mean two pressures",
     "Write `20 inHg vacuum` if a gauge showed it, or `20 inHg absolute` if it counts from a perfect vacuum."),
    (12, 29, "`suction line temperature`: `61` has no unit", "Write the unit, for example `61 F`."),
    (13, 28, "`liquid line temperature`: `890 F` cannot be right", "Look at the number, the point and the unit."),
    (14, 24, "`return air dry bulb`: `cold` does not begin with a number",
     "Write a number and its unit, for example `75 F`."),
    (15, 12, "`airflow`: `F` is a temperature; an airflow is expected here",
     "Write a number and its unit, for example `1180 cfm`."),
    (16, 20, "`minutes running`: `-5` is negative, and a time cannot be", "Leave out the minus sign."),
    (17, 20, "`air filter`: `3` is not a word", "For example `air filter: clean`."),
    (17, 36, "`indoor coil`: `['dirty']` is not a word", "For example `air filter: clean`."),
    (18, 11, "`baseline` must hold `readings:`, or the path of a visit file", ""),
]  # fmt: skip


def test_all_mistakes_at_once_in_the_order_of_the_file_each_with_its_place(of_text):
    with pytest.raises(VisitError) as caught:
        read_visit(of_text(WRONG))
    assert [(p.line, p.column, p.what, p.fix) for p in caught.value.problems] == SAID


def test_a_mistake_is_printed_with_its_line_and_a_mark(of_text, monkeypatch, tmp_path):
    of_text("readings:\n  suction presure: 130 psig\n")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(VisitError) as caught:
        read_visit("visit.yaml")
    assert str(caught.value) == (
        "visit.yaml:2:3: `suction presure` is not a reading\n"
        "    2 |   suction presure: 130 psig\n"
        "      |   ^^^^^^^^^^^^^^^\n"
        "      Did you mean `suction pressure`?"
    )


LIST_OF_LINES = "must be a list of `name: value` lines"
NO_MINUTES = (
    "this round of readings has no `minutes running`",
    "With several rounds each one says when it was taken, for example `minutes running: 15`.",
)
FOR_READINGS = "For example `suction pressure: 118 psig`."


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"machine": 5}, [(f"`machine` {LIST_OF_LINES}", "For example `refrigerant: R-410A`.")]),
        ({"readings": "x"}, [(f"`readings` {LIST_OF_LINES}", FOR_READINGS)]),
        ({"readings": [1, None]}, [(f"round 1 {LIST_OF_LINES}", FOR_READINGS), NO_MINUTES]),
        ({"readings": [{"minutes running": 5}, {"minutes running": None}]}, [NO_MINUTES]),
        ({"readings": [{"minutes running": 5}, {"minutes running": 5}]},
         [("two rounds have the same `minutes running`", "Give each its own minute.")]),
        ({"readings": [{"minutes running": 5}, {"minutes running": "soon"}]},
         [("`minutes running`: `soon` does not begin with a number", "Write a number and its unit, for example `15 min`.")]),
        ({"readings": {"minutes running": 20000}},
         [("`minutes running`: `20000` is not possible", "Write minutes since the start.")]),
        ({"readings": {5: "61 F"}}, [("`5` is not a name", "Names are words, for example `suction pressure`.")]),
        ({"readings": {"suction pressure": "130 psig", "suction  pressure": "1 psig"}},
         [("`suction pressure` is written twice", "Keep one of them.")]),
        ({"machine": {"high pressure cut-out": "120 bar", "refrigerant": "R-401A"}, "readings": {"liquid pressure": "85 bar"}},
         [("R-401A is not covered: its blend has no published mixture model for every pair of its components, and a guess "
           "is 1 to 3 K off", "Work from the printed pressure chart of that refrigerant.")]),
        ({"machine": {"kind": "rooftop", "line set": {"liquid line": "3/8 in", "length": "35 ft"}}},
         [("`line set` does not go with `kind: packaged`",
           "Leave out one of the two: such a machine has no line set to add for.")]),
        ({"machine": {"mode": "coling"}}, [("`mode`: `coling` is not known", "Did you mean `cooling`?")]),
        ({"machine": {"line set": {"size": "3/8 in"}}},
         [("`size` is not a fact of a line set",
           "Known: liquid line, length, included, included liquid line, suction line, suction length, allowance, indoor coil, "
           "drier, lift."),
          ("`line set` lacks liquid line and length",
           "For example `line set: {liquid line: 3/8 in, length: 35 ft, included: 15 ft}`.")]),
        ({"instruments": {"gauges": "60 %"}},
         [("`gauges`: `60 %` is more than the 10 % that can be believed: 3 % of an 800 psi (55 bar) scale is 24 psi (1.7 bar), "
           "and worse gauges are replaced", "For example `gauges: 1 %`.")]),
        ({"seen": "all fine"}, [(f"`seen` {LIST_OF_LINES}", "For example `air filter: clean`.")]),
    ],
)  # fmt: skip
def test_what_is_said(data, said):
    assert problems(data) == said


@pytest.mark.parametrize("field", ["nominal capacity", "name", "refrigerant", "metering"])
def test_a_number_too_long_to_print_is_no_crash(field):
    """Python refuses to print integers of more than 4,300 digits."""
    data = {"machine": {field: 10**5000}, "instruments": {"gauges": 10**5000}, "seen": {"air filter": 10**5000}}
    with pytest.raises(VisitError) as caught:
        visit_from(data)
    assert len(caught.value.problems) >= 2
    assert str(caught.value)


def test_an_object_that_cannot_be_printed_is_no_crash():
    class Mute:
        def __str__(self) -> str:
            raise RuntimeError

    with pytest.raises(VisitError, match="a Mute"):
        visit_from({"seen": {"air filter": Mute()}})


def test_the_empty_file(of_text):
    with pytest.raises(VisitError) as caught:
        read_visit(of_text(""))
    assert [(p.what, p.fix) for p in caught.value.problems] == [
        ("the visit is empty", "Write at least `machine:` and `readings:`.")
    ]


def test_no_such_file(tmp_path):
    with pytest.raises(VisitError, match=r"missing\.yaml"):
        read_visit(tmp_path / "missing.yaml")


def test_problems_can_be_told_as_json():
    with pytest.raises(VisitError) as caught:
        visit_from({"machine": {"SEER": "many"}, "readings": {"airflow": {1: 2}}})
    assert len(json.loads(json.dumps([p.to_dict() for p in caught.value.problems]))) == 2


@pytest.mark.parametrize("name", READINGS)
def test_no_reading_may_be_absurd(name):
    absurd = {"temperature": "5000 F", "pressure": "99999 psig", "percent": "120 %", "airflow": "9999999 cfm",
              "small pressure": "99 inH2O", "current": "9999 A", "difference": "300 F", "capacity": "9999 kW",
              "voltage": "9999 V", "capacitance": "9999 uF"}  # fmt: skip
    assert problems({"readings": {name: absurd[READINGS[name].kind]}})[0][0].endswith("cannot be right")


def test_the_machine_may_not_be_absurd(right):
    for name, text in {"seer": 400, "altitude": "90000 ft", "nominal_capacity": "3000 ton"}.items():
        assert problems(with_machine(right, **{name: text}))[0][0].endswith("is not possible here")


# -- one table of fields -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.name)
def test_every_example_of_the_table_can_be_read_and_lies_in_its_range(field: Field | Word) -> None:
    assert field.about.endswith(".")
    for example in field.examples:
        if field.section == "line set":
            both = {"liquid line": "3/8 in", "length": "35 ft", field.name: example}
            assert visit_from({"machine": {"line set": both}}).machine.line_set is not None
        else:
            visit_from({field.section: {field.name: example}})
    if isinstance(field, Field) and field.section != "instruments":
        us, *si = (units.parse(example, field.kind).value for example in field.examples)
        assert field.low <= us <= field.high
        # The two examples are one figure in two systems, rounded as it is written.
        assert all(value == pytest.approx(us, rel=0.06, abs=0.4) for value in si)


@pytest.mark.parametrize("name", ["liquid line", "length", "included", "suction length", "included liquid line"])
@pytest.mark.parametrize("text", ["-3 ft", "2 mi", "4000 ft"])
def test_no_line_is_longer_or_shorter_than_there_are(name, text):
    line = {"liquid line": "3/8 in", "length": "35 ft"} | {name: text}
    assert problems({"machine": {"line set": line}})


def test_an_example_in_a_message_is_that_of_the_field():
    assert problems({"readings": {"liquid pressure": "high"}})[0][1].endswith("for example `306 psig`.")
    assert problems({"readings": {"suction pressure": "low"}})[0][1].endswith("for example `118 psig`.")
    assert problems({"machine": {"rated airflow": "much"}})[0][1].endswith("for example `1200 cfm`.")


# -- limits of error ---------------------------------------------------------------------------------------------------------


def error_of(name: str, limit: object, reading: str, text: str) -> float:
    return visit_from({"instruments": {name: limit}, "readings": {reading: text}}).last.readings[reading].error


def test_one_percent_is_the_default_of_a_gauge_also_near_zero():
    for text in ("5 psig", "49 psig", "51 psig", "300 psig", "-5 psig"):
        default = visit_from({"readings": {"suction pressure": text}}).last.readings["suction pressure"].error
        assert error_of("gauges", "1 %", "suction pressure", text) == default
        assert error_of("gauges", "1 percent", "suction pressure", text) == default
    assert error_of("gauges", "1 %", "suction pressure", "5 psig") == pytest.approx(0.5 * PSI)
    assert error_of("gauges", "0.1 psi", "suction pressure", "5 psig") == pytest.approx(0.1 * PSI)  # as it is said


@pytest.mark.parametrize("text", ["2 psi", "2 psig", "2 psia", "±2 psi", "+/- 2 psi", "+-2psi"])
def test_an_error_of_a_pressure_is_a_difference(text):
    found = visit_from({"instruments": {"gauges": text}, "readings": {"suction pressure": "118 psig"}})
    assert found.last.readings["suction pressure"].error == pytest.approx(2 * PSI)
    assert found.notes == ()
    assert not visit_from({"instruments": {"gauges": "0.1 bar"}}).notes


BELIEVED = {  # the largest that is taken, and the next that is not
    "gauges": [("10 %", "10.1 %"), ("25 psi", "25.1 psi"), ("1.7 bar", "1.8 bar")],
    "pipe clamps": [("10 F", "10.1 F"), ("5.5 K", "5.6 K"), ("5.5 C", "244 C")],
    "digital gauges": [("10 F", "10.1 F"), ("5.5 K", "5.6 K")],
    "air thermometers": [("10 F", "10.1 F"), ("5.5 K", "5.6 K")],
    "humidity meter": [("15 %", "15.1 %")],
    "airflow meter": [("40 %", "41 %"), ("400 L/s", "401 L/s")],
    "manometer": [("25 %", "26 %"), ("0.25 inH2O", "0.26 inH2O")],
    "power meter": [("20 %", "21 %"), ("1 kW", "1.01 kW")],
    "current clamp": [("20 %", "21 %"), ("10 A", "10.1 A")],
    "voltmeter": [("5 %", "5.1 %"), ("10 V", "10.1 V")],
    "capacitance meter": [("10 %", "10.1 %"), ("5 uF", "5.1 uF")],
    "vacuum gauge": [("50 %", "51 %"), ("500 microns", "501 microns")],
    "charging scale": [("5 %", "6 %"), ("0.5 kg", "0.51 kg")],
}


@pytest.mark.parametrize("name", INSTRUMENT_FIELDS)
def test_the_largest_limit_of_error_that_is_believed(name):
    for most, more in BELIEVED[name]:
        visit_from({"instruments": {name: most}})
        ((what, fix),) = problems({"instruments": {name: more}})
        assert what.startswith(f"`{name}`: `{more}` is more than the ")
        assert fix == f"For example `{name}: {INSTRUMENT_FIELDS[name].examples[0]}`."
    for absurd in (
        "0 %",
        "-1 %",
        "120 %",
        "0.5",
        0.5,
        0,
        [],
        ["1 %"],
        {},
        "good",
        "",
        True,
        "1000 psi",
        "61 F",
        "1e9 A",
        10**5000,
    ):
        assert problems({"instruments": {name: absurd}}), absurd
    assert visit_from({"instruments": {name: None}}) == visit_from({})


@pytest.mark.parametrize("name", ["pipe clamps", "air thermometers"])
def test_a_share_of_a_temperature_is_refused(name):
    ((what, fix),) = problems({"instruments": {name: "1 %"}})
    assert (
        what
        == f"`{name}`: `1 %` is no limit of error: degrees do not count from a true zero, so a share of them says nothing"
    )
    assert fix in ("For example `pipe clamps: 1.4 F`.", "For example `air thermometers: 1 F`.")


# -- Visit.parse -------------------------------------------------------------------------------------------------------------


class Raising(Mapping):
    def __getitem__(self, key: object) -> object:
        raise RuntimeError("no")

    def __iter__(self) -> Iterator[str]:
        return iter(["machine"])

    def __len__(self) -> int:
        return 1


class Endless(dict):
    def items(self):
        n = 0
        while True:
            yield f"reading {n}", "1 F"
            n += 1


class BadPath:
    def __fspath__(self) -> str:
        raise RuntimeError("no")


def _deep(levels: int) -> dict[str, object]:
    data: dict[str, object] = {}
    for _ in range(levels):
        data = {"readings": data}
    return data


HOSTILE = [
    None, 5, 1.5, True, b"visit.yaml", [], [{"readings": {}}], set(), object(), BadPath(), "", "\0", "a\0b.yaml",
    "no\udc80.yaml",
    "x" * 100_000, "/", Path("/"), Path("\0"), "readings: {airflow: 5 cfm}", Raising(), {"readings": Raising()},
    {"readings": Endless()},
    Endless(), _deep(500),
    _deep(100_000), {5: 1}, {None: 1}, {"machine": {(1, 2): 3}}, {b"readings": {}}, {"readings": {"airflow": 10**5000}},
    {"readings": {"airflow": float("nan")}}, {"readings": {"airflow": float("inf")}}, {"x" * 100_000: 1},
    {"machine": {"refrigerant": ["R-410A"]}}, {"readings": [[[]]]}, {"baseline": "none.yaml"}, {"baseline": ["x"]},
    {"readings": {"airflow": object()}}, {"instruments": {"gauges": object()}}, {"seen": {"air filter": object()}},
]  # fmt: skip


@pytest.mark.parametrize("given", HOSTILE, ids=lambda given: type(given).__name__)
def test_whatever_is_given_ends_in_a_visit_error(given):
    with pytest.raises(VisitError) as caught:
        Visit.parse(given)
    assert caught.value.problems
    assert all(len(str(problem)) < 5000 or "x" * 100 in str(given) for problem in caught.value.problems)


@pytest.mark.parametrize(
    "text",
    ["a: &x {b: 1}\nmachine: {<<: *x}\n", "machine: *none\n", "? [a]\n: b\n", "1: 2\n", "a: b\n---\nc: d\n", "[" * 5000,
     "!!python/none x",
     "readings: {airflow: " + "9" * 5000 + "}\n", "\ufeff\ufeff", "\x01", "machine: [", "- 1\n", "text",
     "%TAG ! x\n---\na: b\n"],
)  # fmt: skip
def test_whatever_a_file_holds_ends_in_a_visit_error(text, of_text):
    with pytest.raises(VisitError):
        Visit.parse(of_text(text))


def test_a_visit_that_holds_itself_is_refused(of_text):
    data: dict[str, object] = {"readings": {"airflow": "900 cfm"}}
    data["baseline"] = data
    with pytest.raises(VisitError, match="nested deeper than 40"):
        Visit.parse(data)
    path = of_text("readings: {airflow: 900 cfm}\nbaseline: visit.yaml\n")
    with pytest.raises(VisitError, match="is this visit itself"):
        Visit.parse(path)


def test_parse_takes_a_mapping_a_path_a_case_and_standard_input(of_text, monkeypatch):
    import io

    text = "machine: {name: shop}\nreadings: {airflow: 900 cfm}\n"
    path = of_text(text)
    of_file = Visit.parse(path)
    data = {"machine": {"name": "shop"}, "readings": {"airflow": "900 cfm"}}
    for found in (Visit.parse(data), Visit.parse(str(path)), Visit.parse({"case": "x", "visit": data})):
        assert (found.machine, found.rounds) == (of_file.machine, of_file.rounds)
    monkeypatch.setattr("sys.stdin", io.StringIO(text))
    assert Visit.parse("-").rounds == of_file.rounds
    closed = io.StringIO()
    closed.close()
    for stream in (closed, None):
        monkeypatch.setattr("sys.stdin", stream)
        with pytest.raises(VisitError, match="nothing can be read here"):
            Visit.parse("-")


def test_numbers_of_an_array_library_are_numbers():
    found = Visit.parse({"machine": {"SEER": np.int64(14)}, "readings": {"minutes running": np.float32(15.5)}})
    assert (found.machine.fact("SEER"), found.last.minutes) == (14.0, 15.5)
    assert Visit.parse({"readings": {"minutes running": Decimal("15.5")}}).last.minutes == 15.5


def test_the_repr_of_a_visit_is_one_short_line(right):
    assert repr(Visit.parse({})) == "<Visit 'unnamed machine', 0 readings>"
    long = {"machine": {"name": "x\n" * 80, "refrigerant": "R-410A", "metering": "TXV", "mode": "cooling"},
            "readings": [{"minutes running": n, "airflow": "900 cfm"} for n in (5, 9)]}  # fmt: skip
    told = repr(Visit.parse(long))
    assert told.endswith("R-410A, TXV, cooling, 1 reading, 2 rounds>")
    assert "\n" not in told
    assert len(told) < 140


@pytest.mark.parametrize(
    ("plate", "read", "asked"),
    [
        ("10 C", "89 F", "`10 F`"),
        ("5.5 K", "89 F", ""),
        ("14 F", "89 F", ""),
        ("2 F", "32 C", "`2 K`"),
        ("10 F", "32 C", ""),
    ],
)
def test_a_plate_in_other_degrees_than_the_readings_is_asked_about(plate: str, read: str, asked: str) -> None:
    data = {"machine": {"rated subcooling": plate}, "readings": {"liquid line temperature": read}}
    if not asked:
        visit_from(data)
        return
    ((what, fix),) = problems(data)
    assert "than plates ask for" in what
    assert asked in fix


def test_a_unit_is_proposed_of_the_system_that_the_readings_before_it_are_written_in():
    told = dict(problems({"readings": {"suction line temperature": "13 C", "supply air dry bulb": 14, "airflow": 560}}))
    assert told["`supply air dry bulb`: `14` has no unit"] == "Write the unit, for example `14 C`."
    assert told["`airflow`: `560` has no unit"] == "Write the unit, for example `560 L/s`."
