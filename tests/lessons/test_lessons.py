"""Lessons: what they say is held to the published signs, to the rules and to the simulator; what they calculate adds up.

Published signs: tests/reference/fault_signs.csv (its own header names the sources). Rows whose source is `(none)` are
reasoning from the cycle: a lesson may leave those open (`either`) but not contradict them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import pytest
import shared
from commands import run
from hypothesis import given
from hypothesis import strategies as st
from published import rows
from strategies import kelvin
from work import THOROUGH

from diagnose import examine, load_rules, simulator
from diagnose.diagnosis.pipeline import Diagnosis
from diagnose.lessons import fault_page, five_questions_page, glossary_page, heating_page, lesson_page
from diagnose.lessons.example import DEVICES, Example, example
from diagnose.lessons.fault_lesson import SMALL, way
from diagnose.lessons.figures import BothSystems, add_up
from diagnose.lessons.glossary import entries
from diagnose.lessons.story import PATH
from diagnose.properties import targets
from diagnose.report import Block, as_markdown, as_text
from diagnose.report.evidence import evidence_block
from diagnose.report.sentences import charge_text, said
from diagnose.report.wording import name_of, number, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import Lesson, Moving
from diagnose.shipped import shipped
from diagnose.visit import READINGS, System
from diagnose.visit.fields import MACHINE

FAULTS = sorted(load_rules().faults)
TAUGHT = [fault for fault in FAULTS if fault != "nothing-wrong"]
SIMULATED = [fault for fault in TAUGHT if fault in simulator.FAULTS]


def lesson_of(fault: str) -> Lesson:
    return load_rules().faults[fault].lesson


# -- the texts --------------------------------------------------


@pytest.mark.parametrize("fault", FAULTS)
def test_every_shipped_fault_has_a_whole_lesson(fault: str) -> None:
    lesson = lesson_of(fault)
    places = [step.place for step in lesson.story]
    assert sorted(places) == sorted(PATH), "each place once"
    start = PATH.index(places[0])
    assert places == [*PATH[start:], *PATH[:start]], "in the order in which the refrigerant comes to them"
    assert len(lesson.readings) >= 8
    assert len(lesson.confirm) >= 3
    assert len(lesson.questions) >= 4
    told = [step.what for step in lesson.story] + [m.why for m in lesson.readings] + list(lesson.confirm)
    told += [text for q in lesson.questions for text in (q.ask, q.answer)]
    for text in told:
        assert text.endswith((".", "?")), text
        assert "{" not in text
        assert max(len(sentence.split()) for sentence in re.split(r"(?<=[.?!;:]) ", text)) <= 42, text
    for question in lesson.questions:
        assert question.ask.rstrip().endswith(("?", "apart.", "each of them."))


@pytest.mark.parametrize("fault", FAULTS)
def test_one_machine_is_told_one_thing_of_a_reading(fault: str) -> None:
    for device in ("fixed orifice", "TXV", "EEV"):
        named = [m.quantity for m in lesson_of(fault).readings if on(m, device)]
        assert len(named) == len(set(named)), device


def on(moving: Moving, device: str) -> bool:
    return device in dict(moving.applies).get("metering", {device})


FAHRENHEIT = re.compile(
    r"(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? °F \((\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? (K|°C)\)"
)


@pytest.mark.parametrize("fault", FAULTS)
def test_us_figures_carry_their_si_figure_and_it_is_right(fault: str) -> None:
    """Arithmetic: 1.8 °F is 1 K; written by hand in the files."""
    told = str(lesson_of(fault))
    found = FAHRENHEIT.findall(told)
    assert told.count(" °F") == len(found), "a figure in °F without its SI figure"
    for low, high, low_si, high_si, unit in found:
        for us, si in ((low, low_si), (high, high_si)):
            if us:
                want = (float(us) - 32) / 1.8 if unit == "°C" else float(us) / 1.8
                assert abs(float(si) - want) <= (0.051 if "." in si else 0.51), (us, si, unit)


# -- against what is published, the rules, the simulator --------------------------------------------------

FEATURES = {
    "T_evap": "evaporating temperature",
    "superheat": "superheat",
    "T_cond": "condensing temperature",
    "subcooling": "subcooling",
    "T_discharge": "discharge line temperature",
    "dT_air_condenser": "condenser air rise",
    "dT_air_evaporator": "air temperature split",
    "line_temp_drop": "liquid line drop",
    "idle_pressure_vs_ambient_sat": "standing pressure excess",
}
PUBLISHED = {
    "undercharge/leak": "low-charge",
    "undercharge": "low-charge",
    "overcharge": "overcharge",
    "compressor_valve_leak": "weak-compressor",
    "compressor_or_reversing_valve_leak": "weak-compressor",
    "liquid_line_restriction": "liquid-line-restriction",
    "condenser_fouling": "low-outdoor-airflow",
    "evaporator_fouling": "low-indoor-airflow",
    "evaporator_airflow_loss": "low-indoor-airflow",
    "non_condensables": "non-condensables",
    "metering_underfeed": "metering-underfeeding",
    "metering_overfeed": "metering-overfeeding",
}
DEVICES_OF = {
    "fixed orifice": ("fixed orifice",),
    "TXV": ("TXV",),
    "TXV (assumed)": ("TXV",),
    "TXV in control": ("TXV",),
    "TXV fully open": ("TXV",),
    "TXV or fixed orifice": ("fixed orifice", "TXV"),
}
FIRST = {"up": "+", "down": "-", "stays": "0", "stays then up": "0", "stays then down": "0"}
LAST = FIRST | {"stays then up": "+", "stays then down": "-"}


def published() -> Iterator[tuple[str, str, str, str, str, str]]:
    """source, fault, metering as printed, device, quantity, sign."""
    for row in rows("fault_signs.csv"):
        sign = row["sign"].strip()[:1]
        fault, quantity = PUBLISHED.get(row["fault"]), FEATURES.get(row["feature"])
        if fault and quantity and sign in "+-0" and " or " not in row["sign"]:
            for device in DEVICES_OF.get(row["metering"], ()):
                yield row["source"], fault, row["metering"], device, quantity, sign


def moves_of(fault: str, quantity: str, device: str, mode: str = "cooling") -> str | None:
    """What does not name the mode is said of cooling."""
    told = (m for m in lesson_of(fault).readings if mode in dict(m.applies).get("mode", {"cooling"}))
    return next((m.moves for m in told if m.quantity == quantity and on(m, device)), None)


@pytest.mark.parametrize(
    ("fault", "about", "finding", "limit"),
    [
        ("low-outdoor-airflow", "condenser leaving air", "condenser air rise", -1),
        ("weak-compressor", "reversing valve", "suction tubes", 0),
        ("non-condensables", "one temperature", "standing pressure", -1),
    ],
)
def test_a_limit_told_in_a_lesson_is_that_of_the_rules(
    fault: str, about: str, finding: str, limit: int, book: Rulebook
) -> None:
    lesson = book.faults[fault].lesson
    assert lesson is not None
    (told,) = [
        found[1] for step in lesson.confirm if about in step and (found := re.search(r"more than ([\d.]+) °F", step))
    ]
    scale = next(one for one in book.findings[finding].scales if one.target != "baseline")
    assert float(told) == pytest.approx(scale.limits[limit] * 1.8)


def test_the_published_signs_of_a_fixed_orifice_are_all_taught() -> None:
    rows = [row for row in published() if row[0].startswith("Rossi")]
    assert len(rows) == 35  # five faults, seven features
    for _, fault, _, device, quantity, sign in rows:
        assert FIRST.get(moves_of(fault, quantity, device) or "") == sign, (fault, quantity, sign)


def test_no_other_published_sign_is_contradicted() -> None:
    compared = 0
    for source, fault, metering, device, quantity, sign in published():
        moves = moves_of(fault, quantity, device)
        if source.startswith("Rossi") or moves in (None, "either"):
            continue
        # Two publications disagree on the superheat of an overfull valve machine (0 and -): the lesson may say either.
        agreed = {s for _, f, m, d, q, s in published() if (f, m, d, q) == (fault, metering, device, quantity)}
        agreed |= {"0"} if (fault, quantity, device) == ("overcharge", "superheat", "TXV") else set()
        said = LAST if metering == "TXV fully open" else FIRST
        assert said[moves or ""] in agreed, (source, fault, metering, quantity, moves)
        compared += sign in "+-0"
    assert compared > 40


UP = {"high", "very high", "marked", "slight", "above saturation", "too good"}
DOWN = {"low", "very low", "poor", "below saturation"}
# What stands for what: a condenser hotter than its air has a higher condensing temperature, a colder coil lies further below.
MIRRORED = {
    "condensing over ambient": ("condensing temperature", 1),
    "evaporator temperature difference": ("evaporating temperature", -1),
}


@pytest.mark.parametrize(("mode", "at_least"), [("cooling", 60), ("heating", 15)])
def test_the_lesson_and_the_rules_move_the_same_way(book: Rulebook, mode: str, at_least: int) -> None:
    """A rule of one finding for a fault does not go against its lesson, nor a rule against it with the lesson."""
    compared = 0
    for rule in book.in_mode(mode).rules:
        if rule.kind != "evidence" or rule.fault not in TAUGHT or rule.either or len(rule.when) != 1:
            continue
        if rule.when[0][0] in book.states:
            continue
        (name, words), entry = rule.when[0], book.findings[rule.when[0][0]]
        side = 1 if words <= UP else -1 if words <= DOWN else 0
        if entry.seen or not side or (rule.points < 0 and words <= {"very low", "very high"}):
            continue  # a rule against the far end says "further than this fault moves it"
        other, turned = MIRRORED.get(entry.quantity or "", ("", 1))
        for quantity, moved in ((entry.quantity, side), (other, side * turned)):
            for device in ("fixed orifice", "TXV"):
                applies = dict(rule.applies).get("metering", frozenset({device}))
                moves = moves_of(rule.fault, quantity or "", device, mode) if device in applies else None
                if moves in (None, "either", "stays") or abs(rule.points) < 1:
                    continue
                compared += 1
                last = 1 if LAST[moves] == "+" else -1
                assert last == moved * (1 if rule.points > 0 else -1), (rule.id, name, moves, device)
    assert compared > at_least


@lru_cache(maxsize=32)
def shown(fault: str, device: str) -> Example:
    found = example(fault, "TXV" if device == "TXV" else "fixed orifice", load_rules())
    assert found is not None, "the simulator finds no steady state for the example"
    return found


MAY: dict[str, set[str]] = {
    "up": {"rises", "a little up", "stays"},
    "down": {"falls", "a little down", "stays"},
    "stays": {"stays", "a little up", "a little down"},
    "stays then up": {"rises", "a little up", "a little down", "stays"},
    "stays then down": {"falls", "a little up", "a little down", "stays"},
}


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("fault", SIMULATED)
def test_the_simulator_moves_the_readings_as_the_lesson_says(fault: str, device: str) -> None:
    """What is printed below never contradicts what is taught above: a change counts from its instruments' error on."""
    one, compared, read = shown(fault, device), 0, 0
    for moving in lesson_of(fault).readings:
        name = {"compressor current": "current ratio"}.get(moving.quantity, moving.quantity)
        before, after = one.right.estimates.get(name), one.faulty.estimates.get(name)
        if before is None or after is None or not on(moving, device) or moving.moves == "either":
            continue
        compared += 1
        said = way(before, after)
        assert said in MAY[moving.moves], (moving.quantity, said)
        read += said in ("rises", "falls")
    assert compared >= 7
    assert read >= 4


