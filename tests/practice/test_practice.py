"""Practice visits: drawn, sealed, asked about, answered once, judged by the hidden truth."""

from __future__ import annotations

import base64
import re
from functools import cache, partial
from pathlib import Path
from typing import Any

import commands
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shared import exercise as made
from webpages import Page
from work import THOROUGH

from diagnose import Diagnosis, examine, units
from diagnose.practice.asking import ask, find_action, minutes_of, opened, playable
from diagnose.practice.exercise import BASIC, FEW, GAVE_UP, Exercise, new
from diagnose.practice.feedback import judged, name_of
from diagnose.practice.files import SealBroken, as_file, read_exercise, rewritten, seal, unseal, write
from diagnose.practice.judging import (
    CALLED,
    DOES,
    PROVED_BY,
    SETTLED,
    harmful,
    is_right,
    is_settled,
    known_answer,
    quickest,
    share_of_truth,
    true_charge,
)
from diagnose.practice.reasons import weigh
from diagnose.practice.scenario import COMPLAINTS, SHOPS, SWAPS, place_and_complaint, seen_at
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.simulator import FAULTS, draw
from diagnose.visit import VisitError, visit_from
from diagnose.visit.fields import INSTRUMENTS, READINGS
from diagnose.yamlfile import InputProblems


@cache
def with_slip() -> Exercise:
    """A hard visit with readings taken for one another; an eighth of them has one."""
    return next(one for seed in range(7, 200) if (one := made(seed, None, True)).slip)


def put(exercise: Exercise, folder: Path, name: str = "visit.yaml") -> Path:
    path = folder / name
    path.write_text(as_file(exercise), encoding="utf-8")
    return path


run = partial(commands.run, "practice")


# -- the seal ------------------------------------------------------------------------------------------------------

answers = st.dictionaries(st.text(max_size=8), st.text(max_size=20) | st.integers() | st.none(), max_size=6)


@given(answers)
def test_what_is_sealed_comes_out_as_it_was(answer: dict[str, Any]) -> None:
    assert unseal(seal(answer)) == answer
    assert unseal("\n   ".join(re.findall(".{1,9}", seal(answer)))) == answer


@given(st.data())
def test_a_changed_letter_is_noticed(data: st.DataObject) -> None:
    sealed = seal({"truth": "low-charge", "seed": 7})
    # The last letters before the padding hold spare bits, which carry nothing.
    place = data.draw(st.integers(0, len(sealed.rstrip("=")) - 2))
    letter = data.draw(
        st.sampled_from("abcdefghijklmnopqrstuvwxyz0123456789 é").filter(lambda one: one != sealed[place])
    )
    with pytest.raises(SealBroken):
        unseal(sealed[:place] + letter + sealed[place + 1 :])


@pytest.mark.parametrize("text", ["", "abc", "====", "low-charge", base64.b64encode(b"x" * 40).decode()])
def test_what_was_never_sealed_is_refused(text: str) -> None:
    with pytest.raises(SealBroken):
        unseal(text)


@pytest.mark.parametrize("fault", FAULTS)
def test_the_answer_cannot_be_read_from_the_file_by_accident(fault: str, book: Rulebook) -> None:
    exercise = made(3, fault)
    head, text = as_file(exercise).split("\nmachine:", 1)
    assert head.count("low-charge") == 1  # the example of an answer, whatever the truth is
    letters = "".join(text.split("sealed: >", 1)[1].split())
    plainly = base64.b64decode(letters)
    for word in (fault, book.faults[fault].name, "truth", "seed", "size"):
        for where in (text.lower(), letters.lower(), text[::-1].lower(), plainly.decode("latin-1").lower()):
            assert word.lower() not in where
    hidden = {text for name, text in exercise.readings.items() if name not in exercise.given}
    assert not (hidden - set(exercise.visit()["readings"].values())) & set(re.split(r": |\n *", text))


# -- the street ----------------------------------------------------------------------------------------------------


