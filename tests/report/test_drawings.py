"""The drawings: figures read back off the paper, physics against CoolProp and published points, legibility, hostile visits."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import pairwise, product
from pathlib import Path
from typing import Any

import commands
import pytest
from heats import WHOLE
from hypothesis import given
from hypothesis import strategies as st
from published import rows
from shared import DEMO, PARTS, examined, visit_of
from strategies import State, kelvin, states, visit, with_machine, with_readings
from work import THOROUGH

from diagnose import Diagnosis, examine, load_rules
from diagnose.lessons.example import DEVICES, example
from diagnose.lessons.story import side_by_side
from diagnose.properties import REFRIGERANTS, refrigerant, saturation_pressure, saturation_temperature
from diagnose.report import Block
from diagnose.report import drawings as diagram
from diagnose.report.drawings import (
    Cycle,
    Drawing,
    NoDrawing,
    pressure_enthalpy,
    pressure_enthalpy_of,
    schematic,
    superheat_chart,
)
from diagnose.report.drawings.cycle import corners
from diagnose.report.drawings.dome import dome, isotherm
from diagnose.report.drawings.svg import Box, Label, around, length_inside, placed, text_width
from diagnose.report.webpage import web_page
from diagnose.units import PSI, System
from diagnose.visit import Visit

SVG = "{http://www.w3.org/2000/svg}"
KINDS: dict[str, Callable[..., Drawing | NoDrawing]] = {
    "cycle": pressure_enthalpy,
    "circuit": schematic,
    "target": superheat_chart,
}
LARGEST = 10 * 1024  # bytes: "a few kB"


def drawn(kind: str, said: Any, units: Any = None) -> Drawing:
    found = KINDS[kind](examine(said).told_in(units))
    assert isinstance(found, Drawing), found
    return found


def why_not(kind: str, said: Any) -> str:
    return KINDS[kind](examine(said)).why


def tree(d: Drawing) -> ET.Element:
    return ET.fromstring(d.svg)


def texts(root: ET.Element) -> list[ET.Element]:
    return list(root.iter(f"{SVG}text"))


def said_in(d: Drawing) -> list[str]:
    return [t.text or "" for t in texts(tree(d))]


def box(t: ET.Element) -> Box:
    """What the letters of a text cover, by the project's own estimate of their width (itself tested below)."""
    size, x, y = float(t.get("font-size", 17)), float(t.get("x", 0)), float(t.get("y", 0))
    wide = text_width(t.text or "", size)
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[t.get("text-anchor", "start")]
    return Box(left, y - 0.76 * size, left + wide, y + 0.2 * size)


# -- what a technician reads off the paper -------------------------------------------------------------------------


class Paper:
    """A drawing read with a ruler: its printed figures give the scales, its dots the values."""

    def __init__(self, d: Drawing, foot: float, side: float) -> None:
        self.root = tree(d)
        marks = [(t, (t.text or "").replace(",", "")) for t in texts(self.root)]
        numbers = [(t, float(m)) for t, m in marks if re.fullmatch(r"\d+", m)]
        self.across = [
            (float(t.get("x", 0)), v)
            for t, v in numbers
            if t.get("text-anchor") == "middle" and float(t.get("y", 0)) == foot
        ]
        self.up = [
            (float(t.get("y", 0)) - 5, v)
            for t, v in numbers
            if t.get("text-anchor") == "end" and float(t.get("x", 0)) == side
        ]
        assert len(self.across) >= 3
        assert len(self.up) >= 3
        self.dots = [(float(c.get("cx", 0)), float(c.get("cy", 0))) for c in self.root.iter(f"{SVG}circle")]

    def x(self, at: float) -> float:
        return straight(self.across, at)

    def y(self, at: float, plus: float | None = None) -> float:
        """Value at a height; with `plus` the scale is logarithmic in value + plus."""
        if plus is None:
            return straight(self.up, at)
        return math.exp(straight([(y, math.log(v + plus)) for y, v in self.up], at)) - plus


def straight(points: list[tuple[float, float]], at: float) -> float:
    """Least-squares line through the points, at a place: the printed positions are rounded to a pixel."""
    n = len(points)
    mx, my = sum(x for x, _ in points) / n, sum(y for _, y in points) / n
    slope = sum((x - mx) * (y - my) for x, y in points) / sum((x - mx) ** 2 for x, _ in points)
    return my + slope * (at - mx)


FULL = visit(State(), extra=True)