def test_a_change_counts_from_the_error_of_its_instruments() -> None:
    """Half a degree on a superheat that is good to a degree and a half is no fall."""
    e = shown("low-charge", "TXV").right.estimates["superheat"]
    error = 2 * e.sigma
    moved = {0.0: "stays", -0.2: "stays", -0.5: "a little down", 0.9: "a little up", 1.1: "rises", -3.0: "falls"}
    assert {by: way(e, e._replace(value=e.value + by * error)) for by in moved} == moved


def test_what_no_instrument_shows_in_the_example_is_said_above_it(book: Rulebook) -> None:
    told = {b.lead: SMALL in b.text for b in fault_page("low-indoor-airflow", book) if b.lead}
    assert told["Condenser air rise falls."]
    assert not told["Air temperature split rises."]


def test_the_example_of_air_stands_beyond_the_limit_of_the_standing_pressure(book: Rulebook) -> None:
    limit = book.findings["standing pressure"].scales[0].limits[-1]
    for device in DEVICES:
        assert shown("non-condensables", device).faulty.estimates["standing pressure excess"].value > limit
    assert f"{limit * 1.8:.1f} °F" in " ".join(lesson_of("non-condensables").confirm)


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("fault", SIMULATED)
def test_the_example_has_the_fault_among_the_first_two(fault: str, device: str) -> None:
    assert fault in [found.fault for found in shown(fault, device).faulty.faults[:2]]
    assert shown(fault, device).right.faults[0].fault == "nothing-wrong"