def test_no_complaint_gives_a_fault_away_and_every_fault_has_several(book: Rulebook) -> None:
    """Common practice, no source: what customers say seldom tells one fault from another."""
    for complaint in COMPLAINTS:
        assert len(set(complaint.faults)) >= 4
        assert set(complaint.faults) <= set(FAULTS)
        for fault in FAULTS:
            assert book.faults[fault].name.lower() not in complaint.text.lower()
    for fault in FAULTS:
        assert sum(fault in complaint.faults for complaint in COMPLAINTS) >= 3


def test_a_complaint_is_one_of_those_of_its_fault() -> None:
    import random

    for seed in range(200):
        fault = FAULTS[seed % len(FAULTS)]
        place, text = place_and_complaint(random.Random(seed), fault)
        shop, room = place.split(", ")
        who, rooms = SHOPS[shop]
        assert room in rooms
        assert text in [one.text.format(who=who) for one in COMPLAINTS if fault in one.faults]


GOOD = {
    "air filter": "clean", "indoor coil": "clean", "indoor coil ice": "none", "blower": "normal", "registers": "open",
    "outdoor coil": "clean", "outdoor fan": "normal", "hot air return": "none", "oil stains": "none",
    "filter drier": "even", "sensing bulb": "tight and insulated", "charge changed": "no", "recent opening": "no",
}  # fmt: skip


@pytest.mark.parametrize(
    ("fault", "where"),
    [
        ("low-indoor-airflow", {"air filter", "indoor coil", "blower", "registers"}),
        ("low-outdoor-airflow", {"outdoor coil", "outdoor fan"}),
        ("non-condensables", {"recent opening"}),
        ("overcharge", {"charge changed"}),
        ("low-charge", {"oil stains", "charge changed", "indoor coil ice"}),
        ("nothing-wrong", set()),
        ("weak-compressor", set()),
    ],
)
def test_a_look_shows_the_cause_where_it_can_be_seen_and_nothing_else(
    fault: str, where: set[str], book: Rulebook
) -> None:
    import random

    shown = set()
    cases = [draw(5, place, faults=(fault,)) for place in range(2)]
    for place in range(10):
        seen = seen_at(cases[place % 2], random.Random(place), strays=False)
        odd = {name for name, word in seen.items() if name in GOOD and word != GOOD[name]}
        assert odd <= where
        assert len(odd) <= 1
        shown |= odd
        assert all(word in book.seen[name].words for name, word in seen.items())
    assert bool(shown) == bool(where)


def test_bubbles_and_a_cold_drier_follow_the_simulated_line() -> None:
    import random

    colder = 0
    for place in range(16):
        case = draw(6, place, faults=("liquid-line-restriction",))
        seen = seen_at(case, random.Random(1), strays=False)
        drop = (case.state.liquid_temperature - case.state.drier_outlet_temperature) * 1.8
        assert (seen["filter drier"] != "even") == (drop > 3.0)
        colder += drop > 3.0
        if case.state.condenser_outlet_quality > 0.01:
            assert seen["sight glass"] == "bubbles"
    assert colder > 3


# -- drawing one ---------------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_visit(book: Rulebook) -> None:
    for hard in (False, True):
        assert as_file(new(11, book, hard=hard)) == as_file(new(11, book, hard=hard))
    assert as_file(new(11, book)) != as_file(new(12, book))


@pytest.mark.parametrize(("fault", "hard"), [(fault, place % 2 == 1) for place, fault in enumerate(FAULTS)])
def test_a_named_fault_is_the_hidden_one(fault: str, hard: bool, book: Rulebook) -> None:
    exercise = made(3, fault, hard)
    assert exercise.truths == (fault,)
    assert not exercise.slip
    assert (exercise.size == 0) == (fault == "nothing-wrong")


