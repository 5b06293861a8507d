"""Charging by weight on the page, on the first screen and in the look-up: figures, what is missing, what to beware of."""

from __future__ import annotations

import pytest
from strategies import State, visit, with_machine

from diagnose import examine
from diagnose.report import as_text, first_screen, lookups
from diagnose.report.pages import diagnosis_page
from diagnose.report.weighing import mass, mass_margin
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems

LINES = {"liquid line": "3/8", "length": "35 ft", "included": "15 ft", "suction line": "3/4"}
PLATE = {"factory_charge": "6 lb 4 oz", "line_set": LINES}
VALVE = State(metering="TXV", superheat=10)
COLD = visit(VALVE.but(outdoor=48, condensing=70))
LOW = visit(VALVE.but(subcooling=1, superheat=12, condensing=94))
WHOLE = "7 lb ± 1.4 oz (3.18 kg)"


def section(data, units=None) -> str:
    """The page’s section on the charge, in one line."""
    text = as_text(diagnosis_page(examine(data).told_in(units)))
    begin = text.find("\nThe charge\n")
    return " ".join(text[begin : text.find("\n\n", begin + 2)].split()) if begin >= 0 else ""


def screen(data) -> str:
    return " ".join(as_text(first_screen(examine(data))).split())


# -- a visit ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "data",
    [COLD, LOW, with_machine(COLD, mode="heating"), with_machine(visit(VALVE), refrigerant="R-290"),
     visit(State(outdoor=118, return_wb=70, condensing=135))],
)  # fmt: skip
def test_where_weighing_is_the_way_the_whole_is_told(data) -> None:
    given = with_machine(data, **PLATE)
    assert "By weight: it should hold " in section(given)
    assert "In all it should hold " in screen(given)
    assert "In all it should hold" not in screen(data)


def test_what_is_missing_is_told() -> None:
    assert "the visit lacks the factory charge of the rating plate and the line set" in section(COLD)
    assert "the visit lacks the line set (size" in section(with_machine(COLD, factory_charge="6 lb 4 oz"))


def test_where_it_is_not_nothing_is_said_of_it() -> None:
    assert "weight" not in section(with_machine(visit(VALVE), **PLATE))


def test_which_figure_was_used_and_what_others_would_make() -> None:
    said = section(with_machine(COLD, **PLATE))
    assert WHOLE in said
    assert "(factory charge 6 lb 4 oz, liquid line 10.4 oz, suction line 1.9 oz)" in said
    assert "Line set by density, not by an allowance: 12.3 oz for 20 ft beyond the 15 ft included." in said
    assert "Liquid at 100.0 °F in 3/8 in tube 0.52 oz/ft" in said
    assert "12.0 oz (0.60 oz/ft; a split-system maker's long-line guideline" in said
    own = section(with_machine(COLD, **PLATE | {"line_set": LINES | {"allowance": "0.60 oz/ft"}}))
    assert "Line set by its maker’s own allowance, 0.60 oz/ft, for 20 ft beyond the 15 ft included: 12.0 oz." in own
    assert "By density it would be 12.3 oz." in own


def test_in_si() -> None:
    said = section(with_machine(COLD, **PLATE), "si")
    assert "3.18 kg ± 40 g (7 lb)" in said
    assert "6.1 m beyond the 4.6 m included" in said
    assert "in 9.52 mm tube 48 g/m" in said
    assert "in 19.05 mm 9 g/m" in said
    assert "oz" not in said.replace("(7 lb)", "")


def test_the_verdict_of_the_scale_and_what_to_do() -> None:
    low = with_machine(LOW, **PLATE, recovered_charge="4 lb 2 oz")
    assert "Charge: low by weight, 4 lb 2 oz against 7 lb ± 2 oz." in screen(low)
    assert f"Find the leak, repair, pressure test and evacuate, then weigh in {WHOLE}." in section(low)
    high = section(with_machine(visit(VALVE.but(subcooling=19)), **PLATE, recovered_charge="8 lb 8 oz"))
    assert f"Weigh in {WHOLE} and no more." in high
    running = section(with_machine(LOW, **PLATE, weighed_in="5 lb"))
    assert (
        f"Weigh in what is missing, as liquid, until it holds {WHOLE}; if it held that before, find the leak" in running
    )
    over = section(with_machine(LOW, **PLATE, weighed_in="9 lb"))
    assert f"Recover the excess by weight until it holds {WHOLE}." in over
    assert "until it holds the charge of the rating plate" not in over


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ("7 lb", "Weighed in since: 7 lb, as it should be."),
        ("6 lb", "6 lb, 1 lb less than it should hold: weigh that much in as well, as liquid."),
        ("8 lb", "8 lb, 15.7 oz more than it should hold: recover that much again."),
    ],
)
def test_what_was_weighed_in_since(after, said) -> None:
    assert said in section(with_machine(LOW, **PLATE, recovered_charge="4 lb", weighed_in=after))


