"""Facts, readings and quantities that a company declares in own.yaml: read, worked out, judged, asked for, kept and told."""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import pytest
from own_lines import FINDINGS, MACHINE, OWN, READINGS, folder

from diagnose import Visit, examine, load_rules
from diagnose.cli.questions import interview
from diagnose.page.form import form_of
from diagnose.report import as_text
from diagnose.report.pages import diagnosis_page
from diagnose.rulebook import Rulebook, RuleError, from_data, to_data
from diagnose.shipped import shipped
from diagnose.units import Kind
from diagnose.visit import VisitError
from diagnose.workshop.showing import show_entry


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    return load_rules(folder(tmp_path_factory.mktemp("own")))


@pytest.fixture(scope="module")
def shipped_book() -> Rulebook:
    return load_rules(shipped("rules"))


def visit(machine: dict[str, Any] | None = None, readings: dict[str, Any] | None = None) -> dict[str, Any]:
    return {"machine": MACHINE | (machine or {}), "readings": READINGS | (readings or {})}


def test_worked_out_with_its_uncertainty(book: Rulebook) -> None:
    d = examine(visit(), book)
    rise, share = d.estimates["shell rise"], d.estimates["share of the shell rise"]
    assert rise.value == pytest.approx(84 / 1.8)
    # Two clamps of ±1.4 °F each (95 of 100): the root of the sum of squares, JCGM 100:2008, 5.1.2.
    assert 2 * rise.sigma == pytest.approx((2 * 1.4**2) ** 0.5 / 1.8)
    assert share.value == pytest.approx(84 / 40)
    assert share.sigma == pytest.approx(rise.sigma / (40 / 1.8))
    assert d.estimates["shaking"].sigma == pytest.approx(0.05 * 12 / 2)
    assert d.findings["unrest"].words["strong"] > 0.99
    assert any(e.rule.id == "quay/hot-shell" for f in d.faults if f.fault == "weak-compressor" for e in f.supporting)


def test_everything_else_follows(book: Rulebook) -> None:
    d = examine(visit(), book)
    told = as_text(diagnosis_page(d))
    assert "150.0 °F ± 1.4" in told
    assert "on the shell of the compressor" in told
    assert "The shell is 84.0 ± 2.0 °F warmer" in " ".join(told.split())
    assert "65.6 °C" in as_text(diagnosis_page(d.told_in("si")))
    assert d.to_dict()["quantities"]["shell rise"]["unit"] == "K"
    paths = {field["path"] for group in form_of(book)["groups"] for field in group["fields"]}
    assert {"machine/duct run", "machine/rated shell rise", "readings/shell temperature", "readings/shaking"} <= paths
    for name in ("duct run", "rated shell rise", "shell temperature", "shell rise"):
        assert as_text(show_entry(name, book)[0]).startswith(name)
    assert "Used by shell rise." in as_text(show_entry("shell temperature", book)[0])
    assert "Used by share of the shell rise, shell." in " ".join(as_text(show_entry("shell rise", book)[0]).split())


def test_a_fact_chooses_the_scale(book: Rulebook) -> None:
    assert examine(visit(), book).findings["shell"].words["high"] > 0.99
    assert examine(visit({"duct run": "attic"}), book).findings["shell"].words["normal"] > 0.99


def test_asked_in_the_interview(book: Rulebook) -> None:
    answers = {"Further facts": "y", "Duct run": "attic", "Shell temperature": "150", "Mode": "cooling"}
    asked: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        if question.startswith("Shell temperature") and answers["Shell temperature"] == "150":
            answers["Shell temperature"] = "150 F"
            return "150"  # without its unit: said, and asked again
        return next((said for begin, said in answers.items() if question.startswith(begin)), "")

    heard: list[str] = []
    made = interview(answer, heard.append, book)
    assert made["machine"]["duct run"] == "attic"
    assert made["readings"]["shell temperature"] == "150 F"
    assert len([question for question in asked if question.startswith("Shell temperature")]) == 2


def test_kept_compiled(book: Rulebook) -> None:
    assert from_data(to_data(book)) == book
    assert examine(visit(), from_data(to_data(book))).to_dict() == examine(visit(), book).to_dict()


