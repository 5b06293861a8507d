"""Every look-up against published figures (tests/reference, with their sources), and what it says to a slip."""

from __future__ import annotations

import re

import pytest
from published import rows

from diagnose.properties.targets import F
from diagnose.report import as_text, lookups
from diagnose.rulebook import Rulebook
from diagnose.units import PSI
from diagnose.yamlfile import InputProblems


def cells(name: str, head: str) -> list[tuple[str, str, str]]:
    """(row, wet bulb, value) of every cell that is not blank."""
    return [
        (row[head], column.removeprefix("wb"), value)
        for row in rows(name)
        for column, value in row.items()
        if column.startswith("wb") and value
    ]


def said(found: lookups.Found) -> str:
    return " ".join(as_text(found[0]).split())


def refused(*words: str | None, by: str, book: Rulebook) -> str:
    with pytest.raises(InputProblems) as caught:
        getattr(lookups, by)(*words, book)
    assert len(caught.value.problems) == 1
    return str(caught.value.problems[0])


# -- saturation ----------------------------------------------------------------------------------------------------


def test_saturation_at_published_points(book: Rulebook) -> None:
    """Makers' charts and standards; they lie up to 1.3 % of pressure from each other."""
    for row in rows("saturation_points.csv"):
        found = lookups.saturation(row["refrigerant"], f"{row['T']} {row['T_unit']}", None, book)[1]
        lines = {"bubble": ["bubble"], "dew": ["dew"]}.get(row["line"], ["bubble", "dew"])
        off = min(abs(float(row["psia"]) * PSI / found[line] - 1) for line in lines)
        assert off < 0.013, row
        back = lookups.saturation(row["refrigerant"], f"{row['psia']} psia", None, book)[1]
        assert min(abs(back[line] - 459.67 * F - float(row["T_F"]) * F) for line in lines) < 0.5, row


def test_saturation_of_a_maker_s_chart_as_printed(book: Rulebook) -> None:
    """118.0 psig at 40 °F for R-410A (an outdoor unit maker's installation sheet)."""
    text = said(lookups.saturation("r410a", "118 psig", None, book))
    assert text.startswith(
        "R-410A at 118 psig, station pressure 14.7 psia: - dew 39.8 °F: superheat is counted from it"
    )
    assert "Good to ± 0.3 °F: " in text
    assert "Source: CoolProp 8" in text


def test_on_a_blend_the_two_lines_lie_apart_by_the_glide(book: Rulebook) -> None:
    blocks, found = lookups.saturation("R-407C", "70 psig", None, book)
    assert found["dew"] - found["bubble"] == pytest.approx(6.2, abs=0.3)
    assert "Glide 11.0 °F" in said((blocks, found))


def test_a_gauge_on_a_mountain_reads_from_less(book: Rulebook) -> None:
    low, high = (lookups.saturation("R-410A", "118 psig", at, book)[1] for at in (None, "5000 ft"))
    assert low["station_pressure"] == pytest.approx(101325)
    assert high["station_pressure"] == pytest.approx(12.228 * PSI, rel=1e-3)  # US Standard Atmosphere 1976
    assert 0.3 < low["dew"] - high["dew"] < 1.0
    assert lookups.saturation("R-410A", "130 psia", "5000 ft", book)[1]["dew"] == pytest.approx(
        lookups.saturation("R-410A", "130 psia", None, book)[1]["dew"]
    )


def test_metric_in_metric_out_and_what_was_taken_for_granted(book: Rulebook) -> None:
    text = said(lookups.saturation("R-32", "8 bar", None, book))
    assert "°C: superheat" in text
    assert "is read as gauge pressure" in text
    assert not re.search(r"°F|psi", text)