def test_the_scale_is_told_though_nothing_may_be_judged() -> None:
    heating = with_machine(COLD, **PLATE, mode="heating", recovered_charge="4 lb 2 oz")
    assert "Charge: low by weight" in screen(heating)
    bare = {"machine": {"refrigerant": "R-410A", "factory charge": "6 lb 4 oz", "recovered charge": "6 lb 8 oz"}}
    assert "What the scale showed, 6 lb 8 oz, can then be judged." in section(bare)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"metering_place": "outdoors"}, "its share is good to ± 50 % only"),
        ({"kind": "ductless"}, "If the metering device is outdoors"),
        ({"line_set": LINES | {"lift": "20 ft"}}, "Rising 20 ft costs the liquid 9 psi, 1.7 °F of its subcooling"),
        ({"line_set": LINES | {"lift": "-20 ft"}}, "its maker’s papers say; nothing here replaces them"),
        ({"line_set": LINES | {"length": "60 ft"}}, "its maker’s papers say; nothing here replaces them"),
        ({"line_set": LINES | {"allowance": "0.06 oz/ft"}}, "0.1 times what such lines hold"),
        ({"line_set": LINES | {"liquid line": "3/4", "suction line": "7/8"}}, "is that really the liquid line"),
        ({"line_set": LINES | {"length": "15 ft"}}, "The factory charge covers this line set, 15 ft."),
        ({"line_set": LINES | {"included": "45 ft"}}, "10 ft short of the 45 ft included"),
        ({"line_set": LINES | {"included liquid line": "1/4"}}, "35 ft instead of the 15 ft of 1/4 in included"),
        ({"line_set": {"liquid line": "10 mm", "length": "35 ft", "included": "15 ft"}}, "no ASTM B280 size"),
        ({"line_set": {"liquid line": "3/8", "length": "35 ft"}}, "length of line that the factory charge covers"),
        ({"refrigerant": "R-454B"}, "above 3 lb 15 oz (from memory), up to which it asks nothing of the room"),
        ({"refrigerant": "R-32", "factory_charge": "2 lb"}, "not above 4 lb 1 oz (from memory)"),
        (
            {"refrigerant": "R-32", "factory_charge": None},
            "Above 4 lb 1 oz (from memory) it asks for a least room area",
        ),
        ({"refrigerant": "R-1234yf"}, "Take the least room area for the whole charge from the manual."),
    ],
)
def test_what_else_is_to_be_known(facts, said) -> None:
    assert said in section(with_machine(COLD, **PLATE | facts))


# -- the look-up -----------------------------------------------------------------------------------------------------------

NONE: dict[str, str | None] = {}


def looked_up(book: Rulebook, *words: str, states: dict[str, str | None] = NONE, **more: str | None) -> str:
    named = {name.replace("_", " "): text for name, text in more.items()}
    return as_text(lookups.weigh_in(*words, named, states, book)[0])


WORST = {"factory_charge": "2.8 kg", "included": "5 m", "lift": "12 m", "included_liquid_line": "1/4", "indoor_coil": "220 g",
         "drier": "90 g"}  # fmt: skip


@pytest.mark.parametrize("gas", ["R-410A", "R-454B", "R-290", "R-22"])
@pytest.mark.parametrize("place", ["indoors", "outdoors", None])
@pytest.mark.parametrize("more", [WORST, WORST | {"allowance": "57 g/m"}, WORST | {"factory_charge": None}, {}])
def test_the_look_up_fits_a_screen(book: Rulebook, gas: str, place: str | None, more: dict[str, str | None]) -> None:
    lines = looked_up(book, gas, "3/8", "30 m", metering_place=place, **more).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