@pytest.mark.parametrize("gas", ["R-410A", "R-32", "R-22", "R-454B", "R-407C", "R-290", "R-134a"])
def test_pressures_and_enthalpies_can_be_read_off(gas: str) -> None:
    """Gauge pressure of each dot is the reading; enthalpy differences are CoolProp's (PropsSI, by way of table.py)."""
    from diagnose.properties.table import Gas, fluid_name, walk

    state = State(gas=gas)
    paper = Paper(drawn("cycle", visit(state, extra=True)), 539, 48)
    suction, discharge, liquid, inlet = paper.dots
    low, high = state.suction / PSI - 14.696, state.liquid / PSI - 14.696
    for dot, psig in ((suction, low), (inlet, low), (discharge, high), (liquid, high)):
        assert paper.y(dot[1], 14.696) == pytest.approx(psig, rel=0.015, abs=0.5)
    assert liquid[0] == inlet[0]
    fluid = fluid_name(gas)
    vapour = Gas(fluid)
    assert state.discharge is not None
    h1 = vapour.at(kelvin(state.evaporating + state.superheat), state.suction)[0]
    h2 = vapour.at(kelvin(state.discharge), state.liquid)[0]
    h3 = next(iter(walk(fluid, "bubble", [kelvin(state.condensing - state.subcooling)]).values())).h
    zero = next(iter(walk(fluid, "bubble", [kelvin(-40)]).values())).h
    for dot, h in ((suction, h1), (discharge, h2), (liquid, h3)):
        assert paper.x(dot[0]) == pytest.approx((h - zero) / 2326, abs=0.7)  # 1.6 kJ/kg: half a pixel, both ways


@pytest.mark.parametrize("gas", ["R-410A", "R-32", "R-22", "R-454B", "R-407C"])
def test_corner_enthalpies_against_coolprop(gas: str) -> None:
    """Within 1 kJ/kg, with the liquid at its own pressure in CoolProp though saturated in ours."""
    import CoolProp

    from diagnose.properties.table import Gas, fluid_name

    ref = refrigerant(gas)
    low, high = saturation_pressure(ref, "dew", kelvin(42)), saturation_pressure(ref, "bubble", kelvin(110))
    assert low is not None
    assert high is not None
    c = corners(ref, Cycle(low, high, kelvin(56), kelvin(185), kelvin(98)))
    vapour = Gas(fluid_name(gas))
    assert c.suction == pytest.approx(vapour.at(kelvin(56), low)[0], abs=1000)
    assert c.discharge == pytest.approx(vapour.at(kelvin(185), high)[0], abs=1000)
    liquid = CoolProp.AbstractState("HEOS", fluid_name(gas))
    liquid.specify_phase(CoolProp.iphase_liquid)
    liquid.update(CoolProp.PT_INPUTS, high, kelvin(98))
    assert c.liquid == pytest.approx(liquid.hmass(), abs=1000)
    assert c.superheat == pytest.approx(14 / 1.8, abs=0.01)
    assert c.subcooling == pytest.approx(12 / 1.8, abs=0.01)


def test_estimated_discharge_has_the_efficiency_it_says() -> None:
    """(h2s - h1) / (h2 - h1) with CoolProp's own isentropic end."""
    from diagnose.properties.table import Gas, fluid_name

    ref = refrigerant("R-32")
    c = corners(ref, Cycle(0.95e6, 2.6e6, kelvin(60), None, kelvin(90), efficiency=0.65))
    gas = Gas(fluid_name("R-32"))
    h1 = gas.at(kelvin(60), 0.95e6)[0]
    h2 = gas.at(c.discharge_temperature, 2.6e6)[0]
    assert (gas.isentropic(kelvin(60), 0.95e6, 2.6e6)[1] - h1) / (h2 - h1) == pytest.approx(0.65, abs=0.006)


def test_superheat_and_subcooling_are_lengths_between_the_dome_and_the_dots() -> None:
    said = visit(State(gas="R-22", superheat=20, subcooling=12), extra=True)
    root = tree(drawn("cycle", said))
    (marks,) = [p.get("d", "") for p in root.iter(f"{SVG}path") if "lengths" in p.get("class", "")]
    ends = [float(n) for n in re.findall(r"M([\d.]+) [\d.]+v12", marks)]
    dots = [float(c.get("cx", 0)) for c in root.iter(f"{SVG}circle")]
    assert ends[1] == pytest.approx(dots[0], abs=0.2)
    assert ends[2] == pytest.approx(dots[2], abs=0.2)
    from CoolProp.CoolProp import PropsSI

    low, high = State().but(gas="R-22").suction, State().but(gas="R-22").liquid
    heat = PropsSI("H", "T", kelvin(65), "P", low, "R22") - PropsSI("H", "P", low, "Q", 1, "R22")
    cold = PropsSI("H", "P", high, "Q", 0, "R22") - PropsSI("H", "T", kelvin(85), "P", high, "R22")
    assert (ends[1] - ends[0]) / (ends[3] - ends[2]) == pytest.approx(heat / cold, rel=0.03)


# -- dome and isotherms --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gas", ["R-410A", "R-407C", "R-404A", "R-134a"])
def test_dome_ends_at_the_published_critical_point(gas: str) -> None:
    """Critical pressures: reference/blend_anchor_points.csv (Lemmon 2003; a maker's table for R-134a)."""
    (published,) = [
        float(r["value"])
        for r in rows("blend_anchor_points.csv")
        if r["refrigerant"] == gas and r["quantity"].startswith("critical P")
    ]
    assert dome(refrigerant(gas), 4e5).top[1] == pytest.approx(published * 1000, rel=0.025)