def test_what_the_program_cannot_find_with_everything_is_not_asked(book: Rulebook) -> None:
    found = 0
    for fault in FAULTS:
        exercise = made(3, fault)
        d = examine(exercise.visit(exercise.everything), book)
        found += bool(d.faults) and d.faults[0].fault == fault
    assert found >= len(FAULTS) - 1


def test_readings_lie_about_the_true_values_as_the_instruments_say() -> None:
    """Limits of error hold 95 of 100 readings: of some hundred readings none is off by three times its limit."""
    off = []
    for fault in FAULTS:
        exercise = made(3, fault)
        for name, text in exercise.readings.items():
            kind, instrument = READINGS[name].kind, INSTRUMENTS[READINGS[name].instrument]
            read, true = units.parse(text, kind).value, units.parse(exercise.true[name], kind).value
            off.append(abs(read - true) / max(instrument.share * abs(true) + instrument.fixed, instrument.least))
    assert max(off) < 3
    assert sum(one < 1 for one in off) / len(off) > 0.85


def test_easy_visits_give_the_basic_readings_and_hard_ones_few_or_basic(book: Rulebook) -> None:
    assert {made(seed).given for seed in range(4)} == {BASIC}
    assert {made(seed, None, True).given for seed in range(6)} == {BASIC, FEW}
    assert new(1, book, readings="few").given == FEW
    assert not made(2).hard


def test_a_slip_exchanges_two_readings_and_the_program_notices(book: Rulebook) -> None:
    exercise = with_slip()
    assert tuple(exercise.slip) in SWAPS
    one, other = exercise.slip
    assert (exercise.slip[one], exercise.slip[other]) == (exercise.readings[other], exercise.readings[one])
    d, right = examine(exercise.visit(), book), examine(exercise.visit((one, other)), book)
    doubted, anyway = ({doubt.reason.code for doubt in each.doubts} for each in (d, right))
    assert doubted - anyway or d.status == "not ready"
    assert exercise.visit((one, other))["readings"][one] == exercise.readings[one]


def test_an_unknown_fault_is_told(book: Rulebook) -> None:
    with pytest.raises(InputProblems, match="Did you mean `low-charge`"):
        new(1, book, "low-charg")


# -- the file ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_file_is_read_back_as_it_was_made(seed: int, tmp_path: Path) -> None:
    exercise = made(seed, None, seed == 3)
    sitting = read_exercise(put(exercise, tmp_path))
    assert sitting.exercise == exercise
    assert (sitting.asked, sitting.answered) == ((), None)


def test_examine_reads_the_visit_and_leaves_the_block_alone(book: Rulebook, tmp_path: Path) -> None:
    exercise = made(2)
    whole = examine(put(exercise, tmp_path), book).to_dict()
    assert whole == examine(exercise.visit(), book).to_dict()
    with pytest.raises(VisitError, match="`practice` must be a list"):
        visit_from({**exercise.visit(), "practice": 3})


def test_what_the_apprentice_wrote_is_kept(book: Rulebook, tmp_path: Path) -> None:
    path = put(made(2), tmp_path)
    text = path.read_text(encoding="utf-8").replace("readings:\n", "readings:   # mine\n  # by the pond\n")
    path.write_text(text + "# at the end\n", encoding="utf-8")
    _, after = ask(read_exercise(path), ["outdoor coil", "airflow"], book)
    write(read_exercise(path), after)
    assert "readings:   # mine\n  # by the pond\n" in after
    sitting = read_exercise(path)
    assert sitting.asked == ("outdoor coil", "airflow")
    assert sitting.document.data["readings"]["airflow"] == made(2).readings["airflow"]
    assert sitting.document.data["seen"] == {"outdoor coil": made(2).seen["outdoor coil"]}
    assert examine(path, book).to_dict() == examine(made(2).visit(("outdoor coil", "airflow")), book).to_dict()


