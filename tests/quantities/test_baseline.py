"""The machine's own good day: what it says of today, when it is not believed, and what of it is wrong in the file."""

from __future__ import annotations

import copy
import functools
import itertools
import math
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from judged import JUDGEMENT
from strategies import F, shifted
from work import examples

from diagnose import VisitError, examine, load_rules
from diagnose.diagnosis.findings import measured
from diagnose.properties.targets import Target
from diagnose.quantities.baseline import KINDS, Projected, mismatch, project
from diagnose.quantities.uncertainty import Estimate, GoodDay
from diagnose.report import as_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.sentences import charge_text
from diagnose.shipped import shipped
from diagnose.simulator.population import draw
from diagnose.visit import Machine, Reading, Round, Visit, read_visit, visit_from
from diagnose.visit.reason import Reason

LAB = sorted((shipped("cases") / "lab").glob("no-fault-*.yaml"))
GOOD: dict[str, Any] = {
    "machine": {
        "mode": "cooling", "refrigerant": "R-410A", "metering": "fixed orifice", "nominal capacity": "3 ton", "SEER": 13,
        "altitude": "0 ft",
    },
    "readings": {
        "minutes running": 18,
        "suction pressure": "128 psig",
        "liquid pressure": "337 psig",
        "suction line temperature": "57 F",
        "liquid line temperature": "95 F",
        "outdoor air temperature": "85 F",
        "return air dry bulb": "76 F",
        "return air wet bulb": "64 F",
        "supply air dry bulb": "57 F",
    },
}  # fmt: skip


def on(visit: dict[str, Any], **by: float) -> dict[str, Any]:
    """The visit with some readings moved by so many of their units."""
    moved = copy.deepcopy(visit)
    for name, step in by.items():
        word = name.replace("_", " ")
        moved["readings"][word] = shifted(moved["readings"][word], step)
    return moved


def held(today: dict[str, Any], then: Any) -> Any:
    return examine({**today, "baseline": then})


def codes(found: Any) -> list[str]:
    """What is said of the baseline."""
    return [reason.code for reason in found.good_day.reasons]


def shares(found: Any) -> dict[str, float]:
    return {fault.fault: fault.share for fault in found.faults}


# -- a machine of the world outside ------------------------------------------------------------------------------------


@functools.cache
def laboratory() -> tuple[dict[str, Any], ...]:
    """One heat pump, known to be sound, measured in eight kinds of weather: NISTIR 7350 (2006), App. D."""
    return tuple(yaml.safe_load(path.read_text("utf-8"))["visit"] for path in LAB)


@functools.cache
def by_other_days() -> tuple[Any, ...]:
    """Each of its days, judged by each other one."""
    return tuple(held(today, then) for today, then in itertools.permutations(laboratory(), 2))


def test_a_laboratory_machine_is_sound_by_each_of_its_other_days() -> None:
    for found in by_other_days():
        assert found.good_day.used
        assert found.faults[0].fault == "nothing-wrong"
        assert found.charge.verdict in ("right", "do not judge")


@pytest.mark.parametrize(
    ("name", "within"),
    [
        ("evaporator temperature difference", 1.5),
        ("condensing over ambient", 1.5),
        ("subcooling", 1.5),
        ("air temperature split", 1.2),
    ],
)
def test_its_other_days_foretell_its_figures_better_than_what_holds_in_general(name: str, within: float) -> None:
    own, general = [], []
    for found in by_other_days():
        estimate = found.estimates[name]
        if estimate.good_day is None:  # days so far apart that the general figure is as sure
            continue
        own.append(estimate.good_day.difference / F)
        general.append(estimate.difference / F)

    def rms(xs: list[float]) -> float:
        return math.sqrt(sum(x * x for x in xs) / len(xs))

    assert len(own) >= 40
    assert rms(own) < within
    assert rms(own) < 0.7 * rms(general)


def test_its_error_is_about_what_is_claimed_for_it() -> None:
    """Of all figures of the laboratory machine, 95 in 100 or more lie within twice the standard deviation given."""
    told = [
        abs(e.good_day.difference) <= 2 * math.hypot(e.good_day.sigma, e.good_day.expected.spread)
        for found in by_other_days()
        for e in found.estimates.values()
        if e.good_day is not None
    ]
    assert sum(told) / len(told) >= 0.95


# -- what must hold of every machine -----------------------------------------------------------------------------------


