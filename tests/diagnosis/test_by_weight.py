"""The verdict of the scale: before all others, in any weather, and no more than it knows."""

from __future__ import annotations

from itertools import pairwise

import pytest
from strategies import State, visit, with_machine

from diagnose import examine

LINES = {"liquid line": "3/8", "length": "35 ft", "included": "15 ft", "suction line": "3/4"}
PLATE = {"factory_charge": "6 lb 4 oz", "line_set": LINES}  # 7 lb in all
OUNCE = 0.45359237 / 16
VALVE = State(metering="TXV", superheat=10)
COLD = VALVE.but(outdoor=48, condensing=70)


def weighed(state: State, recovered: str, **facts):
    return examine(with_machine(visit(state), **{**PLATE, "recovered_charge": recovered, **facts}))


@pytest.mark.parametrize(
    ("state", "recovered", "verdict", "fault"),
    [
        (COLD.but(superheat=18, subcooling=3), "4 lb 2 oz", "low", "low-charge"),
        (COLD, "6 lb 15 oz", "right", "nothing-wrong"),
        (COLD.but(subcooling=18), "8 lb 4 oz", "high", "overcharge"),
    ],
)
def test_verdicts_in_the_cold(state, recovered, verdict, fault):
    """48 °F outdoors: no temperature shows the charge."""
    d = weighed(state, recovered)
    c = d.charge
    assert (c.verdict, c.method, c.reasons[0].code) == (verdict, "weight", "charge-weighed")
    assert (c.percent is None) == (verdict == "right") == (c.mass is None)
    assert d.faults[0].fault == fault


def test_the_result_is_in_kilograms():
    found = weighed(VALVE, "4 lb 2 oz").to_dict()["charge"]
    assert found["unit"] == "kg"
    assert found["measured"] == pytest.approx(66 * OUNCE, rel=1e-4)
    assert found["target"] == pytest.approx(112.3 * OUNCE, rel=2e-3)
    assert found["tolerance"] == pytest.approx(0.05 * found["target"], rel=1e-3)
    least, most = found["estimate_kg"]
    assert least < 66 * OUNCE - found["target"] < most
    assert found["weigh_in"]["kg"] == pytest.approx(found["target"], rel=1e-3)
    assert found["weigh_in"]["line_set_by"] == "density"
    assert [one["source"] for one in found["weigh_in"]["line_set_by_printed_allowances"]] == [
        "maker-long-line",
        "maker-ductless",
    ]


def test_without_a_scale_the_protocol_judges_and_the_whole_is_told():
    found = examine(with_machine(visit(VALVE), **PLATE)).to_dict()["charge"]
    assert (found["method"], found["unit"]) == ("subcooling", "K")
    assert found["weigh_in"]["on_the_scale"] is None
    assert found["weigh_in"]["kg"] is not None


def test_the_scale_goes_before_superheat_and_subcooling():
    """All readings are right and a third is missing by the scale: the readings are then what is doubted."""
    d = weighed(VALVE, "4 lb 10 oz")
    assert (d.charge.verdict, d.charge.method) == ("low", "weight")


def test_the_scale_parts_overcharge_from_air_in_the_circuit():
    full = VALVE.but(subcooling=19, condensing=107)
    assert weighed(full, "7 lb").faults[0].fault == "non-condensables"
    assert weighed(full, "8 lb 8 oz").faults[0].fault == "overcharge"


def test_a_visit_that_is_not_ready_or_outside_is_judged_by_the_scale():
    heating = weighed(VALVE, "4 lb 2 oz", mode="heating")
    assert heating.charge.method == "weight"
    assert heating.charge.verdict == "low"
    cooler = weighed(VALVE, "4 lb 2 oz", kind="walk-in cooler")
    assert (cooler.status, cooler.charge.verdict, cooler.charge.method) == ("outside", "low", "weight")
    assert cooler.charge.expect_after == {}


def test_near_the_limit_nothing_is_said():
    d = weighed(VALVE, "6 lb 10.4 oz")  # 5 % below 7 lb
    assert (d.charge.method, d.charge.reasons[0].code) == ("weight", "weight-near-the-limit")
    assert d.charge.by is not None


def test_the_verdict_needs_no_metering_device_and_no_readings():
    machine = {"refrigerant": "R-410A", "factory charge": "6 lb 4 oz", "line set": LINES, "recovered charge": "3 lb"}
    d = examine({"machine": machine})
    assert (d.status, d.charge.verdict) == ("diagnosed", "low")


def test_without_a_line_set_only_a_large_difference_is_judged():
    assert weighed(VALVE, "6 lb 12 oz", line_set=None).charge.method == "subcooling"
    far = weighed(VALVE, "2 lb 8 oz", line_set=None)
    assert (far.charge.method, far.charge.verdict) == ("weight", "low")
    sealed = weighed(VALVE, "5 lb 8 oz", line_set=None, kind="packaged")
    assert (sealed.charge.method, sealed.charge.verdict) == ("weight", "low")


def test_without_a_plate_nothing_is_compared():
    assert weighed(VALVE, "4 lb", factory_charge=None).charge.method == "subcooling"


def test_what_was_weighed_in_is_judged_too():
    d = examine(with_machine(visit(VALVE), **PLATE, weighed_in="7 lb"))
    assert (d.charge.verdict, d.charge.method) == ("right", "weight")


def test_an_empty_machine():
    c = weighed(VALVE, "0 lb").charge
    assert c.percent[0] == -100
    assert c.percent[1] <= -95


def test_a_machine_that_must_be_stopped_is_stopped_first():
    d = with_machine(visit(VALVE), **PLATE, recovered_charge="9 lb")
    d["readings"]["liquid pressure"] = "640 psig"
    found = examine(d)
    assert found.stop
    assert found.charge.caveats[0].code == "stop-before-charging"


def test_an_ounce_flips_nothing():
    """No share moves by more than a tenth with an ounce, from empty to overfull."""
    shares = []
    for ounces in range(92, 132):
        d = weighed(VALVE, f"{ounces} oz")
        shares.append({r.fault: r.share for r in d.faults})
    assert max(abs(a[f] - b[f]) for a, b in pairwise(shares) for f in a) < 0.3


@pytest.mark.parametrize(
    ("state", "recovered", "said"),
    [(VALVE, "4 lb 10 oz", True), (VALVE, "7 lb", False), (VALVE.but(subcooling=1, condensing=94), "4 lb 10 oz", False),
     (VALVE.but(subcooling=1, superheat=28, condensing=94), "7 lb", True)],
)  # fmt: skip
def test_readings_that_say_otherwise_are_named(state, recovered, said):
    caveats = [caveat.code for caveat in weighed(state, recovered).charge.caveats]
    assert ("readings-say-otherwise" in caveats) is said
