"""An exam: nothing that a learner holds has an answer, every line has its marks, and marks cannot be edited."""

from __future__ import annotations

import copy
import hashlib
import hmac
import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from shared import exercise
from test_practice import run
from webpages import has_language_title_and_headings_in_order

from diagnose import Rulebook, examine, load_rules
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.practice import exam as making
from diagnose.practice.exam import Exam, Paper, as_key, begun, ended, is_genuine, make, read_key, signed
from diagnose.practice.exam_pages import class_page, marks_page, paper_page
from diagnose.practice.exercise import Exercise, new
from diagnose.practice.files import SealBroken, unseal
from diagnose.practice.judging import true_charge
from diagnose.practice.marking import (
    ASKS,
    CHARGES,
    DANGERS,
    MARKS,
    form_text,
    harmful_lines,
    mark,
    mark_line,
    mark_visit,
    read_form,
    rubric,
)
from diagnose.report import as_text
from diagnose.report.wording import number
from diagnose.simulator import FAULTS
from diagnose.yamlfile import InputProblems


@cache
def exam() -> Exam:
    return make(["Ann", "Bob"], 2, 40, load_rules(), seed=4)


def right(one: Exercise, rules: Rulebook) -> dict[str, str]:
    """The form of somebody who knows everything: what the marking itself says is right, in the learner's words."""
    told = {m.line: m.right for m in mark_visit(one, {}, rules)}
    known = {**told, "fault": one.truth, "next": "nothing" if told["next"].startswith("nothing") else told["next"]}
    return {
        line: text.split(" (")[0] if line in ("superheat", "subcooling", "target") else text
        for line, text in known.items()
    }


def test_nothing_that_a_learner_holds_tells_an_answer(book: Rulebook) -> None:
    for paper in exam().papers:
        page, form = paper_page(paper, exam(), "html"), form_text(paper)
        for one in paper.exercises:
            assert str(one.seed) not in page + form
            for name, text in one.readings.items():
                assert name in one.given or text not in page
        assert exam().secret not in page + form
        assert "machine" not in yaml.safe_load(form)
        assert "readings" not in form
        for word in (page + form).split():
            if len(word) > 40:
                with pytest.raises(SealBroken):
                    unseal(word)
        has_language_title_and_headings_in_order(page)
        assert all(f"{name} {of:g}" in page for name, of in MARKS.items())


def test_everybody_has_the_same_faults_on_other_machines() -> None:
    ann, bob = exam().papers
    assert sorted(e.truth for e in ann.exercises) == sorted(e.truth for e in bob.exercises)
    assert not {e.seed for e in ann.exercises} & {e.seed for e in bob.exercises}
    assert ann.code != bob.code
    assert len({e.truth for e in ann.exercises}) == 2