@pytest.mark.parametrize(
    ("gas", "value", "altitude", "what", "fix"),
    [
        ("R-410A", "20 inHg", None, "`inHg` can mean two pressures",
         "Write `20 inHg vacuum` if a gauge showed it, or `20 inHg absolute` if it counts from a perfect vacuum."),
        ("R-410A", "45", None, "`45` has no unit", "Give a pressure or a temperature, for example `130 psig` or `45 F`."),
        ("R-410A", "45 oz", None, "`oz` is a weight; a pressure is expected here",
         "Give a pressure or a temperature, for example `130 psig` or `45 F`."),
        ("R-410A", "-500 F", None, "`-500 F` is below absolute zero", "Check the number and the unit."),
        ("R-410A", "-20 psig", None, "`-20 psig` is below a perfect vacuum", "Check the number and the unit."),
        ("R-410B", "45 F", None, "There is no refrigerant 'R-410B' in the table", "Did you mean R-410A?"),
        ("R-410A", "900 psig", None, "R-410A has no saturation at 900 psig in the table",
         "It goes from −75.0 °F, 9.6 psia to just under 160.0 °F, 707.1 psia."),
        ("R-410A", "45 F", "90000 ft", "altitude: 90000 ft is out of range", "Below 36,000 ft (11 km)."),
        ("R-410A", "45 F", "5000", "altitude: `5000` has no unit", "Write the unit, for example `5000 ft`."),
    ],
)  # fmt: skip
def test_saturation_refused(gas: str, value: str, altitude: str | None, what: str, fix: str, book: Rulebook) -> None:
    assert refused(gas, value, altitude, by="saturation", book=book) == f"{what}\n      {fix}"


def test_a_refrigerant_nobody_knows_lists_what_is_known(book: Rulebook) -> None:
    text = refused("phlogiston", "45 F", None, by="saturation", book=book)
    assert "R-410A" in text
    assert "R-32" in text


# -- targets -------------------------------------------------------------------------------------------------------


def test_target_superheat_of_the_makers_chart(book: Rulebook) -> None:
    for outdoor, wet_bulb, chart in cells("target_superheat_5F_grid.csv", "condenser_air_db_F"):
        found = lookups.target_superheat(f"{outdoor} F", f"{wet_bulb} F", book)[1]
        if found["value"] is None:  # three cells where the chart prints its least value and the table has none
            assert chart == "5", (outdoor, wet_bulb)
        else:
            assert found["value"] / F == pytest.approx(float(chart), abs=1.0), (outdoor, wet_bulb)


def test_target_superheat_as_printed(book: Rulebook) -> None:
    """The classroom example: 80 °F outdoors, 63 °F wet bulb, 13.5 °F (interpolated in Table RA3.2-2)."""
    text = said(lookups.target_superheat("80 F", "63 F", book))
    assert text.startswith("Target superheat at 80 F outdoors and 63 F return air wet bulb, fixed orifice: 13.5 °F")
    assert "Source: California Energy Commission, Residential Appendices, Tables RA3.2-2" in text
    assert "line formula gives 14.5 °F" in text  # (3 × 63 − 80 − 80) / 2
    assert "Within 5.0 °F of the target the charge passes" in text


def test_a_blank_target_says_why_and_one_outside_the_table_too(book: Rulebook) -> None:
    blocks, found = lookups.target_superheat("95 F", "55 F", book)
    assert found["value"] is None
    assert "fixed orifice: none." in said((blocks, found))
    assert "below 5.0 °F, where the test is not valid" in said((blocks, found))
    assert "below 2.8 K, where the test is not valid" in said(lookups.target_superheat("35 C", "13 C", book))
    assert "outside the table (55.0 °F to 115.0 °F)" in said(lookups.target_superheat("120 F", "70 F", book))


@pytest.mark.parametrize(
    ("dry_bulb", "wet_bulb", "split"), cells("target_temperature_split_recalled.csv", "return_db_F")[::7]
)
def test_temperature_split_of_the_table(dry_bulb: str, wet_bulb: str, split: str, book: Rulebook) -> None:
    found = lookups.temperature_split(f"{dry_bulb} F", f"{wet_bulb} F", book)[1]
    assert found["value"] / F == pytest.approx(float(split), abs=0.06)


def test_temperature_split_as_printed_and_in_kelvin(book: Rulebook) -> None:
    assert "75 F dry bulb and 63 F wet bulb: 18.6 °F" in said(lookups.temperature_split("75 F", "63 F", book))
    assert " K (± " in said(lookups.temperature_split("24 C", "17 C", book))