def test_the_look_up_says_what_it_used(book: Rulebook) -> None:
    said = " ".join(looked_up(book, "r410a", "9.52 mm", "35'", factory_charge="6# 4 oz", included="15 ft").split())
    assert said.startswith("Weigh in 7 lb ± 1.6 oz (3.17 kg) of R-410A in all.")
    assert "To a new unit that came charged add 12.0 oz." in said
    assert "Weigh a blend in as liquid." in said
    assert "Never more than the maximum on the plate." in said
    short = looked_up(book, "R-410A", "3/8", "5 ft", factory_charge="6 lb", included="15 ft")
    assert "From a new unit that came charged recover 6.0 oz." in " ".join(short.split())


def test_states_of_ones_own(book: Rulebook) -> None:
    at = {"liquid at": "80 F", "suction at": "110 psig", "superheat": "20 F"}
    said = " ".join(
        looked_up(book, "R-410A", "3/8", "35 ft", states=at, factory_charge="6 lb", included="15 ft").split()
    )
    assert "Liquid at 80.0 °F in 3/8 in tube 0.55 oz/ft, vapor at 110 psig and 20.0 °F of superheat" in said
    assert "at its rating" not in said


@pytest.mark.parametrize(
    ("words", "more", "what"),
    [
        (("R-410A", "3/8", "0 ft"), {}, "`length`: `0 ft` is not possible here"),
        (("R-410A", "3/8", "-5 ft"), {}, "`length`: `-5 ft` is not possible here"),
        (("R-410A", "3/8", "5000 ft"), {}, "`length`: `5000 ft` is not possible here"),
        (("R-410A", "3/7", "35 ft"), {}, "`liquid line`: `3/7 in` is not a fraction that can be read here"),
        (("R-410A", "10 mm", "35 ft"), {}, "liquid line: 10 mm is not a size of ASTM B280 tube"),
        (("R-410A", "3/8", "35 ft"), {"suction_line": "20 mm"}, "suction line: 20 mm is not a size of ASTM B280 tube"),
        (("R-410A", "3/8", "35 ft"), {"suction_line": "1/4"}, "the suction line is thinner than the liquid line"),
        (("R-410A", "3/8", "35 ft"), {"included": "15"}, "`included`: `15` has no unit"),
        (("R-99", "3/8", "35 ft"), {}, "There is no refrigerant"),
        (("R-410A", "3/8", "35 ft"), {"metering_place": "attic"}, "`metering place`: `attic` is not known"),
    ],
)
def test_the_look_up_refuses(book: Rulebook, words: tuple[str, ...], more: dict[str, str], what: str) -> None:
    with pytest.raises(InputProblems) as caught:
        looked_up(book, *words, **more)
    (problem,) = caught.value.problems
    assert str(problem).startswith(what)
    assert problem.fix


@pytest.mark.parametrize(
    ("states", "what"),
    [({"superheat": "-20 F"}, "superheat: it cannot be negative"), ({"liquid at": "300 F"}, "R-410A has no such liquid"),
     ({"suction at": "9 lb 3 oz"}, "suction at: ")],
)  # fmt: skip
def test_states_that_cannot_be(book: Rulebook, states: dict[str, str | None], what: str) -> None:
    with pytest.raises(InputProblems) as caught:
        looked_up(book, "R-410A", "3/8", "35 ft", states=states)
    assert str(caught.value.problems[0]).startswith(what)


def test_the_look_up_as_data(book: Rulebook) -> None:
    found = lookups.weigh_in(
        "R-410A", "3/8", "35 ft", {"factory charge": "6 lb 4 oz", "included": "15 ft"}, NONE, book
    )[1]
    assert found["kg"] == pytest.approx(3.175, abs=0.005)
    assert found["line_set_by"] == "density"
    assert [share["what"] for share in found["shares"]] == ["factory charge", "liquid line", "suction line"]


@pytest.mark.parametrize(
    ("kg", "us", "si"),
    [(0.295, "10.4 oz", "295 g"), (-0.192, "−6.8 oz", "−192 g"), (3.18, "7 lb", "3.18 kg"), (0, "0.0 oz", "0 g")],
)
def test_masses(kg: float, us: str, si: str) -> None:
    assert (mass(kg, "us"), mass(kg, "si")) == (us, si)


@pytest.mark.parametrize(
    ("kg", "us", "si"), [(0.04, "1.4 oz", "40 g"), (0.71, "1 lb 9 oz", "710 g"), (0.003, "0.1 oz", "3 g")]
)
def test_margins(kg: float, us: str, si: str) -> None:
    assert (mass_margin(kg, "us"), mass_margin(kg, "si")) == (us, si)