# -- what is calculated adds up --------------------------------------------------


def value_of(expression: str) -> float:
    """What a pupil gets from the printed left side: words and units dropped, signs of the trade turned into Python's."""
    text = (
        expression.rpartition(": ")[2]
        .replace("−", "-")
        .replace("×", "*")
        .replace("²", "**2")
        .replace("^", "**")
        .replace("√", "math.sqrt")
    )
    text = re.sub(r"\b[A-Za-z]+³?/[A-Za-z]+\b", " ", text)  # L/s, ft³/lb
    text = re.sub(r"(?<!math\.)(?<!math)\b(?!math|sqrt)[A-Za-z][A-Za-z]*\b", " ", text)
    text = re.sub(r"[°%³]", " ", text)
    assert re.fullmatch(r"[\d\s.+\-*/()]|(?:[\d\s.+\-*/()]|math\.sqrt)+", text), text
    return float(eval(text, {"math": math}))


def check_sums(blocks: list[Block]) -> int:
    """Every printed calculation gives the printed result, rounded to its last figure."""
    sums = [block for block in blocks if block.kind == "sum"]
    for block in sums:
        left, right = block.text.split(" = ")
        printed = re.match(r"−?[\d.]+", right)
        assert printed, block.text
        answer = printed[0].replace("−", "-")
        last = 10.0 ** -len(answer.partition(".")[2])
        assert abs(value_of(left) - float(answer)) <= last / 2 + 1e-9, block.text
    return len(sums)


