"""A heat pump while it heats, end to end: its quantities by hand, the charge by the maker's chart alone, the book by its mode.

Charts of sound machines: tests/reference/heating_charts.csv.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from heats import IN_FROST, ORIFICE, SOUND, WHOLE
from published import rows
from shared import case, examined, visit_of
from strategies import F, kelvin, saturated, with_machine, with_readings

from diagnose import examine, load_rules
from diagnose.diagnosis.next_checks import next_checks
from diagnose.properties import refrigerant, saturation_temperature
from diagnose.report.sentences import problems
from diagnose.rulebook import Conditions, Rulebook, applies
from diagnose.units import PSI

ROWS = rows("heating_charts.csv")
WITH_PRESSURES = [row for row in ROWS if row["liquid_psig"]]
HEATING_ONLY = {"reversing-valve-leaking", "check-valve-leaking", "defrost-fault", "supplementary-heat-on"}
OTHERS_OF_HEATING = {
    "caution/burner-beside-it", "caution/house-may-freeze", "caution/strip-heaters", "caution/wet-compression",
    "low-charge/oil-in-heating", "outside/part-load", "ready/charge-hidden", "ready/frosted", "ready/heating",
    "ready/just-defrosted", "machine/any-speed-in-heating", "machine/ductless-in-heating", "ready/room-too-hot",
    "ready/cold-house-hot-coil", "ready/stands-yet-heats", "ready/supplementary-heat", "state/frost-seen",
}  # fmt: skip


IN_CELSIUS = {name.replace(" ", "_"): f"{(float(value.split()[0]) - 32) / 1.8:.1f} F"
              for name, value in SOUND["readings"].items() if str(value).endswith(" F")}  # fmt: skip
NOTHING_THERE = {"suction_pressure": "5 psig", "suction_line_temperature": "45 F", "liquid_pressure": "135 psig",
                 "liquid_line_temperature": "68 F"}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "asked"),
    [
        ({**NOTHING_THERE, "supply_air_dry_bulb": "72 F"}, "see-that-the-valves-are-open"),
        ({**NOTHING_THERE, "supply_air_dry_bulb": None}, "note-the-mode"),  # it may be cooling
        ({"suction_pressure": "6.8 psi", "liquid_pressure": "21.4 psi"}, "see-that-the-valves-are-open"),  # in bar
        (IN_CELSIUS, "read-what-is-doubtful-again"),
        ({**IN_CELSIUS, "suction_pressure": None}, "read-what-is-doubtful-again"),
    ],
)  # fmt: skip
def test_what_cannot_warm_a_house_is_no_restriction_and_no_air(changes: dict[str, Any], asked: str) -> None:
    """Gauges below the house or above the outdoor air: hardly any refrigerant, or numbers of another unit."""
    found = examine(with_readings(SOUND, **changes))
    cold = ["ready/cold-house-hot-coil"] if "return_air_dry_bulb" in changes else []
    cannot = ["no-heat-in-heating"] if changes.get("suction_pressure", "") is not None else []
    assert [reason.code for reason in found.not_ready] == cold + cannot
    assert next_checks(found)[0].check == asked


# -- quantities by hand ------------------------------------------------------------------------------------------------

# R-22 has no glide: it boils at 30 and condenses at 100 °F, the hot gas enters at the pressure of 103 °F.
BY_HAND = with_readings(
    with_machine(WHOLE, refrigerant="R-22"),
    suction_pressure=f"{saturated('R-22', 'dew', 30):.4f} psig", liquid_pressure=f"{saturated('R-22', 'bubble', 100):.4f} psig",
    vapour_line_pressure=f"{saturated('R-22', 'dew', 103):.4f} psig",
)  # fmt: skip


def test_the_quantities_of_heating_by_hand() -> None:
    found = examine(BY_HAND).estimates
    differences = {
        "superheat": 37 - 30, "subcooling": 100 - 82, "condensing over return air": 100 - 70,
        "outdoor coil below outdoor air": 47 - 30, "air rise": 95 - 70, "suction tubes difference": 37 - 36,
        "high side pressure loss": 103 - 100,
    }  # fmt: skip
    assert {name: found[name].value / F for name in differences} == pytest.approx(differences, abs=0.01)
    # 1.08 Btu/h for each cfm and °F, as the trade reckons it: 27,000 Btu/h, or 7.91 kW, of a machine of 30,000
    assert found["heating capacity"].value == pytest.approx(0.90, rel=0.03)
    assert found["coefficient of performance"].value == pytest.approx(7.91 / 2.25, rel=0.03)
    ratio = (saturated("R-22", "bubble", 100, 0.0)) / saturated("R-22", "dew", 30, 0.0)
    assert found["compression ratio"].value == pytest.approx(ratio, rel=1e-3)


def test_what_is_expected_of_them_at_the_rating_point() -> None:
    """47 °F outdoors, 70 °F in the house: 33 °F above it and 17 °F below it, so 103 and 30 °F."""
    found = examine(BY_HAND).estimates
    expected = {name: e.expected.value for name, e in found.items() if e.expected is not None}  # type: ignore[union-attr]
    ratio = saturated("R-22", "bubble", 103, 0.0) / saturated("R-22", "dew", 30, 0.0)
    assert expected["compression ratio"] == pytest.approx(ratio, rel=1e-3)
    assert expected["condensing over return air"] / F == pytest.approx(33)
    assert expected["outdoor coil below outdoor air"] / F == pytest.approx(17)
    assert expected["subcooling"] / F == pytest.approx(20)
    assert expected["air rise"] / F == pytest.approx(26)
    assert (expected["heating capacity"], expected["coefficient of performance"]) == pytest.approx((0.96, 3.6))


@pytest.mark.parametrize(
    ("outdoor", "superheat", "subcooling"), [(17, 0.0, 0.0), (35, 0.0, 5.5), (52, 13.2, 14.85), (68, 27.5, 22.0)]
)
def test_on_an_orifice_both_follow_the_weather(outdoor: int, superheat: float, subcooling: float) -> None:
    """None in the cold, then 1.1 °F from 40 and 0.55 °F from 25 °F outdoors for each °F up to 65."""
    found = examine(with_readings(ORIFICE, outdoor_air_temperature=f"{outdoor} F")).estimates
    expected = {name: found[name].expected.value / F for name in ("superheat", "subcooling")}  # type: ignore[union-attr]
    assert expected == pytest.approx({"superheat": superheat, "subcooling": subcooling})


@pytest.mark.parametrize(("outdoor", "superheat"), [(17, 0.0), (47, 7.7), (60, 22.0)])
def test_the_hot_gas_is_expected_of_the_vapor_that_an_orifice_should_bring(outdoor: int, superheat: float) -> None:
    """A degree of superheat is a good degree of discharge gas; a valve's is that of any machine, 12 °F."""
    today = with_readings(WHOLE, outdoor_air_temperature=f"{outdoor} F")
    found = [examine(with_machine(today, metering=device)).estimates for device in ("TXV", "fixed orifice")]
    valve, orifice = (each["discharge superheat"].expected.value / F for each in found)  # type: ignore[union-attr]
    assert orifice - valve == pytest.approx(1.15 * (superheat - 12.0), rel=0.1)


