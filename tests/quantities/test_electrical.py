"""Supply, control circuit and capacitors: worked out by hand, and what the rules make of them."""

from __future__ import annotations

import pytest

from diagnose import examine
from diagnose.diagnosis.next_checks import next_checks
from diagnose.quantities.electrical import (
    capacitor_departure,
    capacitor_within,
    coil_share,
    mean_voltage,
    supply_share,
    voltage_imbalance,
)


@pytest.mark.parametrize(
    ("lines", "imbalance"),
    [  # largest departure from the mean, over the mean (NEMA MG 1, 14.36, from memory), worked out by hand
        ((460.0, 467.0, 450.0), 9.0 / 459.0),
        ((230.0, 230.0, 230.0), 0.0),
        ((220.0, 215.0, 210.0), 5.0 / 215.0),
        ((441.0, 470.0, 401.0), (1312 / 3 - 401.0) / (1312 / 3)),
    ],
)
def test_imbalance(lines: tuple[float, float, float], imbalance: float) -> None:
    assert voltage_imbalance(*lines) == pytest.approx(imbalance)
    assert mean_voltage(*lines) == pytest.approx(sum(lines) / 3)


def test_shares() -> None:
    assert supply_share(mean_voltage(207.0), 230.0) == pytest.approx(0.9)
    assert coil_share(12.0) == pytest.approx(0.5)
    assert coil_share(115.0, 230.0) == pytest.approx(0.5)
    assert capacitor_departure(31e-6, 45e-6) == pytest.approx(-14 / 45)


@pytest.mark.parametrize(
    ("departure", "tolerance", "nearest"),
    [(-0.3, None, -0.06), (0.02, None, 0.02), (-0.08, 0.10, -0.08), (0.2, 0.05, 0.05)],
)
def test_the_nearest_that_a_tolerance_allows(departure: float, tolerance: float | None, nearest: float) -> None:
    found = capacitor_within(departure, tolerance)
    assert found.value == pytest.approx(nearest)


PLATE = {"refrigerant": "R-410A", "metering": "TXV", "rated voltage": "460 V", "capacitor rating": "45 uF"}


def words(readings: dict[str, str], **machine: str) -> dict[str, str]:
    plate = PLATE | {name.replace("_", " "): said for name, said in machine.items()}
    return {name: f.word for name, f in examine({"machine": plate, "readings": readings}).findings.items()}


@pytest.mark.parametrize(
    ("readings", "finding", "word"),
    [
        ({"capacitor": "43 uF"}, "run capacitor", "good"),
        ({"capacitor": "41 uF"}, "run capacitor", "weak"),
        ({"capacitor": "49 uF"}, "run capacitor", "strong"),
        ({"voltage 1 to 2": "416 V"}, "supply voltage", "right"),
        ({"L1-L2": "408 V"}, "supply voltage", "low"),
        ({"voltage": "512 V"}, "supply voltage", "high"),
        ({"L1-L2": "460 V", "L2-L3": "461 V", "L1-L3": "458 V"}, "voltage imbalance", "slight"),
        ({"L1-L2": "460 V", "L2-L3": "475 V", "L1-L3": "458 V"}, "voltage imbalance", "noticeable"),
        ({"L1-L2": "460 V", "L2-L3": "475 V", "L1-L3": "410 V"}, "voltage imbalance", "severe"),
        ({"contactor coil voltage": "25 V"}, "contactor coil", "right"),
        ({"coil voltage": "17 V"}, "contactor coil", "low"),
        ({"coil voltage": "0 V"}, "contactor coil", "no voltage"),
    ],
)
def test_words(readings: dict[str, str], finding: str, word: str) -> None:
    assert words(readings)[finding] == word


def test_a_wider_tolerance_on_the_can_lets_more_pass() -> None:
    assert words({"capacitor": "41 uF"}, capacitor_tolerance="10 %")["run capacitor"] == "good"


@pytest.mark.parametrize(
    ("seen", "readings"),
    [
        ({"compressor sound": "silent"}, {}),
        ({"compressor sound": "humming"}, {"capacitor": "31 uF"}),
        ({"thermostat": "blank"}, {}),
        ({"breaker": "tripped or blown"}, {}),
        ({"overload": "open"}, {}),
        ({"low pressure switch": "open"}, {}),
        ({"high pressure switch": "open"}, {}),
        ({"thermostat": "calling"}, {"contactor coil voltage": "0 V"}),
        ({"windings": "open"}, {}),
    ],
)
def test_what_stops_a_compressor_is_found_without_gauges(seen: dict[str, str], readings: dict[str, str]) -> None:
    d = examine({"machine": PLATE, "seen": seen, "readings": readings})
    assert d.faults[0].fault == "compressor-not-running"
    assert d.faults[0].strength in ("strong", "fair")
    assert d.charge.verdict == "do not judge"
    assert "live-parts" in [danger.code for danger in d.dangers]
    assert next_checks(d)[0].check == (
        "look-for-the-call" if seen == {"compressor sound": "silent"} else "mend-what-stops-it"
    )


def test_a_compressor_that_runs_is_not_said_to_stand() -> None:
    seen = {"compressor sound": "running", "thermostat": "calling", "overload": "closed"}
    d = examine({"machine": PLATE, "seen": seen, "readings": {"capacitor": "31 uF"}})
    assert d.faults[-1].fault == "compressor-not-running"
    assert [danger.code for danger in d.dangers] == ["caution/worn-starting-part"]


def test_a_weak_fan_capacitor_speaks_for_little_air() -> None:
    plate = PLATE | {"fan capacitor rating": "5 uF"}
    d = examine({"machine": plate, "readings": {"fan capacitor": "2.9 uF"}})
    assert d.faults[0].fault == "low-outdoor-airflow"