# Each fourteenth case, of every folder: they go through the same sections, and the simulated machines through all of them.
SOME = list(shared.PATHS) if THOROUGH else list(shared.PATHS)[::14]


def visits() -> Iterator[Diagnosis]:
    yield from map(shared.examined, SOME)
    for one in shared.machines(3):
        yield examine(one.visit)


def test_every_calculation_of_every_visit_adds_up() -> None:
    counted = 0
    for place, d in enumerate(visits()):
        counted += check_sums(lesson_page(d, both=place % 2 == 0))
    assert counted > 700 * len(SOME) / len(shared.PATHS)


def test_a_worked_example() -> None:
    """130 psig + 14.7 is 144.7 psia, which is 45.0 °F for R-410A; 61.0 - 45.0 = 16.0 °F (textbook arithmetic, and
    R-410A's pressure-temperature chart as three makers print it: tests/reference/saturation_points.csv)."""
    d = examine(
        {
            "machine": {"mode": "cooling", "refrigerant": "R-410A", "metering": "fixed orifice", "altitude": "0 ft"},
            "readings": {"minutes running": 20, "suction pressure": "130 psig", "suction line temperature": "61 F"},
        }
    )
    text = as_text(lesson_page(d))
    assert "130.0 psi on the gauge + 14.7 psi of air = 144.7 psi absolute" in text
    assert "suction line temperature 61.0 °F − evaporating temperature 45.0 °F = 16.0 °F" in " ".join(text.split())