@examples(6)
@given(place=st.integers(0, 10_000))
def test_a_sound_machine_that_reads_as_on_its_good_day_has_nothing_wrong(place: int) -> None:
    then = draw(31, place, which="running", faults=["nothing-wrong"]).baseline
    found = held(then, then)
    if not found.good_day.used:  # one that by what holds in general looks faulty is not believed
        assert codes(found)
        return
    if not any(
        code.startswith("baseline-figure-") for code in codes(found)
    ):  # one that stood too far off is not believed
        assert found.faults[0].fault == "nothing-wrong"
    for name in found.good_day.used:
        e = found.estimates[name]
        furthest = abs(e.difference) if LAWS[name].differ and e.difference is not None else 1e-6
        if "superheat" in name and e.value < JUDGEMENT.good_day.wet:
            # Wet vapour: the figure only says that there is next to none.
            furthest = max(furthest, JUDGEMENT.good_day.wet)
        assert abs(e.good_day.difference) <= furthest + 1e-9
    judged = [f for f in found.findings.values() if f.scale is not None and f.scale.target == "baseline"]
    assert judged
    entries = examine(then).rules.findings
    for finding in judged:
        words = entries[finding.name].words
        right = words[sum(limit <= (1.0 if finding.scale.by == "share" else 0.0) for limit in finding.limits)]
        assert finding.word == right, finding.name


@examples(4)
@given(place=st.integers(0, 10_000))
def test_never_less_sure_than_the_general_figure(place: int) -> None:
    practice = draw(32, place, which="running")
    for name, e in held(practice.visit, practice.baseline).estimates.items():
        if e.good_day is not None and e.target is not None and LAWS[name].differ:
            differ = LAWS[name].differ * (e.target.value if e.kind == "ratio" else 1.0)
            assert e.good_day.expected.spread < differ


@examples(2)
@given(place=st.integers(0, 10_000))
def test_what_comes_out_without_it_is_told_as_it_would_be(place: int) -> None:
    practice = draw(33, place, which="basic")
    alone, found = examine(practice.visit), held(practice.visit, practice.baseline)
    told = found.to_dict()["without_baseline"]
    assert [f["fault"] for f in told["faults"]] == [f.fault for f in alone.faults]
    assert told["charge"]["verdict"] == alone.charge.verdict
    assert {f["fault"]: f["share"] for f in told["faults"]} == pytest.approx(shares(alone), abs=1e-4)
    if not found.good_day.used:
        assert shares(found) == shares(alone)
        assert found.charge == alone.charge
    assert alone.to_dict()["without_baseline"] is None


def test_a_good_day_that_reads_what_is_expected_in_general_changes_little() -> None:
    found, alone = held(GOOD, on(GOOD, outdoor_air_temperature=0.1)), examine(GOOD)
    assert found.faults[0].fault == alone.faults[0].fault == "nothing-wrong"
    assert found.charge.verdict == alone.charge.verdict == "right"
    for name in ("superheat", "subcooling", "condensing over ambient"):
        e = found.estimates[name]
        assert abs(e.good_day.expected.value - e.value) <= abs(e.target.value - e.value)


def test_a_machine_that_always_stood_off_the_table_is_not_called_short_of_charge() -> None:
    """Six degrees of superheat above the table on its good day, and again today."""
    high = on(GOOD, suction_line_temperature=5)
    alone, found = examine(high), held(high, on(high, outdoor_air_temperature=1, liquid_pressure=4))
    assert "low" in (alone.charge.verdict, getattr(alone.charge, "leaning", None))
    assert found.charge.verdict in ("right", "do not judge")
    assert shares(found)["low-charge"] < shares(alone)["low-charge"]
    assert found.charge.by.target == alone.charge.by.target  # the protocol's stays what is shown as the target
    assert found.charge.by.own > found.charge.by.target


def test_a_machine_that_lost_subcooling_within_the_plates_limits_is_not_called_right() -> None:
    plate = {**GOOD, "machine": {**GOOD["machine"], "metering": "TXV", "rated subcooling": "10 F"}}
    full = on(plate, liquid_line_temperature=-5)  # 14 °F or so on its good day
    today = on(plate, liquid_line_temperature=1)
    alone = examine(today).charge
    assert "low" not in (alone.verdict, getattr(alone, "leaning", None))
    found = held(today, full)
    assert found.charge.verdict != "right"
    assert shares(found)["low-charge"] > shares(examine(today))["low-charge"]


def test_the_general_figure_stands_beside_the_machines_own() -> None:
    found = held(GOOD, on(GOOD, liquid_line_temperature=-2)).to_dict()
    told = found["quantities"]["subcooling"]
    assert told["expected_generic"] == examine(GOOD).to_dict()["quantities"]["subcooling"]["expected"]
    assert told["expected"] > told["expected_generic"]
    assert "expected_generic" not in found["quantities"]["evaporating temperature"]
    assert found["charge"]["target_by_baseline"] is not None


# -- its figures, each at its edge -------------------------------------------------------------------------------------

CONDITIONS = ("outdoor air temperature", "return air dry bulb", "return wet bulb")
Air = tuple[float | None, float | None, float | None]
LAWS = JUDGEMENT.good_day.laws
MILD: Air = (300.0, 297.0, 290.0)


