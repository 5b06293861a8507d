"""The sentence of every reason of the charge and of the visit as a whole: each is reached by a visit, in US and SI units."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pytest
from heats import SOUND
from strategies import State, visit, with_machine, with_readings

from diagnose import Diagnosis, examine
from diagnose.report import charge
from diagnose.report.sentences import SENTENCES, charge_text, problems, said
from diagnose.shipped import shipped
from diagnose.visit.reason import Reason

ORIFICE, VALVE = State(), State(metering="TXV", superheat=10)
LOW = State(superheat=30, subcooling=3, evaporating=36, condensing=93, split=14)
HIGH = State(superheat=4, subcooling=18, evaporating=46, condensing=103)
DAY = visit(ORIFICE)
EXACT = {"instruments": {"gauges": "0.05 %", "pipe clamps": "0.02 F", "air thermometers": "0.02 F"}}


def demo(name: str) -> Any:
    return shipped("cases") / "demo" / f"{name}.yaml"


def only(data: dict[str, Any], *names: str) -> dict[str, Any]:
    """The visit with no other readings than these."""
    kept = {name: value for name, value in data["readings"].items() if name in (*names, "minutes running")}
    return data | {"readings": kept}


def in_rounds(*rounds: dict[str, Any]) -> dict[str, Any]:
    return rounds[-1] | {"readings": [data["readings"] for data in rounds]}


SCALE = {
    "factory_charge": "6 lb 4 oz", "recovered_charge": "6 lb 2 oz",
    "line_set": {"liquid line": "3/8", "length": "35 ft", "included": "15 ft", "suction line": "3/4"},
}  # fmt: skip
LIQUID = ("liquid pressure", "liquid line temperature")
NO_LIQUID = {"liquid_pressure": None, "liquid_line_temperature": None}
HIGH_BY_SUPERHEAT = with_readings(visit(HIGH), **NO_LIQUID)

# code -> what its sentence says, and a visit for which it is said; one entry for each way of saying it
SPOKEN: list[tuple[str, str, Any]] = [
    # -- the charge ----------------------------------------------------------------------------------------------
    ("metering-not-given", "depends on its metering device", with_machine(DAY, metering=None)),
    ("refrigerant-not-given", "The refrigerant is not given", with_machine(DAY, refrigerant=None)),
    ("charge-not-measured", "needs suction pressure and suction line", with_readings(DAY, suction_pressure=None)),
    ("charge-not-measured", "needs liquid pressure and liquid line", with_readings(visit(VALVE), liquid_pressure=None)),
    ("no-target-superheat", "no usable return air wet bulb.", with_readings(DAY, return_air_wet_bulb=None)),
    ("near-the-limit", "The liquid line temperature adds most", visit(VALVE.but(subcooling=7, condensing=93))),
    ("valve-off-its-superheat", "too little for a valve that works", visit(VALVE.but(superheat=1.5))),
    ("valve-off-its-superheat", "too much for a valve that works", visit(VALVE.but(superheat=40, split=12))),
    ("valve-holds-superheat", "The valve holds its superheat: 10.0 ± ", visit(VALVE)),
    ("liquid-is-held-back", "would call the charge low, but", demo("liquid-line-restriction-orifice")),
    ("little-liquid-in-condenser", "would call the charge high, but", demo("metering-overfeeding-orifice")),
    ("right-behind-the-other-device", "With a valve (TXV or EEV) these readings would be those of a right charge",
     visit(ORIFICE.but(superheat=5))),
    ("line-may-be-warmed", "read its temperature where it leaves the coil", visit(VALVE.but(superheat=32))),
    ("liquid-as-on-its-good-day", "would call the charge high, but subcooling is 10.0 ± 1.6 °F",
     visit(ORIFICE.but(superheat=1)) | {"baseline": {"readings": visit(ORIFICE)["readings"]}}),
    ("readings-say-nothing-wrong", "the other readings point to nothing wrong",
     visit(State(superheat=5, subcooling=5, evaporating=38, condensing=93, split=19))),
    ("rival-too-likely", "is too likely for the charge to be touched yet",
     visit(State(superheat=22, subcooling=8, condensing=93))),
    ("likely-only-by-others", "is not what low refrigerant charge causes",
     visit(State(metering="TXV", subcooling=5))),
    ("rival-explains-better", "explains the readings as well or better", demo("low-indoor-airflow-orifice")),
    ("charge-judged", "more than 5.0 °F above it: the charge is low.", visit(LOW)),
    ("beyond-any-target", "more than 20.0 °F above any it could have", demo("blank-target-nearly-empty")),
    ("beyond-good-day", "by its own good day this machine would show 0.0 °F",
     visit(State(outdoor=100, return_db=80, return_wb=58, superheat=20, subcooling=0, condensing=110, evaporating=32, split=12))
     | {"baseline": {"readings": visit(State())["readings"]}}),
    ("no-target-so-by-liquid", "This weather has no target superheat",
     visit(State(outdoor=105, return_wb=58, superheat=0.5, subcooling=20, condensing=128))
     | {"baseline": {"readings": visit(State())["readings"]}}),
    ("all-readings-agree", "by all readings together the chance that the charge is off is about 3 %.",
     visit(VALVE.but(subcooling=7.5)) | {"baseline": {"readings": visit(VALVE)["readings"]}}),
    ("charge-weighed", "14.3 oz less, where 5.6 oz counts, so the charge is low.", with_machine(visit(VALVE), **SCALE)),
    ("charge-weighed", "held 6 lb 14 oz (weighed in), and it should hold 7 lb: within 5.6 oz of it",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": None, "weighed_in": "6 lb 14 oz"})),
    ("charge-weighed", "held nothing (recovered), and it should hold 7 lb: 7 lb less",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": "0 oz"})),
    ("charge-weighed", "9 lb 12 oz more",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": "16 lb", "line_set": None})),
    ("charge-weighed", "The line set is not known, so this is rough.",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": "2 lb", "line_set": None})),
    ("weight-near-the-limit", "and it should hold 7 lb ± 1.4 oz: too near the limit, 5.6 oz off",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": "6 lb 10 oz"})),
    ("readings-say-otherwise", "check the plate, the sizes and lengths of the lines",
     with_machine(visit(VALVE), **SCALE | {"recovered_charge": "4 lb"})),
    ("charge-judged", "more than 5.0 °F below it: the charge is high.", visit(HIGH)),
    ("charge-judged", "within 5.0 °F of it: the charge is right.", DAY),
    ("charge-judged", "the charge is right, if anything slightly low.", visit(VALVE.but(subcooling=8)) | EXACT),
    ("charge-judged", "the charge is right, if anything slightly high.", visit(VALVE.but(subcooling=12)) | EXACT),
    ("charge-judged", "of what it showed on its good day: the charge is right",
     DAY | {"baseline": {"readings": visit(ORIFICE.but(superheat=16))["readings"]}}),
    ("general-target-differs", "By the general target alone", demo("baseline-own-subcooling-txv")),
    ("subcooling-not-measured", "Add nothing", with_readings(visit(LOW), **NO_LIQUID)),
    ("subcooling-not-measured", "Remove nothing", HIGH_BY_SUPERHEAT),
    ("superheat-not-measured", "Add nothing until it is: a valve",
     with_readings(visit(VALVE.but(subcooling=3)), suction_line_temperature=None)),
    ("liquid-side-half-read", "a restriction starves the coil as well, and of the liquid side only the pressure was read",
     with_readings(visit(LOW), liquid_line_temperature=None)),
    ("condensing-not-measured", "the charge would be called high, but the outdoor air was not measured: air",
     with_readings(visit(VALVE.but(subcooling=17)), outdoor_air_temperature=None)),
    ("efficiency-not-noted", "without a SEER nobody knows how hot this one should be",
     with_machine(visit(VALVE.but(subcooling=20, condensing=112)), SEER=None)),
    ("heat-out-not-measured", "shows only against the return air",
     with_readings(with_machine(SOUND, rated_heating_subcooling="9 F"), return_air_dry_bulb=None)),
    ("subcooling-by-a-doubted-clamp", "leave the charge alone until it is strapped on tight",
     with_readings(visit(VALVE.but(subcooling=19, condensing=99)), liquid_line_temperature="80.2 F")),
    ("subcooling-shows-it-alone", "a liquid line clamp that reads a few degrees too warm", visit(VALVE.but(subcooling=3))),
    ("suction-clamp-may-read-air", "so the suction line clamp may be reading air. Strap it on tight",
     with_readings(visit(State(superheat=30, subcooling=2)), suction_line_temperature="80 F")),
    ("liquid-is-left", "a charge so low that the coil starves leaves hardly any",
     visit(VALVE.but(superheat=40, evaporating=30, condensing=92, split=14, subcooling=4))),
    ("liquid-line-read-otherwise", "another place on the liquid line reads colder: hold both clamps on one spot",
     with_readings(visit(VALVE.but(subcooling=3)), drier_inlet_temperature="84 F")),
    ("subcooling-not-low", "not low: rule out a restriction first",
     visit(State(superheat=20, subcooling=5, evaporating=38, condensing=93, split=14))),
    ("subcooling-does-not-fit", "does not fit a right charge well", visit(State(subcooling=3.8))),
    ("surely-off-normal", "no sound machine shows this: subcooling very high", visit(State(subcooling=18, condensing=100))),
    ("airflow-not-confirmed", "Nobody has confirmed the airflow", DAY),
    ("running-time-not-confirmed", "Nobody noted how long", with_readings(DAY, minutes_running=None)),
    ("second-fault", "A second fault may be there as well (low indoor airflow)",
     visit(State(superheat=38, subcooling=1, evaporating=33, condensing=92, split=26, cfm=950), extra=True)),
    ("stop-before-charging", "Stop the machine first", with_readings(visit(LOW), discharge_line_temperature="300 F")),
    ("read-in-heating-only", "The electric power is used only while a heat pump heats.",
     with_readings(DAY, electric_power="2.3 kW")),
    ("read-in-heating-only", "The valve tube temperature and electric power are used only",
     with_readings(DAY, electric_power="2.3 kW", valve_tube_temperature="50 F")),
    ("weigh-in-heating", "Weigh it in, and confirm it in cooling weather.",
     with_machine(SOUND, rated_heating_subcooling="24 F")),
    # -- the visit as a whole ------------------------------------------------------------------------------------
    ("nothing-to-judge", "the visit lacks the refrigerant and readings.", {}),
    ("nothing-to-judge", "the visit lacks readings.", {"machine": {"refrigerant": "R-22"}}),
    ("nothing-to-judge", "the visit lacks readings that belong together. Begin with suction pressure, suction line "
     "temperature, liquid pressure and liquid line temperature.", only(DAY, "outdoor air temperature")),
    ("no-known-pattern", "Suspect the readings first", demo("no-known-pattern")),
    ("sea-level-assumed", "sea level is assumed", with_machine(DAY, altitude=None)),
    ("cooling-assumed", "cooling is assumed", with_machine(DAY, mode=None)),
    ("no-refrigerant", "no saturation temperature can be looked up", with_machine(DAY, refrigerant=None)),
    ("no-metering", "neither superheat nor the charge", with_machine(DAY, metering=None)),
    ("running-time-not-noted", "note `minutes running`", with_readings(DAY, minutes_running=None)),
    ("only-in-an-earlier-round", "The supply air dry bulb was read at 12 minutes and not in the last round",
     in_rounds(visit(State(minutes=12)), with_readings(DAY, supply_air_dry_bulb=None))),
    ("gauge-figure-needs-pressure", "The superheat that the gauge shows is not used without the pressure",
     with_readings(DAY, suction_pressure=None, suction_line_temperature=None, gauge_superheat="12 F")),
    ("humidity-assumed", "50 % is assumed",
     with_readings(visit(VALVE, extra=True), return_air_wet_bulb=None, return_air_relative_humidity=None)),
    ("baseline-shares-nothing", "it has no reading in common with today",
     only(visit(VALVE), "suction pressure", "suction line temperature", "return air dry bulb")
     | {"baseline": {"readings": only(visit(VALVE), *LIQUID, "outdoor air temperature")["readings"]}}),
    ("baseline-not-ready", "cannot be judged. The machine has not run for 15 minutes.",
     DAY | {"baseline": {"readings": visit(State(minutes=6))["readings"]}}),
    ("baseline-was-faulty", "(low refrigerant charge comes first)",
     DAY | {"baseline": {"readings": visit(LOW)["readings"]}}),
    ("baseline-start-up-failed", "a start-up that did not come out right (evacuation)",
     DAY | {"baseline": {"start-up": {"vacuum": "900 microns"},
                         "readings": with_readings(DAY, outdoor_air_temperature="85.1 F")["readings"]}}),
    ("baseline-copied", "to the last digit", DAY | {"baseline": {"readings": DAY["readings"]}}),
    ("airflow-of-the-start-up", "that of the start-up, by electric heat.",
     DAY | {"start-up": {"electric heat": {"power": "9.6 kW", "return air": "70 F", "supply air": "95 F"}}}),
    ("baseline-looks-faulty", "the baseline itself looks a little like this fault: ", demo("baseline-own-subcooling-txv")),
]  # fmt: skip


@cache
def examined(place: int) -> Diagnosis:
    return examine(SPOKEN[place][2])


def reasons(d: Diagnosis) -> list[Reason]:
    """All that is said of the charge, of the readings and of why nothing is ranked."""
    return [*d.charge.reasons, *d.charge.caveats, *d.not_ready, *(reason for reason, _ in problems(d))]


@pytest.mark.parametrize("place", range(len(SPOKEN)), ids=[f"{code}: {words}" for code, words, _ in SPOKEN])
def test_every_sentence_is_filled_in_both_systems_of_units(place: int) -> None:
    code, words, _ = SPOKEN[place]
    d = examined(place)
    found = [reason for reason in reasons(d) if reason.code == code]
    assert found, [reason.code for reason in reasons(d)]
    us, si = (" ".join(said(d.told_in(units), reason) for reason in found) for units in ("us", "si"))
    assert words in us
    for text in (us, si):
        assert re.match("[A-Z].*[.]$", text), text
        assert not re.search(r"[{}]|  |\(no |\bNone\b|\bnan\b|\binf\b", text), text
    assert not re.search(r"°F|psi", si), si
    assert not re.search(r"\d (K|°C|kPa)\b", us), us
    assert len(re.findall(" °F", us)) == len(re.findall(r"\d (?:K|°C)\b", si))


def test_every_code_has_a_visit_here() -> None:
    assert {code for code, _, _ in SPOKEN} == {*charge.SENTENCES, *SENTENCES}


def test_the_tables_share_no_code() -> None:
    assert not set(charge.SENTENCES) & set(SENTENCES)


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_text_of_the_charge_is_all_its_reasons_in_order(system: Any) -> None:
    d = examine(visit(VALVE)).told_in(system)
    assert [reason.code for reason in d.charge.reasons] == ["charge-judged", "valve-holds-superheat"]
    starved = examine(
        visit(State(metering="TXV", superheat=24.8, subcooling=3, evaporating=37, condensing=96, split=14))
    )
    assert [reason.code for reason in starved.charge.reasons] == ["charge-judged"]  # what starves a coil holds nothing
    assert charge_text(d) == " ".join(said(d, reason) for reason in d.charge.reasons)


@pytest.mark.parametrize(
    ("low", "high", "system", "text"),
    [
        (-0.014, -0.108, "us", "0.5 to 3.8 oz"),
        (-0.6, -0.1, "us", "4 to 21 oz"),
        (-0.6, -0.1, "si", "100 to 600 g"),
        (0.1, 0.6, "us", "4 to 21 oz"),
    ],
)
def test_mass_text(low: float, high: float, system: Any, text: str) -> None:
    assert charge.mass_text(low, high, system) == text


@pytest.mark.parametrize(
    ("data", "system", "text"),
    [  # target superheat 13.5 °F (table RA3.2-2, from memory); rated subcooling 10 °F
        (visit(LOW), "us", "low by superheat, 30.0 ± 1.5 °F against a target of 13.5 °F"),
        (visit(VALVE), "us", "right by subcooling, 10.0 ± 1.6 °F against the plate’s 10.0 °F"),
        (visit(VALVE), "si", "right by subcooling, 5.6 ± 0.9 K against the plate’s 5.6 K"),
        (with_machine(DAY, metering=None), "us", "do not judge"),
        (
            with_machine(SOUND, rated_heating_subcooling="24 F"),
            "us",
            "low by subcooling, 16.1 ± 1.6 °F against the maker’s 24.0 °F",
        ),
    ],
)
def test_the_headline_says_by_what_and_against_what(data: Any, system: Any, text: str) -> None:
    assert charge.headline(examine(data).told_in(system)) == text