def test_another_value_turns_the_answer_as_it_would(book: Rulebook) -> None:
    """What sensitivity works out again is what a new visit gives."""
    from diagnose.quantities.uncertainty import Estimation

    one, other = Visit.parse(visit(), book.own), Visit.parse(visit(readings={"shell temperature": "160 F"}), book.own)
    moved = Estimation(one, (), None).moved(other, "shell temperature")
    whole = Estimation(other, (), None).estimates()
    assert {name: moved[name] for name in ("shell temperature", "shell rise", "share of the shell rise")} == {
        name: whole[name] for name in ("shell temperature", "shell rise", "share of the shell rise")
    }


def test_without_the_folder_the_lines_are_not_known(shipped_book: Rulebook) -> None:
    with pytest.raises(VisitError) as refused:
        examine(visit(), shipped_book)
    assert {p.what for p in refused.value.problems} == {
        "`duct run` is not a machine fact",
        "`rated shell rise` is not a machine fact",
        "`shell temperature` is not a reading",
        "`shaking` is not a reading",
    }


@pytest.mark.parametrize(
    ("machine", "readings"),
    [
        ({"duct run": "roof"}, {}),
        ({"duct run": ["attic"]}, {}),
        ({"rated shell rise": "400 F"}, {}),
        ({"rated shell rise": "40"}, {}),
        ({}, {"shell temperature": "1500 F"}),
        ({}, {"shell temperature": "150 psig"}),
        ({}, {"shaking": "12 F"}),
        ({}, {"Shell Temperature": "150 F"}),
    ],
)
def test_what_cannot_be_is_refused_as_for_any_line(book: Rulebook, machine: Any, readings: Any) -> None:
    with pytest.raises(VisitError) as refused:
        examine(visit(machine, readings), book)
    assert all(problem.fix for problem in refused.value.problems)


KINDS: dict[Kind, tuple[str, str, str]] = {
    "temperature": ("20 F", "200 F", "70 F"), "difference": ("1 F", "50 F", "10 F"),
    "pressure": ("1 psig", "500 psig", "90 psig"),
    "small pressure": ("0 inH2O", "3 inH2O", "0.4 inH2O"), "station pressure": ("20 inHg", "31 inHg", "29 inHg"),
    "vacuum": ("10 micron", "5000 micron", "400 micron"), "capacity": ("1 kW", "90 kW", "9 kW"),
    "airflow": ("10 cfm", "5000 cfm", "900 cfm"), "current": ("1 A", "90 A", "9 A"), "voltage": ("1 V", "500 V", "230 V"),
    "capacitance": ("1 uF", "90 uF", "9 uF"), "mass": ("1 lb", "90 lb", "9 lb"), "length": ("1 in", "90 in", "9 in"),
    "mass per length": ("0.1 oz/ft", "2 oz/ft", "0.6 oz/ft"), "percent": ("1 %", "99 %", "9 %"), "number": ("1", "99", "9"),
    "time": ("1 min", "99 min", "9 min"),
}  # fmt: skip


def test_a_reading_of_every_kind(tmp_path: Path) -> None:
    assert KINDS.keys() == set(get_args(Kind))
    readings, quantities, findings = "readings:\n", "quantities:\n", "findings:\n"
    for kind, (low, high, value) in KINDS.items():
        error = "2 F" if kind in ("temperature", "difference") else "1 %"
        readings += (
            f"  - {{reading: extra {kind}, where: there, kind: {kind}, example: '{value}', between: ['{low}', '{high}'], "
            f"instrument: meter of {kind}, error: {error}}}\n"
        )
        quantities += f"  - {{quantity: same {kind}, what: it, formula: extra {kind}, source: common-practice}}\n"
        findings += (
            f"  - {{finding: word of {kind}, what: it, quantity: same {kind}, words: [low, high], "
            f"scales: [{{limits: ['{value}'], source: common-practice, why: Ours.}}]}}\n"
        )
    made = load_rules(folder(tmp_path, own=readings + quantities, findings=findings, rules="", checks=""))
    read = {f"extra {kind}": value for kind, (_, _, value) in KINDS.items()}
    d = examine({"machine": {"mode": "cooling"}, "readings": read}, made)
    for system in ("us", "si"):
        shown = d.told_in(system)
        page = as_text(diagnosis_page(shown))
        for kind in KINDS:
            assert shown.findings[f"word of {kind}"].words["low"] == pytest.approx(0.5), kind
            assert f"same {kind}" in page
        shown.to_dict()