@given(st.lists(st.floats(-500, 500), min_size=2, max_size=9))
def test_sums_are_printed_so_that_they_add_up(terms: list[float]) -> None:
    printed, total = add_up([(t, 1) for t in terms], (math.fsum(terms), 1), lambda t: sum(t, Decimal(0)))
    left = sum(Decimal(one.replace("−", "-")) for one in printed)
    answer = Decimal(total.replace("−", "-"))
    tie = abs(math.fsum(terms) * 20 - round(math.fsum(terms) * 20)) < 1e-4  # on a tie no number of decimals helps
    assert abs(left - answer) <= Decimal("0.05") or tie
    assert abs(float(answer) - math.fsum(terms)) <= 0.0501


def test_the_figures_are_the_pipelines_own() -> None:
    for path in SOME:
        d = shared.examined(path)
        text = as_markdown(lesson_page(d, both=False))
        for name in ("superheat", "subcooling", "compression ratio", "air temperature split"):
            e = d.estimates.get(name)
            if e is not None:
                assert f"{upper_first(name)} is {number(e.value, e.kind, d.system, unit=False)} ±" in text, (path, name)
        for fault in d.faults[:1]:
            assert name_of(fault.fault, d.rules).lower() in text.lower()
            large = [s for s in (*fault.supporting, *fault.opposing) if abs(s.weight) >= 0.25]
            assert all(evidence_block(s, d).text in text for s in large)
        doubted = [said(d, doubt.reason) for doubt in d.doubts]
        assert charge_text(d) in text or d.status == "not ready" or any(p in charge_text(d) for p in doubted)


def test_the_target_is_read_from_the_cells_that_are_shown() -> None:
    """Every reading of the table by hand gives what `target_superheat` gives (our own two roads to one figure), and the
    cells are those of the chart: tests/reference/target_superheat_1F_recalled.csv."""
    f = 5 / 9
    for outdoor in (55.0, 63.4, 86.0, 94.7, 115.0):
        for wet in (50.0, 57.3, 64.0, 71.9, 76.0):
            k_out, k_wet = (outdoor + 459.67) * f, (wet + 459.67) * f
            found, cells = targets.target_superheat(k_out, k_wet), targets.neighbors("target_superheat", k_out, k_wet)
            assert cells.dry[0] - 0.1 <= outdoor <= cells.dry[1] + 0.1
            assert cells.wet[0] - 0.1 <= wet <= cells.wet[1] + 0.1
            if isinstance(found, targets.Target):
                (a, b), (c, e) = cells.values
                above, below = a + cells.wet_share * (b - a), c + cells.wet_share * (e - c)
                assert abs(above + cells.dry_share * (below - above) - found.value / f) < 1e-6
    assert targets.neighbors("target_superheat", 320.0, 290.0) is None
    assert targets.neighbors("temperature_split", 297.0, 290.0) is not None


def test_blends_are_told_which_line_and_why() -> None:
    text = " ".join(as_text(lesson_page(examine(shipped("cases") / "demo" / "r407c-nothing-wrong.yaml"))).split())
    assert "Superheat counts from the last drop" in text
    assert "Subcooling counts from the last bubble" in text
    pure = " ".join(as_text(lesson_page(examine(shipped("cases") / "demo" / "r134a-overcharge.yaml"))).split())
    assert "This blend" not in pure


@pytest.mark.parametrize(
    ("case", "says"),
    [
        ("blank-target", "There is no target"),
        ("low-charge-txv", "The charge is judged by subcooling"),
        ("ten-minutes-running", "No verdict is given yet"),
        ("heating-mode", "No charge is judged in heating without the maker's heating chart"),
    ],
)
def test_what_cannot_be_told_is_said(case: str, says: str) -> None:
    text = " ".join(as_text(lesson_page(examine(shipped("cases") / "demo" / f"{case}.yaml"))).split())
    assert says.lower() in text.lower()


def _lesson(case: str) -> str:
    return " ".join(as_text(lesson_page(examine(shipped("cases") / "demo" / f"{case}.yaml"))).split())


