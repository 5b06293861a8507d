"""Every code that plausibility, the baseline and the reading of a visit can give has a sentence, in US and SI units."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from doubtful import ABSOLUTE_AS_GAUGE, DOUBTS, NEARLY_EMPTY, VISITS, Data, examined
from heats import SOUND
from judged import JUDGEMENT
from strategies import State, visit, with_machine, with_readings

import diagnose
from diagnose import examine
from diagnose.quantities import baseline
from diagnose.quantities.plausibility import doubts
from diagnose.quantities.uncertainty import estimate
from diagnose.report.doubts import SENTENCES, sentence
from diagnose.report.sentences import problems, said
from diagnose.report.wording import plain_show
from diagnose.visit import visit_from
from diagnose.visit.reason import Reason

HOME = Path(diagnose.__file__).parent
MAKERS = {"Reason", "_both", "_Order"}  # what is called with a code as its first word


def _codes(node: ast.expr) -> set[str]:
    if isinstance(node, ast.IfExp):
        return _codes(node.body) | _codes(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def written_codes() -> set[str]:
    """Every code in the source of the rooms that make reasons."""
    found: set[str] = set()
    for room in ("quantities", "visit"):
        for path in (HOME / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Name)
                    and node.func.id in MAKERS
                    and node.args
                ):
                    found |= _codes(node.args[0])
    return found


def reasons(data: Data) -> list[Reason]:
    """All reasons that a visit gives rise to, before any is put into words."""
    parsed = visit_from(data)
    estimates = estimate(parsed, settling=JUDGEMENT.steadiness)
    found = [*parsed.notes, *(doubt.reason for doubt in doubts(parsed, estimates, JUDGEMENT.plausibility))]
    then = parsed.baseline
    if then is not None:
        other = baseline.mismatch(parsed.machine, then.machine, JUDGEMENT.good_day.same_size)
        projected = baseline.project(parsed, estimates, estimate(then), {"static pressure"}, JUDGEMENT.good_day)
        found += [*projected.left_out.values(), *([other] if other is not None else [])]
    return found


def test_every_code_has_a_sentence_and_a_visit_and_no_sentence_is_left_over() -> None:
    codes = written_codes()
    assert codes == set(VISITS)
    assert codes == set(SENTENCES)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)+", code) for code in codes)


IN_CELSIUS = with_readings(visit(State()), outdoor_air_temperature="27 F", supply_air_dry_bulb="13.5 F")
VARIANTS = [
    *VISITS.items(),
    ("suction-line-too-cold", ABSOLUTE_AS_GAUGE),
    ("condensing-below-outdoor-air", NEARLY_EMPTY),
    ("saturations-too-high", with_machine(visit(State(outdoor=105, condensing=132, evaporating=50, return_db=80,
                                                      return_wb=67)), refrigerant="R-134a")),
    ("suction-clamp-reads-air", with_readings(DOUBTS["suction-clamp-reads-air"], liquid_line_temperature=None,
                                              liquid_pressure=None)),
    ("air-thermometers-swapped", DOUBTS["air-thermometers-swapped"]),
    ("celsius-written-as-fahrenheit", IN_CELSIUS),
    ("no-heat-in-heating", with_readings(SOUND, return_air_dry_bulb="108 F", supply_air_dry_bulb=None)),
    ("supply-wet-bulb-above-dry-bulb", with_readings(SOUND, supply_air_wet_bulb="99 F")),
]  # fmt: skip


@pytest.mark.parametrize(("code", "data"), VARIANTS)
def test_a_sentence_uses_only_figures_that_are_there_in_either_units(code: str, data: Data) -> None:
    parsed = visit_from(data)
    (reason, *_) = [reason for reason in reasons(data) if reason.code == code]
    us, si = (sentence(reason, plain_show(parsed, system)) for system in ("us", "si"))
    for text in (us, si):
        assert not re.search(r"[{}]|  |None|\.\.", text), text
        assert text[0].isupper()
        assert text.endswith(".")
    assert "°F" not in si or "-written-as-" in code
    assert "psi" not in si or "-written-as-" in code
    assert "°C" not in us or "-written-as-" in code
    shown = any(isinstance(value, float) for name, value in reason.figures.items() if name not in UNITLESS)
    assert (us != si) is shown


UNITLESS = {"humidity", "current", "rated", "by_wet_bulb", "written", "weight", "seer", "seer2"}


@pytest.mark.parametrize("code", VISITS)
def test_what_is_told_of_a_visit_has_the_sentence(code: str) -> None:
    found = examined(code)
    (reason, *_) = [reason for reason in reasons(VISITS[code]) if reason.code == code]
    assert sentence(reason, plain_show(found.visit, found.system)) in [said(found, r) for r, _ in problems(found)]


WHOLE = [
    (
        Reason("suction-above-liquid", {"suction": 101325.0 + 2.1e6, "liquid": 101325.0 + 9e5}),
        "The suction pressure (305 psig) is above the liquid pressure (131 psig): the two are written in each other's "
        "place, the hoses are swapped, or a heat pump is running in the other mode. The pressures are not used.",
    ),
    (
        Reason("no-compressor-current", {"current": 0.14}),
        "The compressor draws next to no current (0.1 A): it is off, or the clamp is not around one lead alone. Readings "
        "taken with the machine off cannot be judged.",
    ),
    (
        Reason("humidity-contradicts-wet-bulb", {"side": "return", "by_wet_bulb": 0.523, "written": 0.9}),
        "The return air wet bulb means 52 % relative humidity, but 90 % is written: one of the two is wrong. The relative "
        "humidity is not used.",
    ),
    (
        Reason("saturations-too-low", {"refrigerant": "R-410A", "evaporating": None, "condensing": 300.0, "outdoor": None,
                                       "fitting": ("R-22", "R-407C", "R-290")}),
        "Both saturation temperatures are too low for R-410A (evaporating beyond its table, condensing 80.3 °F): most likely "
        "another refrigerant is in this machine or was chosen in the visit, or both gauges are off, or hardly any refrigerant "
        "is left. These pressures would fit R-22, R-407C or R-290. Read the rating plate and any conversion label. "
        "The pressures are not used.",
    ),
    (
        Reason("saturations-too-high", {"refrigerant": "R-410A", "evaporating": 280.0, "condensing": 330.0, "outdoor": 300.0,
                                        "fitting": ("R-32",)}),
        "Both saturation temperatures are too high for R-410A (evaporating 44.3 °F, condensing 134.3 °F, outdoor air "
        "80.3 °F): most likely another refrigerant is in this machine or was chosen in the visit, or both gauges are off. "
        "These pressures would fit R-32. Read the rating plate and any conversion label. The pressures are not used.",
    ),
    (
        Reason("air-thermometers-swapped", {"one": "outdoor air temperature", "other": "return air dry bulb",
                                            "first": 311.0, "second": 300.0}),
        "The outdoor air and return air thermometers look swapped: 100.1 °F is written for the outdoor air and 80.3 °F for the "
        "return air, and the other readings fit the other way round. Check which is which and read both again; where wet pads "
        "cool the outdoor air, read it between pads and coil. They are not used.",
    ),
    (
        Reason("baseline-figure-far-off", {"quantity": "subcooling"}),
        "The baseline is not used for the subcooling: that day it was too far from what sound machines show.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("reason", "text"), WHOLE)
def test_whole_sentences(reason: Reason, text: str) -> None:
    assert sentence(reason, plain_show(visit_from({}), "us")) == text


def test_a_code_or_a_figure_that_is_missing_is_refused() -> None:
    show = plain_show(visit_from({}), "us")
    with pytest.raises(KeyError):
        sentence(Reason("no-such-code"), show)
    with pytest.raises(KeyError):
        sentence(Reason("below-vacuum"), show)


def test_one_thermometer_in_the_other_scale_is_one_slip_of_both_its_readings() -> None:
    (reason,) = [reason for reason in reasons(IN_CELSIUS) if reason.code == "celsius-written-as-fahrenheit"]
    told = sentence(reason, plain_show(visit_from(IN_CELSIUS), "us"))
    assert told.startswith("The supply air dry bulb and outdoor air temperature look written in the wrong unit")
    clamps = examine(with_readings(visit(State()), suction_line_temperature="12 F", liquid_line_temperature="31 F"))
    assert ("suction line temperature", "liquid line temperature") in [doubt.set_aside for doubt in clamps.doubts]
    outdoors = examine(
        with_readings(
            visit(State()), suction_line_temperature="12 F", liquid_line_temperature="31 F", outdoor_air_temperature="27 F",
            return_air_dry_bulb=None, return_air_wet_bulb=None, supply_air_dry_bulb=None,
        )
    )  # fmt: skip
    (doubt,) = [doubt for doubt in outdoors.doubts if doubt.firm]
    assert doubt.set_aside == ("suction line temperature", "liquid line temperature", "outdoor air temperature")