@pytest.mark.parametrize("layout", ["flow", "block first", "windows", "no readings"])
def test_other_layouts_lose_nothing(layout: str, book: Rulebook, tmp_path: Path) -> None:
    exercise, path = made(2), put(made(2), tmp_path)
    text = path.read_text(encoding="utf-8")
    if layout == "flow":
        visit = exercise.visit()
        flow = ", ".join(f"{name}: {value}" for name, value in visit["readings"].items())
        text = re.sub(r"readings:\n(  .*\n)+", f"readings: {{{flow}}}\n", text)
    elif layout == "block first":
        head, block = text.split("practice:\n")
        text = f"practice:\n{block}{head}"
    elif layout == "windows":
        text = text.replace("\n", "\r\n")
    else:
        text = re.sub(r"readings:\n(  .*\n)+", "", text)
    path.write_bytes(text.encode())
    _, after = ask(read_exercise(path), ["airflow"], book)
    write(read_exercise(path), after)
    sitting = read_exercise(path)
    assert sitting.exercise == exercise
    assert sitting.document.data["machine"] == exercise.visit()["machine"]
    assert sitting.document.data["readings"] == exercise.visit(("airflow",))["readings"]


def test_a_damaged_seal_and_other_mistakes_are_told_with_their_place(tmp_path: Path) -> None:
    path = put(made(2), tmp_path)
    text = path.read_text(encoding="utf-8")
    line = text[: text.index("sealed:")].count("\n") + 1
    first = re.search(r"sealed: >\n    (\S)", text)
    for bad, message in (
        (
            text[: first.start(1)] + ("A" if first[1] != "A" else "B") + text[first.end(1) :],
            "the sealed answer is damaged",
        ),
        (text.replace("sealed: >", "sealed: gone\n  x: >"), "`x` is not a part of a practice visit"),
        (re.sub(r"sealed: >\n(    .*\n)+", "sealed:\n", text), "the sealed answer is missing"),
        (text.replace("asked: []", "asked: 3"), "`asked` must be a list of names"),
        (text.replace("asked: []", "answered: 3"), "`answered` must hold"),
        (text.split("practice:")[0], "this is not a practice visit"),
    ):
        path.write_text(bad, encoding="utf-8")
        err = run("answer", path, "low-charge").refused()
        assert message in err
        assert path.read_text(encoding="utf-8") == bad
    path.write_text(text[: first.start(1)] + "!" + text[first.end(1) :], encoding="utf-8")
    assert f"visit.yaml:{line}:" in run("ask", path, "airflow")[2]


def test_a_file_that_may_not_be_written_is_told(tmp_path: Path) -> None:
    sitting = read_exercise(put(made(2), tmp_path))
    sitting.path.unlink()
    with pytest.raises(InputProblems, match="cannot be written"):
        write(sitting, "x")
    assert list(tmp_path.iterdir()) == []


# -- asking --------------------------------------------------------------------------------------------------------


def test_a_reading_is_the_same_whenever_it_is_asked(book: Rulebook, tmp_path: Path) -> None:
    one, other = put(made(4), tmp_path, "one.yaml"), put(made(4), tmp_path, "other.yaml")
    for names, path in ((["airflow", "coil outlet temperature"], one), (["clamp-the-coil-outlet", "airflow"], other)):
        for name in names:
            sitting = read_exercise(path)
            write(sitting, ask(sitting, [name], book)[1])
    shown = [read_exercise(path).document.data["readings"] for path in (one, other)]
    assert shown[0] == shown[1]
    assert shown[0]["airflow"] == made(4).readings["airflow"]


def test_everything_that_is_listed_can_be_asked_and_brings_what_it_says(book: Rulebook, tmp_path: Path) -> None:
    exercise = made(4)
    for action in playable(exercise, book)[:: 1 if THOROUGH else 8]:
        told, text = ask(read_exercise(put(exercise, tmp_path)), [action.name], book)
        assert [name for name, _, _ in told[0].lines] == list(action.names)
        assert told[0].minutes == action.minutes
        assert 0 < action.minutes < 120
        path = tmp_path / "after.yaml"
        path.write_text(text, encoding="utf-8")
        once, again = examine(path, book), examine(exercise.visit(action.names), book)
        assert (once.findings, once.faults, once.charge) == (again.findings, again.faults, again.charge)
    everything = {name for action in playable(exercise, book) for name in action.names}
    assert everything == set(exercise.everything)