def test_without_a_seed_nobody_draws_it_again(book: Rulebook, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:  # a machine of any seed: it is asked for by one, and not drawn
        patch.setattr(making, "new", lambda seed, *_, **__: replace(exercise(3), seed=seed))
        one, other = (make(["Ann"], 1, 40, book) for _ in range(2))
    assert one.secret != other.secret
    assert one.papers[0].exercises[0].seed != other.papers[0].exercises[0].seed
    assert make(["Ann"], 1, 40, book, seed=9) == make([" Ann "], 1, 40, book, seed=9)


@pytest.mark.parametrize("names", [[], ["", " "], ["Ann", "ann"], [str(i) for i in range(201)]])
def test_names_that_make_no_exam(names: list[str], book: Rulebook) -> None:
    with pytest.raises(InputProblems):
        make(names, 1, 40, book)


# -- marks -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", FAULTS[::3])
def test_who_knows_everything_gets_every_mark_and_who_knows_nothing_none(fault: str, book: Rulebook) -> None:
    one = exercise(3, fault, True)
    best = list(mark_visit(one, right(one, book), book))  # type: ignore[arg-type]
    assert [m.got for m in best] == list(MARKS.values()), best
    none = list(mark_visit(one, {}, book))
    assert sum(m.got for m in none) == 0
    rubbish = dict.fromkeys(MARKS, "rhubarb")
    assert sum(m.got for m in mark_visit(one, rubbish, book)) == 0


def test_figures_are_marked_by_how_near_they_are(book: Rulebook) -> None:
    """The rubric's own degrees: 1 °F for the whole mark, 2 °F for half."""
    one = exercise(3, "low-charge")
    d = examine(one.visit(), book)
    e = d.estimates["superheat"]
    for by, got in ((0.0, 1.0), (0.9, 1.0), (-0.9, 1.0), (1.5, 0.5), (-1.9, 0.5), (2.5, 0.0), (30.0, 0.0)):
        for text in (f"{e.value * 1.8 + by:.2f} F", f"{e.value + by / 1.8:.3f} K"):
            assert mark_line("superheat", text, one, d).got == got, text
    assert mark_line("superheat", "12", one, d).note == "no figure with a unit"


@pytest.mark.parametrize("fault", ["low-charge", "overcharge", "low-outdoor-airflow", "nothing-wrong"])
def test_harm_gets_nothing_and_caution_half(fault: str, book: Rulebook) -> None:
    """Caution that the readings ask for gets all: nobody judges a charge behind a coil without air."""
    one = exercise(3, fault)
    true, d = true_charge(one, book), examine(one.visit(), book)
    assert isinstance(d.charge, NoVerdict) == (fault == "low-outdoor-airflow")
    for word, means in CHARGES.items():
        found = mark_line("charge", word, one, d)
        harm = means in ("low", "high") and means != true
        whole = means == true or (word == "not yet" and isinstance(d.charge, NoVerdict))
        assert found.got == (2 if whole else 0 if harm else 1), (word, found)
        assert (found.note == "this would do harm") is harm


def test_dangers_are_those_of_the_rules(book: Rulebook) -> None:
    ids = {rule.id for rule in book.rules}
    for codes in DANGERS.values():
        assert all(code in ids or "/" not in code for code in codes)
    burns = next(
        one for seed in range(19, 60) if (one := new(seed, book, "nothing-wrong")).machine["refrigerant"] == "R-32"
    )
    d = examine(burns.visit(), book)
    found = mark_line("danger", "flammable refrigerant", burns, d)
    assert "flammable refrigerant" in found.right
    for word in ("none", "No"):
        none = mark_line("danger", word, burns, d)
        assert none.got == 0
        assert "missed: flammable refrigerant" in none.note
    both = (mark_line("danger", f"flammable refrigerant{between}vacuum", burns, d) for between in (", ", "; ", " and "))
    assert len({(one.got, one.note) for one in both}) == 1
    assert mark_line("charge", "Leave it", burns, d).got == mark_line("charge", "leave", burns, d).got


def test_what_to_measure_next_is_understood_in_the_learners_words(book: Rulebook) -> None:
    one = exercise(3, "liquid-line-restriction")
    d = examine(one.visit(), book)
    advised = [check.check for check in next_checks(d)[:3]]
    assert advised
    for name in advised:  # also what cannot be played on one steady state
        for text in (name, name.replace("-", " "), f"I would {name.replace('-', ' ')} next"):
            assert mark_line("next", text, one, d).got == 1, text
    for vague in ("the", "measure", "again"):
        assert mark_line("next", vague, one, d).got == 0, vague


def test_the_rubric_names_each_line_with_its_marks() -> None:
    assert [(name, float(of)) for name, of, _ in rubric()] == list(MARKS.items())
    assert list(ASKS) == list(MARKS)


# -- forms -------------------------------------------------------------------------------------------------------------


def filled(paper: Paper, answers: list[dict[str, str]], folder: Path, name: str = "form.yaml") -> Path:
    data = yaml.safe_load(form_text(paper))
    for place, one in enumerate(answers):
        data["visits"][place] |= one
    path = folder / name
    path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("name: Ann", "name: Anne", "`Anne` has no paper in this exam"),
        ("paper: ", "paper: X", "another code"),
        ("visit: 1", "visit: 7", "none of the visits 1 to 2"),
        ("    superheat:", "    superheet:", "`superheet` is not a line of the form"),
        ("visits:", "vists:", "this is not the form of an exam"),
        ("name: Ann", "name: Ann\nnote: x", "`note` is not a part of the form"),
    ],
)
def test_a_form_that_was_spoilt_is_told_with_its_place(old: str, new: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "form.yaml"
    path.write_text(form_text(exam().papers[0]).replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputProblems) as told:
        read_form(path, exam())
    assert says in str(told.value)


def test_an_empty_form_has_no_marks(tmp_path: Path, book: Rulebook) -> None:
    path = filled(exam().papers[0], [], tmp_path)
    marks = mark(read_form(path, exam()), exam(), book, "2026-05-04T10:00:00+00:00")
    assert (marks["marks"], marks["of"], marks["minutes"]) == (0, 20, None)
    assert "nobody noted when it was handed out" in " ".join(as_text(marks_page(marks, {})).split())


# -- signed, timed -----------------------------------------------------------------------------------------------------


def all_right(folder: Path, book: Rulebook, start: str = "2026-05-04T09:00:00+00:00") -> tuple[Exam, dict[str, Any]]:
    sat = begun(exam(), start)
    paper = sat.papers[0]
    path = filled(paper, [right(one, book) for one in paper.exercises], folder)
    return sat, signed(mark(read_form(path, sat), sat, book, "2026-05-04T09:45:00+00:00"), sat)


def test_marks_are_signed_and_any_edit_shows(tmp_path: Path, book: Rulebook) -> None:
    sat, marks = all_right(tmp_path, book)
    assert marks["marks"] == marks["of"] == 20
    assert is_genuine(marks, sat)
    assert is_genuine(json.loads(json.dumps(marks)), sat)
    for change in ({"marks": 19}, {"name": "Bob"}, {"minutes": 30.0}, {"signature": ""}, {"more": 1}):
        assert not is_genuine({**marks, **change}, sat)
    deep = copy.deepcopy(marks)
    deep["visits"][0]["lines"][0]["answer"] = "99 F"
    assert not is_genuine(deep, sat)
    # RFC 2104 by the standard library over the text that is signed, written out a second time here.
    rest = {name: value for name, value in marks.items() if name != "signature"}
    text = json.dumps(rest, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    assert hmac.new(bytes.fromhex(sat.secret), text, hashlib.sha256).hexdigest() == marks["signature"]


def test_the_time_is_told_and_too_long_is_told(tmp_path: Path, book: Rulebook) -> None:
    _, marks = all_right(tmp_path, book)
    assert marks["minutes"] == 45.0
    assert "45 of 40 minutes, 5 more than allowed" in " ".join(as_text(marks_page(marks, {})).split())
    assert "45*" in as_text(class_page([marks], {}), 200)


def test_a_paper_is_handed_out_once() -> None:
    one = begun(exam(), "2026-05-04T09:00:00+00:00", "ann")
    assert [paper.started for paper in one.papers] == ["2026-05-04T09:00:00+00:00", None]
    both = begun(one, "2026-05-04T09:10:00+00:00")
    assert [paper.started for paper in both.papers] == ["2026-05-04T09:00:00+00:00", "2026-05-04T09:10:00+00:00"]
    for again in (lambda: begun(both, "x"), lambda: begun(both, "x", "Ann"), lambda: begun(both, "x", "Cid")):
        with pytest.raises(InputProblems):
            again()


def test_the_time_ends_when_the_paper_comes_back_and_not_when_it_is_marked(tmp_path: Path, book: Rulebook) -> None:
    out = begun(exam(), "2026-05-04T09:00:00+00:00")
    back = ended(out, "2026-05-04T09:40:00+00:00", "Ann")
    assert [paper.ended for paper in back.papers] == ["2026-05-04T09:40:00+00:00", None]
    handed = read_form(filled(exam().papers[0], [{}, {}], tmp_path), back)
    assert mark(handed, back, book, "2026-05-05T08:00:00+00:00")["minutes"] == 40.0
    all_back = ended(back, "2026-05-04T10:00:00+00:00")
    assert [paper.ended for paper in all_back.papers] == ["2026-05-04T09:40:00+00:00", "2026-05-04T10:00:00+00:00"]
    for again in (lambda: ended(exam(), "x"), lambda: ended(exam(), "x", "Ann"), lambda: ended(back, "x", "Ann")):
        with pytest.raises(InputProblems):
            again()


def test_the_machines_cannot_be_drawn_again_by_trying(book: Rulebook) -> None:
    """2 ** 80 is beyond what anybody tries (NIST SP 800-57, table 2, from memory: 80 bits were acceptable until 2010)."""
    seeds = {one.seed for paper in exam().papers for one in paper.exercises}
    assert len(seeds) == sum(len(paper.exercises) for paper in exam().papers)
    assert max(seeds) > 2**80


def test_the_class_page_says_who_takes_what_for_what(tmp_path: Path, book: Rulebook) -> None:
    _, good = all_right(tmp_path, book)
    paper = exam().papers[1]
    wrong = next(fault for fault in FAULTS if fault not in [e.truth for e in paper.exercises])
    path = filled(
        paper, [{"fault": wrong, "charge": "add"}, {"fault": wrong, "charge": "remove"}], tmp_path, "bob.yaml"
    )
    bad = mark(read_form(path, exam()), exam(), book, "2026-05-04T09:45:00+00:00")
    names = {fault: entry.name for fault, entry in book.faults.items()}
    text = " ".join(as_text(class_page([bad, good], names), 200).split())
    assert "2 papers" in text
    for one in paper.exercises:
        assert f"{names[one.truth]} {names[wrong]} Bob" in text
    assert text.index("Ann") < text.index("Bob")
    assert harmful_lines(bad) >= 1
    assert "What to teach again, the weakest line first" in text


# -- the commands ------------------------------------------------------------------------------------------------------


def test_from_papers_to_the_class(tmp_path: Path, book: Rulebook) -> None:
    papers, key, marks, page = (tmp_path / name for name in ("papers", "key.json", "marks.json", "class.html"))
    code, out, err = run(
        "exam", "set", "--names", "Ann, Bob B.", "--count", 1, "--into", papers, "--key", key, "--seed", 3
    )
    assert code == 0, err
    assert "Wrote 2 papers" in out
    forms = sorted(papers.glob("*.yaml"))
    assert [path.name for path in sorted(papers.iterdir())] == [
        "01-ann-form.yaml", "01-ann.html", "02-bob-b-form.yaml", "02-bob-b.html",
    ]  # fmt: skip
    assert run("exam", "start", key)[0] == 0
    assert run("exam", "start", key)[0] == 2
    assert read_key(key).papers[0].started
    assert run("exam", "end", key, "--name", "Ann")[0] == 0
    assert run("exam", "end", key, "--name", "Ann")[0] == 2
    assert [bool(paper.ended) for paper in read_key(key).papers] == [True, False]
    code, out, err = run("exam", "mark", key, *forms, "--marks", marks)
    assert code == 0, err
    assert "Ann: 0 of 10 marks" in out
    assert run("exam", "check", key, marks)[:2] == (0, "All marks are as they were signed.\n")
    marks.write_text(marks.read_text(encoding="utf-8").replace('"marks": 0', '"marks": 9', 1), encoding="utf-8")
    code, out, _ = run("exam", "check", key, marks)
    assert (code, "Ann: these marks were changed" in out) == (1, True)
    assert run("exam", "class", marks, "-o", page)[0] == 0
    has_language_title_and_headings_in_order(page.read_text(encoding="utf-8"))
    err = run("exam", "mark", key, forms[0], forms[1], papers / "nobody.yaml").refused()
    assert "nobody.yaml" in err


@pytest.mark.parametrize("text", ["", "{}", "[]", "[1]", '{"format": "diagnose exam 1"}', "\x00", '[{"visits": []}]'])
def test_files_that_are_no_key_and_no_marks(text: str, tmp_path: Path) -> None:
    path = tmp_path / "file.json"
    path.write_text(text, encoding="utf-8")
    assert run("exam", "start", path)[0] == 2
    assert run("exam", "class", path)[0] == 2
    assert run("exam", "check", path, path)[0] == 2


def test_the_key_is_kept_apart(tmp_path: Path) -> None:
    papers = tmp_path / "papers"
    code, _, err = run(
        "exam", "set", "--names", "Ann", "--count", 1, "--into", papers, "--key", papers / "k.json", "--seed", 1
    )
    assert code == 2
    assert "the key lies in the folder of the papers" in err
    assert not papers.exists()


def test_a_key_is_read_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "key.json"
    path.write_text(as_key(exam()), encoding="utf-8")
    assert read_key(path) == exam()
    assert number(1.0, "difference", "si") == "1.0 K"
