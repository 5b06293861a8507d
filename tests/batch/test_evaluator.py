"""The book over columns says of every visit what `examine` says of it alone."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from doubtful import DOUBTS, RIGHT
from gaps import EIGHT, spoiled
from heats import WHOLE
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from same_outcome import alike, check_alike, differences, in_columns, nothing_alone, of_one
from shared import PARTS, PATHS, machines, visit_of
from strategies import State, states, visit
from work import THOROUGH, examples

from diagnose import examine, load_rules
from diagnose.batch import evaluator
from diagnose.batch.columnwise.table import of_visits
from diagnose.batch.evaluator import TableOutcome, examine_columns, examine_vectors, without_errors
from diagnose.rulebook import Rulebook
from diagnose.visit import READINGS, Visit, VisitError, visit_from

BOOK = load_rules()
HOURS = settings(deadline=None, suppress_health_check=list(HealthCheck))


def simulated(count: int, seed: int, alike: int = 1) -> list[Visit]:
    return spoiled([dict(each.visit) for each in machines(60)], count, BOOK, seed, alike)


def table_of(visits: list[Visit]) -> dict[str, Any]:
    """The columns of visits of one round, as somebody would hand them in."""
    table = of_visits(visits)
    words = {name: [None if c < 0 else w.words[c] for c in w.codes] for name, w in table.words.items()}
    seen = {f"seen: {name}": (w.codes, w.words) for name, w in table.seen.items()}
    station = np.where(table.station_from == 0, table.station, np.nan)
    errors = {f"error of {name}": column for name, column in table.errors.items()}
    return {
        **table.readings, **errors, **table.facts, **words, **seen, "station pressure": station,
        "minutes running": table.minutes, "minutes since defrost": table.defrosted,
    }  # fmt: skip


# -- the same as `examine` -----------------------------------------------------------------------------------------------


def test_all_shipped_cases() -> None:
    """Some of the demos with the starts, and of textbook and laboratory; `thorough` takes all."""
    some = [name for name in PATHS if not name.startswith("demo/")][::3] + [f"demo/{name}" for name in PARTS[0]]
    names = list(PATHS) if THOROUGH else some[::2]
    visits = [visit_of(name) for name in names]
    found = check_alike(names, visits, BOOK)
    more = [v for v in visits if len(v.rounds) > 1 or v.baseline or v.start_up or "recovered charge" in v.machine.facts]
    assert found.by_row <= len(more) + 0.03 * len(visits)


def test_simulated_visits_with_every_kind_of_gap() -> None:
    """Twenty thousand of them were run once by hand: see DEVELOPERS.md."""
    more = 20 if THOROUGH else 1
    visits = [*simulated(4 * more, 5), *simulated(24 * more, 6, alike=12)]
    found = check_alike([str(i) for i in range(len(visits))], visits, BOOK)
    assert found.by_row == 0
    assert set(found.status.codes.tolist()) == {0, 1, 2}
    assert len({found.fault.of(i) for i in range(found.n)}) > 8


def test_every_doubt_beside_a_row_that_has_all_other_readings() -> None:
    """What a row lacks is a gap in a column that is there for its neighbour."""
    more = {"return air relative humidity": "50 %", "gauge superheat": "13 F", "gauge subcooling": "8 F"}
    names, visits = [], []
    for code, data in DOUBTS.items():
        whole = WHOLE if data["machine"].get("mode") == "heating" else RIGHT
        names += [code, f"{code}, and more"]
        visits += [data, {**data, "readings": {**whole["readings"], **more, **data["readings"]}}]
    check_alike(names, [visit_from(each) for each in visits], BOOK)


@given(st.integers(0, 2**32 - 1))
@settings(parent=HOURS, max_examples=examples(2).max_examples)
def test_any_book_and_any_visit(seed: int) -> None:
    rng = random.Random(seed)
    check_alike([str(i) for i in range(6)], simulated(6, seed, alike=2), some_book(rng))


def some_book(rng: random.Random) -> Rulebook:
    """The shipped book with rules left out, other points, other limits and other odds before any evidence."""
    rules = tuple(
        replace(rule, points=rng.choice([rule.points, -rule.points, rng.uniform(-4, 4)])) if rule.fault else rule
        for rule in BOOK.rules
        if rng.random() < 0.85
    )
    by = {name: rng.choice([1.0, 1.0, rng.uniform(0.7, 1.4)]) for name in BOOK.findings}
    findings = {
        name: entry._replace(
            scales=tuple(s._replace(limits=tuple(by[name] * x for x in s.limits)) for s in entry.scales)
        )
        for name, entry in BOOK.findings.items()
    }
    faults = {
        name: f._replace(usual=f.usual + rng.choice([0.0, rng.uniform(-2, 2)])) for name, f in BOOK.faults.items()
    }
    return replace(BOOK, rules=rules, findings=findings, faults=faults)


@given(st.lists(states(), min_size=1, max_size=4))
@settings(parent=HOURS, max_examples=examples(3).max_examples)
def test_any_sane_machine(found: list[State]) -> None:
    visits = [visit_from(visit(state, extra=i % 2 == 0)) for i, state in enumerate(found)]
    outcome = check_alike([str(state) for state in found], visits, BOOK)
    assert outcome.by_row == 0


def test_how_much_of_all_faults_a_charge_that_is_off_must_have() -> None:
    visits = [visit_from(visit(State(metering="TXV", superheat=s, subcooling=1))) for s in (14.0, 20.0, 26.0)]

    def judged(least: float) -> list[str | None]:
        of_this = replace(BOOK, charge=BOOK.charge._replace(least_share=least))
        return [row["charge verdict"] for row in check_alike(["14", "20", "26"], visits, of_this).rows()]

    assert judged(0.0) == ["low", "low", "low"]
    assert judged(0.9) == ["do not judge", "low", "low"]


def test_without_uncertainty_as_if_no_instrument_had_an_error() -> None:
    visits = [v for v in simulated(8, 3) if not v.machine.words.get("kind")]
    with nothing_alone():
        found = examine_columns(visits, BOOK, uncertainty=False)
    for i, each in enumerate(visits):
        assert not differences(of_one(examine(without_errors(each), BOOK)), found.row(i))
    assert all(not quantity.sigma[np.isfinite(quantity.value)].any() for quantity in found.quantities.values())


# -- tables --------------------------------------------------------------------------------------------------------------


def test_a_table_says_what_its_visits_say() -> None:
    """Here all that was written is in °F: a table has one unit for a column, a visit one for each figure."""
    visits = [v for v in simulated(12, 8) if not v.notes and all(r.unit != "C" for r in v.last.readings.values())]
    with nothing_alone():
        found = examine_vectors(table_of(visits), BOOK, units=dict.fromkeys(READINGS, "F"))
    for i, each in enumerate(visits):
        odd = differences(of_one(examine(each, BOOK)), found.row(i))
        assert not odd, f"{i}: {odd}"


def test_a_table_of_gaps_and_one_of_no_rows() -> None:
    nothing = examine_vectors(
        {"suction pressure": [None, None], "refrigerant": [None, "R-410A"], "seen: air filter": [None, None]}
    )
    assert [row["status"] for row in nothing.rows()] == ["not ready", "not ready"]
    assert [row["held"] for row in nothing.rows()] == [("nothing-to-judge",)] * 2
    empty = examine_vectors({"suction pressure": [], "refrigerant": []})
    assert (empty.n, empty.rows(), empty.dangers.offsets.tolist()) == (0, [], [0])


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"suction pressure": [1.0], "liquid pressure": [1.0, 2.0]}, "different lengths"),
        ({"suction presure": [1.0]}, "suction presure"),
        ({"error of humour": [1.0]}, "error of humour"),
        ({"suction pressure": ["9 bar"]}, "9 bar"),
        ({"refrigerant": ["R-999"]}, "R-999"),
        ({"metering": ["piston"]}, "fixed orifice"),
        ({"refrigerant": (np.array([1]), ("R-410A",))}, "its 1 words"),
    ],
)
def test_columns_that_cannot_be_meant(columns: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        examine_vectors(columns)


def test_the_scale_is_read_row_by_row_also_in_a_table() -> None:
    charge = {"recovered charge": [2.0, *[None] * 29], "factory charge": [3.0] * 30, "refrigerant": ["R-410A"] * 30}
    found = examine_vectors(charge)
    assert found.by_row == 1
    assert [found.charge_verdict.of(i) for i in (0, 1)] == ["low", "do not judge"]


def test_what_was_seen_and_is_not_known_is_told_as_of_one_visit() -> None:
    with pytest.raises(VisitError, match="air filter: green"):
        examine_vectors({"suction pressure": [9e5], "seen: air filter": ["green"]})


# -- each row by itself --------------------------------------------------------------------------------------------------


def test_a_row_does_not_depend_on_its_neighbours_nor_on_how_the_rows_are_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bit for bit, so far as it is columns that do it: visits of three machines, each with other gaps and doubts."""
    visits = simulated(6, 21, alike=2)
    rows = in_columns(visits, BOOK).rows()
    order = random.Random(2).sample(range(6), 6)
    assert in_columns([visits[i] for i in order], BOOK).rows() == [rows[i] for i in order]
    monkeypatch.setattr(evaluator, "CHUNK", 1)
    assert in_columns(visits, BOOK).rows() == rows