@pytest.mark.parametrize("by", ["target_superheat", "temperature_split"])
@pytest.mark.parametrize("slip", ["80", "80 psig", "warm"])
def test_target_refused(by: str, slip: str, book: Rulebook) -> None:
    assert refused(slip, "63 F", by=by, book=book).startswith(("outdoor air: ", "return air dry bulb: "))
    assert refused("80 F", slip, by=by, book=book).startswith("return air wet bulb: ")


# -- line charge ---------------------------------------------------------------------------------------------------


def test_line_charge_of_the_worked_example(book: Rulebook) -> None:
    """25 ft of 3/8 in at the published 0.6 oz/ft are 15 oz (a maker's long-line guideline, Table 4)."""
    blocks, found = lookups.line_charge("R-410A", "3/8 in", "25 ft", book)
    assert found["published_kg"] * 35.27396 == pytest.approx(15.0, abs=0.05)
    assert "One maker allows 15.0 oz" in said((blocks, found))


@pytest.mark.parametrize("row", [r for r in rows("copper_tube_B280.csv") if r["temper(A=annealed,D=drawn)"] == "A"][:6])
def test_line_charge_is_bore_times_density(row: dict[str, str], book: Rulebook) -> None:
    for gas in ("R410A", "R22", "R32"):
        found = lookups.line_charge(gas, f"{row['nominal_in']} in", "10 ft", book)[1]
        published = float(row[f"{gas}_oz_per_ft_sat_liq_100F(computed)"])
        assert found["kg"] * 35.27396 / 10 == pytest.approx(published, rel=0.01)


def test_line_charge_in_metric(book: Rulebook) -> None:
    text = said(lookups.line_charge("R-410A", "9.5 mm", "8 m", book))
    assert re.match(r"8 m of 9\.5 mm liquid line hold \d+ g of R-410A, \d+ g/m\.", text)
    assert "oz" not in text


@pytest.mark.parametrize(
    ("tube", "length", "what"),
    [
        ("9 in", "25 ft", "tube: 9 in is not a size of ASTM B280 tube"),
        ("3/8 in", "-5 ft", "length: -5 ft is no length"),
        ("3/8 in", "0 ft", "length: 0 ft is no length"),
        ("0.375", "25 ft", "tube: `0.375` has no unit"),
        ("3/8 in", "25 F", "length: `F` is a temperature"),
    ],
)
def test_line_charge_refused(tube: str, length: str, what: str, book: Rulebook) -> None:
    assert refused("R-410A", tube, length, by="line_charge", book=book).startswith(what)


# -- moist air -----------------------------------------------------------------------------------------------------


def test_moist_air_of_ashrae_s_example(book: Rulebook) -> None:
    """ASHRAE Fundamentals 2017, chapter 1, Example 1: readings of the chart, so within a reading of a chart."""
    row = next(row for row in rows("psychrometrics_example.csv") if row["unit_system"].startswith("IP"))
    blocks, found = lookups.moist_air(f"{row['dry_bulb']} F", f"{row['wet_bulb']} F", None, book)
    assert found["humidity_ratio"] == pytest.approx(float(row["humidity_ratio"]), abs=0.00006)
    assert found["dew_point"] / F - 459.67 == pytest.approx(float(row["dew_point"]), abs=0.5)
    assert found["relative_humidity"] == pytest.approx(float(row["rel_humidity"]), abs=0.005)
    assert found["specific_volume"] * 16.01846 == pytest.approx(float(row["specific_volume"]), abs=0.02)
    text = said((blocks, found))
    shown = re.search(r"enthalpy ([\d.]+) Btu/lb", text)
    assert float(shown[1]) == pytest.approx(float(row["enthalpy"]), abs=0.1)
    for figure in ("wet bulb 65.0 °F", "dew point 39.9 °F", "relative humidity 13 %", "lb/lb)", "14.23 ft3/lb"):
        assert figure in text
    assert "ASHRAE Handbook Fundamentals 2017" in text
    assert "enthalpy −9.57 Btu/lb" in said(lookups.moist_air("-40 F", "50 %", None, book))


