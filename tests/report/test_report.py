"""What stands on the page, and how it is laid out."""

from __future__ import annotations

import re
from itertools import pairwise, product

import pytest
from shared import PARTS, blocks, examined
from shared import page as shared_page
from strategies import State, visit

from diagnose import Diagnosis, examine
from diagnose.report import Block, as_markdown, as_text, deeper, heading, item, line, plain
from diagnose.report.evidence import points_text, share_text
from diagnose.report.field import held_short
from diagnose.report.pages import answer, diagnosis_page
from diagnose.report.sentences import said
from diagnose.report.trace import why_page
from diagnose.report.wording import likeliest, lower_first
from diagnose.rulebook import Rulebook, machine_facts
from diagnose.units import System

SOME = PARTS[0]
IN_UNITS = [*product(SOME, ["us"]), *product(SOME[::3], ["si"])]
UNITS = r"(°F|°C|K|F|C|%|kPa|Pa|psi[ag]?|cfm|L/s|kW|W|ton|oz|lb|kg|g|in|ft|inH2O|A|minutes?|points?)\b|±"


def demo(name: str, units: System = "us") -> Diagnosis:
    return examined(f"demo/{name}", units)


def page(of: str | Diagnosis, units: System = "us") -> str:
    return shared_page(f"demo/{of}", units) if isinstance(of, str) else as_text(diagnosis_page(of))


def section(text: str, title: str) -> str:
    """What stands below a heading, up to the next one."""
    found = re.search(rf"^{re.escape(title)}.*\n((?:  .*\n)*)", text, re.M)
    return found[1] if found else ""


@pytest.mark.parametrize("name", SOME)
def test_no_fault_is_called_unlikely_for_what_hardly_holds(name: str) -> None:
    """A title speaks as if it were true: one that is 0.11 sure dismisses nothing."""
    d = demo(name)
    told = " ".join(section(page(name), "Unlikely").split())
    for fault in d.faults:
        unsure = {e.rule.entry.title for e in fault.opposing if e.firing.sure < 0.39}
        sure = {e.rule.entry.title for e in fault.opposing if e.firing.sure >= 0.39}
        for title in unsure - sure:
            assert f"{d.rules.faults[fault.fault].name}: {lower_first(title)}." not in told


@pytest.mark.parametrize(("name", "units"), IN_UNITS)
def test_a_number_and_its_unit_stand_on_one_line(name: str, units: System) -> None:
    d = demo(name, units)
    pages = [page(name, units)] + [
        as_text(why_page(d, fault)) for fault in ("low-charge", "nothing-wrong", "weak-compressor")
    ]
    for text in pages:
        for above, below in pairwise(text.splitlines()):
            assert not above.endswith("±")
            if re.search(r"\d$", above):
                assert not re.match(rf"\s+({UNITS})(?=[\s.,;:)]|$)", below), (above, below)


@pytest.mark.parametrize(("name", "units"), IN_UNITS)
def test_every_quantity_printed_has_its_uncertainty(name: str, units: System) -> None:
    rows = [block.rows for block in blocks(f"demo/{name}", units) if block.kind == "rows"]
    read = [table for table in rows if table[0] == ("reading", "value", "where it is taken")]
    for table in read:
        for reading, value, _ in table[1:]:
            assert re.fullmatch(r"[−-]?[\d,.]+ \S.* ± [\d.,e+]+", value), reading
    rows = [table for table in rows if table not in read]
    assert len(rows) <= 1
    for table in rows:
        assert table[0] == ("figure", "value", "should be", "in a word")
        for quantity, value, _, _ in table[1:]:
            assert re.fullmatch(r"−?[\d,.]+ ± [\d,.]+( \S.*)?", value), quantity


@pytest.mark.parametrize("name", SOME)
def test_cautions_stand_once_each_the_most_dangerous_first(name: str, book: Rulebook) -> None:
    d = demo(name)
    assert d.cautions
    ranks = [book.by_id[rule.id].rank for rule in d.cautions]
    assert ranks == sorted(ranks)
    assert len({rule.id for rule in d.cautions}) == len(ranks)
    text = " ".join(page(name).partition("\nTake care\n")[2].split())
    places = [text.index(f"! {rule.entry.title}. ") for rule in d.cautions]
    assert places == sorted(places)
    assert all(text.count(f"! {rule.entry.title}. ") == 1 for rule in d.cautions)


def test_what_burns_is_a_danger() -> None:
    assert [danger.code for danger in demo("r290-low-charge").dangers] == ["caution/flammable-a3"]