@pytest.mark.parametrize(("gas", "fluid"), [("R-22", "R22"), ("R-32", "R32"), ("R-134a", "R134a"), ("R-290", "R290")])
def test_cap_of_the_dome_against_coolprop(gas: str, fluid: str) -> None:
    """Above the property table the dome is a law, not a look-up: within 2.5 % of the dome's width of CoolProp."""
    from CoolProp.CoolProp import PropsSI

    from diagnose.properties import liquid_enthalpy
    from diagnose.report.drawings.dome import hottest

    ref = refrigerant(gas)
    base = liquid_enthalpy(ref, 273.15)
    zero = base - PropsSI("H", "T", 273.15, "Q", 0, fluid)
    shape = dome(ref, 3e5)
    wide = shape.dew[0][0] - shape.bubble[0][0]
    for line, quality in ((shape.bubble, 0), (shape.dew, 1)):
        for h, p in line:
            T = PropsSI("T", "P", min(p, PropsSI("PCRIT", fluid) * 0.999), "Q", quality, fluid)
            if (T - hottest(ref)) / (ref.critical_temperature - hottest(ref)) <= 0.85:
                assert h - zero == pytest.approx(PropsSI("H", "T", T, "Q", quality, fluid), abs=0.025 * wide)


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_dome_and_isotherms_of_every_refrigerant(name: str) -> None:
    ref = refrigerant(name)
    bottom = saturation_pressure(ref, "dew", kelvin(-20))
    assert bottom is not None
    shape = dome(ref, bottom)
    assert shape.bubble[-1] == pytest.approx(shape.dew[-1])
    for line in (shape.bubble, shape.dew):
        pressures = [p for _, p in line]
        assert pressures == sorted(pressures)
    liquid = [h for h, _ in shape.bubble]
    assert liquid == sorted(liquid)
    assert all(b < d for (b, _), (d, _) in zip(shape.bubble[:-1], shape.dew[:-1], strict=True))
    line = isotherm(ref, kelvin(40), bottom, shape.top[1])
    assert line.from_liquid
    (_, _), (left, at_bubble), (right, at_dew), *vapour = line.points
    assert left < right
    fall = at_bubble / at_dew - 1
    assert fall == pytest.approx(0, abs=1e-9) if ref.glide == 0 else fall > 0
    assert (fall > 0.03) == (ref.glide > 1.0)
    assert [p for _, p in vapour] == sorted((p for _, p in vapour), reverse=True)


def test_glide_is_seen_and_said() -> None:
    """R-407C at 40 °F: bubble 80.2 psig, dew 63.2 psig (notes on CoolProp 8; makers' charts within 1.3 %)."""
    blend, pure = drawn("cycle", visit(State(gas="R-407C"))), drawn("cycle", visit(State(gas="R-32")))
    assert "glide" in blend.words
    assert "glide" not in pure.words
    assert any(re.fullmatch(r"bubble [\d.]+, dew [\d.]+ °F", said) for said in said_in(blend))
    assert not any("dew" in said for said in said_in(pure))
    d = pressure_enthalpy_of(refrigerant("R-407C"), Cycle(0.55e6, 1.7e6), None, "us")
    assert isinstance(d, Drawing)
    paper = Paper(d, 539, 48)
    (grid,) = [p.get("d", "") for p in paper.root.iter(f"{SVG}path") if p.get("class") == "grid"]
    head = _figure(paper, "40 °F")
    isotherms = [[tuple(map(float, pair.split())) for pair in line.split("L")] for line in grid.split("M") if line]
    (forty,) = [line for line in isotherms if abs(line[0][0] - head) < 0.6 and abs(line[0][1] - 112) < 0.1]
    (_, _), (_, bubble), (_, dew), *_ = forty
    assert paper.y(bubble, 14.696) == pytest.approx(80.2, rel=0.02)
    assert paper.y(dew, 14.696) == pytest.approx(63.2, rel=0.02)


def _figure(paper: Paper, said: str) -> float:
    return next(float(t.get("x", 0)) for t in texts(paper.root) if t.text == said)


# -- the cycle it should have --------------------------------------------------------------------------------------


def test_the_cycle_it_should_have_comes_from_the_expected_values() -> None:
    """Fixed orifice at 80/63 °F: target superheat 13.5 °F (table RA3.2-2); condensing 17 °F over the outdoor air.

    The evaporator 33 °F under half saturated air, and 0.85 °F less for each °F that this air is damper (12 instead of 12.5).
    """
    d = examine(visit(State()))
    found = diagram.expected_cycle(d)
    ref = refrigerant("R-410A")
    evaporating = saturation_temperature(ref, "dew", found.cycle.low)
    condensing = saturation_temperature(ref, "bubble", found.cycle.high)
    assert evaporating == pytest.approx(kelvin(75 - 33 + 0.85 * 0.5), abs=0.15)  # half of R-410A's glide is 0.05 K
    assert condensing == pytest.approx(kelvin(80 + 17), abs=0.15)
    assert (found.cycle.suction - evaporating) * 1.8 == pytest.approx(13.5, abs=0.1)
    assert (condensing - found.cycle.liquid) * 1.8 == pytest.approx(10, abs=0.01)
    assert "should be 13.5 °F" in said_in(drawn("cycle", visit(State())))