def test_minutes_are_counted_once_for_the_readings_of_one_check(book: Rulebook) -> None:
    exercise = made(4)
    both = minutes_of(exercise, ["drier inlet temperature", "drier outlet temperature"], book)
    assert both == minutes_of(exercise, ["drier inlet temperature"], book) == book.checks["clamp-the-drier"].minutes
    assert minutes_of(exercise, ["clamp-the-drier", "drier inlet temperature", "filter drier"], book) == both
    assert (
        minutes_of(exercise, ["clamp-the-drier", "rest-and-read"], book) == both + book.checks["rest-and-read"].minutes
    )
    assert minutes_of(exercise, [], book) == 0
    wick, air = (minutes_of(exercise, [name], book) for name in ("supply air wet bulb", "airflow"))
    assert wick == minutes_of(exercise, ["supply air dry bulb"], book)  # one thermometer as the other
    assert wick + air == book.checks["measure-the-capacity"].minutes


def test_what_is_known_costs_nothing_and_a_slip_is_found_by_asking_again(book: Rulebook, tmp_path: Path) -> None:
    exercise = with_slip()
    path = put(exercise, tmp_path)
    name = next(iter(exercise.slip))
    assert read_exercise(path).document.data["readings"][name] == exercise.slip[name]
    assert "taken again: it was written down as" in run("ask", path, name)[1]
    assert read_exercise(path).document.data["readings"][name] == exercise.readings[name]
    out = run("ask", path, name).fine()
    assert "known already" in out
    assert "0 minutes for" in out
    assert read_exercise(path).asked == (name,)
    right = next(given for given in exercise.given if given not in exercise.slip)
    assert "taken again, as before" in run("ask", path, right)[1]


def test_what_cannot_be_asked_is_told_with_the_nearest(book: Rulebook, tmp_path: Path) -> None:
    path = put(made(4), tmp_path)
    before = path.read_text(encoding="utf-8")
    err = run("ask", path, "airflw", "external static pressure", "airflow").refused()
    assert "`airflw` cannot be asked" in err
    assert "Did you mean `airflow`" in err
    assert "`external static pressure` is not available on this machine" in err
    assert path.read_text(encoding="utf-8") == before
    assert find_action("Clamp the drier", made(4), book).name == "clamp-the-drier"
    assert find_action("condenser", made(4), book).name == "condenser leaving air temperature"
    assert find_action("the drier", made(4), book).name == "clamp-the-drier"
    assert find_action("look at the air filter", made(4), book).name == "air filter"
    for vague in ("the", "measure", "look at it", ""):
        with pytest.raises(InputProblems):
            find_action(vague, made(4), book)


def test_a_fault_may_be_called_as_the_trade_calls_it(book: Rulebook) -> None:
    assert set(CALLED.values()) <= set(FAULTS)
    assert {known_answer(word, book) for word in ("Undercharged", "low charge", "low-charge")} == {"low-charge"}
    assert known_answer("air in the system", book) == "non-condensables"
    with pytest.raises(InputProblems):
        known_answer("compressor", book)  # weak, or not running?


def test_no_check_of_the_other_mode_is_offered(book: Rulebook) -> None:
    cools, heats = ({a.name for a in playable(new(3, book, mode=mode), book)} for mode in ("cooling", "heating"))
    assert {"measure-condensing", "measure-the-split"} <= cools - heats
    assert {"measure-the-indoor-coil", "gauge-the-vapor-line", "clamp-the-suction-tubes"} <= heats - cools