def day(air: Air, metering: str | None, baseline: Visit | None = None, mode: str | None = None) -> Visit:
    """A day with this air, K, and no errors at all."""
    taken = {name: Reading(name, value, 0.0, "K") for name, value in zip(CONDITIONS[:2], air, strict=False) if value}
    return Visit(Machine(metering=metering, mode=mode), (Round(20.0, taken),), {}, baseline, (), "si")


def figure(
    name: str, value: float, kind: Any = "difference", target: float | None = None, sigma: float = 0.0
) -> Estimate:
    expected = None if target is None else Target(target, 0.0, "test", "typical")
    difference = None if target is None else value - target
    return Estimate(name, kind, value, sigma, expected, difference, sigma, (), {}, "", "test")


def projected(
    name: str, now: Estimate, then: Estimate, air: Air = MILD, was: Air = MILD,
    metering: str | None = "fixed orifice", odd: tuple[str, ...] = (), mode: str | None = None,
) -> Any:  # fmt: skip
    """What the good day makes of one figure: its expected value and spread, or the code why it is left out."""

    def estimates(of: Estimate, wet: float | None) -> dict[str, Estimate]:
        return {name: of} | ({} if wet is None else {"return wet bulb": figure("return wet bulb", wet, "temperature")})

    visit = day(air, metering, day(was, metering, mode=mode), mode)
    found = project(visit, estimates(now, air[2]), estimates(then, was[2]), odd, JUDGEMENT.good_day)
    if name in found.left_out:
        assert found.left_out[name].figures == {"quantity": name}
        return found.left_out[name].code
    own = found.estimates[name].good_day
    return None if own is None else (own.expected.value, own.expected.spread)


# name: kind, slopes with an orifice and with a valve (K a K, or percent a °F, of outdoor air, dry bulb, wet bulb),
# wander behind an orifice and behind a valve, how far sound machines differ (°F or 1)
HELD: dict[str, tuple[str, tuple[float, ...], tuple[float, ...], tuple[float, float], float | None]] = {
    "superheat": ("difference", (-0.4, 0.3, 1.7), (-0.05, 0, 0.15), (2.0 * F, 2.0 * F), 5.0 * F),
    "coil superheat": ("difference", (-0.4, 0.3, 1.7), (-0.05, 0, 0.15), (2.0 * F, 2.0 * F), None),
    "subcooling": ("difference", (-0.1, 0, 0.15), (-0.05, 0, 0), (1.8 * F, 1.2 * F), 3.0 * F),
    "condensing over ambient": ("share", (-0.2, 0, 0.6), (-0.2, 0, 1.2), (0.04, 0.04), 2.5 * F),
    "condenser air rise": ("share", (0, 0, 1), (0, 0, 1), (0.04, 0.04), None),
    "liquid line approach": ("difference", (0.1, 0, 0), (0, 0, 0.2), (1.6 * F, 1.2 * F), 3.0 * F),
    "evaporator temperature difference": (
        "difference",
        (-0.15, 1, -0.6),
        (-0.1, 0.9, -0.8),
        (1.0 * F, 1.0 * F),
        4.0 * F,
    ),
    "air temperature split": ("difference", (-0.05, 0.8, -0.8), (-0.05, 0.8, -0.8), (0.6 * F, 0.6 * F), 2.5 * F),
    "cooling capacity": ("share", (-0.45, 0, 1.4), (-0.45, 0, 1.4), (0.03, 0.03), 0.08),
    "compression ratio": ("share", (1.05, 0, -0.9), (1.1, -0.1, -1.1), (0.02, 0.02), 0.09),
    "compressor efficiency": ("difference", (0, 0, 0), (0, 0, 0), (0.03, 0.03), None),
    "discharge superheat": ("difference", (0, 0, 2.2), (0.45, 0, -0.4), (8.0 * F, 3.5 * F), None),
    "current ratio": ("share", (1.2, 0, 0.3), (1.2, 0, 0.3), (0.02, 0.02), 0.1),
    "airflow per ton": ("share", (0, 0, 0), (0, 0, 0), (0.03, 0.03), None),
    "static pressure": ("share", (0, 0, 0), (0, 0, 0), (0.08, 0.08), None),
    "liquid line drop": ("difference", (0, 0, 0), (0, 0, 0), (0.5 * F, 0.5 * F), None),
    "condensing over return air": ("share", (0, 0, 0), (0, 0, 0), (0.045, 0.04), 4.0 * F),
    "outdoor coil below outdoor air": ("share", (0, 0, 0), (0, 0, 0), (0.08, 0.08), 3.0 * F),
    "air rise": ("share", (0, 0, 0), (0, 0, 0), (0.03, 0.03), 4.0 * F),
    "liquid over return air": ("difference", (0, 0, 0), (0, 0, 0), (1.6 * F, 1.6 * F), 6.0 * F),
    "indoor coil effectiveness": ("share", (0, 0, 0), (0, 0, 0), (0.03, 0.03), 0.14),
    "heating capacity": ("share", (0, 0, 0), (0, 0, 0), (0.03, 0.03), 0.1),
    "coefficient of performance": ("share", (0, 0, 0), (0, 0, 0), (0.05, 0.05), 0.15),
}
# What a law moves a figure by is wrong by this share of it; a fifth where a law is not named here.
ERROR = {
    "superheat": 0.5,
    "coil superheat": 0.5,
    "subcooling": 0.8,
    "condensing over ambient": 0.5,
    "condensing over return air": 0.4,
    "liquid line approach": 0.8,
    "air temperature split": 0.1,
    "compression ratio": 0.1,
}
# In heating a figure moves as the general one does: what is left of it from day to day, behind an orifice (or a device nobody
# stated) and behind a valve, and how far sound machines differ; a law that is not here is for cooling alone.
HELD_HEATING: dict[str, tuple[tuple[float, float], float | None]] = {
    "superheat": ((2.0 * F, 1.3 * F), 8.0 * F),
    "subcooling": ((2.5 * F, 1.6 * F), 10.0 * F),
    "compression ratio": ((0.032, 0.022), 0.13),
    "compressor efficiency": ((0.02, 0.015), None),
    "discharge superheat": ((4.0 * F, 2.0 * F), 30.0 * F),
    "current ratio": ((0.05, 0.05), 0.12),
    "condensing over return air": ((0.038, 0.03), 6.0 * F),
    "outdoor coil below outdoor air": ((0.08, 0.075), 4.0 * F),
    "air rise": ((0.03, 0.025), 5.0 * F),
    "liquid over return air": ((2.2 * F, 1.6 * F), 12.0 * F),
    "indoor coil effectiveness": ((0.04, 0.03), 0.14),
    "heating capacity": ((0.03, 0.03), 0.13),
    "coefficient of performance": ((0.05, 0.05), 0.2),
    "airflow per ton": ((0.03, 0.03), None),
    "static pressure": ((0.08, 0.08), None),
}
# How the outdoor air moves it in heating besides, behind an orifice (or a device nobody stated) and behind a valve, K a K.
BESIDES = {
    "superheat": (0.0, 0.1),
    "subcooling": (0.0, -0.06),
    "discharge superheat": (0.25, 0.1),
    "liquid over return air": (0.0, 0.06),
}
# How far the outdoor air of two days lies apart where as much again (in squares) is left of it, °F.
FAR = {
    "superheat": 12.0,
    "subcooling": 12.0,
    "liquid over return air": 12.0,
    "compression ratio": 15.0,
    "condensing over return air": 15.0,
    "outdoor coil below outdoor air": 25.0,
    "compressor efficiency": 10.0,
    "indoor coil effectiveness": 10.0,
    "discharge superheat": 7.0,
    "current ratio": 60.0,
    "air rise": 40.0,
    "heating capacity": 40.0,
    "airflow per ton": 100.0,
}