def test_a_valve_without_a_plate_value_has_a_range() -> None:
    said = said_in(drawn("cycle", visit(State(metering="TXV"))))
    assert "a valve holds 4 to 25 °F" in said
    rated = said_in(drawn("cycle", with_machine(visit(State(metering="TXV")), rated_superheat="12 F")))
    assert "should be 12.0 °F" in rated


@pytest.mark.parametrize("gone", ["outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb"])
def test_without_the_air_only_the_visit_is_drawn(gone: str) -> None:
    found = drawn("cycle", with_readings(visit(State()), **{gone: None}))
    assert not any(said.startswith("should be") for said in said_in(found))
    assert "not drawn" in found.words
    assert gone.replace("_", " ") in found.words
    assert "what it should be" not in found.title


def test_heating_has_its_own_expected_cycle_and_circuit_and_no_target() -> None:
    """Evaporating against the outdoor air, condensing against the room, from the expected values of the pipeline."""
    found = examine(WHOLE)
    words = drawn("cycle", WHOLE).words
    coil, over = (found.estimates[n].target for n in ("outdoor coil below outdoor air", "condensing over return air"))
    assert re.search(rf"evaporating at [0-9.]+ psig, about {47 - coil.value * 1.8:.0f} °F", words)
    assert f"about {70 + over.value * 1.8:.0f} °F" in words
    circuit = drawn("circuit", WHOLE)
    assert "Indoors: the condenser" in circuit.words
    assert "valve tube temperature 36.0 °F" in circuit.words
    assert {"indoors", "outdoors", "return air", "valve tube"} <= set(said_in(circuit))
    assert "cooling" in why_not("target", WHOLE)
    for kind in ("cycle", "circuit"):
        check(kind, drawn(kind, WHOLE))


def test_two_cycles_side_by_side_for_a_lesson() -> None:
    """Any two cycles, without a visit; the names stand in legend, title and words."""
    sound = Cycle(0.95e6, 2.4e6, kelvin(55), kelvin(150), kelvin(85))
    starved = Cycle(0.75e6, 2.2e6, kelvin(60), None, kelvin(90))
    names = ("with little charge", "sound")
    found = pressure_enthalpy_of(refrigerant("R-410A"), starved, sound, "si", names=names, notes=["A note."])
    assert {*names, "estimated"} <= set(said_in(found))
    assert all(name in found.title and name in found.words for name in names)
    assert found.words.endswith("A note.")
    assert isinstance(pressure_enthalpy_of(refrigerant("R-410A"), Cycle(1e6, 9e6), None, "us"), NoDrawing)
    assert isinstance(pressure_enthalpy_of(refrigerant("R-410A"), Cycle(2e6, 1e6), None, "us"), NoDrawing)


# -- readings that are missing or strange --------------------------------------------------------------------------


def test_what_was_not_measured_is_said() -> None:
    bare = with_readings(visit(State()), suction_line_temperature=None, liquid_line_temperature=None)
    found = drawn("cycle", bare)
    assert said_in(found).count("not measured") == 2
    assert "suction line not measured" in found.words
    assert "liquid line not measured" in found.words
    assert not any(said.startswith(("superheat", "subcooling")) for said in said_in(found))
    assert "estimated" in said_in(found)
    assert "estimated" not in said_in(drawn("cycle", FULL))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (with_readings(FULL, suction_pressure=None), "the suction pressure"),
        (with_readings(FULL, liquid_pressure=None), "the liquid pressure"),
        (with_machine(FULL, refrigerant=None), "the refrigerant"),
        (with_readings(FULL, liquid_pressure="690 psig"), "property table"),
        ({"machine": {"refrigerant": "R-22"}, "readings": {}}, "the suction pressure and the liquid pressure"),
    ],
)
def test_no_cycle_says_what_is_missing(said: Any, why: str) -> None:
    assert why in why_not("cycle", said)


def test_wet_vapour_and_bubbles_are_drawn_on_the_dome_and_said() -> None:
    found = drawn("cycle", visit(State(superheat=-2, subcooling=-1)))
    assert "wet vapor" in found.words
    assert "bubbles" in found.words
    assert "superheat −2.0 °F" in said_in(found)
    assert "wet vapor" in drawn("cycle", visit(State(superheat=0))).words
    assert "wet vapor" not in drawn("cycle", visit(State(superheat=2))).words
    assert "subcooling −1.0 °F" in said_in(found)


def test_very_hot_gas_goes_on_with_the_heat_capacity_of_the_end_of_the_table() -> None:
    """270 °F above condensing: CoolProp within 4 kJ/kg."""
    from diagnose.properties.table import Gas, fluid_name

    ref = refrigerant("R-22")
    c = corners(ref, Cycle(3e5, 1.9e6, 280.0, kelvin(395), 310.0))
    assert c.discharge == pytest.approx(Gas(fluid_name("R-22")).at(kelvin(395), 1.9e6)[0], abs=4000)