@pytest.mark.parametrize("name", SOME)
def test_the_answer_names_fault_strength_and_verdict_or_why_there_is_none(name: str) -> None:
    d = demo(name)
    if d.held:
        assert answer(d) == f"{held_short(d)} {said(d, d.held[0])}"
        assert "What speaks" not in page(name)
        by_the_scale = d.charge.method == "weight" and d.charge.verdict != "do not judge"
        assert ("The charge\n" in page(name)) is by_the_scale
    else:
        charge = (
            "No charge verdict yet." if d.charge.verdict == "do not judge" else f"The charge is {d.charge.verdict} by "
        )
        assert answer(d).startswith(f"{likeliest(d)}. {charge}")
    assert [block for block in blocks(f"demo/{name}", "us") if block.kind == "answer"] == [Block("answer", answer(d))]


@pytest.mark.parametrize("name", SOME)
def test_every_section_has_something_in_it(name: str) -> None:
    whole = blocks(f"demo/{name}", "us")
    for above, below in pairwise(whole):
        assert not (above.kind == below.kind == "heading"), above.text
    assert whole[-1].kind == "foot"
    for block in whole:
        assert not re.search(r"\{|\}|\bnan\b|\(no |  ", block.text), block.text


@pytest.mark.parametrize("name", SOME)
def test_every_fault_is_on_the_page(name: str, book: Rulebook) -> None:
    d = demo(name)
    text = " ".join(page(name).split())
    if d.faults:
        assert {fault.fault for fault in d.faults} == set(book.about(machine_facts(d.visit.machine)).faults)
        for fault in d.faults:
            name = book.faults[fault.fault].name
            assert name in text or lower_first(name) in text


@pytest.mark.parametrize("name", SOME)
def test_why_says_the_same_reasons_as_the_page(name: str) -> None:
    d = demo(name)
    for fault in d.faults[:2]:
        text = " ".join(as_text(why_page(d, fault.fault)).split())
        for statement in (*fault.supporting, *fault.opposing):
            assert f"{points_text(statement.weight)} {statement.rule.entry.title}. " in text
            assert f"rule {statement.rule.id}: " in text
    for fault in d.faults:
        head = next(block for block in why_page(d, fault.fault) if block.kind == "answer")
        assert f", place {d.faults.index(fault) + 1} of " in head.text


def test_why_goes_down_to_the_readings() -> None:
    text = " ".join(as_text(why_page(demo("low-charge-orifice"), "low-charge")).split())
    steps = [
        "rule low-charge/weak-cooling: +3.0 points × 0.97 sure; Rossi and Braun",
        "finding superheat: high 0.21, very high 0.79",
        "limits −9.0 °F, −5.0 °F, 5.0 °F, 12.0 °F on its difference from what it should be",
        "quantity superheat: 24.9 ± 1.5 °F (target 11.3 °F) = suction line temperature - evaporating temperature",
        "reading suction line temperature: 63.0 °F ± 1.4",
        "reading suction pressure: 114 psig ± 1.1",
        "superheat: as above",
    ]
    places = [text.index(step) for step in steps]
    assert places == sorted(places)


def test_why_goes_through_states() -> None:
    text = " ".join(as_text(why_page(demo("weak-compressor-orifice"), "weak-compressor")).split())
    used = demo("weak-compressor-orifice").applying.rules
    names = {state for rule in used if rule.fault == "weak-compressor" for state in rule.findings} & set(
        demo("weak-compressor-orifice").states
    )
    for state in names:
        assert f"state {state}: " in text
        assert "by rule state/" in text


def test_why_of_a_visit_that_is_not_ready_says_so_first() -> None:
    why = why_page(demo("iced-coil"), "low-charge")
    assert why[1].text.startswith("No verdict is given yet. There is ice on the indoor coil.")


def test_a_machine_that_lacks_charge_is_told_how_much_and_the_leak_first() -> None:
    said = " ".join(section(page("low-charge-orifice"), "The charge").split())
    assert "About 4 to 32 % is missing, 4 to 28 oz of this machine’s charge" in said
    assert "Find the leak, recover what is left, repair, test and evacuate, then weigh in the charge" in said
    assert "Afterwards expect superheat from " in said
    full = " ".join(section(page("mountain-overcharge"), "The charge").split())
    assert "in excess" in full
    assert "Recover the excess by weight, a little at a time. Wait 15 minutes" in full
    assert "add" not in full


def test_airflow_that_was_not_confirmed_is_said_and_airflow_that_was_is_not() -> None:
    said = "Nobody has confirmed the airflow"
    assert said in page(examine(visit(State())))
    assert said not in page(examine(visit(State(), extra=True)))