def test_every_law_is_held() -> None:
    assert set(HELD) == set(LAWS)
    in_heating = {name: law for name, law in LAWS.items() if law.heating_wander is not None}
    assert set(HELD_HEATING) == set(in_heating)
    for name, (_, differ) in HELD_HEATING.items():
        assert in_heating[name].heating_differ == (None if differ is None else pytest.approx(differ)), name
    assert {name for name, law in LAWS.items() if law.heating_slope is not None} == set(BESIDES)
    assert {name for name, law in LAWS.items() if law.far is not None} == set(FAR)


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV"])
@pytest.mark.parametrize("name", HELD)
def test_a_law_moves_a_figure_by_its_slope_with_a_share_of_the_move_as_error(name: str, metering: str) -> None:
    """2 K of other air, one condition at a time; and 4 °F of it unknown where it was not read."""
    kind, orifice, valve, left, _ = HELD[name]
    wander, error = left[metering != "fixed orifice"], ERROR.get(name, 0.2)
    then = figure(name, 10.0)
    whole = 10.0 if kind == "share" else 1.0
    for place, slope in enumerate(orifice if metering == "fixed orifice" else valve):
        a_kelvin = slope / 100 / F if kind == "share" else slope
        warmer, unread = list(MILD), list(MILD)
        warmer[place], unread[place] = MILD[place] + 2.0, None
        by = 2 * a_kelvin
        value, spread = projected(name, then, then, tuple(warmer), metering=metering)
        expected = 10.0 * math.exp(by) if kind == "share" else 10.0 + by
        assert value == pytest.approx(expected, abs=1e-9)
        own = expected if kind == "share" else 1.0
        assert spread == pytest.approx(own * math.hypot(wander, error * by), abs=1e-9)
        value, spread = projected(name, then, then, tuple(unread), metering=metering)
        assert value == pytest.approx(10.0)
        assert spread == pytest.approx(whole * math.hypot(wander, a_kelvin * 4 * F), abs=1e-9)


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV", None])
@pytest.mark.parametrize("name", HELD_HEATING)
def test_in_heating_a_figure_moves_as_the_general_one_does_with_a_share_of_the_move_as_error(
    name: str, metering: str | None
) -> None:
    """From 9.5 that is expected of such machines to 10.5: by 1, or by that share; without a general figure by nothing.

    In 6 K of warmer outdoor air, which moves a few figures besides.
    """
    share, (left, differ) = HELD[name][0] == "share", HELD_HEATING[name]
    kind = KINDS[name]
    wander = left[metering == "TXV"] * math.hypot(1, 6.0 / (FAR.get(name, 20.0) * F))
    besides = 6.0 * BESIDES.get(name, (0.0, 0.0))[metering == "TXV"]
    general = (9.5, 10.5) if differ is not None else (None, None)
    by = 0.0 if differ is None else math.log(10.5 / 9.5) if share else 1.0
    then, now = (figure(name, 10.0, kind, target=target) for target in general)
    value, spread = projected(name, now, then, (MILD[0] + 6.0, *MILD[1:]), metering=metering, mode="heating")
    own = 10.0 * math.exp(by) if share else 10.0 + by + besides
    trust = (own if share else 1.0) * math.hypot(wander, ERROR.get(name, 0.2) * by, ERROR.get(name, 0.2) * besides)
    if differ is not None:  # weighed with the general figure
        a, b = 1 / trust**2, 1 / (differ * (10.5 if kind == "ratio" else 1.0)) ** 2
        own, trust = (own * a + 10.5 * b) / (a + b), 1 / math.sqrt(a + b)
    assert (value, spread) == (pytest.approx(own), pytest.approx(trust))