def test_an_orifice_machine_has_no_bulb(book: Rulebook) -> None:
    kinds = {made(seed).machine["metering"]: made(seed) for seed in range(8)}
    names = {metering: {a.name for a in playable(one, book)} for metering, one in kinds.items()}
    assert "sensing bulb" in names["TXV"]
    assert "sensing bulb" not in names["fixed orifice"]
    assert "check-the-bulb" not in names["fixed orifice"]


# -- judging -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "charge"),
    [(fault, {"low-charge": "low", "overcharge": "high"}.get(fault, "right")) for fault in FAULTS],
)
def test_adding_or_removing_without_need_is_harmful(fault: str, charge: str, book: Rulebook) -> None:
    """The same count of harm as `diagnose cases run`: to add though it is not low, to remove though it is not high."""
    exercise = made(3, fault)
    assert true_charge(exercise, book) == charge
    harm = {decision for decision in DOES if harmful(exercise, decision, book)}
    assert harm == {"low", "high"} - {charge}


def test_an_answer_without_a_decision_asks_for_what_its_fault_asks_for(book: Rulebook, tmp_path: Path) -> None:
    sitting = read_exercise(put(made(3, "liquid-line-restriction"), tmp_path))
    added = judged(sitting.exercise, sitting.asked, "low-charge", book)
    assert (added.right, added.decision, added.harmful) == (False, "low", True)
    left = judged(sitting.exercise, sitting.asked, "low-charge", book, "leave")
    assert (left.decision, left.harmful) == ("leave", False)
    right = judged(sitting.exercise, sitting.asked, "liquid-line-restriction", book)
    assert (right.right, right.decision, right.harmful) == (True, "leave", False)


def test_bad_visit_is_right_only_while_the_slip_stands(book: Rulebook) -> None:
    exercise = with_slip()
    assert is_right(exercise, BAD_VISIT, ())
    assert is_right(exercise, BAD_VISIT, tuple(exercise.slip)[:1])
    assert not is_right(exercise, BAD_VISIT, tuple(exercise.slip))
    assert is_right(exercise, exercise.truth, ())
    assert not is_right(made(3), BAD_VISIT, ())


@pytest.mark.parametrize("fault", FAULTS[:: 1 if THOROUGH else 3])
def test_the_advised_questions_do_what_is_said_of_them(fault: str, book: Rulebook) -> None:
    exercise = made(3, fault, True)
    found = quickest(exercise, book)
    steps = found.steps
    first = examine(exercise.judged(()), book)
    assert (found.begin, found.begun) == (share_of_truth(first, exercise), is_settled(first, exercise))
    assert not (found.begun and steps)
    had = opened(exercise, [step.action.name for step in steps], book)
    d = examine(exercise.judged(had), book)
    assert found.settled == is_settled(d, exercise)
    assert not found.settled or share_of_truth(d, exercise) >= SETTLED
    if steps:
        assert sum(f.share for f in d.faults if f.fault == fault) == pytest.approx(steps[-1].share)
        assert sum(step.minutes for step in steps) == minutes_of(exercise, [s.action.name for s in steps], book)
    if len(steps) == 1 and found.settled:
        for action in playable(exercise, book):
            if minutes_of(exercise, [action.name], book) < steps[0].minutes:
                shown = opened(exercise, [action.name], book)
                assert not is_settled(examine(exercise.judged(shown), book), exercise)


def test_what_gauges_never_prove_is_not_settled_by_them(book: Rulebook) -> None:
    """However sure they seem: only the liquid line tells a restriction from the device, only rest or history shows air."""
    assert SETTLED >= 0.9
    proof = {"drier inlet temperature", "drier outlet temperature", "metering inlet temperature",
             "standing pressure", "standing air temperature", "recent opening"}  # fmt: skip
    for fault in PROVED_BY:
        hard_or_not = [made(3, fault, hard) for hard in (False, True)]
        heats = [new(1001, book, fault, mode="heating")] if fault == "non-condensables" else []  # 0.99 by its gauges
        for exercise in (*hard_or_not, *heats):
            d = examine(exercise.judged([n for n in exercise.everything if n not in proof]), book)
            assert not is_settled(d, exercise)