def test_the_spare_charge_of_an_orifice_machine_without_an_accumulator_is_expected_in_the_indoor_coil() -> None:
    """Below 25 °F one with an accumulator holds no liquid there; where nobody knows, it has one, as most have."""
    found = [
        examine(with_machine(IN_FROST, accumulator=word)).estimates["subcooling"].expected.value / F  # type: ignore[union-attr]
        for word in ("no", "yes", None)
    ]
    assert found == pytest.approx([5.1, 0.0, 0.0])


def test_where_nobody_names_the_metering_device_no_subcooling_is_too_little() -> None:
    """An orifice may have none, a valve has 14 to 35 °F: without knowing which, nothing is said of it, and it is asked for."""
    d = examine(with_readings(with_machine(SOUND, metering=None), liquid_line_temperature="96 F"))
    assert "subcooling" in d.estimates
    assert "subcooling" not in d.findings
    assert d.faults[0].fault == "nothing-wrong"
    assert "no-metering" in [reason.code for reason, _ in problems(d)]


# -- sound machines of the charts --------------------------------------------------------------------------------------


def chart_visit(row: dict[str, str], metering: str | None) -> dict[str, Any]:
    """A row as a visit; what the chart does not print is left out, but the suction line, 8 °F above saturation."""
    data = with_machine(SOUND, metering=metering, nominal_capacity=f"{row['nominal_ton']} ton")
    if not row["liquid_psig"]:
        return with_readings(
            data, suction_pressure=None, suction_line_temperature=None, liquid_pressure=None, liquid_line_temperature=None,
            outdoor_air_temperature=f"{row['outdoor_f']} F",
            supply_air_dry_bulb=f"{70 + float(row['air_rise_f']):.1f} F",
            airflow=f"{400 * float(row['nominal_ton']):.0f} cfm", electric_power=f"{row['power_kw']} kW",
        )  # fmt: skip

    def boils(psig: str, line: Any) -> float:
        found = saturation_temperature(refrigerant("R-410A"), line, float(psig) * PSI + 101325.0)
        return (found - kelvin(0)) / F

    return with_readings(
        data, suction_pressure=f"{row['suction_psig']} psig", liquid_pressure=f"{row['liquid_psig']} psig",
        suction_line_temperature=f"{boils(row['suction_psig'], 'dew') + 8:.1f} F",
        liquid_line_temperature=f"{boils(row['liquid_psig'], 'bubble') - float(row['subcooling_f']):.1f} F",
        outdoor_air_temperature=f"{row['outdoor_f']} F", supply_air_dry_bulb=None,
    )  # fmt: skip