# -- the target superheat ------------------------------------------------------------------------------------------


def _diamond(root: ET.Element) -> tuple[float, float]:
    (d,) = [p.get("d", "") for p in root.iter(f"{SVG}path") if "paper" in p.get("class", "")]
    x, y = map(float, re.match(r"M([\d.]+) ([\d.]+)", d).groups())  # type: ignore[union-attr]
    return x, y + 8


@pytest.mark.parametrize(("outdoor", "wet"), [(80.0, 63.0), (75.0, 60.0), (95.0, 68.0), (105.0, 74.0)])
def test_target_and_measured_can_be_read_off_the_chart(outdoor: float, wet: float) -> None:
    """Target within 1 °F of the 5 °F grid printed by three makers (reference/target_superheat_5F_grid.csv)."""
    row = {float(r["condenser_air_db_F"]): r for r in rows("target_superheat_5F_grid.csv")}[outdoor]
    column = f"wb{wet:.0f}"
    printed = float(row[column]) if column in row else (float(row["wb62"]) + float(row["wb64"])) / 2
    state = State(outdoor=outdoor, return_wb=wet, return_db=wet + 12, condensing=outdoor + 17)
    paper = Paper(drawn("target", visit(state)), 519, 38)
    x, y = _diamond(paper.root)
    assert paper.x(x) == pytest.approx(outdoor, abs=0.3)
    assert paper.y(y) == pytest.approx(printed, abs=1.1)
    ((dot_x, dot_y),) = paper.dots
    assert paper.x(dot_x) == pytest.approx(outdoor, abs=0.3)
    assert paper.y(dot_y) == pytest.approx(state.superheat, abs=0.2)


def test_target_in_si_is_the_same_point() -> None:
    state = State()
    paper = Paper(drawn("target", visit(state), "si"), 519, 38)
    x, y = _diamond(paper.root)
    assert paper.x(x) == pytest.approx((80 - 32) / 1.8, abs=0.2)
    assert paper.y(y) == pytest.approx(13.5 / 1.8, abs=0.15)


def test_a_blank_in_the_table_is_no_target() -> None:
    said = visit(State(outdoor=95, return_wb=57, return_db=76, condensing=113, superheat=6))
    found = drawn("target", said)
    assert "no target here" in said_in(found)
    assert "below 5.0 °F" in found.words
    assert not [p for p in tree(found).iter(f"{SVG}path") if "paper" in p.get("class", "")]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (visit(State(metering="TXV")), "charged by subcooling"),
        (with_machine(FULL, metering=None), "the metering device"),
        (with_readings(FULL, outdoor_air_temperature=None), "the outdoor air temperature"),
        (with_readings(FULL, return_air_wet_bulb=None), "the return air wet bulb"),
    ],
)
def test_no_chart_says_why(said: Any, why: str) -> None:
    assert why in why_not("target", said)


# -- the circuit ---------------------------------------------------------------------------------------------------


def test_every_reading_of_the_circuit_stands_in_it() -> None:
    found = drawn("circuit", FULL)
    shown = said_in(found)
    for name, written in FULL["readings"].items():
        if name == "minutes running":
            continue
        figure, unit = str(written).split(" ", 1)
        sign = {"F": "°F"}.get(unit, unit)
        near = [s for s in shown if s.endswith(f" {sign}") and _near(s, float(figure))]
        assert near, f"{name} {written} is not in {shown}"
        assert name in found.words
    assert "not measured" not in shown


def _near(said: str, figure: float) -> bool:
    match = re.match(r"[\d.,−]+", said)
    return match is not None and abs(float(match[0].replace(",", "").replace("−", "-")) - figure) < max(
        0.06, 0.006 * figure
    )


def test_the_circuit_says_what_was_not_measured() -> None:
    found = drawn("circuit", {"machine": {"refrigerant": "R-22"}, "readings": {"suction pressure": "68 psig"}})
    assert said_in(found).count("not measured") >= 6
    assert "Not measured: suction line temperature" in found.words
    assert "no reading" in why_not("circuit", {"machine": {"refrigerant": "R-22"}, "readings": {}})


def test_a_valve_has_a_head_and_an_orifice_has_none() -> None:
    def count(metering: str) -> int:
        return len(list(tree(drawn("circuit", visit(State(metering=metering)))).iter(f"{SVG}path")))

    assert count("TXV") == count("EEV") == count("fixed orifice") + 1


def test_a_device_outdoors_stands_outdoors_and_its_thin_line_is_on_the_low_side() -> None:
    """Both ports are on the low side then: nothing read there is condensing, subcooling or a corner of the cycle."""
    behind, ahead = (
        with_machine(FULL, kind="ductless", metering="EEV", metering_place=place)
        for place in ("outdoors", "high side read")
    )
    for said in (behind, ahead):
        words = drawn("circuit", said).words
        assert "metering device (EEV). Indoors: the evaporator." in words
    shown = said_in(drawn("circuit", behind))
    assert "thin line" in shown
    assert not [said for said in shown if said.startswith(("subcooling", "condenses"))]
    assert "subcooling" not in drawn("circuit", behind).words
    assert [said for said in said_in(drawn("circuit", ahead)) if said.startswith("subcooling")]
    assert "no high side was read" in why_not("cycle", behind)
    assert drawn("cycle", ahead)