def test_a_machine_that_heats_is_not_told_the_story_of_cooling(book: Rulebook) -> None:
    """The coils have changed places, so a fault of either mode has the sentences about heating, and no class questions."""
    text = _lesson("heating-low-outdoor-airflow-fan")
    told = book.faults["low-outdoor-airflow"]
    assert told.in_heating is not None
    assert told.lesson is not None
    inside = f"What happens inside the machine: low outdoor airflow {' '.join(told.in_heating.what.split())}"
    assert inside in text
    assert not [one.ask for one in told.lesson.questions if one.ask in text]
    sound = book.faults["nothing-wrong"].lesson  # at part load its figures are others than the textbook's
    assert sound is not None
    assert sound.story[1].what.split(".")[0] in _lesson("nothing-wrong-txv")
    assert sound.story[1].what.split(".")[0] not in _lesson("inverter-part-load")
    own = book.faults["reversing-valve-leaking"].lesson
    assert own is not None
    assert own.story[0].what.split(".")[0] in _lesson("heating-reversing-valve-txv")


def test_an_electronic_valve_is_not_told_of_a_bulb_alone(book: Rulebook) -> None:
    for rule in book.rules:
        if "EEV" in dict(rule.applies).get("metering", ("EEV",)) and re.search(
            r"(?<!wet )(?<!dry )\bbulb\b", rule.entry.why
        ):
            assert "sensor" in rule.entry.why or "sensing bulb" in rule.findings, rule.id


def test_nothing_is_told_as_lacking_that_such_a_machine_never_has() -> None:
    assert "condensing over return air" not in _lesson("ductless-suction-side-only")
    asked = "Measure liquid pressure and liquid line temperature at the liquid service valve. It could move the leader"
    assert asked not in _lesson("packaged-low-charge")  # both were taken


def test_an_answer_less_likely_than_the_other_is_a_perhaps() -> None:
    text = _lesson("r290-overcharge-capillary")
    assert "Perhaps (0.42 sure): the condenser rejects its heat easily." in text
    assert "Is heat getting in? The findings fit none of its answers (enough 0.03)." in _lesson("low-charge-orifice")


def test_a_target_that_cannot_be_read_says_what_is_missing() -> None:
    visit = {"machine": {"metering": "fixed orifice"}, "readings": {"outdoor air temperature": "85 F"}}
    text = as_text(lesson_page(examine(visit)))
    assert "It cannot be used without the return air wet bulb." in text


def test_no_visit_is_too_poor_for_a_lesson() -> None:
    for visit in (
        {"machine": {"name": "x"}},
        {"machine": {"refrigerant": "R-32"}, "readings": {"suction pressure": "120 psig"}},
        {"readings": {"return air dry bulb": "75 F"}, "seen": {"air filter": "dirty"}},
        {
            "machine": {"metering": "TXV"},
            "readings": {"liquid pressure": "300 psia", "liquid line temperature": "30 C"},
        },
    ):
        assert as_text(lesson_page(examine(visit))).startswith("Lesson: ")


# -- the other pages --------------------------------------------------


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_page_holds_the_whole_file(fault: str, book: Rulebook) -> None:
    entry, text = book.faults[fault], " ".join(as_markdown(fault_page(fault, book)).split())
    lesson = lesson_of(fault)
    told = [entry.what, *(s.what for s in lesson.story), *(m.why for m in lesson.readings), *lesson.confirm]
    told += [part for q in lesson.questions for part in (q.ask, q.answer)]
    told += list(entry.looks_like.values())
    told += [entry.in_heating.what, *entry.in_heating.looks_like.values()] if entry.in_heating else []
    told += [*(s.do for s in (*entry.repair.do, *entry.repair.cautions)), entry.repair.expect] if entry.repair else []
    for part in told:
        assert " ".join(part.split()) in text
    for rule in book.evidence(fault):
        assert rule.entry.title in text
    assert text.index("Questions to ask a class") < text.index("## Answers")


def test_answers_begin_a_new_sheet() -> None:
    heads = {b.text: b.mark for b in fault_page("overcharge", load_rules()) if b.kind == "heading"}
    assert heads["Answers"] == "apart"