@pytest.mark.parametrize("metering", ["TXV", None])
@pytest.mark.parametrize(
    "row", ROWS, ids=lambda row: f"{row['document']}, {row['nominal_ton']} ton, {row['outdoor_f']} F"
)
def test_no_sound_machine_of_a_chart_is_called_faulty_nor_its_charge_wrong(
    row: dict[str, str], metering: str | None
) -> None:
    d = examine(chart_visit(row, metering))
    assert d.doubts == ()
    assert d.charge.verdict == "do not judge"
    assert not [fault.fault for fault in d.faults if fault.strength == "strong" and fault.fault != "nothing-wrong"]
    if metering and row["liquid_psig"]:
        assert d.faults[0].fault == "nothing-wrong"


def test_the_cooling_rule_of_ten_and_five_would_call_most_of_them_overcharged() -> None:
    """What the maker's own heating target is for."""
    assert sum(float(row["subcooling_f"]) > 15 for row in WITH_PRESSURES) >= 9
    for row in WITH_PRESSURES:
        own = with_machine(chart_visit(row, "TXV"), rated_heating_subcooling=f"{row['subcooling_f']} F")
        assert examine(own).charge.verdict == "right"


# -- the charge --------------------------------------------------------------------------------------------------------


ALONE = ["weigh-in-heating", "subcooling-shows-it-alone"]
FULL = with_readings(SOUND, liquid_pressure="380 psig", liquid_line_temperature="85 F")


@pytest.mark.parametrize(
    ("data", "rated", "verdict"),
    [(SOUND, "23 F", "low"), (SOUND, "16 F", "right"), (FULL, "16 F", "high"),
     (with_readings(ORIFICE, suction_line_temperature="40 F"), "23 F", "low"), (ORIFICE, "16 F", "right")],
)  # fmt: skip
def test_the_makers_heating_target_gives_a_verdict_whatever_the_metering_device(
    data: dict[str, Any], rated: str, verdict: str
) -> None:
    """16.1 °F was measured, or 27.7; ±3 °F as on any plate. An orifice that feeds no more than it should lacks refrigerant."""
    found = examine(with_machine(data, rated_heating_subcooling=rated)).charge
    assert (found.verdict, found.method) == (verdict, "subcooling")
    assert found.by.tolerance / F == pytest.approx(3)
    assert [caveat.code for caveat in found.caveats] == ([] if verdict == "right" else ALONE)
    assert getattr(found, "percent", None) is None


