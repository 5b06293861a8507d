"""What a learner gives as the reason: every clause answered, classic errors named, a right answer on a wrong reason told."""

from __future__ import annotations

import random
from collections import Counter
from functools import cache

import pytest
from shared import DEMO
from shared import exercise as made

from diagnose import Diagnosis, Rulebook, examine
from diagnose.practice.feedback import judged
from diagnose.practice.reasons import ALIASES, CLASSIC, IN_HEATING, weigh
from diagnose.practice.scenario import CLEAN, STRAYS, plausible, seen_at
from diagnose.simulator import FAULTS, draw

STARVED = {
    "machine": {"refrigerant": "R-410A", "metering": "fixed orifice", "SEER": 14},
    "readings": {
        "minutes running": 20, "suction pressure": "105 psig", "liquid pressure": "270 psig",
        "suction line temperature": "66 F", "liquid line temperature": "90 F", "outdoor air temperature": "80 F",
        "return air dry bulb": "75 F", "return air wet bulb": "63 F", "supply air dry bulb": "60 F",
    },
    "seen": {"oil stains": "present"},
}  # fmt: skip


@cache
def starved() -> Diagnosis:
    return examine(STARVED)


@pytest.mark.parametrize(
    ("reason", "says"),
    [
        ("Suction is low so refrigerant is missing", "Right: the evaporator temperature difference is"),
        ("suction low, therefore undercharged", "A classic error: “Suction is low, so refrigerant is missing”."),
        ("SH is high and SC is low", "Right: the superheat is"),
        ("superheat is not high", "Wrong: the superheat is"),
        ("superheat isn't low", "Right: the superheat is"),
        ("the oil at the joint", "A classic error: “There is oil, so it leaks”."),
        ("because my gut says so", "Not understood: “my gut says”."),
        ("superheat is funny", "Say one of these of the superheat:"),
        ("current is low", "You rely on the compressor current, which nobody had checked."),
        ("head pressure is high", "Wrong: the condensing over ambient is"),
        ("Überhitzung ist hoch", "Not understood: “überhitzung ist hoch”."),
        ("superheat is high; subcooling is 2.5 F", "which is very low, not as you say."),
        ("there is nothing wrong with the superheat", "No figure stands in your reason."),
        ("subcooling is gone", "Right: the subcooling is"),
        ("subcooling is −1 F", "Right: the subcooling is"),
        ("superheat is 18 K", "Right: the superheat is"),
        ("superheat is 18", "which is very high, not as you say."),
        ("?!", "No figure stands in your reason."),
        ("superheat", "Say one of these of the superheat:"),
        ("high", "Not understood: “high”."),
        ("nobody knows", "Not understood: “nobody knows”."),
        ("superheat high superheat low", "the superheat is"),
    ],
)
def test_every_clause_is_answered(reason: str, says: str) -> None:
    told = weigh(reason, "low-charge", starved()).lines
    assert any(says in line for line in told), told


def test_a_bulb_of_a_thermometer_is_not_the_valve_s() -> None:
    assert not any("sensing bulb" in line for line in weigh("wet bulb above dry bulb", "bad visit", starved()).lines)


def test_a_reason_is_sound_or_not() -> None:
    d = starved()
    sound = {
        "superheat is high and subcooling is low": True,
        "superheat is high": False,  # one sign, which a restriction makes as well
        "superheat is low": False,
        "subcooling is low, suction is low": True,
        "the filter is dirty": False,
        "": None,
    }
    assert {reason: weigh(reason, "low-charge", d).sound for reason in sound} == sound
    assert weigh("superheat is high and subcooling is low", "overcharge", d).sound is False