def clauses(because: str, d: Diagnosis) -> list[str]:
    """What is said of each clause that names a finding and a word."""
    lines = weigh(because, "low-charge", d).lines
    return [line for line in lines if line.startswith(("Right: ", "Wrong: ", "You rely on"))]


def test_where_the_reason_leaves_the_figures(book: Rulebook) -> None:
    exercise = made(3, "low-charge")
    d = examine(exercise.visit(), book)
    told = clauses("Superheat is LOW, subcooling is too high; air filter is dirty and it is warm.", d)
    assert len(told) == 3
    assert {d.findings["superheat"].word, d.findings["subcooling"].word} <= {
        "high",
        "very high",
        "low",
        "very low",
        "normal",
    }
    assert told[0].startswith("Wrong: the superheat is ")
    assert told[1].startswith("Wrong: the subcooling is ")
    assert told[2] == "You rely on the air filter, which nobody had checked."
    word = d.findings["subcooling"].word
    assert clauses(f"the subcooling was {word}", d)[0].startswith("Right: the subcooling is ")
    high = word in ("high", "very high")
    told = clauses("subcooling is not high, nothing else", d)
    assert told[0].startswith("Wrong: the subcooling is " if high else "Right: the subcooling is ")
    assert len(told) == 1
    assert clauses("", d) == []


# -- the commands --------------------------------------------------------------------------------------------------


def test_from_a_new_visit_to_the_lesson(tmp_path: Path, book: Rulebook) -> None:
    path, table = tmp_path / "visit.yaml", tmp_path / "class.csv"
    out = run("new", "--fault", "liquid-line-restriction", "--seed", 8, "-o", path).fine()
    assert "liquid-line" not in out
    assert "restriction" not in out
    assert run("new", "--fault", "liquid-line-restriction", "--seed", 8)[1] == path.read_text(encoding="utf-8")
    assert "clamp-the-drier" in run("ask", path, "--list")[1]
    assert "drier outlet temperature: " in run("ask", path, "clamp-the-drier")[1]
    code, out, err = run(
        "answer", path, "low-charge", "--because", "subcooling is low", "--name", "Ann", "--results", table
    )
    assert (code, err) == (0, "")
    assert out.startswith("Wrong. The fault: liquid line restriction.\n")
    for heading in (
        "Evidence against your answer", "Your reason, checked against the figures", "What would have settled it sooner",
        "What was hidden", "The repair",
    ):  # fmt: skip
        assert f"\n{heading}\n" in out
    assert "this would do harm" in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80
    after = path.read_text(encoding="utf-8")
    for again in (("answer", path, "liquid-line-restriction"), ("ask", path, "airflow")):
        err = run(*again).refused()
        assert "already" in err
    out = run("reveal", path).fine()
    assert out.startswith("Wrong. The fault: liquid line restriction.\n")
    assert "Your reason, checked against the figures" in out
    assert path.read_text(encoding="utf-8") == after
    rows = table.read_text(encoding="utf-8").splitlines()
    assert rows[0] == "when,name,file,seed,truth,answer,right,asked,minutes,charge,harmful,reason"
    assert len(rows) == 2
    assert re.fullmatch(
        r"\d{4}-\d\d-\d\d,Ann,visit.yaml,8,liquid-line-restriction,low-charge,no,1,5,low,yes,weak", rows[1]
    )


@pytest.mark.parametrize("fault", FAULTS[:: 1 if THOROUGH else 3])
def test_a_right_answer_is_right_and_reads_to_the_end(fault: str, tmp_path: Path, book: Rulebook) -> None:
    path = put(made(3, fault, True), tmp_path)
    out = run("answer", path, book.faults[fault].name).fine()
    assert out.startswith("Right: ")
    assert max(map(len, out.splitlines())) <= 80
    assert "does harm" not in out
    assert read_exercise(path).answered["fault"] == fault