def test_what_one_clamp_shows_alone_in_heating_is_read_again_first() -> None:
    """8 °F of subcooling less than the chart asks for, and all else sound; a starved outdoor coil shows it as well."""
    alone = examine(with_machine(SOUND, rated_heating_subcooling="24 F"))
    assert alone.faults[0].strength == "fair"
    assert next_checks(alone)[0].check == "read-subcooling-again"
    starved = with_readings(SOUND, suction_line_temperature="60 F")
    shown = examine(with_machine(starved, rated_heating_subcooling="24 F")).charge
    assert (shown.verdict, [caveat.code for caveat in shown.caveats]) == ("low", ["weigh-in-heating"])


def test_subcooling_above_the_makers_chart_is_high_and_is_weighed() -> None:
    """Seven above what the chart asks for; a machine that stands near its tolerance is left alone."""
    found = examine(with_machine(SOUND, rated_heating_subcooling="9 F")).charge
    assert found.verdict == "high"
    assert [caveat.code for caveat in found.caveats] == ALONE
    near = examine(with_machine(SOUND, rated_heating_subcooling="13 F")).charge
    assert near.verdict == "do not judge"
    assert [reason.code for reason in near.reasons] == ["near-the-limit"]


def test_where_no_gauge_shows_the_charge_nothing_wrong_is_weak() -> None:
    """By the project's own simulator: below some 31 °F the spare or missing charge of an orifice machine moves nothing."""
    d = examine(IN_FROST)
    assert [reason.code for reason in d.charge.reasons] == ["ready/charge-hidden", "ready/heating"]
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", "weak")
    mild = examine(with_readings(IN_FROST, outdoor_air_temperature="40 F"))
    assert "ready/charge-hidden" not in [reason.code for reason in mild.charge.reasons]


def test_a_target_for_cooling_is_none_for_heating() -> None:
    d = examine(with_machine(SOUND, rated_subcooling="10 F"))
    assert d.charge.verdict == "do not judge"
    assert [reason.code for reason in d.charge.reasons] == ["ready/heating"]


# -- what is asked for next --------------------------------------------------------------------------------------------

PARTED_BY = {
    "reversing-valve-leaking-txv": "clamp-the-suction-tubes", "reversing-valve-leaking-orifice": "clamp-the-suction-tubes",
    "check-valve-leaking-txv": "feel-the-check-valve", "defrost-fault-txv": "look-for-frost",
    "supplementary-heat-on-txv": "switch-the-heaters-off",
}  # fmt: skip


@pytest.mark.parametrize("name", PARTED_BY)
def test_what_parts_a_fault_of_heating_from_those_that_look_like_it_is_asked_for_first(name: str) -> None:
    """The demo without its telling line: no tube clamped, nothing looked at."""
    told = case(f"demo/{name}").entry.visit
    taken = {line: text for line, text in told["readings"].items() if line != "valve tube temperature"}
    assert next_checks(examine({"machine": told["machine"], "readings": taken}))[0].check == PARTED_BY[name]


# -- the mode ----------------------------------------------------------------------------------------------------------


def test_a_mode_that_is_forgotten_is_asked_for() -> None:
    d = examine(with_machine(SOUND, mode=None))
    assert d.status == "outside"
    assert "cooling-assumed" in [reason.code for reason, _ in problems(d)]
    assert next_checks(d)[0].check == "note-the-mode"


def test_each_mode_has_its_faults_its_rules_and_its_limits(book: Rulebook) -> None:
    cooling, heating = book.in_mode("cooling"), book.in_mode("heating")
    assert set(book.faults) - set(cooling.faults) == HEATING_ONLY
    assert set(heating.faults) == set(book.faults)
    for rule in book.rules:
        if rule.kind == "evidence":
            modes = dict(rule.applies).get("mode", {"cooling"})
            assert (rule in cooling.rules, rule in heating.rules) == ("cooling" in modes, "heating" in modes), rule.id
    assert {rule.id for rule in book.rules} == {rule.id for rule in (*cooling.rules, *heating.rules)}
    for name, entry in book.findings.items():
        assert all("cooling" in dict(s.applies).get("mode", {"cooling"}) for s in cooling.findings[name].scales)
        assert set(entry.scales) == {*cooling.findings[name].scales, *heating.findings[name].scales}