TURNED = {
    "discharge superheat": 16.0 * F,
    "liquid over return air": 4.0 * F,
    "condensing over return air": 0.07,
    "indoor coil effectiveness": 0.1,
}


def turned(name: str, superheat: float, metering: str = "fixed orifice") -> Projected:
    """A good day that brought 3 K of superheat, a day like it that brings this much; 10 of the figure on both."""
    mode, expected = "heating", 10.0 if HELD_HEATING[name][1] is not None else None
    then, now = (
        {name: figure(name, 10.0, KINDS[name], expected), "superheat": figure("superheat", each)}
        for each in (3.0, superheat)
    )
    return project(day(MILD, metering, day(MILD, metering, mode=mode), mode), now, then, (), JUDGEMENT.good_day)


def test_each_turned_law_is_held() -> None:
    assert {name: law.turned for name, law in LAWS.items() if law.turned is not None} == pytest.approx(TURNED)


@pytest.mark.parametrize("name", TURNED)
@pytest.mark.parametrize(("superheat", "part"), [(5.0, 0.0), (3.0, 0.0), (1.5, 0.5), (0.0, 1.0), (-1.0, 1.0)])
def test_less_is_known_of_an_orifice_whose_gas_was_dry_on_one_day_only(
    name: str, superheat: float, part: float
) -> None:
    (left, _), differ = HELD_HEATING[name]
    scale = 10.0 if HELD[name][0] == "share" else 1.0
    own, usual = scale * math.hypot(left, part * TURNED[name]), differ * (10.0 if KINDS[name] == "ratio" else 1.0)
    found = turned(name, superheat).estimates[name].good_day
    spread = own * usual / math.hypot(own, usual)
    assert found.expected.spread == pytest.approx(spread)
    assert found.least == pytest.approx(1.75 * math.hypot(spread, found.sigma))


@pytest.mark.parametrize("name", TURNED)
def test_a_valve_feeds_alike_on_both_days(name: str) -> None:
    assert turned(name, 0.0, "TXV").estimates[name] == turned(name, 3.0, "TXV").estimates[name]


def limits_in_heating(apart: float, sigma: float, mode: str = "heating") -> tuple[GoodDay, list[float]]:
    """Of the current, beside a good day in outdoor air this much warmer (K) and today's reading so sure (a share)."""
    general = 0.8 if mode == "heating" else None
    then, now = (
        figure("current ratio", value, "ratio", general, value * off) for value, off in ((0.8, 0.0), (0.75, sigma))
    )
    earlier = day((MILD[0] + apart, *MILD[1:]), "TXV", mode=mode)
    found = project(
        day(MILD, "TXV", earlier, mode), {"current ratio": now}, {"current ratio": then}, (), JUDGEMENT.good_day
    ).estimates["current ratio"]
    judged = measured(load_rules().findings["compressor current"], found, {"mode": mode})
    return found.good_day, list(judged.limits)


WRITTEN = [0.85, 0.93, 1.08, 1.15]


