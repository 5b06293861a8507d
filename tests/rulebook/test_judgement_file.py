"""judgement.yaml at its door, in the compiled book, shown, and changed by a company."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from commands import run
from small_book import JUDGED, SMALL, written

from diagnose.rulebook import Rulebook, RuleError, load_rules
from diagnose.rulebook.data import from_data, to_data
from diagnose.rulebook.judgement import specs, value_of
from diagnose.workshop.comparing import differences
from diagnose.workshop.showing import show_entry

FILE = "judgement.yaml"


def told(*folders: Path) -> str:
    with pytest.raises(RuleError) as caught:
        load_rules(*folders)
    return str(caught.value)


MISTAKES = {
    "unknown": ("  firm: {value", "  frim: {value", "frim", "Did you mean `firm`?"),
    "missing": ("  unplaced: {", "  # unplaced: {", "second fault:", "`unplaced` is missing"),
    "group": ("\nnext checks:", "\nnext chekcs:", "next chekcs", "Did you mean `next checks`?"),
    "out of range": ("firm: {value: 0.8", "firm: {value: 80", "80", "`80` is out of range\nFrom 0.5 to 1."),
    "a unit that is too much": (
        "firm: {value: 0.8", "firm: {value: 0.8 F", "0.8 F",
        "`0.8 F` is not a plain number\nIt has no unit: a plain number from 0.5 to 1.",
    ),
    "a half check": (
        "listed: {value: 4", "listed: {value: 4.5", "4.5",
        "`4.5` is not a whole number\nIt has no unit: a whole number from 1 to 20.",
    ),
    "no unit": ("unknown: {value: 4 F", "unknown: {value: 4", "4", "`4` has no unit"),
    "another unit": ("handling: {value: 2 min", "handling: {value: 5 psi", "5 psi", "`psi`"),
    "no share a degree": ("per degree: {value: 10 %/F", "per degree: {value: 10 %", "10 %", "For example `1.2 %/F`."),
    "no airflow": ("rated: {value: 400 cfm/ton", "rated: {value: 400 cfm", "400 cfm", "For example `400 cfm/ton`."),
    "truth": ("firm: {value: 0.8", "firm: {value: true", "true", "`true` is not a number"),
    "two for one": ("firm: {value: 0.8", "firm: {value: [0.8, 0.9]", "[0.8, 0.9]", "one figure must stand here, not 2"),
    "one for two": ("same size: {value: [0.9, 1.1]", "same size: {value: 0.9", "0.9", "2 figures must stand here, not 1"),
    "falling": (
        "same size: {value: [0.9, 1.1]", "same size: {value: [1.1, 0.9]", "[1.1, 0.9]",
        "the figures do not rise\nWrite the lower one first.",
    ),
    "out of order": (
        "fair: {value: 0.4,", "fair: {value: 0.9,", "0.85",
        "`strengths/strong` is not above `strengths/fair`\n`strengths/fair` is 0.9: write more here, or less there.",
    ),
    "an empty range": (
        "superheat: {low: -1 F, high: 45 F", "superheat: {low: 50 F, high: 45 F", "45 F",
        "is not above `plausibility/ranges/superheat/low`",
    ),
    "a range of nothing": ("    humidity: {low", "    humdity: {low", "humdity", "Did you mean `humidity`?"),
    "a law of nothing": ("    subcooling:\n", "    subcoling:\n", "subcoling", "`subcoling` is not a quantity"),
    "a law by something else": (
        "superheat:\n      {by: difference", "superheat:\n      {by: ratio", "ratio", "One of: difference, share.",
    ),
    "a law in another unit": ("wander: [2 F, 2 F], error", "wander: [0.2, 2 F], error", "[0.2", "`0.2` has no unit"),
    "a law of heating in another unit": ("heating differ: 8 F, h", "heating differ: 0.8, h", "0.8", "`0.8` has no unit"),
    "no reason": ("firm: {value: 0.8, why", "firm: {value: 0.8, because", "because", "why"),
    "a source that is none": (
        "strong: {value: 0.85, why: ", "strong: {value: 0.85, source: hearsay, why: ", "hearsay", "`hearsay` is not a source",
    ),
}  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_with_its_place_and_how_to_mend_it(tmp_path: Path, mistake: str) -> None:
    old, new, marked, says = MISTAKES[mistake]
    assert old in JUDGED
    text = JUDGED.replace(old, new, 1)
    if mistake == "a source that is none":
        line = next(line for line in text.splitlines() if "hearsay" in line)
        text = text.replace(line, line.replace(", source: book}", "}"))
    found = {}
    for problem in told(written(tmp_path / "rules", SMALL | {FILE: text})).split("\n\n"):
        where, *lines = problem.splitlines()
        file, line, column, what = where.split(":", 3)
        assert file == "rules/judgement.yaml"
        here = text.splitlines()[int(line) - 1][int(column) - 1 :]
        found[here] = "\n".join([what, *(each.strip() for each in lines if "|" not in each)])
    assert any(here.startswith(marked) and says in said for here, said in found.items()), found


def test_without_the_file_there_is_no_book(tmp_path: Path) -> None:
    texts = {name: text for name, text in SMALL.items() if name != FILE}
    assert "rules/judgement.yaml" in told(written(tmp_path / "rules", texts))


def test_a_companys_folder_changes_figures_in_its_changes_only(tmp_path: Path) -> None:
    own = written(tmp_path / "harbour", {FILE: JUDGED})
    assert "changes.yaml: `judgement: second fault/firm`" in told(written(tmp_path / "rules", SMALL), own)


def test_every_figure_is_within_its_range_and_survives_the_store(book: Rulebook) -> None:
    wanted = specs(book.figures)
    assert wanted.keys() == book.figures.keys()
    for name, figure in book.figures.items():
        assert figure.why, name
        assert set(figure.source) & book.sources.keys(), name
        for said, value in zip(figure.written, figure.value, strict=False):
            assert value_of(said, wanted[name]) == value
    assert from_data(json.loads(json.dumps(to_data(book)))).judgement == book.judgement


# -- a company's changes -----------------------------------------------------------------------------------------------


def change(*figures: tuple[str, str, str]) -> dict[str, str]:
    text = "changes:\n"
    for what, was, now in figures:
        more = ", approved_by: the owner" if what.startswith("plausibility/") else ""
        text += f"  - {{judgement: {what}, was: {was}, now: {now}, because: we do, date: 2026-03-01{more}}}\n"
    return {"changes.yaml": text}


CHANGED = {
    ("second fault/firm", "0.8", "0.9"): (0.9,),
    ("next checks/handling", "2 min", "10 min"): (600.0,),
    ("good day/same size", "[0.9, 1.1]", "[0.8, 1.2]"): (0.8, 1.2),
    ("good day/laws/subcooling/wander", "[1.8 F, 1.2 F]", "[1.8 F, 1.8 F]"): (1.0, 1.0),
    ("plausibility/ranges/humidity/high", "0.85", "0.9"): (0.9,),
}


def test_a_company_may_change_figures(tmp_path: Path) -> None:
    book = load_rules(written(tmp_path / "harbour", change(*CHANGED)))
    for (what, was, now), value in CHANGED.items():
        assert book.figures[what].value == pytest.approx(value)
        ((own, told_change),) = book.changes_of(what)
        assert (own, told_change.because) == ("harbour", "we do")
        text = "\n".join(block.text for block in show_entry(what, book)[0])
        assert f"Judgement changed by harbour on 2026-03-01 from {was.strip('[]')} to {now.strip('[]')}: we do." in text
    found = {(d.what, d.name) for d in differences(load_rules(), book)}
    assert found == {("figure", what) for what, _, _ in CHANGED}
    assert from_data(json.loads(json.dumps(to_data(book)))) == book


@pytest.mark.parametrize(
    ("what", "was", "now", "says"),
    [
        ("second fault/frim", "0.8", "0.9", "`second fault/frim` is not a figure\nDid you mean `second fault/firm`?"),
        ("second fault/firm", "0.7", "0.9", "moved on, it is now 0.8\n"),
        ("second fault/firm", "0.8", "9", "`9` is out of range\nFrom 0.5 to 1."),
        ("second fault/firm", "0.8", "0.8", "`was` and `now` are the same"),
        ("strengths/fair", "0.4", "0.9", "`strengths/strong` is not above `strengths/fair`"),
        ("good day/unknown", "4 F", "5", "has no unit"),
    ],
)  # fmt: skip
def test_a_change_that_cannot_be_made_is_told(tmp_path: Path, what: str, was: str, now: str, says: str) -> None:
    found = told(written(tmp_path / "harbour", change((what, was, now))))
    assert found.startswith("harbour/changes.yaml:2:")
    plain = "\n".join(line.strip() for line in found.split(": ", 1)[1].splitlines() if "|" not in line)
    assert says in plain


def test_a_figure_that_doubts_readings_is_changed_only_where_somebody_answers_for_it(tmp_path: Path) -> None:
    texts = change(("plausibility/lag", "0.7 C", "2 C"))
    assert load_rules(written(tmp_path / "harbour", texts)).loosened
    silent = {name: text.replace(", approved_by: the owner", "") for name, text in texts.items()}
    assert "`approved_by:` says who answers for it" in told(written(tmp_path / "quay", silent))


def test_rules_show_tells_a_figure() -> None:
    out = run("rules", "show", "second fault/firm").fine()
    assert out.startswith("second fault/firm: 0.8")
    assert "Judgement of those who wrote the rules" in " ".join(out.split())
    data = json.loads(run("rules", "show", "second fault/firm", "--as", "json").stdout)
    assert (data["figure"], data["value"], data["source"]) == ("second fault/firm", 0.8, ["judgement"])