MISTAKES = {
    "a line that there is": (("reading: shaking", "reading: suction pressure"), "`suction pressure` is a line of a visit"),
    "another word for one": (("reading: shaking", "reading: head pressure"), "`head pressure` is a line of a visit already"),
    "a quantity there": (("quantity: share of the shell rise", "quantity: compression ratio"), "`compression ratio` is a"),
    "one name twice": (("reading: shaking", "reading: duct run"), "`duct run` is already declared in quay/own.yaml:2"),
    "a capital": (("fact: duct run", "fact: Duct run"), "`Duct run` is not a name"),
    "itself": (("formula: shell temperature -", "formula: shell rise -"), "`shell rise` is neither a reading"),
    "a name that is none": (("shell rise / rated", "shell rise / raetd"), "`raetd shell rise` is neither a reading"),
    "two signs": (("suction line temperature\n", "suction line temperature - superheat\n"), "a formula has one sign"),
    "two kinds": (("/ rated shell rise", "/ shaking"), "`shell rise` is a difference and `shaking` is a number"),
    "degrees by degrees": (("shell temperature - s", "shell temperature / s"), "degrees do not count from a true zero"),
    "pressures": (("shell temperature - suction line temperature", "liquid pressure - suction pressure"), "cannot be shown"),
    "a kind that is none": (("kind: number", "kind: noise"), "`noise` is not"),
    "a unit of another kind": (("example: [120 F, 49 C]", "example: [120 psig]"), "`120 psig`: `psig` is"),
    "limits the wrong way": (("[-20 F, 350 F]", "[350 F, -20 F]"), "does not lie between"),
    "an example outside": (("example: 3\n", "example: 300\n"), "the example `300` does not lie"),
    "an instrument without error": (("    error: 5 %\n", ""), "how exact is `vibration meter`?"),
    "an error for one that is known": (("pipe clamps\n", "pipe clamps\n    error: 2 F\n"), "how exact `pipe clamps` are"),
    "words and a kind": (("words: [attic, ", "kind: length\n    words: [attic, "), "either `words` or a `kind`"),
    "neither": (("    words: [attic, crawl space, indoors]\n", ""), "either `words` or a `kind`"),
    "a source that is none": (("source: common-practice\n", "source: hearsay\n"), "`hearsay` is not a source"),
}  # fmt: skip


@pytest.mark.parametrize("slip", MISTAKES)
def test_a_slip_in_own_yaml_is_told_where_it_stands(tmp_path: Path, slip: str) -> None:
    (old, new), what = MISTAKES[slip]
    assert old in OWN
    with pytest.raises(RuleError) as refused:
        load_rules(folder(tmp_path, own=OWN.replace(old, new, 1), findings="", rules="", checks=""))
    assert what in refused.value.problems[0].what
    assert refused.value.problems[0].line
    assert all(problem.fix for problem in refused.value.problems)


def test_two_quantities_that_need_each_other_are_told_so(tmp_path: Path) -> None:
    own = OWN.replace("formula: shell temperature -", "formula: share of the shell rise -")
    with pytest.raises(RuleError) as refused:
        load_rules(folder(tmp_path, own=own, findings="", rules="", checks=""))
    assert [problem.fix for problem in refused.value.problems] == ["It needs itself, perhaps by way of another."]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("shell temperature - suction line", "shell temperature / suction line"),
        ("kind: temperature", "kind: temprature"),
        ("facts:", "facts"),
        ("    words: [attic, crawl space, indoors]\n", ""),
    ],
)
def test_what_follows_from_a_slip_in_own_yaml_is_not_told_as_well(tmp_path: Path, old: str, new: str) -> None:
    with pytest.raises(RuleError) as refused:
        load_rules(folder(tmp_path, own=OWN.replace(old, new, 1)))
    assert len(refused.value.problems) == 1


@pytest.mark.parametrize(
    "line", ["by: difference, ", "by: share, ", "target: typical, ", "target: baseline, by: difference, "]
)
def test_nothing_is_expected_of_a_quantity_of_ones_own(tmp_path: Path, line: str) -> None:
    text = FINDINGS.replace(
        "- {limits: [60 F]", f"- {{{line}limits: [60 F]".replace("[60 F]", "[0.6]" if "share" in line else "[60 F]")
    )
    with pytest.raises(RuleError, match="nothing says what `shell rise` should be"):
        load_rules(folder(tmp_path, findings=text))


