"""What a machine should hold by weight, against makers' worked examples (tests/reference) and by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import rows
from work import examples

from diagnose.properties.targets import LineStates
from diagnose.quantities.uncertainty import estimate
from diagnose.quantities.weighing import WeighIn, beyond_the_lines, weigh_in
from diagnose.visit import visit_from

OUNCE, FOOT, INCH = 0.45359237 / 16, 0.3048, 0.0254
LINES = {"liquid line": "3/8", "length": "35 ft", "included": "15 ft", "suction line": "3/4"}
MACHINE = {"refrigerant": "R-410A", "factory charge": "6 lb 4 oz", "line set": LINES}


def of(**facts: object) -> WeighIn:
    """The machine above, but for these facts (None: left out); `line_set` adds to its line set."""
    lines = {**LINES, **(facts.pop("line_set", None) or {})} if facts.get("line_set", {}) is not None else None
    facts.pop("line_set", None)
    data = {**MACHINE, "line set": lines, **{name.replace("_", " "): fact for name, fact in facts.items()}}
    if isinstance(data["line set"], dict):
        data["line set"] = {name: text for name, text in data["line set"].items() if text is not None}
    return weigh_in(visit_from({"machine": {name: fact for name, fact in data.items() if fact is not None}}).machine)


def test_by_hand() -> None:
    """20 ft: liquid 0.521 oz/ft (copper_tube_B280.csv); vapor of R-410A at 45 °F and 10 °F of superheat 2.30 lb/ft³
    (CoolProp 8) in 0.002522 ft³/ft."""
    found = of()
    liquid, vapor = 20 * 0.521, 20 * 2.30 * 16 * 0.002522
    assert [(s.what, round(s.kg / OUNCE, 1)) for s in found.shares] == [
        ("factory charge", 100.0), ("liquid line", round(liquid, 1)), ("suction line", round(vapor, 1)),
    ]  # fmt: skip
    assert found.kg / OUNCE == pytest.approx(100 + liquid + vapor, abs=0.1)
    assert (found.way, found.lacks) == ("density", ())
    assert 1.0 < found.error / OUNCE < 2.0


@pytest.mark.parametrize(
    "row", rows("line_set_examples.csv"), ids=lambda row: f"{row['liquid_line']} {row['length_ft']} ft"
)
def test_worked_examples_of_makers(row: dict[str, str]) -> None:
    lines = {
        "liquid line": row["liquid_line"], "length": f"{row['length_ft']} ft", "included": f"{row['included_ft']} ft",
        "included liquid line": row["included_line"] or None, "suction line": None,
    }  # fmt: skip
    found, added = of(line_set=lines), float(row["added_oz"])
    printed = {one.source: kg / OUNCE for one, kg in found.printed}
    assert printed["maker-long-line"] == pytest.approx(added, abs=0.005)
    assert found.lines / OUNCE == pytest.approx(added, abs=2.5 if row["liquid_line"] == "5/16" else 0.3)
    if row["plate_oz"] and not row["included_line"]:
        own = of(
            factory_charge=f"{row['plate_oz']} oz",
            line_set=lines | {"allowance": f"{row['allowance_oz_per_ft']} oz/ft"},
        )
        assert own.kg / OUNCE == pytest.approx(float(row["plate_oz"]) + added, abs=0.005)
        assert own.way == "allowance"


INDOORS = [r for r in rows("charge_per_foot.csv") if r["refrigerant"] != "(unstated)" and "OUTDOOR" not in r["note"]]


@pytest.mark.parametrize("row", INDOORS, ids=lambda r: f"{r['refrigerant']} {r['liquid_line']} {r['oz_per_ft']}")
def test_density_beside_published_ounces_per_foot(row: dict[str, str]) -> None:
    """By density with the suction vapor lies about what makers allow, or below: they round up, most in thin lines."""
    whole = of(refrigerant=row["refrigerant"], line_set={"liquid line": row["liquid_line"], "suction line": None,
                                                         "length": "100 ft", "included": "0 ft"})  # fmt: skip
    published = float(row["oz_per_ft"])
    assert published in [pytest.approx(kg / OUNCE / 100) for _, kg in whole.printed]
    least = 0.69 if Fraction(row["liquid_line"]) < Fraction(3, 8) else 0.86
    assert least < whole.lines / OUNCE / 100 / published < 1.06


def test_the_makers_own_figure_goes_first_and_density_stands_beside_it() -> None:
    found = of(line_set={"allowance": "0.65 oz/ft", "indoor coil": "8 oz", "drier": "3 oz"})
    assert [(s.what, round(s.kg / OUNCE, 2)) for s in found.shares] == [
        ("factory charge", 100.0), ("line set", 13.0), ("indoor coil", 8.0), ("drier", 3.0),
    ]  # fmt: skip
    assert found.by_density == pytest.approx(of().lines)


def test_an_allowance_for_pipe_of_any_size() -> None:
    metric = {"liquid line": "10 mm", "suction line": None, "length": "10 m", "included": "5 m"}
    assert of(line_set=metric).lacks == ("allowance",)
    found = of(line_set=metric | {"allowance": "54 g/m"})
    assert (found.lacks, found.by_density) == ((), None)
    assert found.lines == pytest.approx(0.270)
    other = of(line_set=metric | {"allowance": "54 g/m", "included liquid line": "12 mm"})
    assert other.lacks == ("allowance",)  # nobody knows what the plate has for that


def test_the_length_of_the_suction_line_counts() -> None:
    longer = of(line_set={"suction length": "45 ft"})
    assert longer.lines - of().lines == pytest.approx(10 * 2.30 * 16 * 0.002522 * OUNCE, rel=0.02)


def test_a_line_shorter_than_the_plate_covers_takes_away() -> None:
    short = of(line_set={"length": "5 ft"})
    assert short.lines == pytest.approx(-of().lines / 2)
    assert short.kg < of(line_set=None, kind="packaged").kg


def test_a_suction_line_of_unknown_size_widens_the_error() -> None:
    guessed = of(line_set={"suction line": None})
    assert abs(guessed.lines - of().lines) < OUNCE
    assert guessed.error > of().error


def test_a_metering_device_outdoors_leaves_half_the_liquid_and_a_wide_error() -> None:
    indoors, outdoors = of(), of(metering_place="outdoors")
    liquid = {w: next(s for s in w.shares if s.what == "liquid line") for w in (indoors, outdoors)}
    assert 0.3 < liquid[outdoors].kg / liquid[indoors].kg < 0.5
    assert liquid[outdoors].error > 0.5 * liquid[outdoors].kg
    assert outdoors.error > indoors.error
    assert [one.source for one, _ in outdoors.printed] == ["maker-ductless"]


@pytest.mark.parametrize(
    ("facts", "lacks"),
    [
        ({"factory_charge": None}, ("factory charge",)), ({"refrigerant": None}, ("refrigerant",)),
        ({"line_set": None}, ("line set",)), ({"line_set": {"included": None}}, ("included",)),
        ({"line_set": None, "kind": "window"}, ()), ({"line_set": None, "kind": "packaged"}, ()),
        ({"line_set": None, "kind": "ductless"}, ("line set",)),
        ({"line_set": None, "factory_charge": None, "refrigerant": None}, ("refrigerant", "factory charge", "line set")),
    ],
)  # fmt: skip
def test_what_is_missing_is_named(facts: dict[str, object], lacks: tuple[str, ...]) -> None:
    found = of(**facts)
    assert found.lacks == lacks
    assert (found.error > 0.2 * found.kg) or not lacks or not found.kg


def test_nothing_is_added_for_a_line_whose_covered_length_nobody_gave() -> None:
    assert of(line_set={"included": None}).kg == pytest.approx(100 * OUNCE)


def test_warmer_liquid_weighs_less_and_denser_vapor_more() -> None:
    machine = visit_from({"machine": MACHINE}).machine
    usual, warm = weigh_in(machine), weigh_in(machine, LineStates(liquid=320.0))
    dense = weigh_in(machine, LineStates(suction_pressure=12e5))
    assert warm.kg < usual.kg < dense.kg


SIZES = ["1/4", "5/16", "3/8", "1/2", "5/8"]


@examples(20)
@given(
    gas=st.sampled_from(["R-410A", "R-22", "R-32", "R-454B", "R-290", "R-407C", "R-134a"]),
    size=st.sampled_from(SIZES),
    length=st.integers(1, 250),
    included=st.integers(0, 100),
    outdoors=st.booleans(),
)
def test_the_shares_make_the_whole(gas: str, size: str, length: int, included: int, outdoors: bool) -> None:
    lines = {"liquid line": size, "length": f"{length} ft", "included": f"{included} ft", "suction line": None}
    found = of(refrigerant=gas, line_set=lines, metering_place="outdoors" if outdoors else "indoors")
    assert found.kg == pytest.approx(max(sum(s.kg for s in found.shares), 0.0))
    assert math.isfinite(found.error)
    assert found.error > 0
    assert (found.lines > 0) == (length > included)


# -- the scale -------------------------------------------------------------------------------------------------------------


def share(**facts: object) -> float | None:
    found = estimate(visit_from({"machine": {**MACHINE, **{n.replace("_", " "): f for n, f in facts.items()}}}))
    return found["weighed share"].value if "weighed share" in found else None


def test_what_was_recovered_goes_before_what_was_weighed_in() -> None:
    whole = of().kg / OUNCE
    assert share(recovered_charge="56 oz") == pytest.approx(56 / whole)
    assert share(weighed_in="112 oz") == pytest.approx(112 / whole)
    assert share(weighed_in="112 oz", recovered_charge="56 oz") == pytest.approx(56 / whole)
    assert share() is None


def test_the_error_of_what_was_recovered_is_larger() -> None:
    """Recovery leaves some in the oil and in the hoses."""
    sigma = {
        name: estimate(visit_from({"machine": {**MACHINE, name: "112 oz"}}))["weighed share"].sigma
        for name in ("recovered charge", "weighed in")
    }
    assert sigma["recovered charge"] > 1.3 * sigma["weighed in"] > 0.005


def test_without_the_line_set_only_a_large_difference_says_anything() -> None:
    assert [round(beyond_the_lines(x), 2) for x in (1.0, 1.1, 0.8, 0.5, 1.5)] == [0.0, 0.0, 0.5, 1.0, 1.0]