# -- what a fault does to the picture ------------------------------------------------------------------------------


def _stroke(root: ET.Element, starts: str) -> ET.Element:
    return next(e for e in root.iter(f"{SVG}path") if e.get("d", "").startswith(starts))


def test_tubes_hold_what_the_legend_says_and_the_hot_side_is_told_by_width_too() -> None:
    """Liquid full, vapor hollow, both dashed: condenser, evaporator and the tube after the metering device hold both."""
    root = tree(drawn("circuit", FULL))
    sides = {c: [g for g in root.iter(f"{SVG}g") if g.get("class") == c] for c in ("hot", "this")}
    hot, cold = ([*g[0]] for g in sides.values())
    assert [bool(e.get("stroke-dasharray")) for e in hot] == [False, True, False]  # gas, condenser, liquid
    assert [bool(e.get("stroke-dasharray")) for e in cold] == [False, True, True]  # gas, evaporator, mixture
    wide = [[float(e.get("stroke-width", 0)) for e in tubes] for tubes in (hot, cold)]
    assert min(wide[0]) > max(wide[1])
    hollow = [e.get("d") for e in root.iter(f"{SVG}path") if "bare" in e.get("class", "")]
    assert hollow == [hot[0].get("d"), cold[0].get("d")]
    legend = " ".join(said_in(drawn("circuit", FULL)))
    assert "solid, liquid; hollow, vapor; dashed, both" in legend
    assert "wide, high side; narrow, low side" in legend


def test_a_reading_that_was_set_aside_is_struck_out() -> None:
    found = drawn("circuit", visit_of("demo/airflow-in-the-wrong-unit"))
    struck = [t.text or "" for t in texts(tree(found)) if "struck" in t.get("class", "")]
    assert len(struck) == 1
    assert "cfm" in struck[0]
    assert "struck out, not used" in " ".join(said_in(found))
    assert "Not used: airflow." in found.words
    assert "struck" not in " ".join(said_in(drawn("circuit", FULL)))


def test_air_makes_the_condensing_temperature_apparent() -> None:
    """Dalton's law: the gauge reads the sum of the two pressures, so the table gives a temperature that is none of theirs."""
    cycle = Cycle(0.95e6, 2.4e6, kelvin(55), kelvin(150), kelvin(85))
    with_air = pressure_enthalpy_of(refrigerant("R-410A"), replace(cycle, air=True), None, "us")
    without = pressure_enthalpy_of(refrigerant("R-410A"), cycle, None, "us")
    assert isinstance(without, Drawing)
    said = " ".join(said_in(with_air))
    assert "seems to condense: " in said
    assert "apparent subcooling" in said
    assert "apparent" in with_air.words
    assert not {"seems", "apparent"} & set(" ".join(said_in(without)).split())


@pytest.mark.parametrize("liquid", [80.0, 88.0])
def test_where_held_back_liquid_begins_to_boil_against_coolprop(liquid: float) -> None:
    """The pressure at which the bubble line has the enthalpy of the liquid that arrives."""
    from CoolProp.CoolProp import PropsSI

    held = Cycle(0.75e6, 2.2e6, kelvin(75), kelvin(180), kelvin(liquid), held=True)
    found = pressure_enthalpy_of(refrigerant("R-410A"), held, None, "us")
    (said,) = re.findall(r"below ([\d.]+) psig, bubbles form", found.words)
    enthalpy = PropsSI("H", "T|liquid", kelvin(liquid), "P", 2.2e6, "R410A")
    low, high = 0.75e6, 2.2e6
    while high - low > 10:  # the enthalpy of the bubble line grows with its pressure
        middle = (low + high) / 2
        low, high = (middle, high) if PropsSI("H", "P", middle, "Q", 0, "R410A") < enthalpy else (low, middle)
    assert float(said) * PSI + 101325 == pytest.approx(low, rel=0.02)
    rings = [c for c in tree(found).iter(f"{SVG}circle") if "hot" in c.get("class", "")]
    assert len(rings) == 1
    assert not re.search("bubbles", drawn("cycle", FULL).words)