def test_a_draft_is_not_read_without_being_asked_for(tmp_path: Path) -> None:
    made = folder(
        tmp_path,
        own=OWN.replace("    words: [attic", "    status: draft\n    words: [attic"),
        findings="",
        rules="",
        checks="",
    )
    assert "duct run" not in {one.name for one in load_rules(made).own}
    assert "duct run" in {one.name for one in load_rules(made, drafts=True).own}


# -- changes on some machines ------------------------------------------------------------------------------------------

STARVED = "low-charge/starved-and-empty"


def changed(parent: Path, text: str) -> Rulebook:
    return load_rules(folder(parent, changes=text, findings="", rules="", checks=""))


def facts(duct_run: str = "") -> dict[str, str]:
    return {"mode": "cooling"} | ({"duct run": duct_run} if duct_run else {})


def test_a_change_holds_on_the_machines_it_names(tmp_path: Path, shipped_book: Rulebook) -> None:
    points, usual = shipped_book.by_id[STARVED].points, shipped_book.faults["low-charge"].usual
    on = "applies: {duct run: attic}, because: there, date: 2026-05-01"
    limits = [str(limit) for limit in shipped_book.findings["superheat"].scales[-1].limits_written]
    was, now = ", ".join(limits), ", ".join([*limits[:-1], "40 F"])
    book = changed(
        tmp_path,
        f"changes:\n  - {{points: {STARVED}, was: {points:g}, now: {points - 0.25:g}, {on}}}\n"
        f"  - {{usual: low-charge, was: {usual:g}, now: {usual + 0.5:g}, {on}}}\n"
        f"  - {{limits: superheat, was: [{was}], now: [{now}], {on}}}\n"
        f"  - {{off: low-charge/oil, {on}}}\n",
    )
    assert from_data(to_data(book)) == book
    attic = book.about(facts("attic"))
    assert attic.by_id[STARVED].points == points - 0.25
    assert attic.faults["low-charge"].usual == usual + 0.5
    assert attic.findings["superheat"].scales[-1].limits_written[-1] == "40 F"
    assert "low-charge/oil" not in attic.by_id
    assert attic.changes_of(STARVED)
    for other in (book, book.about(facts()), book.about(facts("indoors"))):
        assert other.by_id[STARVED].points == points
        assert other.faults["low-charge"].usual == usual
        assert other.findings["superheat"] == shipped_book.findings["superheat"]
        assert "low-charge/oil" in other.by_id
    assert not book.about(facts()).changes_of(STARVED)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ("{off: low-charge/oil, applies: {duct runs: attic}", "`duct runs` is not a machine fact"),
        ("{off: low-charge/oil, applies: {duct run: roof}", "`roof` is not a word of `duct run`"),
        (
            "{judgement: next checks/handling, was: 2 min, now: 3 min, applies: {duct run: attic}",
            "holds on every machine",
        ),
        ("{off: danger/burns, applies: {duct run: attic}", ""),
        (f"{{points: {STARVED}, was: 0.125, now: 3, applies: {{duct run: attic}}", "has moved on"),
    ],
)
def test_what_such_a_change_cannot_be(tmp_path: Path, shipped_book: Rulebook, change: str, what: str) -> None:
    guard = next(rule.id for rule in shipped_book.rules if rule.kind == "caution")
    text = change.replace("danger/burns", guard)
    with pytest.raises(RuleError, match=what or "guards against harm"):
        changed(tmp_path, f"changes:\n  - {text}, because: there, date: 2026-05-01}}\n")


def test_the_example_of_the_guide_is_sound(tmp_path: Path) -> None:
    text = (
        (shipped("rules") / "README.md")
        .read_text(encoding="utf-8")
        .partition("## Facts, readings and quantities of your own")[2]
    )
    made = folder(tmp_path, own=text.partition("```yaml\n")[2].partition("```")[0], findings="", rules="", checks="")
    assert {one.name for one in load_rules(made).own} == {
        "duct run",
        "listed shell rise",
        "shell temperature",
        "shell rise",
    }