def test_units_side_by_side_or_alone(book: Rulebook) -> None:
    d = examine(shipped("cases") / "demo" / "low-charge-orifice.yaml", book)
    assert "24.9 ± 1.5 °F (13.9 ± 0.9 K)" in as_text(lesson_page(d))
    assert "13.9 ± 0.9 K" not in as_text(lesson_page(d, both=False))
    assert BothSystems("si").value(5.0, "difference") == "5.0 K (9.0 °F)"
    assert BothSystems("us").value(0.5, "percent") == "50 %"
    assert BothSystems("us").gauge(689476.0) == "100 psig (689 kPa gauge)"


def test_the_five_questions_are_the_states(book: Rulebook) -> None:
    text = " ".join(as_text(five_questions_page(book)).split())
    for state in book.states.values():
        assert state.question in text
        assert state.means
        assert " ".join(state.means.split()) in text
        for word in state.words:
            assert f"{word}:" in text
    assert "starved: superheat high or very high." in text
    # Read off the rules: whatever starves a coil has a rule on high superheat alone.
    assert "evidence for low refrigerant charge; liquid line restriction; underfeeding metering device" in text


def test_no_answer_is_said_to_speak_for_and_against_one_fault(book: Rulebook) -> None:
    sides: dict[str, set[str]] = {}
    for block in five_questions_page(book):
        if block.kind != "deeper":
            sides = {}
        for side in ("for", "against"):
            if block.text.startswith(f"evidence {side} "):
                sides[side] = set(block.text.removeprefix(f"evidence {side} ").split("; "))
                assert not sides.get("for", set()) & sides.get("against", set()), block.text


def test_every_word_of_the_vocabulary_is_in_the_glossary(book: Rulebook) -> None:
    found = entries(book)
    wanted = {*book.findings, *book.states, *(name_of(fault, book) for fault in book.faults), *READINGS, *MACHINE}
    assert wanted <= found.keys()
    assert list(found) == sorted(found, key=lambda name: (name.lower(), name))
    assert "In psig (kPa gauge)." in " ".join(found["suction pressure"])
    assert "in °F (K)" in " ".join(found["superheat"])
    assert "In kW." in " ".join(found["electric power"])
    assert "In lb oz (kg)." in " ".join(found["factory charge"])
    assert not [name for name in ("cooling", "heating") if "judged" in " ".join(found[name])]
    assert as_text(glossary_page(book)).startswith("Glossary\n")


# -- commands --------------------------------------------------

CASE = str(shipped("cases") / "demo" / "low-charge-orifice.yaml")


def test_fault_or_visit() -> None:
    assert run("lesson", "low-charge")[1].startswith("Lesson: Low refrigerant charge\n")
    assert run("lesson", CASE)[1].startswith("Lesson: net loft, upper floor")
    listed = run("lesson")[1]
    assert all(f"{fault}: " in listed for fault in FAULTS)


@pytest.mark.parametrize("system", ["us", "si"])
def test_why_heating_reads_differently(system: System) -> None:
    """One page: the expected figures of either mode side by side, and the faults that only heating has."""
    whole = heating_page(load_rules(), system)
    text = " ".join(block.text for block in whole) + " ".join(
        cell for block in whole for row in block.rows for cell in row
    )
    for us, si, unit in re.findall(r"(−?[\d.]+) °F \((−?[\d.]+) (K|°C)\)", text):
        f, k = (float(figure.replace("−", "-")) for figure in (us, si))
        assert abs(k - ((f - 32) / 1.8 if unit == "°C" else f / 1.8)) <= (0.051 if "." in si else 0.51), (us, si)
    if system == "us":
        assert len(re.findall(" °F", text)) == len(re.findall(r" °F \(", text))
    (rows,) = [block.rows for block in whole if block.rows]
    mild, frost = (kelvin(outdoor) for outdoor in (47, 17))
    found = [targets.outdoor_coil_below_outdoor_air(at) for at in (mild, frost)]
    shown = [f"{number(t.value, 'difference', system).split(' ')[0]} ±" for t in found if t is not None]
    assert [shown[i] in row[i + 2] for i in (0, 1) for row in rows if row[0].startswith("evaporating")] == [True, True]
    if system == "us":  # as every other page says it
        assert sum("14.0 °F (7.8 K) to 35.0 °F (19.4 K)" in cell for row in rows for cell in row) == 2
    only = [fault.name for fault in load_rules().faults.values() if fault.applies]
    assert [block.lead for block in whole if block.lead.removesuffix(".") in only] == [f"{name}." for name in only]
    assert run("lesson", "heating")[1].startswith("Why heating reads differently\n")