def test_opening_without_an_answer_counts_as_given_up(tmp_path: Path) -> None:
    path, table = put(made(3), tmp_path), tmp_path / "class.csv"
    out = run("reveal", path, "--name", "Cleo", "--results", table).fine()
    assert out.startswith("Opened without an answer. The fault: ")
    assert read_exercise(path).answered["fault"] == GAVE_UP
    assert f",{GAVE_UP},no,0,0," in table.read_text(encoding="utf-8")
    assert run("answer", path, made(3).truth)[0] == 2


def test_either_of_two_faults_is_right_and_the_other_is_told(tmp_path: Path, book: Rulebook) -> None:
    two = next(one for seed in range(12, 200) if (one := made(seed, None, True)).also)
    sitting = read_exercise(put(two, tmp_path))
    for answer, other in (two.truths, reversed(two.truths)):
        found = judged(sitting.exercise, sitting.asked, answer, book)
        assert found.right
        told = found.blocks[0].text
        assert told.startswith("Right: ")
        assert told.endswith(f"There is a second fault: {name_of(other, book)}.")
    assert not judged(sitting.exercise, sitting.asked, "nothing-wrong", book).right


def test_nothing_is_changed_where_anything_cannot_be_done(tmp_path: Path) -> None:
    path, table = put(made(3), tmp_path), tmp_path / "class.csv"
    before = path.read_text(encoding="utf-8")
    table.write_text("a,b\n1,2\n", encoding="utf-8")
    for words, message in (
        (("--results", table, "--name", "Ann"), "the table lacks when"),
        (("--results", tmp_path / "new.csv"), "nobody is named for the table"),
        (("--results", tmp_path / "none" / "x.csv", "--name", "Ann"), "cannot be written"),
        (("-o", table), "there is a file of this name already"),
    ):
        err = run("answer", path, "low-charge", *words).refused()
        assert message in err
        assert path.read_text(encoding="utf-8") == before
    assert not (tmp_path / "new.csv").exists()
    err = run("answer", path, "lowcharge").refused()
    assert "Did you mean `low-charge`?" in err


@pytest.mark.parametrize("reason", ["it's: {so} #1", "a\x07b", "é\ud800", "'", "- x", "null"])
def test_any_reason_can_be_kept(reason: str, tmp_path: Path, book: Rulebook) -> None:
    path = put(made(3), tmp_path)
    assert run("answer", path, "low-charge", "--because", reason)[0] == 0
    kept = read_exercise(path).answered["because"]
    assert kept == " ".join("".join(c if c.isprintable() else " " for c in reason).split())


def test_the_lesson_as_a_page(tmp_path: Path) -> None:
    path, html, words = put(made(3, "overcharge"), tmp_path), tmp_path / "lesson.html", tmp_path / "lesson.md"
    assert run("answer", path, "non-condensables", "--as", "html", "-o", html)[0] == 0
    page = Page(html.read_text(encoding="utf-8"))
    assert page.headings.count(1) == 1
    assert "Wrong. The fault: refrigerant overcharge." in page.said
    assert not {tag for tag, _ in page.tags} & {"script", "link", "iframe", "form"}
    assert run("reveal", path, "--as", "markdown", "-o", words)[0] == 0
    assert words.read_text(encoding="utf-8").startswith("# Wrong. The fault: refrigerant overcharge.\n")


def test_units_of_the_lesson(tmp_path: Path) -> None:
    assert " K " in run("answer", put(made(3, "low-charge"), tmp_path), "overcharge", "--units", "si")[1]


def test_a_rewritten_answer_block_reads_back(book: Rulebook, tmp_path: Path) -> None:
    sitting = read_exercise(put(made(5), tmp_path))
    said = {"fault": "low-charge", "on": "2026-05-01", "because": "it's cold: 10 %"}
    write(sitting, rewritten(sitting, (), (), said))
    assert read_exercise(sitting.path).answered == said