def test_moist_air_of_ashrae_s_example_in_si(book: Rulebook) -> None:
    row = next(row for row in rows("psychrometrics_example.csv") if row["unit_system"].startswith("SI"))
    blocks, found = lookups.moist_air(f"{row['dry_bulb']} C", f"{row['wet_bulb']} C", None, book)
    assert found["humidity_ratio"] == pytest.approx(float(row["humidity_ratio"]), abs=0.00011)
    assert found["enthalpy"] == pytest.approx(float(row["enthalpy"]), rel=0.005)
    assert found["dew_point"] - 273.15 == pytest.approx(float(row["dew_point"]), abs=0.5)
    assert found["relative_humidity"] == pytest.approx(float(row["rel_humidity"]), abs=0.006)
    assert found["specific_volume"] == pytest.approx(float(row["specific_volume"]), abs=0.001)
    assert not re.search("°F|Btu|ft3|psi", said((blocks, found)))


def test_relative_humidity_and_wet_bulb_say_the_same_air(book: Rulebook) -> None:
    wet = lookups.moist_air("75 F", "63 F", "5000 ft", book)[1]
    humid = lookups.moist_air("75 F", f"{wet['relative_humidity']:.8%}", "5000 ft", book)[1]
    assert humid["humidity_ratio"] == pytest.approx(wet["humidity_ratio"], rel=1e-6)
    assert humid["wet_bulb"] == pytest.approx(wet["wet_bulb"], abs=0.01)


@pytest.mark.parametrize(
    ("dry", "wet", "what"),
    [
        ("60 F", "70 F", "the wet bulb is above the dry bulb"),
        ("100 F", "30 F", "no air can be like that"),
        ("75 F", "150 %", "no air can be like that"),
        ("75 F", "-5 %", "no air can be like that"),
        ("75 F", "63", "wet bulb: `63` has no unit"),
        ("75", "63 F", "dry bulb: `75` has no unit"),
    ],
)
def test_impossible_air_is_refused(dry: str, wet: str, what: str, book: Rulebook) -> None:
    assert refused(dry, wet, None, by="moist_air", book=book).startswith(what)


def test_no_split_is_looked_up_for_a_wet_bulb_above_the_dry_bulb(book: Rulebook) -> None:
    assert refused("63 F", "76 F", by="temperature_split", book=book).startswith("the wet bulb is above the dry bulb")


HEATING = [row for row in rows("heating_charts.csv") if row["liquid_psig"]]


@pytest.mark.parametrize("row", HEATING, ids=lambda row: f"{row['nominal_ton']} ton, {row['outdoor_f']} F")
def test_the_charts_of_heating_machines_lie_within_what_is_told(row: dict[str, str], book: Rulebook) -> None:
    """tests/reference/heating_charts.csv: printed charts of two makers."""
    _, found = lookups.heating(f"{row['outdoor_f']} F", f"{row['return_f']} F", "R-410A", None, book)
    for name, column in (("liquid pressure", "liquid_psig"), ("suction pressure", "suction_psig")):
        printed = (float(row[column]) + 14.696) * PSI
        assert found[name]["from"] <= printed <= found[name]["to"], name
    told = found["subcooling behind a valve"]
    assert abs(float(row["subcooling_f"]) * F - told["value"]) <= 2 * told["spread"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("95 F", "70 F", None, None), "whether the machine is cooling"),
        (("35 F", "30 F", None, None), "no room that is heated"),
        (("47", "70 F", None, None), "outdoor air"),
        (("35 F", "70 F", "R-1", None), "R-1"),
    ],
)
def test_a_heating_look_up_that_cannot_be_answered(given: tuple[str | None, ...], words: str, book: Rulebook) -> None:
    with pytest.raises(InputProblems) as caught:
        lookups.heating(*given, book)  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_the_room_of_a_heating_look_up_is_told_in_the_units_of_the_weather(book: Rulebook) -> None:
    pages = [as_text(lookups.heating(out, None, None, None, book)[0]) for out in ("35 F", "-15 C")]
    assert "70 F return air" in pages[0]
    assert "21 C return air" in pages[1]
    assert "°F ±" not in pages[1]