def test_standard_input_is_a_visit() -> None:
    code, out, _ = run("lesson", "-", stdin="machine: {refrigerant: R-22}\nreadings: {suction pressure: 70 psig}\n")
    assert (code, out[:7]) == (0, "Lesson:")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (
            ["lesson", "low-chrage"],
            "`low-chrage` is neither a fault of this rule book nor a visit file\n      Did you mean",
        ),
        (["lesson", "wombat"], "Faults: "),
        (["lesson", "nowhere/visit.yaml"], "nowhere/visit.yaml"),
        (["glossary", "-o", "/no/such/folder/x.html"], "cannot be written"),
    ],
)
def test_mistakes_are_told(arguments: list[str], says: str) -> None:
    err = run(*arguments).refused()
    assert says in err


def test_a_file_is_written_as_its_name_says(tmp_path: Path) -> None:
    for name, begins in (("a.html", "<!doctype html>"), ("a.md", "# Lesson"), ("a.json", "{"), ("a.txt", "Lesson")):
        code, out, _ = run("lesson", "overcharge", "-o", str(tmp_path / name))
        assert (code, out.startswith("Written: ")) == (0, True)
        assert (tmp_path / name).read_text(encoding="utf-8").startswith(begins)
    assert run("five-questions", "--as", "markdown")[1].startswith("# Five questions")


LESSON_MISTAKES = [
    ("{place: condensor, what: x.}", "{quantity: superheat, moves: up, why: x.}", "place"),
    ("{place: condenser, what: x.}", "{quantity: superheet, moves: up, why: x.}", "`superheet` is neither a quantity"),
    ("{place: condenser, what: x.}", "{quantity: superheat, moves: sideways, why: x.}", "moves"),
    ("{place: condenser, what: x.}", "{quantity: superheat, applies: {metering: tube}, moves: up, why: x.}", "`tube`"),
]


def own_fault(folder: Path, lesson: str) -> Path:
    own = folder / "harbour-cooling"
    (own / "faults").mkdir(parents=True)
    (own / "faults" / "harbour-cooling-salt.yaml").write_text(
        "fault: harbour-cooling-salt\nname: Salt\nusual: 0\nusual_source: common-practice\nwhat: Salt.\n"
        f"{lesson}rules:\n  - id: harbour-cooling-salt/hot\n    title: Hot\n    when: {{condensing over ambient: high}}\n"
        "    points: 1\n    why: Hot.\n    source: common-practice\n    tests:\n"
        "      - fires: {condensing over ambient: high}\n      - quiet: {condensing over ambient: low}\n",
        encoding="utf-8",
    )
    return own


@pytest.mark.parametrize(("story", "reading", "says"), LESSON_MISTAKES)
def test_a_mistake_in_a_lesson_is_told_with_its_place(tmp_path: Path, story: str, reading: str, says: str) -> None:
    lesson = (
        f"lesson:\n  source: common-practice\n  story: [{story}]\n  readings: [{reading}]\n"
        "  confirm: [look]\n  questions: [{ask: a, answer: b}]\n"
    )
    err = run("rules", "check", str(own_fault(tmp_path, lesson))).refused()
    assert says in err
    assert re.search(r"faults/harbour-cooling-salt\.yaml:[89]:\d+: ", err)


def test_a_companys_fault_needs_no_lesson(tmp_path: Path) -> None:
    out = run("lesson", "harbour-cooling-salt", "--rules", str(own_fault(tmp_path, ""))).clean()
    assert "Nobody has written its lesson yet" in out
    assert "This fault is from the folder harbour-cooling" in out