def test_in_heating_no_limit_of_a_good_day_stands_nearer_than_both_visits_can_tell() -> None:
    """1.75 standard deviations of what they say, by the nearest limit of all (0.93, in logarithms); the others go with it."""
    surest, limits = limits_in_heating(0.0, 0.0)
    assert surest.least == pytest.approx(1.75 * surest.expected.spread)
    assert limits == pytest.approx(
        [x ** max(1.0, surest.least / surest.expected.value / -math.log(0.93)) for x in WRITTEN]
    )
    for apart, sigma in ((0.0, 0.1), (30 * F, 0.0)):  # a poor clamp today, or other weather then
        less, wide = limits_in_heating(apart, sigma)
        assert less.least > surest.least
        further = less.least / less.expected.value / -math.log(0.93)
        assert further > 1.1
        assert wide == pytest.approx([limit**further for limit in WRITTEN])


def test_in_cooling_they_stand_as_they_are_written() -> None:
    found, limits = limits_in_heating(30 * F, 0.1, "cooling")
    assert found.least == 0.0
    assert limits == WRITTEN


@pytest.mark.parametrize("name", sorted(set(HELD) - set(HELD_HEATING)))
def test_a_law_of_cooling_says_nothing_in_heating(name: str) -> None:
    assert projected(name, figure(name, 10.0), figure(name, 10.0), mode="heating") is None


WEIGHED = [name for name in HELD if HELD[name][4] is not None]


@pytest.mark.parametrize("name", WEIGHED)
@pytest.mark.parametrize("kind", ["difference", "ratio"])
def test_the_good_day_and_the_general_figure_are_weighed_by_their_spreads(name: str, kind: str) -> None:
    law, _, _, (wander, _), differ = HELD[name]
    general, then = 10.0, 10.0 + 0.5 * differ
    own = wander * then if law == "share" else wander
    usual = differ * general if kind == "ratio" else differ
    now = figure(name, 10.0, kind, general)
    found = projected(name, now, figure(name, then, kind, general))
    if own >= usual:
        assert found == "baseline-figure-no-surer"
        return
    a, b = 1 / own**2, 1 / usual**2
    assert found == pytest.approx(((then * a + general * b) / (a + b), 1 / math.sqrt(a + b)), abs=1e-9)


@pytest.mark.parametrize("name", WEIGHED)
@pytest.mark.parametrize("kind", ["difference", "ratio"])
@pytest.mark.parametrize("sigma", [0.0, 0.1])
def test_further_off_than_two_and_a_half_times_what_is_usual_is_no_good_day(name: str, kind: str, sigma: float) -> None:
    usual = HELD[name][4]
    assert usual is not None
    usual *= 10.0 if kind == "ratio" else 1.0
    furthest = 2.5 * math.hypot(usual, sigma)
    now = figure(name, 10.0, kind, 10.0)
    for by, off in ((0.9999, False), (1.0001, True)):
        then = figure(name, 10.0 + by * furthest, kind, 10.0, sigma)
        assert (projected(name, now, then) == "baseline-figure-far-off") is off


def test_a_law_by_shares_stops_at_a_factor_of_e() -> None:
    now = figure("current ratio", 1.0, "ratio")
    for warmer, factor in ((40.0, math.exp(40 * 0.012 / F)), (50.0, math.e), (-50.0, 1 / math.e)):
        value, _ = projected("current ratio", now, now, (300.0 + warmer, 297.0, 290.0))
        assert value == pytest.approx(factor)


def test_next_to_no_superheat_may_have_been_less() -> None:
    """Below 1.5 K liquid may be carried along: the figure stands 4 °F lower, and as much less sure."""
    now = figure("superheat", 10.0)
    warm: Air = (300.0, 297.0, 295.0)  # 5 K of wet bulb make 8.5 K of superheat
    dry, wet = (projected("superheat", now, figure("superheat", by), warm) for by in (1.501, 1.499))
    law = math.hypot(2 * F, 0.5 * 8.5)
    assert dry == pytest.approx((10.001, law))
    assert wet == pytest.approx((9.999 - 4 * F, math.hypot(law, 4 * F)))
    value, _ = projected("superheat", now, figure("superheat", 1.0))
    assert value == 0.0


def test_a_figure_that_was_odd_that_day_is_left_out_only_where_there_is_no_general_one() -> None:
    flow, approach = figure("airflow per ton", 10.0), figure("subcooling", 10.0, target=10.0)
    assert projected("airflow per ton", flow, flow, odd=("airflow per ton",)) == "baseline-figure-not-right"
    assert projected("subcooling", approach, approach, odd=("subcooling",)) is not None