def test_faults_about_which_nothing_was_measured_say_so() -> None:
    text = page("only-two-readings")
    below = " ".join(section(text, "Or, with no evidence for or against").split())
    assert below.startswith("- Low refrigerant charge (weak). On a valve machine a slightly low charge")
    assert "+" not in below  # no reason is given, for there is none


def test_a_reason_less_likely_than_not_does_not_speak_as_if_it_were_true() -> None:
    """Less sure than 0.4: only the title is told, and with a perhaps."""
    told = [" ".join(page(name).split()) for name in SOME]
    perhaps = [m for text in told for m in re.findall(r"Perhaps \(0\.(\d\d) sure\): (\S+)", text)]
    assert perhaps
    assert all(int(sure) < 40 and word[0].islower() for sure, word in perhaps)


def test_the_machine_stands_apart_below_the_table() -> None:
    assert re.search(r"\n\nMachine: net loft, upper floor, R-410A \(class A1\), fixed", page("low-charge-orifice"))


# -- layout --------------------------------------------------------------------------------------------------------


def test_text_is_wrapped_below_its_mark() -> None:
    told = [
        Block("answer", "Answer."),
        heading("Why"),
        item("one " * 30, "+4.0"),
        deeper("two " * 30, 2),
        line("end"),
    ]
    lines = as_text(told, 60).splitlines()
    assert lines[:3] == ["Answer.", "", "Why"]
    assert max(map(len, lines)) <= 60
    assert [text[:9] for text in lines[3:]] == [
        "  +4.0 on", "       on", "       on", "         ", "         ", "         ", "  end",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "kept",
    [
        "23.0 ± 1.6 °F", "114 psig ± 1.1", "55 ± 5 L/s per kW", "0.5 inH2O", "36 gr/lb", "14.23 ft3/lb", "5 F",
        "2.5 points", "45 minutes", "6 lb 4 oz",
    ],
)  # fmt: skip
def test_a_figure_is_never_broken(kept: str) -> None:
    for padding in range(20, 60):
        assert kept in as_text([item(f"{'x' * padding} {kept} and more words to fill the line")], 60)


def test_a_very_long_word_is_broken_rather_than_the_page() -> None:
    assert max(map(len, as_text([line("x" * 200)]).splitlines())) <= 80


def test_a_table_too_wide_goes_on_below() -> None:
    rows = (("name", "value", "in a word"), ("n" * 33, "v" * 20, "very high or extremely high"))
    text = as_text([heading("T"), Block("rows", rows=rows)], 80)
    assert max(map(len, text.splitlines())) <= 80
    assert " ".join(text.split()).endswith("very high or extremely high")


def test_markdown() -> None:
    told = [
        Block("answer", "Answer."), heading("Why"), item("reason", "+4.0"), deeper("rule"), item("look", "1."),
        item("danger", "!"), item("plain"), heading("T"), Block("rows", rows=(("a", "b"), ("1", ""))), line("two\nlines"),
    ]  # fmt: skip
    assert as_markdown(told) == (
        "# Answer.\n\n## Why\n\n- **+4.0** reason\n  - rule\n1. look\n- **!** danger\n- plain\n\n## T\n\n"
        "| a | b |\n| --- | --- |\n| 1 |  |\n\ntwo lines\n"
    )


def test_signs_an_output_cannot_show_are_spelled_out() -> None:
    assert plain("23 ± 1.6 °F − × ’ m³ → … é", "utf-8") == "23 ± 1.6 °F − × ’ m³ → … é"
    assert plain("23 ± 1.6 °F − × ’ m³ → … é", "ascii") == "23 +/- 1.6 F - x ' m3 -> ... ?"
    assert plain("°", "no such encoding") == ""
    assert plain("\x1b[31mred\x07\x9b\nline\tend", "utf-8") == "?[31mred??\nline\tend"


@pytest.mark.parametrize(
    ("share", "text"), [(0.001, "under 0.01"), (0.01, "0.01"), (0.5, "0.50"), (0.99, "0.99"), (0.999, "over 0.99")]
)
def test_shares_are_never_0_or_1(share: float, text: str) -> None:
    assert share_text(share) == text


def test_points_and_names_in_a_sentence() -> None:
    assert [points_text(x) for x in (3.46, -2, 0)] == ["+3.5", "−2.0", "+0.0"]
    assert lower_first("Low charge") == "low charge"
    assert lower_first("TXV stuck") == "TXV stuck"
