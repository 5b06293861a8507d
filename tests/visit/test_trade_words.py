"""What the trade calls a line of a visit: understood where one thing can be meant, asked about where two can."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, visit, with_readings
from work import examples

from diagnose import examine
from diagnose.properties.targets import F
from diagnose.units import FOOT, TON
from diagnose.visit import READINGS, VisitError, visit_from
from diagnose.visit.fields import FIELDS, INSTRUMENTS, LINE_SET, MACHINE, MACHINE_WORDS, ROUND, WEIGHED
from diagnose.visit.start_up_fields import GROUPS, lines_of
from diagnose.visit.trade_words import SYNONYMS, meant, misspelt

NAMES = {
    "readings": set(ROUND), "machine": {*MACHINE, *MACHINE_WORDS}, "line set": set(LINE_SET), "instruments": set(INSTRUMENTS),
    **{part.name: set(lines_of(part.name)) for part in GROUPS},
    "refrigerant": set(WEIGHED),
}  # fmt: skip
TABLE = [(section, word, names) for section, table in SYNONYMS.items() for word, names in table.items()]


def told(data) -> list[tuple[str, str]]:
    with pytest.raises(VisitError) as caught:
        visit_from(data)
    return [(problem.what, problem.fix) for problem in caught.value.problems]


def readings(**taken: str):
    return visit_from({"readings": {name.replace("_", " "): text for name, text in taken.items()}}).last.readings


def test_the_table_leads_to_lines_there_are_and_every_word_of_it_can_be_reached():
    everywhere = set().union(*NAMES.values())
    for section, word, names in TABLE:
        assert meant(section, word) == names, f"{section}: {word}"
        assert word not in NAMES[section], f"{section}: {word}"
        assert set(names) <= (NAMES[section] if len(names) == 1 else everywhere), f"{section}: {word}"


def test_a_name_means_itself_however_its_letters_are():
    for field in FIELDS:
        for written in (field.name, field.name.upper(), field.name.title(), f"  {field.name} ".replace(" ", "  ")):
            assert meant(field.section, written) == (field.name,), f"{field.section}: {written}"


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("low pressure", "suction pressure"), ("Low Side", "suction pressure"), ("head pressure", "liquid pressure"),
        ("high side", "liquid pressure"), ("discharge pressure", "liquid pressure"),
        ("suction temp", "suction line temperature"),
        ("liquid line temp", "liquid line temperature"), ("outdoor temp", "outdoor air temperature"),
        ("outside temp.", "outdoor air temperature"), ("return db", "return air dry bulb"),
        ("Return WB", "return air wet bulb"),
        ("supply air temp", "supply air dry bulb"), ("ESP", "external static pressure"), ("CFM", "airflow"),
        ("return RH", "return air relative humidity"), ("compressor amps", "compressor current"),
        ("entering wet-bulb", "return air wet bulb"), ("superheat", "gauge superheat"), ("subcooling", "gauge subcooling"),
        ("condenser leaving air temp", "condenser leaving air temperature"), ("drier in temp", "drier inlet temperature"),
        ("LAT", "supply air dry bulb"), ("RAT", "return air dry bulb"), ("RAT WB", "return air wet bulb"),
        ("suctionPressure", "suction pressure"), ("LiquidLineTemp", "liquid line temperature"),
        ("suct temp", "suction line temperature"), ("RWB", "return air wet bulb"), ("amb", "outdoor air temperature"),
    ],
)  # fmt: skip
def test_readings_under_the_words_of_the_trade(written, name):
    example = READINGS[name].examples[0]
    found = visit_from({"readings": {written: example}}).last.readings
    assert found == visit_from({"readings": {name: example}}).last.readings
    assert list(found) == [name]


def test_facts_of_the_machine_under_the_words_of_the_trade():
    found = visit_from({"machine": {
        "RLA": "17 A", "tonnage": "3T", "metering device": "piston", "elevation": "5000 ft", "charge": "6# 4oz", "gas": "R-22",
        "subcooling": "10 F", "Line Set": {"liquid line size": "3/8", "line length": "35 ft", "included length": "15 ft"},
    }}).machine  # fmt: skip
    assert found.fact("rated current") == 17.0
    assert found.fact("nominal capacity") == pytest.approx(3 * TON)
    assert found.fact("factory charge") == pytest.approx(6.25 * 0.45359237)
    assert found.fact("rated subcooling") == pytest.approx(10 * F)
    assert (found.metering, found.station_from) == ("fixed orifice", "altitude")
    assert found.line_set.liquid_line == pytest.approx(0.375 * 0.0254)
    assert found.line_set.length == pytest.approx(35 * FOOT)


@pytest.mark.parametrize(
    ("section", "word", "number", "name", "same"),
    [
        ("machine", "tons", 3, "nominal capacity", "3 ton"), ("machine", "Tonnage", "2 1/2", "nominal capacity", "2.5 ton"),
        ("machine", "BTUH", "36,000", "nominal capacity", "36000 Btu/h"), ("machine", "RLA", 17, "rated current", "17 A"),
        ("machine", "charge (oz)", 88, "factory charge", "88 oz"), ("machine", "altitude_ft", 250, "altitude", "250 ft"),
        ("readings", "suction psig", 118, "suction pressure", "118 psig"),
        ("readings", "head pressure [kPa abs]", 2200, "liquid pressure", "2200 kPa absolute"),
        ("readings", "suction temp (F)", 61.5, "suction line temperature", "61.5 F"),
        ("readings", "OAT °C", "30,5", "outdoor air temperature", "30.5 C"),
        ("readings", "cfm", "1,180", "airflow", "1180 cfm"),
        ("readings", "amps", 12, "compressor current", "12 A"),
        ("readings", "return rh", 50, "return air relative humidity", "50 %"),
        ("line set", "length ft", 35, "length", "35 ft"), ("line set", "oz per foot", 0.6, "allowance", "0.6 oz/ft"),
        ("instruments", "pipe clamps F", 1, "pipe clamps", "1 F"),
        ("readings", "suction pressure (psig)", "8.1 bar", "suction pressure", "8.1 bar"),
    ],
)  # fmt: skip
def test_a_name_that_says_its_unit_gives_it_to_a_bare_number(section, word, number, name, same):
    whole = {"liquid line": "3/8 in", "length": "30 ft", "included": "15 ft"}

    def values(line):
        if section == "line set":
            found = visit_from({"machine": {"line set": {k: v for k, v in whole.items() if k != name} | line}})
        else:
            found = visit_from({"readings": {"discharge line temperature": "170 F"}} | {section: line})
        taken = [(r.field.name, r.value, r.error) for r in found.last.readings.values()]
        return found.machine.facts, found.machine.line_set, taken

    assert values({word: number}) == values({name: same})


@pytest.mark.parametrize(
    ("word", "number"), [("return rh", 0.5), ("return rh", "1"), ("suction", 118), ("head 2", 306), ("return in", 75)]
)
def test_a_name_that_says_no_unit_or_one_that_may_mean_two_things_gives_none(word, number):
    assert told({"readings": {word: number}})


@pytest.mark.parametrize(
    ("word", "both"),
    [
        ("high pressure", ("liquid pressure", "metering inlet pressure")), ("static pressure", ("external static", "standing")),
        ("wet bulb", ("return air wet bulb", "supply air wet bulb")), ("amps", ("compressor current", "rated current")),
        ("line temp", ("suction line temperature", "liquid line temperature")),
    ],
)  # fmt: skip
def test_where_two_can_be_meant_it_is_asked(word, both):
    ((what, fix),) = told({"readings": {word: "61 F"}})
    assert what == f"`{word}` can mean two things"
    assert all(name in fix for name in both)


@pytest.mark.parametrize(
    ("section", "word"),
    [("readings", "blower temperature rise"), ("readings", "high pressur"), ("machine", "SEER3"), ("machine", "EER"),
     ("machine", "HSPF2"), ("readings", "loww pressure"), ("readings", "outlet temperature"),
     ("readings", "indoor air temperature")],
)  # fmt: skip
def test_another_quantity_or_the_other_side_is_never_proposed(section, word):
    ((what, fix),) = told({section: {word: "1"}})
    assert what.startswith(f"`{word}` is not a")
    assert fix.startswith("Known: ")


def test_a_decimal_comma_in_braces_leaves_half_a_number_as_a_name():
    """`{low side: 8,5 bar}` is two entries to YAML: the second is `5 bar`, and empty."""
    unit, name = told({"readings": {"low side": "8", "5 bar": None}})
    assert unit == ("`low side`: `8` has no unit", "Write the unit, for example `8 psig`.")
    assert name[0] == "`5 bar` is not a reading"
    assert "write a decimal point: inside `{ }` a comma ends" in name[1]


def test_where_two_can_be_meant_the_unit_tells_which():
    found = visit_from({"readings": {"liquid": "306 psig", "discharge": "160 F", "static": "0.5 in wc"}}).last.readings
    assert set(found) == {"liquid pressure", "discharge line temperature", "external static pressure"}


def test_two_capacitors_in_one_can_are_two_lines():
    ((what, fix),) = told({"machine": {"capacitor rating": "45/5 uF"}})
    assert what == "`capacitor rating`: `45/5 uF` is two capacitors in one can"
    assert "`fan capacitor rating: 5 uF`" in fix


def test_a_colon_without_its_space_is_told():
    ((_, fix),) = told({"machine": {"metering:TXV": None}})
    assert fix == "Write a space after the colon: `metering: TXV`."


@pytest.mark.parametrize("word", ["suction presure", "Suction Pressuer", "sucton pressure"])
def test_a_slip_of_the_pen_is_mended(word):
    assert told({"readings": {word: "118 psig"}}) == [
        (f"`{word}` is not a reading", "Did you mean `suction pressure`?")
    ]


@examples(100)
@given(data=st.data(), name=st.sampled_from(sorted(READINGS)))
def test_what_is_proposed_for_a_slip_of_one_letter_is_what_was_meant(data, name):
    at = data.draw(st.integers(0, len(name) - 1))
    wrong = data.draw(st.sampled_from([name[:at] + name[at + 1 :], name[:at] + name[at] + name[at:]]))
    assert misspelt(wrong, READINGS) in ("", f"Did you mean `{name}`?")


def test_what_stands_in_the_wrong_part_is_shown_its_place():
    assert told({"readings": {"RLA": "17 A"}})[0][1] == "It belongs under `machine:`, as `rated current`."
    assert told({"machine": {"low side": "118 psi"}})[0][1] == "It belongs under `readings:`, as `suction pressure`."


def test_one_line_under_two_names_is_told():
    assert told({"readings": {"low side": "118 psig", "suction pressure": "119 psig"}}) == [
        ("`low side` and `suction pressure` are the same line", "Keep one of them.")
    ]


def test_what_is_known_is_listed_once():
    (_, first), (_, second) = told({"readings": {"dance": "18 F", "song": "18 F"}})
    assert first.startswith("Known: minutes running, ")
    assert second == "Known: see above."


@pytest.mark.parametrize(
    ("section", "word", "fix"),
    [("readings", "delta T", "`return air dry bulb` and `supply air dry bulb`"), ("readings", "room temp", "the return duct"),
     ("readings", "SAT", "`supply air dry bulb`; a saturation"), ("readings", "SST", "write `suction pressure`"),
     ("machine", "receiver", "flooded condenser"), ("machine", "retrofit", "`built for: R-22`"),
     ("machine", "model", "write it under `notes:`"), ("machine", "serial number", "write it under `notes:`")],
)  # fmt: skip
def test_what_is_no_line_of_a_visit_is_told_what_to_write_instead(section, word, fix):
    ((what, told_to),) = told({section: {word: "18 F"}})
    assert what.startswith(f"`{word}` is not a")
    assert fix in told_to


@pytest.mark.parametrize(
    ("word", "text", "same"),
    [("return wb", "63 F wb", "63 F"), ("outdoor temp", "95 °F DB", "95 F"), ("return db", "75 F dry bulb", "75 F"),
     ("lo side", "118 lbs", "118 psig"), ("Head psi", "306 pounds", "306 psig")],
)  # fmt: skip
def test_what_only_says_the_line_again_and_pounds_on_a_gauge(word, text, same):
    (found,) = visit_from({"readings": {word: text}}).last.readings.values()
    (name,) = meant("readings", word)
    assert found == readings(**{name.replace(" ", "_"): same})[name]


@pytest.mark.parametrize(
    ("words", "text", "cooling", "heating"),
    [(("vapour line temperature", "vapor line temp", "vapor line", "Vapor temp", "gas line temp", "big line temp"), "61 F",
      "suction line temperature", "vapour line temperature"),
     (("vapour line pressure", "vapor line pressure", "vapor press"), "118 psig", "suction pressure", "vapour line pressure")],
)  # fmt: skip
def test_the_larger_line_carries_suction_gas_in_cooling_and_hot_gas_in_heating(words, text, cooling, heating):
    for word in words:
        for mode, name in (({}, cooling), ({"mode": "cooling"}, cooling), ({"mode": "heating"}, heating)):
            taken = visit_from({"machine": mode, "readings": {word: text}}).last.readings
            assert taken == readings_of({"machine": mode, "readings": {name: text}}), (word, mode)
            assert list(taken) == [name]


def readings_of(data):
    return visit_from(data).last.readings


def test_a_good_day_that_names_no_mode_is_read_in_the_mode_of_today():
    today = {"suction line temperature": "34 F", "vapor line temp": "150 F"}
    found = visit_from({"machine": {"mode": "heating"}, "readings": today, "baseline": {"readings": today}})
    assert found.baseline.last.readings == found.last.readings
    found = visit_from(
        {
            "machine": {"mode": "heating"},
            "baseline": {"machine": {"mode": "cooling"}, "readings": {"vapor line temp": "50 F"}},
        }
    )
    assert list(found.baseline.last.readings) == ["suction line temperature"]


def test_the_suction_line_is_read_in_heating_beside_the_larger_line_and_only_once_in_cooling():
    both = {"readings": {"suction line temperature": "34 F", "vapor line temp": "150 F"}}
    assert set(readings_of({"machine": {"mode": "heating"}, **both})) == {
        "suction line temperature", "vapour line temperature"
    }  # fmt: skip
    assert told(both) == [
        (
            "`suction line temperature` is written twice: in cooling the vapour line is the suction line",
            "Keep one of them.",
        )
    ]


def test_a_wet_bulb_is_no_dry_bulb():
    assert told({"readings": {"return air dry bulb": "63 F wb"}})[0][0].endswith(
        "`F wb` is not a unit of a temperature"
    )


def test_sizes_and_ratings_with_their_own_words():
    found = visit_from(
        {"machine": {"SEER2": "13.3 SEER2", "line set": {"liquid line": "3/8 OD", "length": "35 ft"}}}
    ).machine
    assert found.fact("SEER") == pytest.approx(14.0)
    assert found.line_set.liquid_line == pytest.approx(0.375 * 0.0254)


@pytest.mark.parametrize("text", ["75F 50%RH", "75 °F, 50 % rh", "75 F @ 50%", "75 F at 50 %"])
def test_dry_bulb_and_humidity_side_by_side(text):
    apart = readings(return_air_dry_bulb="75 F", return_air_relative_humidity="50 %")
    assert readings(return_air=text) == apart


@pytest.mark.parametrize("text", ["75/63 F", "75 F / 63 F", "75/63F", "75 F db/63 F wb", "75 °F/63 °F", "75.0/63.0 f"])
@pytest.mark.parametrize("name", ["return air", "return air temp", "return air dry bulb"])
def test_dry_and_wet_bulb_in_one(text, name):
    both = readings(return_air_dry_bulb="75 F", return_air_wet_bulb="63 F")
    found = visit_from({"readings": {name: text}}).last.readings
    assert {n: r.value for n, r in found.items()} == pytest.approx({n: r.value for n, r in both.items()})


def test_dry_bulb_and_humidity_in_one():
    assert readings(supply_air="56 F/90 %").keys() == {"supply air dry bulb", "supply air relative humidity"}
    assert told({"readings": {"return air": "75/63 F", "return air wet bulb": "62 F"}}) == [
        ("`return air wet bulb` is written twice, once behind a `/`", "Keep one of them.")
    ]
    assert told({"readings": {"outdoor air temperature": "75/63 F"}})
    assert told({"readings": {"return air": "75/63"}})[0] == (
        "`return air`: `75` has no unit", "Write the unit, for example `75 F`.",
    )  # fmt: skip


# -- SEER2, altitude and station pressure, line sets -------------------------------------------------------------------


def test_seer2_is_converted_and_that_is_said():
    found = visit_from({"machine": {"SEER2": 13.3}})
    assert found.machine.facts == {"SEER": pytest.approx(14.0)}
    (note,) = found.notes
    assert (note.code, note.figures) == ("seer-converted", {"seer2": 13.3, "seer": pytest.approx(14.0)})
    both = visit_from({"machine": {"SEER2": 13.3, "SEER": 15}})
    assert (both.machine.facts, both.notes) == ({"SEER": 15.0}, ())


@pytest.mark.parametrize(
    ("altitude", "station", "agree"),
    [("5000 ft", "24.9 inHg", True), ("5000 ft", "25.7 inHg", True), ("5000 ft", "29.9 inHg", False),
     ("1500 m", "1013 hPa", False), ("0 ft", "29.0 inHg", True), ("1500 ft", "29.92 inHg", False)],
)  # fmt: skip
def test_altitude_and_station_pressure_must_agree(altitude, station, agree):
    data = {"machine": {"altitude": altitude, "station pressure": station}}
    if agree:
        assert visit_from(data).machine.station_from == "measured"
        return
    ((what, fix),) = told(data)
    assert what.startswith("`altitude` and `station pressure` contradict each other: a place at ")
    assert "not reduced to sea level" not in fix
    assert "one reduced to sea level" in fix


def test_a_contradicting_station_pressure_says_what_the_altitude_would_give():
    assert (
        "5,000 ft has about 24.9 inHg, not 29.9 (1,524 m about 843 hPa, not 1013)"
        in (told({"machine": {"altitude": "5000 ft", "station pressure": "29.9 inHg"}})[0][0])
    )


@pytest.mark.parametrize("length", ["350 ft", "100 m", "1 in"])
def test_a_line_set_is_no_longer_than_there_are(length):
    ((what, _),) = told({"machine": {"line set": {"liquid line": "3/8 in", "length": length}}})
    assert what == f"`length`: `{length}` is not possible here"


# -- air of an earlier round -------------------------------------------------------------------------------------------


def rounds(minutes: float, **before: str):
    last = {"minutes running": 20, "suction pressure": "118 psig", "return air dry bulb": "76 F"}
    earlier = {"minutes running": minutes, **{name.replace("_", " "): text for name, text in before.items()}}
    return visit_from({"readings": [earlier, last]})


def test_air_read_in_the_five_minutes_before_is_used_with_one_note():
    found = rounds(15, outdoor_air_temperature="80 F", return_air_wet_bulb="63 F", return_air_dry_bulb="75 F",
                   liquid_pressure="306 psig", airflow="900 cfm", standing_air_temperature="80 F")  # fmt: skip
    assert set(found.last.readings) == {
        "suction pressure", "return air dry bulb", "outdoor air temperature", "return air wet bulb",
    }  # fmt: skip
    assert found.last.readings["return air dry bulb"].value == pytest.approx((76 + 459.67) * F)
    (note,) = found.notes
    assert note.code == "air-of-an-earlier-round"
    assert note.figures == {"readings": ("outdoor air temperature", "return air wet bulb")}


def test_older_air_is_not_used():
    found = rounds(14.9, outdoor_air_temperature="80 F")
    assert "outdoor air temperature" not in found.last.readings
    assert found.notes == ()


def test_a_second_humidity_of_the_same_air_is_left_where_it_was():
    data = [{"minutes running": 16, "return air relative humidity": "50 %"},
            {"minutes running": 20, "return air wet bulb": "63 F"}]  # fmt: skip
    assert visit_from({"readings": data}).last.readings.keys() == {"return air wet bulb"}


# -- superheat and subcooling off a digital gauge ----------------------------------------------------------------------

BOTH = ("suction_line_temperature", "liquid_line_temperature")


def shown_by_a_gauge(superheat: str, subcooling: str):
    without = with_readings(visit(State()), **dict.fromkeys(BOTH))
    return examine(with_readings(without, superheat=superheat, subcooling=subcooling))


def test_what_a_gauge_shows_stands_in_for_the_line_temperatures():
    d = shown_by_a_gauge("20 F", "8 F")
    for name, value in (("superheat", 20), ("subcooling", 8)):
        found = d.estimates[name]
        assert found.value == pytest.approx(value * F)
        # an error of the pressure is in the gauge's figure already, and not counted again
        assert found.sigma == pytest.approx(F)
        assert f"gauge {name}" in found.readings
    line, boils = d.estimates["suction line temperature"], d.estimates["evaporating temperature"]
    assert line.value == pytest.approx(boils.value + 20 * F)
    assert line.sigma > F
    assert d.estimates["liquid line approach"].value == pytest.approx(
        d.estimates["liquid line temperature"].value - d.estimates["outdoor air temperature"].value
    )


@pytest.mark.parametrize(("superheat", "subcooling", "fault"), [(30, 2, "low-charge"), (3, 14, "overcharge")])
def test_a_gauge_leads_to_the_same_answer_as_clamps(superheat, subcooling, fault):
    by_gauge = shown_by_a_gauge(f"{superheat} F", f"{subcooling} F")
    by_clamp = examine(visit(State(superheat=superheat, subcooling=subcooling)))
    assert by_gauge.faults[0].fault == by_clamp.faults[0].fault == fault
    assert by_gauge.findings["superheat"].word == by_clamp.findings["superheat"].word


def test_beside_a_line_temperature_the_gauge_changes_nothing_where_it_agrees():
    data = visit(State(superheat=10, subcooling=10))
    one, other = examine(data), examine(with_readings(data, superheat="10 F", subcooling="10 F"))
    assert one.estimates["superheat"] == other.estimates["superheat"]
    assert [r.fault for r in one.ranked] == [r.fault for r in other.ranked]
    assert other.doubts == one.doubts


@pytest.mark.parametrize("name", ["superheat", "subcooling"])
def test_a_gauge_that_contradicts_the_line_temperature_is_doubted(name):
    data = with_readings(visit(State(superheat=10, subcooling=10)), **{name: "25 F"})
    (doubt,) = [doubt for doubt in examine(data).doubts if doubt.reason.code == f"gauge-{name}-contradicts"]
    assert doubt.set_aside == (f"gauge {name}",)
    assert doubt.holds_charge
    assert doubt.reason.figures["shown"] == pytest.approx(25 * F)


def test_a_gauge_figure_that_cannot_be_is_set_aside():
    d = shown_by_a_gauge("-15 F", "8 F")
    assert ("gauge superheat",) in [doubt.set_aside for doubt in d.doubts]
    assert "superheat" not in d.estimates


def test_the_error_of_a_digital_gauge_can_be_said():
    data = {**visit(State()), "instruments": {"digital gauge": "1 F"}}
    found = visit_from(with_readings(data, superheat="10 F")).last.readings["gauge superheat"]
    assert found.error == pytest.approx(F)


def test_the_superheat_of_a_gauge_is_followed_from_round_to_round():
    first = with_readings(visit(State(minutes=15)), suction_line_temperature=None, superheat="10 F")["readings"]
    last = with_readings(visit(State(minutes=20)), suction_line_temperature=None, superheat="16 F")["readings"]
    d = examine({**visit(State()), "readings": [first, last]})
    assert d.estimates["superheat drift"].value == pytest.approx(6 * F)