def test_a_good_day_no_surer_than_the_general_figure_is_left_out() -> None:
    now = figure("subcooling", 10.0, target=10.0)
    edge = math.sqrt((3 * F) ** 2 - (1.8 * F) ** 2)  # with this error of that day both are as sure
    for by, left in ((0.9999, False), (1.0001, True)):
        then = figure("subcooling", 10.0, target=10.0, sigma=by * edge)
        assert (projected("subcooling", now, then) == "baseline-figure-no-surer") is left


# -- when it is not believed -------------------------------------------------------------------------------------------

FAULTY = [
    pytest.param(
        {"suction_pressure": -18, "suction_line_temperature": 12, "liquid_line_temperature": 7}, id="low charge"
    ),
    pytest.param({"liquid_pressure": 110}, id="hot condenser"),
]


@pytest.mark.parametrize("by", FAULTY)
def test_a_baseline_with_a_fault_of_its_own_is_refused_and_hides_nothing(by: dict[str, float]) -> None:
    ill = on(GOOD, **by)
    alone, found = examine(ill), held(ill, ill)
    assert found.good_day.used == ()
    assert codes(found) == ["baseline-was-faulty"]
    assert shares(found) == shares(alone)
    assert found.charge == alone.charge


OTHER = [
    ({"refrigerant": "R-22"}, Reason("baseline-other-refrigerant", {"was": "R-22", "now": "R-410A"})),
    ({"metering": "TXV"}, Reason("baseline-other-metering", {"was": "TXV", "now": "fixed orifice"})),
    ({"nominal capacity": "5 ton"}, Reason("baseline-other-capacity")),
    ({"mode": "heating"}, Reason("baseline-other-mode")),
    ({}, Reason("baseline-copied")),
    ({"running at": "low"}, Reason("baseline-other-state", {"fact": "running at", "was": "low", "now": "high"})),
    ({"economizer": "open"}, Reason("baseline-other-state", {"fact": "economizer", "was": "open", "now": "closed"})),
]


@pytest.mark.parametrize(("facts", "why"), OTHER)
def test_another_machines_good_day_is_refused(facts: dict[str, Any], why: Reason) -> None:
    found = held(GOOD, {**GOOD, "machine": {**GOOD["machine"], **facts}})
    assert found.good_day.used == ()
    assert found.good_day.reasons == (why,)
    assert shares(found) == shares(examine(GOOD))


@pytest.mark.parametrize(("ratio", "refused"), [(0.901, False), (0.899, True), (1.099, False), (1.101, True)])
def test_the_capacity_may_differ_by_a_tenth(ratio: float, refused: bool) -> None:
    one, other = Machine(facts={"nominal capacity": ratio * 1e4}), Machine(facts={"nominal capacity": 1e4})
    assert (mismatch(one, other, JUDGEMENT.good_day.same_size) is not None) is refused


def test_a_good_day_without_readings_or_before_the_machine_had_settled_is_refused() -> None:
    early = {**GOOD, "readings": {**GOOD["readings"], "minutes running": 6}}
    nothing: Any = ({"readings": {}}, {"readings": {"outdoor air temperature": "80 F"}})
    for then in (*nothing, early):
        found = held(GOOD, then)
        assert found.good_day.used == ()
        assert codes(found) == ["baseline-not-ready"], then


def test_an_airflow_that_was_too_small_on_the_good_day_is_no_standard() -> None:
    small = copy.deepcopy(GOOD)
    small["readings"]["airflow"] = "700 cfm"
    found = held(small, small)
    assert "airflow per ton" not in found.good_day.used
    assert found.findings["airflow per ton"].words == examine(small).findings["airflow per ton"].words


# -- the file ----------------------------------------------------------------------------------------------------------


def written(folder: Path, name: str, visit: dict[str, Any]) -> Path:
    path = folder / name
    path.write_text(yaml.safe_dump(visit), encoding="utf-8")
    return path


def test_readings_alone_a_whole_visit_and_a_path_are_the_same(tmp_path: Path) -> None:
    then = on(GOOD, liquid_line_temperature=-2)
    written(tmp_path, "then.yaml", then)
    today = written(tmp_path, "today.yaml", {**GOOD, "baseline": "then.yaml"})
    case = {"case": "a", "visit": then}
    written(tmp_path, "case.yaml", case)
    of_case = written(tmp_path, "other.yaml", {**GOOD, "baseline": "case.yaml"})
    first = held(GOOD, then).to_dict()
    for other in (held(GOOD, {"readings": then["readings"]}), examine(today), examine(of_case)):
        assert other.to_dict()["faults"] == first["faults"]


def test_the_baseline_has_todays_machine_and_instruments_but_what_it_says_itself() -> None:
    visit = visit_from({
        **GOOD,
        "instruments": {"pipe clamps": "0.5 F"},
        "baseline": {"machine": {"altitude": "3000 ft"}, "readings": {"suction line temperature": "57 F"}},
    })  # fmt: skip
    assert visit.baseline.machine.refrigerant == visit.machine.refrigerant
    assert visit.baseline.machine.fact("SEER") == 13
    assert visit.baseline.machine.station_pressure < visit.machine.station_pressure
    assert visit.baseline.last.readings["suction line temperature"].error == pytest.approx(0.5 * F)


