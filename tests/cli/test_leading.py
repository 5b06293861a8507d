"""How `diagnose ask` leads: looks first, gauges only where nothing else answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from test_questions import Technician

from diagnose import examine
from diagnose.cli.questions import FIRST_LOOKS, STANDING_LOOKS, STANDING_READINGS, leads_to, reading_question
from diagnose.diagnosis.gauges import gauge_advice
from diagnose.report.first_screen import CIRCUIT, closing
from diagnose.report.gauges import gauges_text
from diagnose.rulebook import Rulebook

PLATE = {"refrigerant": "R-410A", "metering": "TXV", "rated subcooling": "10 F", "SEER": 14}
AIR = {
    "minutes running": 20, "suction line temperature": "55 F", "liquid line temperature": "93 F",
    "outdoor air temperature": "85 F", "return air dry bulb": "75 F", "return air wet bulb": "63 F",
    "supply air dry bulb": "56.5 F",
}  # fmt: skip


def with_(seen: Mapping[str, str] = {}, machine: Mapping[str, Any] = {}, **readings: str) -> dict[str, Any]:
    changed = {name.replace("_", " "): text for name, text in readings.items()}
    return {"machine": {**PLATE, **machine}, "seen": dict(seen), "readings": {**AIR, **changed}}


@pytest.mark.parametrize(
    ("visit", "needed", "code", "told"),
    [
        (with_(), False, "temperatures-sound", "The air is cooled by 18.5 °F (normal). That is not proof"),
        (
            with_(supply_air_dry_bulb="66 F"),
            True,
            "not-answered",
            "They point to low refrigerant charge at most weakly.",
        ),
        (with_({"air filter": "dirty"}), False, "mend-first", "No gauges yet: a filter or coil is dirty."),
        (with_({"blower": "stopped"}), False, "mend-first", "something restricts the indoor airflow"),
        (with_({"outdoor fan": "slow or stopped"}), False, "mend-first", "No gauges yet: "),
        (with_({"indoor coil ice": "present"}), False, "mend-first", "let the coil thaw completely"),
        (with_({"compressor sound": "silent"}), False, "compressor-stands", "Find what keeps it from running."),
        (with_({"thermostat": "no call"}), False, "compressor-stands", "No gauges needed: the compressor stands"),
        (
            with_({"condensate drain": "blocked"}),
            False,
            "mend-first",
            "No gauges yet: the condensate drain is blocked.",
        ),
        ({"machine": PLATE}, True, "not-answered", "each connection loses refrigerant"),
        (with_(machine={"metering": "capillary tube"}), False, "temperatures-sound", "charged by weight only"),
    ],
)
def test_whether_gauges_are_needed(visit: dict[str, Any], needed: bool, code: str, told: str) -> None:
    d = examine(visit)
    advice = gauge_advice(d)
    assert (advice.needed, advice.code) == (needed, code)
    assert told in gauges_text(d, advice)
    assert "{" not in gauges_text(d.told_in("si"), advice)


def test_the_looks_come_first_and_in_their_order(book: Rulebook) -> None:
    technician = Technician()
    technician.interview(book)
    assert technician.asked[0].startswith("What the customer says")
    looks = [text.partition(":")[0].lower() for text in technician.asked[1 : 1 + len(FIRST_LOOKS)]]
    assert looks == list(FIRST_LOOKS)
    gauges = next(i for i, text in enumerate(technician.asked) if text.startswith("Put the gauges on"))
    assert not any("pressure" in text for text in technician.asked[:gauges])
    assert technician.asked[gauges + 1].startswith("Suction pressure")


def test_a_compressor_that_stands_is_followed_from_the_call_to_its_windings(book: Rulebook) -> None:
    technician = Technician(Compressor_sound="humming", Run_capacitor="45 uF", Capacitor="31 uF")
    said = technician.interview(book)
    asked = [text.partition(":")[0].lower() for text in technician.asked]
    assert [look for look in asked if look in STANDING_LOOKS] == list(STANDING_LOOKS)
    for name in STANDING_READINGS:
        assert sum(text.startswith(reading_question(name).text) for text in technician.asked) == 1
    assert not any(text.startswith(("Supply air", "Suction pressure")) for text in technician.asked)
    assert any("discharge capacitors through a resistor" in text for text in technician.heard)
    assert examine(said).faults[0].fault == "compressor-not-running"


def test_nothing_is_read_of_an_iced_coil(book: Rulebook) -> None:
    technician = Technician(Indoor_coil_ice="present")
    technician.interview(book)
    assert not any(text.startswith(("Supply air", "Suction pressure", "Contactor")) for text in technician.asked)
    assert any("No gauges yet: there is ice on the indoor coil." in text for text in technician.heard)
    assert leads_to({"seen": {"indoor coil ice": "present"}}, book) == ""


@pytest.mark.parametrize(("said", "asked"), [("y", True), ("", False), ("n", False)])
def test_the_gauges_may_go_on_all_the_same(said: str, asked: bool, book: Rulebook) -> None:
    technician = Technician(Air_filter="dirty", Put_the_gauges_on=said)
    technician.interview(book)
    assert any(text.startswith("Suction pressure") for text in technician.asked) == asked


def test_the_complaint_is_kept(book: Rulebook) -> None:
    assert Technician(What="no cooling").interview(book) == {"complaint": "no cooling"}


def test_the_closing_list_names_caps_only_where_gauges_were_on() -> None:
    assert not set(CIRCUIT) & set(closing(examine(with_())))
    assert set(CIRCUIT) <= set(closing(examine(with_(suction_pressure="118 psig"))))
