"""The table of superheat beside subcooling, held to the simulator: no example and hardly a machine outside its cell."""

from __future__ import annotations

from collections import Counter
from functools import cache
from itertools import combinations
from statistics import median

import pytest
from work import THOROUGH

from diagnose import Diagnosis, Rulebook, load_rules
from diagnose.diagnosis.pipeline import put_into_words, work_out_quantities
from diagnose.lessons.example import DEVICES, example
from diagnose.lessons.five_questions import five_questions_page
from diagnose.lessons.side_by_side import NOTHING_WRONG, Cell, cells
from diagnose.report import as_text
from diagnose.rulebook import machine_facts
from diagnose.simulator import FAULTS, draw
from diagnose.visit import Visit, visit_from
from diagnose.visit.fields import INSTRUMENTS

SIDE = {"very low": "low", "very high": "high"}
FINE = {name: one._replace(share=one.share / 4, fixed=one.fixed / 4) for name, one in INSTRUMENTS.items()}
MACHINES, FAMILIES = (300, "seen") if THOROUGH else (160, "plain")


def place(d: Diagnosis) -> tuple[str, str] | None:
    words = [d.findings[name].word for name in ("superheat", "subcooling") if name in d.findings]
    return (SIDE.get(words[0], words[0]), SIDE.get(words[1], words[1])) if len(words) == 2 else None


@cache
def found(device: str) -> dict[tuple[str, str], Cell]:
    return {(cell.superheat, cell.subcooling): cell for cell in cells(device, load_rules().in_mode("cooling"))}


def candidates(device: str, at: tuple[str, str]) -> tuple[str, ...]:
    cell = found(device)[at]
    return (*cell.faults, *cell.mild)


@cache
def machines() -> tuple[tuple[str, str, Diagnosis], ...]:
    """Fault, device and what is found, read with good instruments; `thorough`: of all structures that points were set on."""
    book = load_rules()

    def found_in(read: Visit) -> Diagnosis:
        rules = book.about(machine_facts(read.machine))
        return put_into_words(work_out_quantities(Diagnosis(read, rules, read.system)))

    drawn = (draw(20261126, i, families=FAMILIES, instruments=FINE) for i in range(MACHINES))
    return tuple((one.truth, one.machine.metering, found_in(visit_from(one.visit))) for one in drawn)


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault != NOTHING_WRONG])
def test_every_example_of_a_lesson_lies_in_a_cell_that_names_its_fault(fault: str, device: str) -> None:
    one = example(fault, device, load_rules())  # type: ignore[arg-type]
    at = place(one.faulty)
    assert at is not None
    assert fault in candidates(device, at), at


def test_simulated_machines_lie_in_a_cell_that_names_their_fault() -> None:
    """All but the few whose machine stands off what is expected of it by itself, which no table of words can know."""
    inside: Counter[str] = Counter()
    seen: Counter[str] = Counter()
    for fault, device, d in machines():
        at = place(d)
        if at is None or fault == NOTHING_WRONG:
            continue
        seen[fault] += 1
        inside[fault] += fault in candidates(device, at)
    assert sum(inside.values()) / sum(seen.values()) >= 0.93
    assert all(inside[fault] / seen[fault] >= 0.75 for fault in seen), {f: (inside[f], seen[f]) for f in seen}


def test_no_cell_names_one_fault_where_machines_have_several() -> None:
    """Where two faults each bring at least a tenth of a cell's machines, the cell names both."""
    there: dict[tuple[str, tuple[str, str]], Counter[str]] = {}
    for fault, device, d in machines():
        at = place(d)
        if at is not None and fault != NOTHING_WRONG:
            there.setdefault((device, at), Counter())[fault] += 1
    for (device, at), counted in there.items():
        often = {fault for fault, n in counted.items() if n >= max(2, 0.1 * sum(counted.values()))}
        assert often <= set(candidates(device, at)), (device, at, counted)


def test_what_parts_two_faults_does_so_on_simulated_machines() -> None:
    """Where one is said to stand higher, its machines do, against what is expected of them (medians)."""
    figures: dict[tuple[str, str, str], list[float]] = {}
    for fault, device, d in machines():
        for name, e in d.estimates.items():
            if e.difference is not None or name in ("liquid line drop", "standing pressure excess"):
                by = e.value if e.difference is None else e.difference
                figures.setdefault((device, fault, name), []).append(by)
    order, compared = {"down": -1, "stays": 0, "up": 1}, 0
    for device in DEVICES:
        for cell in found(device).values():
            for parting in cell.parted:
                sided = [(order[way], fault) for way, some in parting.ways.items() for fault in some if way in order]
                for (low, one), (high, other) in combinations(sorted(sided), 2):
                    these, those = (figures.get((device, fault, parting.quantity), []) for fault in (one, other))
                    if low < high and len(these) >= 5 and len(those) >= 5:
                        compared += 1
                        assert median(these) < median(those), (device, parting.quantity, one, other)
    assert compared > 40


def test_the_page_says_so(book: Rulebook) -> None:
    text = " ".join(as_text(five_questions_page(book)).split())
    assert "leave the charge alone until the reading below has told them apart" in text
    assert "What tells them apart: fixed orifice" in text
    assert "Liquid line drop: higher with liquid line restriction; as it should be with underfeeding" in text
    assert "Not in the table, because these two words say nothing there: compressor not running." in text
    assert all(len(candidates(device, ("normal", "normal"))) >= 9 for device in DEVICES)