def test_what_is_of_heating_alone_and_what_it_speaks_against(book: Rulebook) -> None:
    """The ids say mode and sign a second time; what is no evidence is listed here."""
    found = {rule.id for rule in book.rules if dict(rule.applies).get("mode") == {"heating"}}
    named = {rule.id for rule in book.rules if "/heating-" in rule.id or rule.fault in HEATING_ONLY}
    assert found == named | OTHERS_OF_HEATING
    for rule in book.rules:
        if rule.id in found and rule.kind == "evidence":
            assert (rule.points < 0) == ("/against-" in rule.id or "-against-" in rule.id), rule.id
    for entry in map(book.faults.__getitem__, HEATING_ONLY):
        assert all(dict(one.applies)["mode"] == {"heating"} for one in (entry, *entry.brings, *entry.lesson.readings))


def test_a_rule_that_does_not_name_the_mode_speaks_of_cooling_where_it_is_evidence(book: Rulebook) -> None:
    evidence = next(r for r in book.rules if r.kind == "evidence" and not r.applies)
    caution = next(r for r in book.rules if r.kind == "caution" and not r.applies)
    for facts, speaks in (({}, True), ({"mode": "cooling"}, True), ({"mode": "heating"}, False)):
        assert evidence.speaks_of(facts) is speaks
        assert caution.speaks_of(facts)


def test_the_book_about_a_machine_has_the_faults_that_it_can_have(book: Rulebook) -> None:
    heats, cools = {"mode": "heating"}, {"mode": "cooling", "metering": "TXV"}
    assert set(book.about(heats).faults) == set(book.faults)
    assert book.about(heats).rules == book.rules
    assert book.about(heats) is book.about({"mode": "heating", "metering": "TXV"})
    assert book.about(cools) is book.about({"mode": "cooling"})
    assert set(book.faults) - set(book.about(cools).faults) == HEATING_ONLY
    assert not {rule.fault for rule in book.about(cools).rules} & HEATING_ONLY
    assert examine(SOUND).rules is load_rules().about(heats)  # `book` may be an older reading of the same files


def test_a_fault_is_told_in_heating_as_it_is_in_heating(book: Rulebook) -> None:
    heats = book.about({"mode": "heating"}).faults
    for name, entry in book.faults.items():
        told = heats[name]
        if name in HEATING_ONLY:
            assert told is entry
        elif entry.in_heating is None:
            assert (told.what, told.looks_like) == (entry.what, {}), name
        else:
            assert (told.what, told.looks_like) == (entry.in_heating.what, entry.in_heating.looks_like), name
            assert told.repair == entry.repair._replace(expect=entry.in_heating.expect)
    assert examine(SOUND).rules.faults["low-charge"] == heats["low-charge"]


COOLED = ["low-charge-orifice", "overcharge-txv", "nothing-wrong-txv", "weak-compressor-orifice", "dirty-filter"]


@pytest.mark.parametrize("name", COOLED)
def test_in_cooling_nothing_of_heating_is_heard(book: Rulebook, name: str) -> None:
    """The same result from a book in which nothing of heating was ever written."""
    facts = {"mode": "cooling"}

    def heard(conditions: Conditions) -> bool:
        return applies(tuple(c for c in conditions if c[0] == "mode"), facts)

    rules = tuple(rule for rule in book.rules if heard(rule.applies))
    findings = {
        finding: entry._replace(scales=tuple(s for s in entry.scales if heard(s.applies)))
        for finding, entry in book.findings.items()
    }
    faults = {fault: entry for fault, entry in book.faults.items() if fault not in HEATING_ONLY}
    bare = dataclasses.replace(
        book, faults=faults, findings=findings, rules=tuple(r for r in rules if r.fault not in HEATING_ONLY)
    )
    assert len(bare.rules) < len(book.rules) - 100
    assert examine(visit_of(f"demo/{name}"), bare).to_dict() == examined(f"demo/{name}").to_dict()
