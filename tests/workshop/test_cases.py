"""Every case comes to what its file says, and the cases cover what they should."""

from __future__ import annotations

import pytest
from published import rows
from shared import PATHS as CASES
from shared import case, result
from shared import visit_of as visit

from diagnose import units
from diagnose.rulebook import load_rules
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.workshop.coverage import tally

NO_FAULT_ROWS = rows("nist_no_fault_wet.csv")

# Column of the published table -> reading of the case, and the kind of its unit.
COLUMNS: dict[str, tuple[str, units.Kind]] = {
    "suction_psig_derived": ("suction pressure", "pressure"),
    "liquid_psig_derived": ("liquid pressure", "pressure"),
    "suction_line_f": ("suction line temperature", "temperature"),
    "liquid_line_f": ("liquid line temperature", "temperature"),
    "discharge_f": ("discharge line temperature", "temperature"),
    "outdoor_db_f": ("outdoor air temperature", "temperature"),
    "return_db_f": ("return air dry bulb", "temperature"),
    "return_wb_f_derived": ("return air wet bulb", "temperature"),
    "supply_db_f": ("supply air dry bulb", "temperature"),
    "airflow_scfm": ("airflow", "airflow"),
}
UNIT = {"pressure": "psig", "temperature": "F", "airflow": "cfm"}


def of_folder(folder: str) -> list[str]:
    return [name for name in CASES if name.startswith(f"{folder}/")]


@pytest.mark.parametrize("name", CASES)
def test_case(name: str) -> None:
    assert result(name).passed, "\n".join(result(name).wrong)


def test_a_case_is_named_after_its_file_and_says_where_its_truth_is_from() -> None:
    for name in CASES:
        entry = case(name).entry
        assert entry.case == name
        assert entry.truth in (*load_rules().faults, BAD_VISIT), name
        assert entry.story.strip(), name
        assert entry.truth_from.strip(), name


IN_COOLING = load_rules().in_mode("cooling").faults
SHOWN = [(fault, "cooling") for fault in sorted(IN_COOLING)]
SHOWN += [(fault, "heating") for fault in sorted(load_rules().faults) if fault not in IN_COOLING]


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV"])
@pytest.mark.parametrize(("fault", "mode"), SHOWN)
def test_the_demo_has_every_fault_on_every_metering_device(fault: str, mode: str, metering: str) -> None:
    """A case counts only where the fault is found, not where it is the truth behind a visit that says nothing."""
    found = [
        name
        for name in of_folder("demo")
        if case(name).entry.truth == fault
        and case(name).entry.expect.first == fault
        and visit(name).machine.metering == metering
        and (visit(name).machine.mode or "cooling") == mode
    ]
    assert found


@pytest.mark.parametrize("row", NO_FAULT_ROWS, ids=lambda row: f"condition {row['condition']}")
def test_every_measured_state_without_fault_has_its_case_with_the_published_numbers(row: dict[str, str]) -> None:
    name = f"lab/no-fault-{row['condition']}"
    assert case(name).entry.truth == "nothing-wrong"
    machine = visit(name).machine
    assert machine.refrigerant.name == "R-410A"
    assert machine.metering == row["metering"]
    written = case(name).entry.visit["readings"]
    assert set(written) == {reading for reading, _ in COLUMNS.values()}
    for column, (reading, kind) in COLUMNS.items():
        measured = units.parse(written[reading], kind)
        assert measured.unit == UNIT[kind]
        assert units.from_si(measured.value, UNIT[kind], kind) == pytest.approx(float(row[column]), abs=1e-6)


def test_there_are_no_other_measured_states_without_fault() -> None:
    conditions = {f"lab/no-fault-{row['condition']}" for row in NO_FAULT_ROWS}
    assert {name for name in of_folder("lab") if "/no-fault-" in name} == conditions


@pytest.mark.parametrize("name", [name for name in CASES if case(name).entry.truth == BAD_VISIT])
def test_a_bad_visit_is_named_and_its_charge_not_judged(name: str) -> None:
    expect = case(name).entry.expect
    assert expect.problems
    assert expect.charge == "do not judge"


def test_no_case_is_given_advice_that_would_do_harm() -> None:
    for folder, counts in tally([result(name) for name in CASES]).items():
        assert counts.harmful == 0, folder


@pytest.mark.parametrize("name", [name for name in CASES if case(name).entry.truth == "nothing-wrong"])
def test_nothing_ranks_above_nothing_wrong_where_nothing_is_wrong(name: str) -> None:
    diagnosis = result(name).diagnosis
    if diagnosis.status == "diagnosed":
        assert diagnosis.faults[0].fault == "nothing-wrong"
    assert diagnosis.charge.verdict in ("right", "do not judge")
