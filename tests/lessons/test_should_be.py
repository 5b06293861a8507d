"""Where expected figures come from, and what the air carries: every written sum ends at the figure that the program used."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
import shared

from diagnose import Diagnosis, examine
from diagnose.lessons import lesson_page, should_be
from diagnose.lessons.figures import BothSystems
from diagnose.properties import enthalpy, humidity_ratio_from_wet_bulb
from diagnose.report import Block, as_text
from diagnose.report.wording import in_units

US, BOTH = BothSystems("us", both=False), BothSystems()


def visit(**facts: object) -> dict[str, Any]:
    return {
        "machine": {
            "refrigerant": "R-410A", "metering": "fixed orifice", "nominal capacity": "3 ton", "SEER": 13.5,
            "altitude": "5280 ft", **facts,
        },
        "readings": {
            "minutes running": 20, "suction pressure": "125 psig", "liquid pressure": "300 psig",
            "suction line temperature": "58 F", "liquid line temperature": "88 F", "outdoor air temperature": "80 F",
            "return air dry bulb": "80 F", "return air wet bulb": "67 F", "supply air dry bulb": "60 F",
            "supply air wet bulb": "58 F", "airflow": "1200 cfm",
        },
    }  # fmt: skip


def sums(blocks: Iterator[Block]) -> list[str]:
    return [block.text for block in blocks if block.kind == "sum"]


def test_the_pressure_of_a_mile_of_altitude() -> None:
    """5,280 ft have 12.1 psi or 83.4 kPa in the standard atmosphere (US Standard Atmosphere 1976, from memory)."""
    us, si = sums(should_be.altitude(examine(visit()), BOTH))
    assert us.endswith("= 12.10 psi")
    assert si.endswith("= 83.43 kPa")
    measured = visit() | {"machine": {"refrigerant": "R-410A", "station pressure": "24.6 inHg"}}
    assert not sums(should_be.altitude(examine(measured), BOTH))


def test_the_heat_of_air_as_a_chart_has_it() -> None:
    """80/67 °F at sea level: 31.5 Btu/lb on US charts (ASHRAE psychrometric chart no. 1, from memory); 33.9 ft³/min a lb."""
    water = humidity_ratio_from_wet_bulb(299.817, 292.594, 101325.0)
    assert water is not None
    joules = enthalpy(299.817, water)
    assert joules is not None
    assert abs(should_be.heat_of(joules, "us") - 31.5) < 0.06


def machines() -> Iterator[Diagnosis]:
    yield from (examine(visit(SEER=seer)) for seer in (9, 10.5, 12, 13.5, 18))
    yield examine(visit() | {"machine": {"refrigerant": "R-32", "metering": "TXV"}})
    yield from (examine(one.visit) for one in shared.machines(10))


NAMES = {
    "Condensing over ambient": "condensing over ambient", "Evaporator temperature": "evaporator temperature difference",
    "Liquid line approach": "liquid line approach", "Cooling capacity over": "cooling capacity",
}  # fmt: skip


def test_each_law_ends_at_the_figure_that_was_used() -> None:
    checked = 0
    for d in machines():
        name = ""
        last: dict[str, str] = {}
        for block in should_be.expected(d, US):
            if block.kind == "subheading":
                name = next((NAMES[head] for head in NAMES if block.text.startswith(head)), "")
            if block.kind == "sum" and name:
                last[name] = block.text
        for name, text in last.items():
            e = d.estimates[name]
            value, _, decimals = in_units(e.target.value, e.kind, "us")
            found = re.search(r"= (−?[\d.]+)", text)
            assert found
            assert abs(float(found[1].replace("−", "-")) - value) <= 0.51 * 10**-decimals, text
            checked += 1
    assert checked > 30


@pytest.mark.parametrize("system", ["us", "si"])
def test_airflow_and_capacity_end_at_the_programs_own(system: str) -> None:
    d = examine(visit())
    found = sums(should_be.air(d, BothSystems("us" if system == "us" else "si", both=False)))
    per_ton, mass, heat, share = found
    assert per_ton.startswith("1200 cfm / 3.0 ton = 400" if system == "us" else "566.3 L/s / 10.55 kW = 54")
    kilowatts = d.estimates["total capacity"].value / 1e3
    printed = float(re.findall(r"= ([\d.]+)", heat)[0])
    assert printed * (0.29307107e-3 if system == "us" else 1.0) == pytest.approx(kilowatts, rel=2e-3)
    assert share.endswith(f"= {d.estimates['cooling capacity'].value:.2f}")
    assert "/" in mass


def test_nothing_of_it_where_it_does_not_belong() -> None:
    """No law of cooling in heating, and no capacity without a wet bulb at the supply."""
    heating = shared.examined("demo/heating-sound-txv-mild")
    assert not list(should_be.expected(heating, US))
    poor = visit()
    del poor["readings"]["supply air wet bulb"]
    assert len(sums(should_be.air(examine(poor), US))) == 1


def test_a_lesson_keeps_the_second_fault_and_says_perhaps() -> None:
    both = as_text(lesson_page(shared.examined("demo/two-faults-little-air-on-both-sides")))
    assert "Perhaps as well: low indoor airflow" in both
    sound = " ".join(as_text(lesson_page(shared.examined("demo/settled"))).split())
    assert "−0.5 Perhaps (0.11 sure): the air is cooled too little." in sound
    assert "The evaporator is too warm" not in sound
    assert "rules that count for less than a quarter of a point each" in sound