@pytest.mark.parametrize("units", ["us", "si"])
def test_no_line_runs_through_the_labels_of_a_lesson(units: System) -> None:
    """The cycles and the dome keep off the letters of every lesson's drawings: less than a letter's width in all.

    Every day each lesson is drawn in one system of units.
    """
    crossed: dict[str, float] = {}
    lessons = list(product(load_rules().faults, DEVICES))
    for fault, device in lessons if THOROUGH else lessons[units == "si" :: 2]:
        one = example(fault, device, load_rules(), units)
        if one is None:
            continue
        (block,) = side_by_side(one.faulty, one.right)
        root = ET.fromstring(block.svg)
        lines = [_corners(e) for e in root.iter(f"{SVG}path") if {"this", "ink"} & set(e.get("class", "").split())]
        lines += [_corners(e) for g in root.iter(f"{SVG}g") if g.get("class") == "this" for e in g]
        pieces = [pair for line in lines for pair in pairwise(line)]
        for t in texts(root):
            over = sum(length_inside(a, b, box(t)) for a, b in pieces)
            if float(t.get("y", 0)) > 112 and over > 2:
                crossed[f"{fault} {device}: {t.text}"] = over
    assert sum(crossed.values()) <= 20, crossed


def _corners(e: ET.Element) -> list[tuple[float, float]]:
    """The corners of a path of straight pieces; none for one with relative moves."""
    d = e.get("d", "")
    if re.search("[a-zHV]", d):
        return []
    found = [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", d)]
    return [*found, found[0]] if d.endswith("Z") else found


def test_a_label_that_stands_apart_has_a_line_to_what_it_names() -> None:
    spot = (150.0, 100.0)
    label = Label(("name",), ((150.0, 20.0, "middle"),), of=spot)
    ((_, place),) = placed([label], Box(0, 0, 300, 200))
    leader = label.leader(place)
    if leader is not None:
        assert leader[1] == spot
        assert label.box(place).bottom == pytest.approx(leader[0][1])
    near = Label(("name",), ((165.0, 100.0, "start"),), of=spot)
    assert near.leader(near.places[0]) is None
    assert label.leader(label.places[0]) is not None


def test_letters_on_a_phone_are_eleven_pixels_or_more() -> None:
    """At 360 px pages draw a picture at 31 rem and let it be moved; that rem is 16 px is every browser's default."""
    page = web_page([Block("answer", "One"), Block("figure", "w", "t", svg=drawn("circuit", FULL).svg)])
    (wide,) = re.findall(r"figure svg \{ width: (\d+)rem", page)
    for kind in KINDS:
        found = drawn(kind, FULL)
        smallest = min(float(t.get("font-size", 17)) for t in texts(tree(found)))
        assert smallest * int(wide) * 16 / found.width >= 11


# -- legible, self-contained, the same every time ------------------------------------------------------------------


def check(kind: str, d: Drawing) -> None:
    """Whole, named, small, inside its box, and no figure on another."""
    root = tree(d)
    assert len(d.svg.encode()) <= LARGEST
    assert root.get("viewBox") == f"0 0 {d.width} {d.height}"
    assert root.get("role") == "img"
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert ids == [f"{kind}-title", f"{kind}-words"]
    assert (root.get("aria-labelledby") or "").split() == ids
    assert [root[0].text, root[1].text] == [d.title, d.words]
    assert not re.search(r"<script|href|url\(|@import|nan|inf[^o]|None", d.svg)
    assert all(element.tag.startswith(SVG) for element in root.iter())
    boxes = [(t.text, box(t)) for t in texts(root)]
    for i, (said, one) in enumerate(boxes):
        assert one.left >= 0, said
        assert one.right <= d.width + 1, said
        assert one.top >= 0, said
        assert one.bottom <= d.height, said
        for other_said, other in boxes[i + 1 :]:
            assert one.overlap(other) < 25, (said, other_said)


def pictures(d: Diagnosis) -> Iterator[tuple[str, Drawing]]:
    for kind, draw in KINDS.items():
        found = draw(d)
        if isinstance(found, Drawing):
            yield kind, found
        else:
            assert found.why.endswith(".")


@given(states(), st.sampled_from(["us", "si"]), st.booleans())
def test_any_machine_is_drawn_legibly(state: State, units: str, extra: bool) -> None:
    found = dict(pictures(examine(visit(state, units, extra))))
    assert {"cycle", "circuit"} <= set(found)
    assert ("target" in found) == (state.metering == "fixed orifice")
    for kind, d in found.items():
        check(kind, d)


@pytest.mark.parametrize(("name", "units"), [*product(PARTS[0][::2], ["us"]), *product(PARTS[0][1::2], ["si"])])
def test_every_demo_visit(name: str, units: System) -> None:
    found = dict(pictures(examined(f"demo/{name}", units)))
    for kind, d in found.items():
        check(kind, d)
    if name in PARTS[0][::5]:
        assert found == dict(pictures(examined(f"demo/{name}", units)))  # drawn again, the same


@given(
    st.sampled_from(list(REFRIGERANTS)), st.floats(-60, 60), st.floats(60, 150), st.floats(-20, 60), st.floats(-20, 30)
)
def test_any_refrigerant_and_strange_readings_never_raise(
    gas: str, evaporating: float, condensing: float, superheat: float, subcooling: float
) -> None:
    ref = refrigerant(gas)
    low, high = (
        saturation_pressure(ref, "dew", kelvin(evaporating)),
        saturation_pressure(ref, "bubble", kelvin(condensing)),
    )
    if low is None or high is None:
        return
    suction, liquid = kelvin(evaporating + superheat), kelvin(condensing - subcooling)
    found = pressure_enthalpy_of(ref, Cycle(low, high, suction, None, liquid), Cycle(low * 1.1, high * 0.97), "us")
    if isinstance(found, Drawing):
        tree(found)
        assert len(found.svg.encode()) <= LARGEST + 512
    else:
        assert "property table" in found.why


def test_colours_can_be_read_in_the_light_in_the_dark_and_on_paper() -> None:
    """WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text, and 1.4.11: 3 to 1 for lines that carry meaning."""
    style = next(tree(drawn("cycle", FULL)).iter(f"{SVG}style")).text or ""
    schemes = [
        dict(re.findall(r"--(\w):var\(--\w+,(#\w+)\)", block)) for block in re.findall(r"\.drawing\{(--p[^}]*)", style)
    ]
    assert len(schemes) == 3
    for colours in schemes:
        assert min(contrast(colours[c], colours["p"]) for c in "isah") >= 4.5


def contrast(one: str, other: str) -> float:
    def light(colour: str) -> float:
        digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
        parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
        linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    a, b = sorted((light(one), light(other)))
    return (b + 0.05) / (a + 0.05)


def test_the_two_cycles_differ_in_more_than_colour() -> None:
    root = tree(drawn("cycle", FULL))
    dashed = [p for p in root.iter(f"{SVG}path") if p.get("stroke-dasharray") == "9 6"]
    assert len(dashed) == 2  # the cycle it should have, and its sample in the legend


# -- labels --------------------------------------------------------------------------------------------------------


def test_length_of_a_line_in_a_box() -> None:
    square = Box(0, 0, 10, 10)
    assert length_inside((-5, 5), (15, 5), square) == pytest.approx(10)
    assert length_inside((0, 0), (10, 10), square) == pytest.approx(math.sqrt(200))
    assert length_inside((5, 5), (5, 20), square) == pytest.approx(5)
    assert length_inside((-5, 20), (15, 20), square) == 0
    assert length_inside((4, 4), (4, 4), square) == 0


def test_a_label_makes_room_or_is_left_out() -> None:
    frame, spot = Box(0, 0, 300, 200), (150.0, 100.0)
    first = Label(("first",), tuple(around(spot, prefer="right")))
    second = Label(("second",), tuple(around(spot, prefer="right")))
    one, two = placed([first, second], frame)
    assert one[1] == (160.0, 100.0, "start")
    assert first.box(one[1]).overlap(second.box(two[1])) == 0
    perhaps = Label(("x",), ((150.0, 100.0, "start"),), must=False)
    assert placed([perhaps], frame, [Box(140, 90, 170, 110)]) == []
    assert len(placed([perhaps], frame)) == 1


# -- the command ---------------------------------------------------------------------------------------------------


run = partial(commands.run, "draw")

LOW = str(DEMO / "low-charge-orifice.yaml")


@pytest.mark.parametrize("what", list(KINDS))
def test_draw_prints_what_the_function_draws(what: str) -> None:
    out = run(LOW, "--what", what).clean()
    assert out == drawn(what, visit_of("demo/low-charge-orifice")).svg + "\n"
    out = run(LOW, "--what", what, "--units", "si").clean()
    assert "°C" in out
    assert "°F" not in out.replace("°F (", "")


def test_draw_writes_a_file_and_reads_standard_input(tmp_path: Path) -> None:
    target = tmp_path / "cycle.svg"
    code, out, err = run(
        "-",
        "-o",
        str(target),
        stdin=Path(LOW).read_text(encoding="utf-8").partition("visit:\n")[2].partition("expect:")[0],
    )
    assert (code, err) == (0, "")
    assert out.startswith(f"Written: {target}, ")
    assert target.read_text(encoding="utf-8") == drawn("cycle", visit_of("demo/low-charge-orifice")).svg + "\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((str(DEMO / "only-two-readings.yaml"),), "needs the liquid pressure"),
        ((str(DEMO / "low-charge-txv.yaml"), "--what", "target"), "charged by subcooling"),
        ((str(DEMO / "heating-mode.yaml"), "--what", "target"), "cooling"),
        (("no-such-visit.yaml",), "no such file"),
        ((LOW, "-o", "/no/such/folder/x.svg"), "cannot be written"),
    ],
)
def test_draw_leaves_with_2_and_says_why(words: tuple[str, ...], said: str) -> None:
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert said in err
    assert len(err.splitlines()) >= 2  # what is wrong, and how to mend it


def test_draw_to_a_terminal_without_unicode_is_still_the_same_picture() -> None:
    out = commands.run("draw", LOW, charset="ascii").fine()
    assert out.isascii()
    assert [t.text for t in texts(ET.fromstring(out))] == said_in(drawn("cycle", visit_of("demo/low-charge-orifice")))


def test_visit_objects_are_drawn_too() -> None:
    d = examine(visit(State()))
    assert isinstance(d.visit, Visit)
    assert isinstance(pressure_enthalpy(d), Drawing)