@pytest.mark.parametrize(
    ("case", "answer", "reason"),
    [
        ("low-charge-orifice", "low-charge", "SH is 14 degrees over target, SC only 2"),
        ("low-charge-orifice", "low-charge", "both pressures are low and the suction line is far too warm"),
        ("low-charge-orifice", "low-charge", "superheat is way up and hardly any subcooling is left"),
        ("low-indoor-airflow-txv", "low-indoor-airflow", "the supply air is too cold"),
        ("low-indoor-airflow-txv", "low-indoor-airflow", "delta T is 26 F instead of 19"),
        ("low-outdoor-airflow-orifice", "low-outdoor-airflow", "it condenses 35 degrees over ambient"),
        ("weak-compressor-orifice", "weak-compressor", "the pressures are too close together"),
        ("weak-compressor-orifice", "weak-compressor", "both pressures are too close"),
        ("weak-compressor-orifice", "weak-compressor", "low pressure too high, high pressure too low"),
        ("non-condensables-orifice", "non-condensables", "the standing pressure is too high"),
        ("metering-overfeeding-txv", "metering-overfeeding", "no superheat"),
        ("heating-defrost-board", "defrost-fault", "there is thick frost outside"),
        ("nothing-wrong-txv", "nothing-wrong", "superheat and subcooling are both normal"),
    ],
)
def test_a_true_reason_in_other_words_counts(case: str, answer: str, reason: str) -> None:
    assert weigh(reason, answer, examine(DEMO / f"{case}.yaml")).sound is True


def test_what_is_not_understood_is_not_held_against_anybody() -> None:
    """Neither as no reason, nor as the one sign of a classic error beside it; what is false is told all the same."""
    d = starved()
    for reason in ("the evaporator lacks liquid", "superheat is high, and the liquid runs out"):
        found = weigh(reason, "low-charge", d)
        assert found.sound is None
        assert not any("classic error" in line for line in found.lines)
    assert (
        weigh("the liquid runs out", "low-charge", d).lines[-1] == "What is not understood does not count against you."
    )
    assert weigh("superheat is low, and the liquid runs out", "low-charge", d).sound is False


def test_classic_errors_name_findings_of_the_book(book: Rulebook) -> None:
    for error in CLASSIC:
        entry = book.findings[error.finding]
        assert error.side in ("high", "low") or error.side in entry.words
        assert set(error.concluded) <= set(book.faults)
    for name, _ in (*ALIASES.values(), *IN_HEATING.values()):
        assert name in book.findings, name


def test_a_right_answer_for_the_wrong_reason_is_told(book: Rulebook) -> None:
    one = made(3, "low-charge")
    lucky = judged(one, (), "low-charge", book, because="suction is low so refrigerant is missing")
    assert lucky.right
    assert lucky.sound is False
    assert any("The answer is right, but the reason you gave does not show it" in b.text for b in lucky.blocks)
    sure = judged(one, (), "low-charge", book, because="superheat is high and subcooling is low")
    said = " ".join(b.text for b in sure.blocks)
    assert sure.sound is True
    assert "does not show it" not in said
    wrong = judged(one, (), "overcharge", book, because="superheat is high")
    assert not any("A right guess" in b.text for b in wrong.blocks)


# -- nothing gives a fault away --------------------------------------------------------------------------------------


def test_no_look_and_no_question_names_a_fault() -> None:
    """Over many machines each thing seen comes with several faults, and none of them makes more than two in three."""
    odd: dict[tuple[str, str], Counter[str]] = {}
    cases = [draw(8, 10 * i + n, faults=(fault,)) for i in range(3) for n, fault in enumerate(FAULTS)]
    for turn in range(30):
        for place, case in enumerate(cases):
            for name, word in seen_at(case, random.Random(f"{turn} {place}")).items():
                if CLEAN["cooling"].get(name, "tight and insulated") != word:
                    odd.setdefault((name, word), Counter())[case.truth] += 1
    looks = {(name, word) for name, word, _ in STRAYS}
    assert looks <= odd.keys()
    for look in looks:
        (_, most), *_ = odd[look].most_common(1)
        assert most / sum(odd[look].values()) < 0.67, (look, odd[look])
        assert len(odd[look]) >= 4


@pytest.mark.parametrize(
    ("machine", "sold"),
    [
        ({"refrigerant": "R-454B", "SEER": 12.0, "metering": "TXV"}, False),
        ({"refrigerant": "R-32", "SEER": 15.2, "metering": "TXV"}, True),
        ({"refrigerant": "R-410A", "SEER": 17.0, "metering": "fixed orifice"}, False),
        ({"refrigerant": "R-410A", "SEER": 13.0, "metering": "fixed orifice"}, True),
        ({"refrigerant": "R-22", "SEER": 10.0, "metering": "fixed orifice"}, True),
        ({}, True),
    ],
)
def test_only_machines_that_were_sold(machine: dict[str, object], sold: bool) -> None:
    assert plausible(machine) is sold


def test_practice_visits_are_of_such_machines() -> None:
    assert all(plausible(made(3, fault).machine) for fault in FAULTS)