def test_few_rows_of_a_kind_are_done_one_by_one_and_counted() -> None:
    alone, many = simulated(1, 4), [visit_from(visit(State(superheat=float(s)))) for s in range(4, 24)]
    found = examine_columns([*alone, *many], BOOK)
    assert found.by_row == 1
    assert alike(of_one(examine(alone[0], BOOK)), found.row(0))
    assert found.row(5) == examine_columns(many, BOOK).row(4)


def test_ordinary_visits_of_eight_readings_are_all_done_in_columns() -> None:
    """Also those of faulty machines with doubted readings and slips of hand among them."""
    visits = []
    for each in machines(20):
        readings = {name: value for name, value in each.visit["readings"].items() if name in EIGHT}
        visits.append(visit_from({"machine": each.visit["machine"], "readings": readings}))
        swapped = dict(readings)
        swapped["suction line temperature"] = readings["liquid line temperature"]
        swapped["liquid line temperature"] = readings["suction line temperature"]
        visits.append(visit_from({"machine": each.visit["machine"], "readings": swapped}))
    found = in_columns(visits, BOOK)
    assert found.by_row == 0
    assert any("clamps-swapped" in row["problems"] for row in found.rows())


def test_the_outcome_as_a_table_holds_it() -> None:
    found = in_columns(simulated(8, 6), BOOK)
    check_lists(found)
    for i, row in enumerate(found.rows()):
        assert row["share"] is None or row["share"] == max(row["shares"].values())
        assert row["share"] is None or sum(row["shares"].values()) == pytest.approx(1, abs=1e-12)
        assert np.isfinite(found.scores[i]).sum() == len(row["scores"])


def check_lists(found: TableOutcome) -> None:
    for listed in (found.dangers, found.cautions, found.problems, found.held):
        assert listed.offsets[0] == 0
        assert listed.offsets[-1] == listed.codes.size
        assert (np.diff(listed.offsets) >= 0).all()
        assert listed.codes.size == 0 or 0 <= listed.codes.min() <= listed.codes.max() < len(listed.words)