def test_a_baseline_within_a_baseline_is_not_followed() -> None:
    inner = {**GOOD, "baseline": {"readings": {"suction pressure": "no number"}}}
    visit = visit_from({**GOOD, "baseline": inner})
    assert visit.baseline.baseline is None
    assert visit.notes == (Reason("baseline-within-baseline"),)


def test_mistakes_in_it_are_told_at_their_place(tmp_path: Path) -> None:
    path = tmp_path / "today.yaml"
    path.write_text(
        "readings: {suction pressure: 128 psig}\n"
        "baseline:\n"
        "  machin: {}\n"
        "  readings:\n"
        "    suction presure: 128 psig\n"
        "    liquid pressure: 3000\n",
        encoding="utf-8",
    )
    with pytest.raises(VisitError) as caught:
        read_visit(path)
    assert [(p.line, p.column, p.what) for p in caught.value.problems] == [
        (3, 3, "`machin` is not a part of a visit"),
        (5, 5, "`suction presure` is not a reading"),
        (6, 22, "`liquid pressure`: `3000` has no unit"),
    ]


def test_mistakes_in_its_own_file_are_told_there(tmp_path: Path) -> None:
    written(tmp_path, "then.yaml", {"readings": {"suction presure": "128 psig"}})
    today = written(tmp_path, "today.yaml", {**GOOD, "baseline": "then.yaml"})
    with pytest.raises(VisitError) as caught:
        read_visit(today)
    (problem,) = caught.value.problems
    assert problem.file == str(tmp_path / "then.yaml")
    assert "suction presure" in problem.what


PATHS = [
    ("nowhere.yaml", "`baseline`: `nowhere.yaml`: there is no such file"),
    ("-", "`baseline` must hold `readings:`, or the path of a visit file"),
    (" ", "`baseline` must hold `readings:`, or the path of a visit file"),
    (".", "`baseline`: `.` is not a file"),
    ("torn.yaml", "`baseline`: `torn.yaml` cannot be read as a visit: it goes wrong in line 1"),
]


@pytest.mark.parametrize(("path", "what"), PATHS)
def test_a_path_that_leads_nowhere(tmp_path: Path, path: str, what: str) -> None:
    (tmp_path / "torn.yaml").write_text("readings: {suction pressure: 128 psig\n", encoding="utf-8")
    today = written(tmp_path, "today.yaml", {**GOOD, "baseline": path})
    with pytest.raises(VisitError) as caught:
        read_visit(today)
    (problem,) = caught.value.problems
    assert problem.file == str(today)
    assert problem.line > 0
    assert what in problem.what


def test_a_path_is_followed_from_a_file_only(tmp_path: Path) -> None:
    """A mapping may come from anywhere, the phone page too: it must not open files."""
    then = written(tmp_path, "then.yaml", GOOD)
    with pytest.raises(VisitError) as caught:
        visit_from({**GOOD, "baseline": str(then)})
    assert "from a visit file only" in caught.value.problems[0].what


def test_something_seen_then_that_the_book_does_not_know() -> None:
    with pytest.raises(VisitError) as caught:
        held(GOOD, {**GOOD, "seen": {"air filtre": "clean"}})
    assert "air filtre" in str(caught.value)


# -- pages -------------------------------------------------------------------------------------------------------------


def test_the_page_tells_both() -> None:
    found = held(GOOD, on(GOOD, liquid_line_temperature=-2))
    page = " ".join(as_text(diagnosis_page(found)).split())
    assert "By this machine’s own good day" in page
    assert "Without the baseline: nothing wrong first" in page
    assert "in brackets: in general" in page
    assert "by its good day" in page
    assert "in general" not in " ".join(as_text(diagnosis_page(examine(GOOD))).split())


def test_the_verdict_says_what_it_went_by() -> None:
    found = held(GOOD, on(GOOD, liquid_line_temperature=-2))
    assert found.findings["charge by superheat"].scale.target == "baseline"
    (judged,) = [reason for reason in found.charge.reasons if reason.code == "charge-judged"]
    assert judged.figures["by_good_day"] is True
    assert "what it showed on its good day" in charge_text(found)


def test_where_the_general_target_would_say_otherwise_the_verdict_says_so() -> None:
    high = on(GOOD, suction_line_temperature=7)
    found = held(high, on(high, outdoor_air_temperature=1, liquid_pressure=4))
    assert found.charge.verdict == "right"
    (differs,) = [reason for reason in found.charge.reasons if reason.code == "general-target-differs"]
    assert differs.figures["verdict"] == "low"
    assert found.good_day.plain.charge.verdict != "right"
